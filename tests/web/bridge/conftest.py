"""Every test of the Bridge's pages has the demo club in its own database."""

from __future__ import annotations

import pytest

from tests.places import Place


@pytest.fixture
def place(club_place: Place) -> Place:
    return club_place
