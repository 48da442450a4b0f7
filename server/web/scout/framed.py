"""Targets on the sensors of several rigs, drawn as the Sky draws them, all at one scale on the sky."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from markupsafe import Markup

from server.domain.sky.around import around
from server.domain.sky.frame import Frame, put_on
from server.domain.sky.target import Target
from server.rim.sky_words import fill_words, size_words
from server.web.sky.frame_picture import WIDTH, frame_svg, reach_arcmin, scale_of

MOST_TARGETS = 3
MOST_STARS = 100
"""More cannot be told apart in a picture of a table's cell."""


@dataclass(frozen=True)
class FramedRow:
    """A target: its name, and for each rig the picture and how it fits; None where the frame is not known."""

    name: str
    cells: tuple[tuple[Markup, str] | None, ...]


def shown_of(targets: Sequence[Target]) -> tuple[Target, ...]:
    """The targets that are drawn: of more than so many the largest, a middling one and the smallest."""
    if len(targets) <= MOST_TARGETS:
        return tuple(targets)
    by_size = sorted(targets, key=lambda one: -one.ellipse_arcmin[0] if one.ellipse_arcmin else 0.0)
    return by_size[0], by_size[len(by_size) // 2], by_size[-1]


def framed_rows(
    targets: Sequence[Target], rigs: Sequence[tuple[str, Frame | None]]
) -> tuple[tuple[FramedRow, ...], str]:
    """A row for each target, its sensor upright at the best angle, and what the pictures' scale is."""
    frames = [frame for _, frame in rigs if frame is not None]
    shown = shown_of(targets) if frames else ()
    scale = min((scale_of(frames, target) for target in shown), default=0.0)
    rows = tuple(_row(nth, target, rigs, scale) for nth, target in enumerate(shown))
    more = len(targets) - len(shown)
    left = f" Drawn are {len(shown)} of {len(targets)} targets: a large, a middling and a small one."
    said = f"Each picture of a target is {WIDTH / scale / 60.0:.1f}° wide." if rows else ""
    return rows, said + left if rows and more else said


def _row(nth: int, target: Target, rigs: Sequence[tuple[str, Frame | None]], scale: float) -> FramedRow:
    held = around(target, reach_arcmin(scale))
    held = replace(held, stars=held.stars[:MOST_STARS], neighbours=())
    cells: list[tuple[Markup, str] | None] = []
    for rig, (name, frame) in enumerate(rigs):
        if frame is None:
            cells.append(None)
            continue
        framed = put_on(frame, target, None)
        words = f"{target.called}, {size_words(target)}, on the sensor of {name}"
        picture = frame_svg(
            target, (frame,), framed.angle_deg, held, words, scale, name=f"framed-{nth}-{rig}"
        )
        cells.append((picture, fill_words(framed)))
    return FramedRow(target.called, tuple(cells))
