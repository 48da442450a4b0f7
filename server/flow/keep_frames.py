"""What was measured on a rig's own frames: kept, judged, corrected by, compared."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

from server.domain.errors import FieldErrors, NotFoundError, RefusedError
from server.domain.frames.correcting import lies_of, telling_screws
from server.domain.frames.measured import Measured, Screws, StoredMeasured
from server.domain.frames.plan import FramePlan, plan_frames
from server.domain.guarded import Failed, worked
from server.domain.observer import Observer
from server.domain.rig import FieldSeen, Rig
from server.domain.said import said
from server.domain.stars.telescope import lacking_for_stars, telescope_of
from server.domain.verdicts import Verdict
from server.domain.workings.case import Case
from server.flow.draw_stars import StarView, draw_stars
from server.flow.keep_rigs import own_rig
from server.flow.protocols import Store
from server.frames.shim import Lies

if TYPE_CHECKING:
    from server.domain.frames.beside import Air

MOST_KEPT = 100
LEAST_SPACING_APART_MM = 0.01
TOGETHER = timedelta(days=60)
"""Sets further apart are of a rig that may have been changed in more than its spacing (a choice of ours)."""


@dataclass(frozen=True)
class FramesView:
    """A measurement beside its rig.

    Attributes:
        plan: of the rig as it stands. findings: what the frames say, what matters most first.
        others: earlier measurements of the same rig at other spacings, which the spacing is told by.
        drawn: the rig's stars with what was measured put in, as on the first frame; None where they cannot
            be.
        air: the air behind the stars' width; None where it is not told.
    """

    measured: Measured
    plan: FramePlan
    findings: tuple[Verdict, ...]
    others: tuple[StoredMeasured, ...]
    drawn: StarView | None = None
    air: Air | None = None


def frame_plan(rig: Rig) -> FramePlan:
    """Which frames to take of a rig; without figures where they are beyond every formula."""
    found = worked(said("work.frames"), lambda: plan_frames(Case(rig)))
    return FramePlan() if isinstance(found, Failed) else found


def view_frames(
    rig: Rig, measured: Measured, kept: tuple[StoredMeasured, ...], own_id: int | None = None
) -> FramesView:
    """What a measurement says of a rig.

    kept: the rig's measurements. own_id: which of these is this one, None where it is not kept yet.
    """
    # The figures bring numpy: only who looks at frames waits for it.
    from server.domain.frames.findings import judge_frames

    plan = frame_plan(rig)
    others = _at_other_spacings(measured, (one for one in kept if one.id != own_id))
    judged = worked(
        said("work.frames"),
        lambda: judge_frames(measured, Case(rig), plan, tuple(one.measured for one in others)),
    )
    if isinstance(judged, Failed):
        told = Verdict("frames.outside", "unknown", (judged.why,), working="none")
        return FramesView(measured, plan, (told,), others)
    beside = worked(said("work.frames"), lambda: _beside(rig, measured))
    if isinstance(beside, Failed) or beside is None:
        return FramesView(measured, plan, judged, others)
    drawn, air, assumptions = beside
    return FramesView(measured, plan, (*judged, *assumptions), others, drawn, air)


def _beside(rig: Rig, measured: Measured) -> tuple[StarView | None, Air | None, list[Verdict]] | None:
    """The rig's stars as on the first frame, and what of its assumptions does not hold; None without any."""
    from server.domain.frames.beside import air_of, judge_assumptions, wishes_of

    case = Case(rig)
    telescope = None if lacking_for_stars(case) else telescope_of(case)
    if telescope is None:
        return None
    air = air_of(measured, telescope, rig.rules)
    wishes = wishes_of(measured, 0, telescope, air)
    drawn = None if wishes is None else draw_stars(rig, wishes)
    return drawn, air, judge_assumptions(measured, telescope, rig.rules, air)


def _at_other_spacings(measured: Measured, kept: Iterable[StoredMeasured]) -> tuple[StoredMeasured, ...]:
    """The newest set at each other spacing of the same optics, not too long before or after.

    kept: newest first.
    """
    found: dict[float, StoredMeasured] = {}
    for one in kept:
        near = abs(one.measured.made_at - measured.made_at) <= TOGETHER
        if near and one.measured.spacing_mm is not None and _of_the_same_train(one.measured, measured):
            found.setdefault(round(one.measured.spacing_mm, 2), one)
    return tuple(found.values())


def _of_the_same_train(one: Measured, measured: Measured) -> bool:
    """Whether a set at another spacing tells of the same optics: same frame, same beam."""
    if one.surface is None or one.light is None or measured.light is None:
        return False
    if one.spacing_mm is None or measured.spacing_mm is None:
        return False
    same = (one.width_px, one.height_px) == (measured.width_px, measured.height_px)
    ratio = one.light.focal_ratio / measured.light.focal_ratio
    apart = abs(one.spacing_mm - measured.spacing_mm)
    return same and abs(ratio - 1.0) < 0.02 and apart > LEAST_SPACING_APART_MM


def own_measured(store: Store, observer: Observer, measured_id: int) -> StoredMeasured:
    """A measurement of this observer's. Raises NotFoundError."""
    stored = store.measured(measured_id)
    if stored.observer_id != observer.id:
        raise NotFoundError("There is no such measurement among yours.")
    return stored


def measured_of_rig(store: Store, observer: Observer, rig_id: int) -> tuple[StoredMeasured, ...]:
    """All measurements of a rig, newest first. Raises NotFoundError."""
    own_rig(store, observer, rig_id)
    return store.measurements(observer.id, rig_id)


def keep_measured(
    store: Store, observer: Observer, rig_id: int, name: str, measured: Measured, entry_id: int | None
) -> StoredMeasured:
    """Keep a measurement, with an entry of the logbook or without. Raises NotFoundError, RefusedError."""
    own_rig(store, observer, rig_id)
    kept = store.measurements(observer.id, rig_id)
    if len(kept) >= MOST_KEPT:
        raise RefusedError(f"{MOST_KEPT} measurements of this rig are kept already: remove some.")
    if entry_id is not None and store.entry(entry_id).rig_id != rig_id:
        raise NotFoundError("There is no such entry of this rig.")
    before = next((one.measured for one in kept if one.measured.screws is not None), None)
    if before is not None and measured.screws is None:
        # Screws stay where they were, and for a while the camera on its rings as well.
        soon = abs(measured.made_at - before.made_at) <= TOGETHER
        measured = measured.model_copy(
            update={"screws": before.screws, "lies": before.lies if soon else None}
        )
    return store.add_measured(observer.id, rig_id, entry_id, name, measured)


def remove_measured(store: Store, observer: Observer, measured_id: int) -> None:
    """Remove a measurement. Raises NotFoundError."""
    own_measured(store, observer, measured_id)
    store.remove_measured(measured_id)


def set_screws(store: Store, observer: Observer, measured_id: int, screws: Screws | None) -> StoredMeasured:
    """Say where the screws stand; what a turn of other ones told is forgotten. Raises NotFoundError."""
    stored = own_measured(store, observer, measured_id)
    lies = stored.measured.lies if screws == stored.measured.screws else None
    return _changed(store, stored, screws, lies)


def tell_turn(
    store: Store, observer: Observer, measured_id: int, before_id: int, number: int, out_um: float
) -> StoredMeasured:
    """Say which screw was moved out by how much since an earlier measurement: how the picture lies follows.

    number: of the screw, from 1. Raises FieldErrors, NotFoundError.
    """
    after, before = (own_measured(store, observer, one) for one in (measured_id, before_id))
    screws = after.measured.screws
    if screws is None:
        raise FieldErrors({"radius_mm": "Enter where the screws stand first."})
    if not 1 <= number <= len(screws.angles_deg):
        raise FieldErrors({"number": f"Choose a screw from 1 to {len(screws.angles_deg)}."})
    if after.rig_id != before.rig_id or after.id == before.id:
        raise FieldErrors({"before": "Choose an earlier measurement of the same rig."})
    try:
        told = lies_of(before.measured, after.measured, screws, number - 1, out_um)
    except ValueError as error:
        raise FieldErrors({"radius_mm": f"{error} A turn can be told of three screws."}) from error
    if not told:
        raise FieldErrors({"before": "One of the two tells no tilt, so the turn cannot be seen."})
    tells = telling_screws(screws)
    if told == "unclear" and tells and number not in tells:
        best = f"This screw cannot tell: two ways of lying look alike. Turn screw {tells[0]}."
        raise FieldErrors({"number": best})
    if told == "unclear":
        raise FieldErrors(
            {
                "out_um": "The tilt did not change as this turn would have it. Was it this screw, moved out "
                "by that much, and nothing else? A larger turn tells more surely."
            }
        )
    for one in store.measurements(observer.id, after.rig_id):
        if one.measured.screws == screws:
            _changed(store, one, screws, told)
    return own_measured(store, observer, measured_id)


def field_seen(measured: Measured) -> FieldSeen | None:
    """The field that a set showed, for its rig's stars; None where it told none."""
    surface, light = measured.surface, measured.light
    if surface is None or light is None:
        return None
    return FieldSeen(
        on=measured.made_at.date(),
        curvature_um=round(surface.curvature.value, 1),
        astigmatism_um=round(surface.astigmatism.value, 1),
        spacing_mm=measured.spacing_mm,
        focal_ratio=light.focal_ratio,
    )


def _changed(
    store: Store, stored: StoredMeasured, screws: Screws | None, lies: Lies | None
) -> StoredMeasured:
    measured = stored.measured.model_copy(update={"screws": screws, "lies": lies})
    store.change_measured(stored.id, measured)
    return stored.model_copy(update={"measured": measured})
