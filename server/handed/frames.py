"""The sets of frames on their way: a module of its own, so that the first page loads nothing of them."""

from __future__ import annotations

from typing import cast

from fastapi import Request

from server.flow.frame_sets import FrameSets
from server.settings import Settings


def frame_sets_of(request: Request) -> FrameSets:
    """The sets of this install."""
    settings = cast(Settings, request.app.state.settings)
    return FrameSets(settings.data / "frames", settings.frames, settings.frame_megabytes)
