"""Every mass of the loaded tube at its place along the tube, and how it balances on its dovetail.

Places count from the front of the tube towards the camera. The tube's own balance point must be given. The
camera-side connection is taken to lie at the tube's length with the drawtube where its owner usually has it.
The middle of a part of the train stands in for its own balance point, which no maker prints: its basis is
"assumed".
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

from server.domain.load.bar import work_bar
from server.domain.load.sheet import BalanceSheet, BarAnswer, Body
from server.domain.measure import nominal
from server.domain.missing import lacks, mass_of, wants
from server.domain.parts import BaseCamera, Filter, GuideCamera, GuideScope, OpticalTube
from server.domain.said import Missing, Said, said
from server.domain.train import Place
from server.domain.workings.case import Case
from server.domain.workings.loads import Load, loads_of
from server.mechanics.statics import centre_of_mass_mm, moment_of_inertia_kg_m2, shift_of_centre_mm, torque_nm


def work_balance(case: Case) -> BalanceSheet:
    """Where the loaded tube balances along its dovetail, and what follows from it.

    A measured balance point wins over the worked one, and is enough without any place. Raises ValueError for
    figures outside the range of server.mechanics.statics.
    """
    return case.rig.once(BalanceSheet, lambda: _balance_of(case))


def _balance_of(case: Case) -> BalanceSheet:
    plan = case.rig.load
    bodies, missing = bodies_of(case)
    whole_kg = sum(body.mass_kg for body in bodies)
    worked = None
    if bodies and not missing and whole_kg > 0:
        worked = centre_of_mass_mm([(body.mass_kg, body.along_mm) for body in bodies])
    centre = worked if plan.balance_mm is None else plan.balance_mm
    off = None if centre is None or plan.clamp_mm is None else centre - plan.clamp_mm
    masses = [load.mass_kg for load in loads_of(case)]
    load_kg = None if None in masses else sum(mass for mass in masses if mass is not None)
    arm_mm = _moment_arm_mm(case, bodies, missing)
    bar = work_bar(case, arm_mm, _arm_lacks(case, bodies, missing))
    return BalanceSheet(
        bodies=bodies,
        centre_mm=centre,
        centre_basis="measured" if plan.balance_mm is not None else "" if worked is None else "worked out",
        worked_mm=worked,
        clamp_mm=plan.clamp_mm,
        off_mm=off,
        imbalance_nm=None if off is None or load_kg is None else torque_nm(load_kg, off),
        with_change_mm=_with_change_mm(case, bodies, centre, load_kg),
        per_racked_mm=_per_racked_mm(case, load_kg),
        moment_arm_mm=arm_mm,
        inertia_declination=None if worked is None else _inertia(bodies, worked, None),
        inertia_polar=_inertia_polar(case, bodies, worked, arm_mm, bar),
        inertia_assumes=() if worked is None else _inertia_assumes(case),
        sag_arcmin=sag_of(case)[0],
        bar=bar,
        **_aside(case, bodies),
        missing=() if plan.balance_mm is not None else missing,
    )


def _inertia(bodies: tuple[Body, ...], about_mm: float, saddle_mm: float | None) -> float:
    """The load's moment of inertia about an axis across the tube, kg m^2.

    saddle_mm: None for the declination axis, which runs through the balance point square to the saddle, so
    that a height above the saddle lies along it and does not count. Else how high the saddle sits above the
    polar axis, which is square to both while the tube lies across it: every height then counts.
    """

    def height_mm(body: Body) -> float:
        return 0.0 if saddle_mm is None else saddle_mm + (body.above_mm or 0.0)

    return moment_of_inertia_kg_m2(
        [
            (
                body.mass_kg,
                math.hypot(body.along_mm - about_mm, height_mm(body)),
                body.length_mm,
                body.radius_mm,
            )
            for body in bodies
        ]
    )


def half_width(tube: OpticalTube) -> tuple[float, Said]:
    """Half the tube's outer diameter, and where it is from; half its aperture where that is all there is."""
    if tube.outer_diameter_mm is not None:
        return tube.outer_diameter_mm.nominal / 2, said("balance.width", by="outer_diameter")
    if tube.aperture_mm is not None:
        return tube.aperture_mm.nominal / 2, said("balance.width", by="aperture")
    return 0.0, said("balance.width", by="")


def _inertia_assumes(case: Case) -> tuple[Said, ...]:
    """What the moments of inertia take for granted."""
    tube, always = case.train.tube, said("balance.inertia_assumes")
    if tube is None:
        return (always,)
    long = tube.part.tube_length_mm is not None
    return (said("balance.cylinder", tube=tube, wide=half_width(tube.part)[1], long=long), always)


def _inertia_polar(
    case: Case,
    bodies: tuple[Body, ...],
    worked_mm: float | None,
    arm_mm: float | None,
    bar: BarAnswer | None,
) -> float | None:
    """The load, the bar and the weights that balance it; None while any of them is not known."""
    if worked_mm is None or arm_mm is None:
        return None
    mount = case.rig.mount
    if mount is None or mount.part.saddle_height_mm is None:
        return None
    load = _inertia(bodies, worked_mm, mount.part.saddle_height_mm.nominal)
    if bar is None:
        return load
    if not bar.weights or bar.bar_start_mm is None or bar.bar_end_mm is None:
        return None
    length_mm = bar.bar_end_mm - bar.bar_start_mm
    rod = (nominal(mount.part.bar_mass_kg) or 0.0, bar.bar_start_mm + length_mm / 2, length_mm, 0.0)
    return load + moment_of_inertia_kg_m2(
        [
            rod,
            *((one.mass_kg, one.at_mm, one.thickness_mm, 0.0) for one in (*bar.weights, *bar.riders)),
        ]
    )


def bodies_of(case: Case) -> tuple[tuple[Body, ...], tuple[Missing, ...]]:
    """The masses whose place is known, and what to enter for the others."""
    return case.rig.once(Body, lambda: _bodies_of(case))


def _bodies_of(case: Case) -> tuple[tuple[Body, ...], tuple[Missing, ...]]:
    bodies: list[Body] = []
    missing: list[Missing] = []
    ends_mm, lacking = _camera_side_mm(case)
    missing += lacking
    spots = {spot.part_id: spot for spot in case.rig.load.spots}
    for load, place in placed(case):
        name, mass_kg = load.item.name, load.mass_kg
        if mass_kg is None:
            missing.append(mass_of(load.item.id, name))
        elif mass_kg == 0:
            continue
        elif isinstance(load.item.part, OpticalTube):
            body = _tube_body(case, load.item.part, name, mass_kg)
            bodies += [body] if body else []
            missing += [] if body else [lacks(load.item, "balance_point_mm")]
        elif place is not None:
            found = _of_train(case, load, place, ends_mm)
            bodies += [found] if found else []
            if found is None and ends_mm is not None:
                missing.append(wants("lengths_before", name=name))
        elif load.item.id in spots:
            spot = spots[load.item.id]
            bodies.append(Body(name, mass_kg, spot.along_mm, spot.above_mm, 0.0, "typed"))
        elif isinstance(load.item.part, Filter):
            # A filter beside the train sits over the front of the tube, about its axis.
            above = case.rig.load.tube_above_saddle_mm
            bodies.append(Body(name, mass_kg, 0.0, above, 0.0, "assumed"))
        else:
            missing.append(Missing(said("wants.on_tube", name=name), load.item.id))
    return tuple(bodies), tuple(dict.fromkeys(missing))


def placed(case: Case) -> list[tuple[Load, Place | None]]:
    """What rides on the saddle, each with the place of the train that holds it; None for gear on the tube.

    What stands before the guide camera hangs on the off-axis guider, and so does that camera where the rig
    has no guide scope.
    """
    train = [place for place in case.train for _ in (place.item, *place.inside)]
    held: list[Place | None] = [*train, *[case.rig.guider for _ in case.rig.branch]]
    scope = any(isinstance(gear.item.part, GuideScope) for gear in case.rig.gear)
    loads = loads_of(case)
    for load in loads[len(held) :]:
        hangs = isinstance(load.item.part, GuideCamera) and not scope
        held.append(case.rig.guider if hangs else None)
    return list(zip(loads, held, strict=True))


def _tube_body(case: Case, tube: OpticalTube, name: str, mass_kg: float) -> Body | None:
    """The bare tube at its own balance point, None where nobody gave that."""
    at_mm = nominal(tube.balance_point_mm)
    if at_mm is None:
        return None
    length_mm = nominal(tube.tube_length_mm) or 0.0
    return Body(
        name,
        mass_kg,
        at_mm,
        _axis_mm(case),
        length_mm,
        tube.basis_of(tube.balance_point_mm),
        radius_mm=half_width(tube)[0],
    )


def _axis_mm(case: Case) -> float | None:
    return case.rig.load.tube_above_saddle_mm


def _camera_side_mm(case: Case) -> tuple[float | None, list[Missing]]:
    """Where the tube's camera-side connection lies, or the focuser at its side; and what to enter for it."""
    tube = case.train.tube
    plan = case.rig.load
    if tube is None:
        return None, [wants("tube_in_train")] if len(case.train) else []
    if len(case.train) == 1:
        return None, []
    if plan.focuser_at_mm is not None:
        return plan.focuser_at_mm, []
    if tube.part.design == "newtonian":
        return None, [wants("focuser_at_side", tube=tube)]
    if tube.part.tube_length_mm is None:
        return None, [lacks(tube, "tube_length_mm")]
    return tube.part.tube_length_mm.nominal + (plan.drawtube_out_mm or 0.0), []


def _of_train(case: Case, load: Load, place: Place, ends_mm: float | None) -> Body | None:
    """A part of the train at its place; None where that is not known."""
    if ends_mm is None or load.mass_kg is None:
        return None
    from_mm, length_mm = ends_mm, 0.0
    if case.rig.load.focuser_at_mm is None:
        # A train at the tube's side stands across it: all of it balances at the focuser.
        for one in case.train.places[1:]:
            length = nominal(one.length)
            if one is place:
                length_mm = length or 0.0
                break
            if length is None:
                return None
            from_mm += length
    aside_mm = _aside_mm(case, place)
    # A camera's body stands on both sides of its sensor, about as far behind it as its flange before it.
    middle = length_mm if isinstance(place.part, BaseCamera) else length_mm / 2
    reach = 2 * length_mm if isinstance(place.part, BaseCamera) else length_mm
    return Body(
        load.item.name,
        load.mass_kg,
        from_mm + middle,
        _axis_mm(case),
        reach,
        "assumed",
        place.key,
        aside_mm=aside_mm,
    )


def _aside_mm(case: Case, place: Place) -> float | None:
    """How far a part's middle lies off the tube's axis: 0 but for a train at the tube's side.

    There the tube's half width, with what stands between; None where either is not known.
    """
    tube = case.train.tube
    if case.rig.load.focuser_at_mm is None:
        return 0.0
    if tube is None:
        return None
    from_mm = half_width(tube.part)[0]
    if from_mm <= 0.0:
        return None
    for one in case.train.places[1:]:
        length = nominal(one.length)
        if one is place:
            return from_mm + (length or 0.0) / (1 if isinstance(place.part, BaseCamera) else 2)
        from_mm += length or 0.0
    return from_mm


def _aside(case: Case, bodies: tuple[Body, ...]) -> dict[str, Any]:
    """What hangs at the tube's side, and what that does across the tube."""
    tube = case.train.tube
    if tube is None or case.rig.load.focuser_at_mm is None:
        return {}
    hanging = [body for body in bodies if body.aside_mm != 0.0]
    by = half_width(tube.part)[1]
    kg = sum(body.mass_kg for body in hanging)
    known = [(body.mass_kg, body.aside_mm) for body in hanging if body.aside_mm is not None]
    whole_kg = sum(body.mass_kg for body in bodies)
    if not hanging or len(known) < len(hanging) or whole_kg <= 0.0:
        return {"aside_kg": kg or None, "aside_by": by}
    moment = sum(mass * aside for mass, aside in known)
    return {
        "aside_kg": kg,
        "aside_mm": moment / whole_kg,
        "aside_nm": torque_nm(kg, moment / kg),
        "aside_by": by,
    }


def _arm_lacks(case: Case, bodies: tuple[Body, ...], missing: tuple[Missing, ...]) -> tuple[Missing, ...]:
    """What to enter before the load's distance from the polar axis is known."""
    if case.rig.load.tube_above_saddle_mm is None and len(case.train):
        return (*missing, wants("axis_above"))
    low = (wants("above_saddle", name=body.name) for body in bodies if body.above_mm is None)
    return (*missing, *low)


def _hanging(case: Case) -> list[tuple[Load, Place]]:
    """All that hangs behind the tube, each with its place."""
    return [
        (load, place) for load, place in placed(case) if place is not None and place is not case.train.tube
    ]


def _with_change_mm(
    case: Case, bodies: tuple[Body, ...], centre: float | None, load_kg: float | None
) -> float | None:
    """How far the centre moves when the plan's change of mass is made where the camera is."""
    change, camera = case.rig.load.change_kg, case.train.camera
    if change is None or camera is None or centre is None or load_kg is None:
        return None
    at = next((body.along_mm for body in bodies if body.key == camera.key), None)
    if at is None or load_kg + change <= 0:
        return None
    return change * (at - centre) / (load_kg + change)


def _per_racked_mm(case: Case, load_kg: float | None) -> float | None:
    """How far the centre moves for one mm of the drawtube outwards; the drawtube's own mass is left out."""
    masses = [load.mass_kg for load, _ in _hanging(case)]
    if not load_kg or not masses or None in masses or case.rig.load.focuser_at_mm is not None:
        return None
    hanging_kg = sum(mass for mass in masses if mass is not None)
    return shift_of_centre_mm(load_kg, min(hanging_kg, load_kg), 1.0)


def _moment_arm_mm(case: Case, bodies: tuple[Body, ...], missing: tuple[Missing, ...]) -> float | None:
    """How far the load's centre lies from the polar axis: the saddle's height and the centre's above it."""
    mount = case.rig.mount
    if mount is None or mount.part.saddle_height_mm is None:
        return None
    heights = [(body.mass_kg, body.above_mm) for body in bodies if body.above_mm is not None]
    if missing or not bodies or len(heights) < len(bodies):
        return None
    return mount.part.saddle_height_mm.nominal + centre_of_mass_mm(heights)


def sag_of(case: Case) -> tuple[float | None, tuple[Missing, ...]]:
    """The drawtube's tilt under what hangs on it, drawtube level, arcmin; and what to enter where it lacks.

    Its measured softness times the moment of each mass, from where the drawtube's end usually is: what it is
    racked out lengthens every arm, and what it is racked in is left out, to the safe side. Nothing and
    nothing to enter where no softness is known or nothing hangs.
    """
    tube, plan = case.train.tube, case.rig.load
    if tube is None or tube.part.drawtube_sag_arcmin is None:
        return None, ()
    # A focuser at the tube's side is level too while its tube lies on its back, and bends alike.
    behind = Case(replace(case.rig, load=plan.model_copy(update={"focuser_at_mm": None})))
    moment_nm = 0.0
    missing: list[Missing] = []
    hanging = _hanging(case)
    for load, place in hanging:
        if load.mass_kg is None:
            missing.append(mass_of(load.item.id, load.item.name))
        elif load.mass_kg > 0:
            body = _of_train(behind, load, place, max(0.0, plan.drawtube_out_mm or 0.0))
            if body is None:
                missing.append(wants("lengths_before", name=load.item.name))
            else:
                moment_nm += torque_nm(body.mass_kg, body.along_mm)
    if missing or not hanging:
        return None, tuple(dict.fromkeys(missing))
    return tube.part.drawtube_sag_arcmin.nominal * moment_nm, ()
