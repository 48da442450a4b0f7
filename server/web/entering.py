"""Where to enter what a finding lacks: the form of the part, at its field, with the way back to the rig."""

from __future__ import annotations

from collections.abc import Iterable

from server.domain.findings import Wanted
from server.domain.parts import CataloguedPart
from server.web.rendering import URLS


def form_for(asked: str, items: Iterable[CataloguedPart], observer_id: int, rig_id: int) -> str:
    """The address at which "the focal length of X" is entered; "" where no part of these is asked about.

    A part of another observer's has no form here: its own page says what can be done.
    """
    if not isinstance(asked, Wanted):
        return ""
    item = next((one for one in items if one.id == asked.part_id), None)
    if item is None or not asked.field:
        return ""
    return form_of(item, asked.field, observer_id, rig_id)


def form_of(item: CataloguedPart, field: str, observer_id: int, rig_id: int | None = None) -> str:
    """The address at which a figure of a part is entered, of another observer's part its own page."""
    own = item.entered_by == observer_id
    return URLS.edit_part(item.id, rig_id, field) if own else URLS.part(item.id)
