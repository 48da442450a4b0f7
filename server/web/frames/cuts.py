"""Cut-outs of measured stars beside the same stars as the rig draws them, at one scale."""

from __future__ import annotations

import base64
from dataclasses import dataclass

from server.domain.frames.measured import CUT_PX, Measured
from server.domain.said import said
from server.flow.draw_stars import StarView
from server.rim.phrasebook.tell import plain
from server.web.stars.png import Floats, star_png


@dataclass(frozen=True)
class Pair:
    """One place: the star as it was measured and as it is drawn, as addresses of pictures; "" for none."""

    name: str
    measured: str
    drawn: str


def pairs_of(measured: Measured, view: StarView | None) -> tuple[Pair, ...]:
    """The nine places of the first frame, as the sensor's picture shows them: upright, top left first."""
    import numpy as np

    drawn = {} if view is None or view.field is None else {star.name: star for star in view.field.stars}
    cuts = {_shown(one.place, measured.rows_up): one for one in measured.cuts}
    found = []
    for name in _NAMES:
        cut, star = cuts.get(name), drawn.get(name)
        seen = ""
        if cut is not None:
            values = np.frombuffer(base64.b64decode(cut.pictures[0]), dtype=np.uint8).reshape(CUT_PX, CUT_PX)
            seen = star_png(_upright(values.astype(float), measured.rows_up), 255.0, stretched=False)
        by_rig = ""
        if star is not None:
            by_rig = star_png(star.pixels, float(star.pixels.max()), stretched=False, cells=CUT_PX)
        found.append(Pair(plain(said(f"stars.at.{name}")), seen, by_rig))
    return tuple(found)


_NAMES = (
    "top_left",
    "top",
    "top_right",
    "left",
    "centre",
    "right",
    "bottom_left",
    "bottom",
    "bottom_right",
)


def _shown(place: str, rows_up: bool) -> str:
    """The name of a place in the picture as it is shown: where rows run down, top and bottom change."""
    if rows_up:
        return place
    if place.startswith("top"):
        return place.replace("top", "bottom", 1)
    return place.replace("bottom", "top", 1)


def _upright(values: Floats, rows_up: bool) -> Floats:
    return values if rows_up else values[::-1]
