"""The hosted app over a database of its own, with a steward and a member."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest

from tests.mail import Box, Taking
from tests.web.hosted import club, hosted, hosted_settings, hosted_stores  # noqa: F401 - pytest finds them here


@pytest.fixture
def taking() -> Iterator[Callable[..., Taking]]:
    opened: list[Taking] = []

    def open_one(box: Box, hostname: str = "127.0.0.1", **more: Any) -> Taking:
        controller = Taking(box, hostname, **more)
        controller.start()
        opened.append(controller)
        return controller

    yield open_one
    for controller in opened:
        controller.stop()


@pytest.fixture
def box() -> Box:
    return Box()
