"""Every test of the Bridge's pages has the demo club in its own database."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from server.settings import Settings


@pytest.fixture
def settings(tmp_path: Path, club_database: Path) -> Settings:
    made = Settings(data=tmp_path)
    shutil.copyfile(club_database, made.database)
    return made
