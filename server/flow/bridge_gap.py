"""The gap on the bench: where it is, and what the rig asks of the stack that closes it.

A gap lies between two places of a train. What must stay between them (wheel, guider, rotator, tilt adjuster,
focuser, a filter in its own cell) stays, once and in its order; rings, adapters and shims that stand there
are free to go. The distance is what the corrector asks for, glass allowed for as the spacing check does, less
what stands outside the gap. The search proposes; `run_checks` judges every train that is shown.
"""

from __future__ import annotations

from dataclasses import replace
from math import ceil

from server.domain.checks.reach import work_reach
from server.domain.checks.spacing import window_of
from server.domain.connections import Barrel
from server.domain.errors import RefusedError
from server.domain.measure import nominal
from server.domain.parts import Focuser, PathPart
from server.domain.rig import Rig
from server.domain.said import Words, exact_length, exact_mass, said
from server.domain.train import Place, Train
from server.domain.workings.case import Case, amount
from server.domain.workings.in_beam import beam_ratio, glass_in, lengths_of
from server.flow.bridge_stock import grams, key_of, ways_of
from server.flow.bridge_wishes import ContradictionError, Gap, Wishes
from server.flow.protocols import STOCK_KINDS
from server.optics.beam import diameter_for_share_mm
from server.out_of_range import OutOfRangeError

HARD_KINDS = ("optical_tube", "corrector", "camera")
"""No gap reaches across one of these."""
FREE_MM = 30.0
"""How much longer a gap may become where nothing asks for a distance (a choice of ours, no source)."""
_EDGE = 1e-7


# Where the gap is


def find_gap(rig: Rig, wishes: Wishes) -> Gap:
    """Find the gap that is meant and what the rig asks of it. Raises RefusedError, in words."""
    train = rig.train
    sky, camera = _ends(train, wishes)
    start, end = train.index_of(sky) + 1, train.index_of(camera)
    between = train.places[start:end]
    for place in between:
        if place.part.kind in HARD_KINDS:
            raise RefusedError(said("bridge.end_between", part=place))
    for place, side, connection in (
        (sky, "camera", sky.camera_connection),
        (camera, "sky", camera.sky_connection),
    ):
        if key_of(connection) is None:
            raise RefusedError(said("bridge.side_unknown", side=side, part=place))
    movable = [place for place in between if place.part.kind not in STOCK_KINDS]
    kept = tuple(place for place in movable if place.key not in wishes.leave)
    gap = Gap(
        rig,
        sky,
        camera,
        kept,
        tuple(place for place in movable if place.key in wishes.leave),
        tuple(place for place in between if place.part.kind in STOCK_KINDS),
        *(0.0, 0.0, 0.0, "nobody", None, None, 0.0, None, _push_fit(wishes, sky, camera, kept), ()),
    )
    gap = _light(_asked(gap, wishes), wishes)
    _contradictions(gap, wishes)
    return gap


def _ends(train: Train, wishes: Wishes) -> tuple[Place, Place]:
    places = train.places
    by_key = {place.key: index for index, place in enumerate(places)}
    if len(places) < 2:
        raise RefusedError(said("bridge.no_two_parts"))
    for key in (wishes.sky, wishes.camera, wishes.joint):
        if key is not None and key not in by_key:
            raise RefusedError(said("bridge.gone"))
    if wishes.joint is not None:
        at = max(1, by_key[wishes.joint])
    else:
        last = train.corrector or train.tube
        if last is None or train.camera is None:
            raise RefusedError(said("bridge.two_ends"))
        at = max(1, min(len(places) - 1, by_key[last.key] + 1))
    hard = [index for index, place in enumerate(places) if place.part.kind in HARD_KINDS]
    first = max((index for index in hard if index < at), default=0)
    final = min((index for index in hard if index >= at), default=len(places) - 1)
    first = first if wishes.sky is None else by_key[wishes.sky]
    final = final if wishes.camera is None else by_key[wishes.camera]
    if first >= final:
        raise RefusedError(said("bridge.ends_order"))
    if "shim" in (places[first].part.kind, places[final].part.kind):
        raise RefusedError(said("bridge.shim_end"))
    return places[first], places[final]


def _push_fit(wishes: Wishes, sky: Place, camera: Place, kept: tuple[Place, ...]) -> bool:
    if wishes.push_fit is not None:
        return wishes.push_fit
    sides = [sky.camera_connection, camera.sky_connection]
    sides += [side for place in kept for side in (place.sky_connection, place.camera_connection)]
    return any(isinstance(side, Barrel) for side in sides)


# What it asks for


def _asked(gap: Gap, wishes: Wishes) -> Gap:
    """The distance, from the corrector, from the focuser's travel, or typed."""
    rig = gap.with_places(gap.kept)
    case = Case(rig)
    train = rig.train
    outside = train.places[train.index_of(gap.camera) :]
    found: Gap | None = None
    spacing = case.spacing
    if spacing is not None and train.index_of(gap.sky) >= train.index_of(spacing.corrector):
        part = spacing.corrector.part
        above = train.places[train.index_of(spacing.corrector) + 1 : train.index_of(gap.sky) + 1]
        lengths, missing = lengths_of((*above, *outside))
        fixed = spacing.reference_mm + sum(one.measure.nominal for one in lengths)
        asked = spacing.asked_mm
        notes: tuple[Words, ...] = (*missing, *spacing.glass_missing)
        if asked is None:
            notes = (said("bridge.asked_back_focus", part=spacing.corrector), *notes)
        if asked is not None and not missing:
            short, long, whose = window_of(case, part)
            found = replace(
                gap,
                distance_mm=asked - fixed,
                short_mm=short,
                long_mm=long,
                whose=whose,
                asked_mm=asked,
                outside_mm=fixed,
                notes=notes,
            )
        gap = replace(gap, notes=notes)
    elif train.corrector is None and train.tube is not None and train.camera is not None:
        found, notes = _focus(gap, train, outside)
        gap = replace(gap, notes=notes)
    else:
        now = gap.now_mm or 0.0
        found = _before_corrector(gap) or replace(gap, distance_mm=0.0, long_mm=max(FREE_MM, now))
    if wishes.distance_mm is not None:
        base = found or replace(gap, short_mm=rig.rules.spacing_mm, long_mm=rig.rules.spacing_mm)
        if base.whose in ("nobody", "focuser"):
            base = replace(base, short_mm=rig.rules.spacing_mm, long_mm=rig.rules.spacing_mm)
        found = replace(base, distance_mm=wishes.distance_mm, whose="typed")
    if found is None:
        raise RefusedError(said("bridge.distance_unknown", missing=gap.notes))
    short = found.short_mm if wishes.short_mm is None else wishes.short_mm
    long = found.long_mm if wishes.long_mm is None else wishes.long_mm
    return replace(found, short_mm=short, long_mm=long)


def _focus(gap: Gap, train: Train, outside: tuple[Place, ...]) -> tuple[Gap | None, tuple[Words, ...]]:
    """Without a corrector: where the focuser can still bring the sensor to focus (see the check of reach)."""
    tube = train.tube
    assert tube is not None
    part = tube.part
    above = train.places[train.index_of(tube) + 1 : train.index_of(gap.sky) + 1]
    lengths, missing = lengths_of((*above, *outside))
    glass, _, glass_missing = glass_in(train.after(tube), beam_ratio(train))
    notes = (*missing, *glass_missing)
    if part.back_focus_mm is None:
        return None, (said("bridge.focal_plane", part=tube), *notes)
    if missing:
        return None, notes
    fixed = sum(one.measure.nominal for one in lengths)
    asked = part.back_focus_mm.nominal + sum(plate.shift_mm for plate in glass)
    outwards = nominal(part.focuser_out_mm) or 0.0
    outwards += sum(
        nominal(p.part.travel_mm) or 0.0 for p in train.after(tube) if isinstance(p.part, Focuser)
    )
    return (
        replace(
            gap,
            distance_mm=asked - fixed,
            # A shorter train is focused by drawing out, a longer one by going in.
            short_mm=outwards,
            long_mm=nominal(part.focuser_in_mm) or 0.0,
            whose="focuser",
            asked_mm=asked,
            outside_mm=fixed,
            notes=notes,
        ),
        notes,
    )


def _before_corrector(gap: Gap) -> Gap | None:
    """Between the tube and its corrector: where the focuser can still bring the sensor to focus.

    What comes in there moves corrector and camera together, so it takes from the travel inwards and gives to
    the travel outwards, each mm by a mm. None elsewhere, while a figure is missing, and where no length of 0
    or more would do.
    """
    train, now = gap.rig.train, gap.now_mm
    tube, corrector = train.tube, train.corrector
    if tube is None or corrector is None or now is None or train.camera is None:
        return None
    if train.index_of(gap.sky) < train.index_of(tube) or train.index_of(gap.camera) > train.index_of(
        corrector
    ):
        return None
    worked = work_reach(Case(gap.rig))
    inwards, outwards = worked.inwards_mm, worked.outwards_mm
    if inwards is None or outwards is None or inwards + outwards <= 0.0 or now + inwards < 0.0:
        return None
    # As far from either end of the travel as it goes.
    middle = now + (inwards - outwards) / 2.0
    reach = (inwards + outwards) / 2.0
    return replace(
        gap, distance_mm=middle, short_mm=reach, long_mm=reach, whose="focuser", notes=worked.glass_missing
    )


def _light(gap: Gap, wishes: Wishes) -> Gap:
    """The smallest clear aperture: typed, or what the cone to the kept corner needs at the gap's sky end."""
    cone = None
    rig = gap.with_places(gap.kept)
    case = Case(rig)
    train, camera = rig.train, rig.train.camera
    powered = train.corrector or train.tube
    if camera is not None and powered is not None and train.index_of(gap.sky) >= train.index_of(powered):
        diagonal = camera.part.diagonal_mm
        outside = train.places[train.index_of(gap.camera) :]
        lengths, missing = lengths_of(outside)
        if not missing and diagonal is not None:
            shift = sum(glass.shift_mm for glass in glass_in(outside, beam_ratio(train))[0])
            near = max(0.0, sum(one.measure.nominal for one in lengths) - shift)
            far = near + max(0.0, gap.distance_mm)
            try:
                cone = _cone(case, near, far, diagonal / 2.0)
            except OutOfRangeError:
                # Beyond what the formula holds for nothing is asked; the light cone's own check says why.
                cone = None
    clear = wishes.clear_mm if wishes.clear_mm is not None else ceil(max(cone) * 10.0) / 10.0 if cone else 0.0
    return replace(gap, clear_mm=clear, cone_mm=cone, clear_asked=wishes.clear_mm is not None)


def _cone(case: Case, near_mm: float, far_mm: float, height_mm: float) -> tuple[float, float] | None:
    """The clear diameters that keep the corner's light at a gap's two ends; None while no beam is known."""
    traced = case.traced
    if traced is None:
        return None
    near, far = (
        diameter_for_share_mm(traced.beam, x, case.rig.rules.corner_light, height_mm)
        for x in (near_mm, far_mm)
    )
    return near, far


def _contradictions(gap: Gap, wishes: Wishes) -> None:
    """Raise ContradictionError for two demands that no stack at all can meet together."""
    kept = sum(nominal(place.length) or 0.0 for place in gap.kept)
    if gap.distance_mm + gap.long_mm < -_EDGE:
        raise ContradictionError(
            said("bridge.the_distance"),
            said("bridge.at_end", part=gap.camera),
            said("bridge.outside_long", longer=amount(-gap.distance_mm, "length", 2)),
        )
    for place in gap.kept:
        part = place.part
        assert isinstance(part, PathPart)
        stays = said("bridge.stays", parts=(place,))
        if place.item.id in wishes.without:
            raise ContradictionError(stays, said("bridge.unwanted", part=place), said("bridge.let_go"))
        if place.length is None:
            raise RefusedError(said("bridge.length_unknown", part=place))
        if not ways_of(part):
            raise RefusedError(said("bridge.connections_unknown", part=place))
        clear = nominal(part.clear_aperture_mm)
        if wishes.clear_mm and clear is not None and clear < wishes.clear_mm - _EDGE:
            raise ContradictionError(
                said("bridge.clear", clear=exact_length(wishes.clear_mm)),
                stays,
                said("bridge.opening", opening=exact_length(clear)),
            )
        barrel = isinstance(part.sky_side, Barrel) or isinstance(part.camera_side, Barrel)
        if barrel and wishes.push_fit is False:
            raise ContradictionError(said("bridge.no_push_fit"), stays, said("bridge.has_barrel"))
    for place, side in ((gap.sky, gap.sky.camera_connection), (gap.camera, gap.camera.sky_connection)):
        if wishes.push_fit is False and isinstance(side, Barrel):
            raise ContradictionError(
                said("bridge.no_push_fit"), said("bridge.at_end", part=place), said("bridge.takes_barrel")
            )
    if kept > gap.distance_mm + gap.long_mm + _EDGE:
        raise ContradictionError(
            said("bridge.stays", parts=gap.kept),
            said("bridge.distance", distance=amount(gap.distance_mm, "length", 2)),
            said("bridge.kept_long", kept=amount(kept, "length", 2)),
        )
    if len(gap.kept) + 1 > wishes.most_joints:
        raise ContradictionError(
            said("bridge.joints", count=wishes.most_joints),
            said("bridge.must_stay", parts=gap.kept),
            said("bridge.joints_made", count=len(gap.kept) + 1),
        )
    weights = [grams(nominal(place.part.mass_kg)) or 0 for place in gap.kept]
    if wishes.most_kg is not None and sum(weights) > wishes.most_kg * 1000.0 + _EDGE:
        raise ContradictionError(
            said("bridge.most_mass", most=exact_mass(wishes.most_kg)),
            said("bridge.must_stay", parts=gap.kept),
            said("bridge.weigh", mass=exact_mass(sum(weights) / 1000.0)),
        )
