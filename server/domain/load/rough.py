"""Where the loaded tube balances while nobody has measured it: an honest range instead of a question.

What nobody gave is assumed with the range that it may lie in, and the balance is worked out at both ends of
it. Nothing here is a verdict: the check of the balance says *not known* until the figures are there.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace

from server.domain.load.bodies import half_width, placed, work_balance
from server.domain.load.sheet import BalanceSheet, BarAnswer, Body
from server.domain.load_plan import Spot
from server.domain.measure import Measure, nominal
from server.domain.missing import lacks, mass_of, wants
from server.domain.parts import BaseCamera, CataloguedPart, Filter
from server.domain.rig import Gear, Rig
from server.domain.said import Missing, said
from server.domain.train import Place, Train
from server.domain.workings.case import Case
from server.domain.workings.loads import loads_of
from server.mechanics.statics import torque_nm

TUBE_SHARES = (0.25, 0.5, 0.75)
"""The bare tube's own balance point, of its length. A choice of ours, no source."""
FOCUSER_SHARES = (0.0, 0.15, 0.4)
"""Where a focuser sits at a tube's side, of its length from the front. A choice of ours, no source."""
RINGS_MM = (0.0, 40.0, 100.0)
"""What rings and plate put between the tube and the saddle. A choice of ours, no source."""
ABOVE_TUBE_MM = 150.0
"""How far above the tube gear on it may have its middle. A choice of ours, no source."""
SADDLE_MM = (50.0, 150.0, 250.0)
"""The saddle of a mount above its polar axis. A choice of ours, no source."""
LENGTH_MM = (0.0, 30.0, 100.0)
"""The length of a part between tube and camera. A choice of ours, no source."""
LOW, MIDDLE, HIGH = range(3)
Span = tuple[float, float, float]
"""Of a figure that nobody gave, mm: its least, what it is taken for meanwhile, its most."""


@dataclass(frozen=True)
class Assumed:
    """A figure that nobody gave.

    Attributes:
        name: whose figure it is; figure: which, "balance_point", "focuser", "along", "length", "axis",
            "above" or "saddle".
        span: what is taken for it. enter: where it is entered.
        moves_mm: how far the whole load's balance lies open for it, from end to end.
    """

    name: str
    figure: str
    span: Span
    enter: Missing
    part_id: int | None = None
    moves_mm: float = 0.0


@dataclass(frozen=True)
class RoughBalance:
    """The balance from what is known and what is assumed.

    Attributes:
        sheet: every mass at its known or assumed middle, for the picture; empty where `missing` names what
            must be entered first. Its assumed bodies have their range in `between_mm`.
        centre: where it balances, from the front of the tube; None where missing.
        assumed: what was assumed along the tube, what leaves it open most first; heights: what was assumed
            of the distance from the polar axis.
        arm: the load's centre from the polar axis; torque_nm: its torque about it, N m; None for no mount.
        bars: how the counterweights at hand balance the least and the most of it; empty where the bar or the
            weights are not known, or a mass is not.
        left_out: masses that nobody gave: what they weigh is not counted.
    """

    sheet: BalanceSheet = field(default_factory=BalanceSheet)
    centre: Span | None = None
    assumed: tuple[Assumed, ...] = ()
    heights: tuple[Assumed, ...] = ()
    arm: Span | None = None
    torque_nm: tuple[float, float] | None = None
    bars: tuple[BarAnswer, ...] = ()
    left_out: tuple[Missing, ...] = ()
    missing: tuple[Missing, ...] = ()


def work_rough(case: Case) -> RoughBalance:
    """Work out the balance at both ends of all that is assumed.

    Each mass may lie anywhere in its own range, a part of the train anywhere in its own length: the ends are
    those of all at once. A measured balance point is not looked at. Raises ValueError as work_balance does.
    """
    missing = _asked_first(case)
    if missing:
        return RoughBalance(missing=missing)
    assumed = tuple(_along(case))
    low, middle, high = (work_balance(Case(_filled(case.rig, assumed, end))) for end in (LOW, MIDDLE, HIGH))
    masses = [load for load in loads_of(case) if load.mass_kg is None]
    rough = RoughBalance(left_out=tuple(dict.fromkeys(mass_of(one.item.id, one.item.name) for one in masses)))
    if low.worked_mm is None or middle.worked_mm is None or high.worked_mm is None:
        return replace(rough, missing=middle.missing)
    whole_kg = sum(body.mass_kg for body in middle.bodies)
    own_mm = sum(body.mass_kg * _own_mm(body) for body in middle.bodies) / whole_kg
    bodies = zip(middle.bodies, low.bodies, high.bodies, strict=True)
    moving = (replace(one, moves_mm=_moves_mm(case, one) / whole_kg) for one in assumed)
    return _about_the_axis(
        case,
        replace(
            rough,
            sheet=replace(middle, bodies=tuple(_between(*three) for three in bodies)),
            centre=(low.worked_mm - own_mm, middle.worked_mm, high.worked_mm + own_mm),
            assumed=tuple(sorted(moving, key=lambda one: -one.moves_mm)),
        ),
    )


def _about_the_axis(case: Case, rough: RoughBalance) -> RoughBalance:
    """The same with the load's torque about the polar axis, and how the weights at hand balance it."""
    if case.rig.mount is None:
        return rough
    heights = tuple(_heights(case))
    taken = (*rough.assumed, *heights)
    sheets = [work_balance(Case(_filled(case.rig, taken, end))) for end in (LOW, MIDDLE, HIGH)]
    arms = [sheet.moment_arm_mm for sheet in sheets if sheet.moment_arm_mm is not None]
    if len(arms) < len(sheets):
        return rough
    whole_kg = sum(body.mass_kg for body in rough.sheet.bodies)
    bars = tuple(sheet.bar for sheet in (sheets[LOW], sheets[HIGH]) if sheet.bar is not None)
    return replace(
        rough,
        heights=heights,
        arm=(arms[LOW], arms[MIDDLE], arms[HIGH]),
        torque_nm=(torque_nm(whole_kg, arms[LOW]), torque_nm(whole_kg, arms[HIGH])),
        bars=() if rough.left_out or any(bar.outcome is None for bar in bars) else bars,
    )


def _asked_first(case: Case) -> tuple[Missing, ...]:
    """What no range stands in for: the tube, its mass and its length."""
    tube = case.train.tube
    if tube is None:
        return (wants("tube_in_train"),)
    asked = [mass_of(tube.item.id, tube.name)] if tube.part.on_saddle[0] is None else []
    return (*asked, *([lacks(tube, "tube_length_mm")] if tube.part.tube_length_mm is None else []))


def _of(whole_mm: float, shares: Span) -> Span:
    return (whole_mm * shares[LOW], whole_mm * shares[MIDDLE], whole_mm * shares[HIGH])


def _along(case: Case) -> Iterator[Assumed]:
    """What nobody said of the places along the tube."""
    tube, plan = case.train.tube, case.rig.load
    assert tube is not None
    long_mm = nominal(tube.part.tube_length_mm) or 0.0
    if tube.part.balance_point_mm is None:
        enter = lacks(tube, "balance_point_mm")
        yield Assumed(tube.name, "balance_point", _of(long_mm, TUBE_SHARES), enter, tube.item.id)
    if plan.focuser_at_mm is None and tube.part.design == "newtonian" and len(case.train) > 1:
        enter = wants("focuser_at_side", tube=tube)
        yield Assumed(tube.name, "focuser", _of(long_mm, FOCUSER_SHARES), enter)
    elif plan.focuser_at_mm is None:
        # A part that stands in the train twice is measured once.
        for place in {place.item.id: place for place in case.train.places[1:]}.values():
            if place.length is None and (name := _length_field(place)):
                yield Assumed(place.name, "length", LENGTH_MM, lacks(place, name), place.item.id)
    known = {spot.part_id for spot in plan.spots}
    for item in _on_tube(case):
        if item.id in known:
            continue
        enter = Missing(said("wants.on_tube", name=item.name), item.id)
        yield Assumed(item.name, "along", (0.0, long_mm / 2, long_mm), enter, item.id)


def _on_tube(case: Case) -> tuple[CataloguedPart, ...]:
    """The gear that has a place of its own on the tube; a filter beside the train sits over its front."""
    return tuple(
        load.item
        for load, place in placed(case)
        if place is None and load.mass_kg and not isinstance(load.item.part, Filter)
    )


def _length_field(place: Place) -> str:
    name = "flange_mm" if isinstance(place.part, BaseCamera) else "length_mm"
    return name if name in type(place.part).model_fields else ""


def _heights(case: Case) -> Iterator[Assumed]:
    """What nobody said of the heights above the polar axis."""
    tube, mount, plan = case.train.tube, case.rig.mount, case.rig.load
    assert tube is not None
    half_mm = half_width(tube.part)[0]
    least, at, most = (half_mm + rings_mm for rings_mm in RINGS_MM)
    if mount is not None and mount.part.saddle_height_mm is None:
        yield Assumed(mount.name, "saddle", SADDLE_MM, lacks(mount, "saddle_height_mm"), mount.id)
    if plan.tube_above_saddle_mm is None:
        yield Assumed(tube.name, "axis", (least, at, most), wants("tube_above"))
    else:
        at = most = plan.tube_above_saddle_mm
    known = {spot.part_id for spot in plan.spots if spot.above_mm is not None}
    for item in _on_tube(case):
        if item.id not in known:
            enter = wants("above_saddle", name=item.name)
            yield Assumed(item.name, "above", (0.0, at, most + half_mm + ABOVE_TUBE_MM), enter, item.id)


def _filled(rig: Rig, assumed: Iterable[Assumed], end: int) -> Rig:
    """The rig with that end of each range in its place; a mass that nobody gave counts as none."""
    taken = {(one.figure, one.part_id): one.span[end] for one in assumed}
    weightless = {load.item.id for load in loads_of(Case(rig)) if load.mass_kg is None}

    def fill(item: CataloguedPart) -> CataloguedPart:
        part = item.part
        fields = {
            "balance_point_mm": taken.get(("balance_point", item.id)),
            "saddle_height_mm": taken.get(("saddle", item.id)),
            "flange_mm" if isinstance(part, BaseCamera) else "length_mm": taken.get(("length", item.id)),
            "mass_kg": 0.0 if item.id in weightless else None,
        }
        given = {
            name: Measure(nominal=value, basis="assumed")
            for name, value in fields.items()
            if value is not None and name in type(part).model_fields
        }
        return replace(item, part=part.model_copy(update=given)) if given else item

    def places(of: tuple[Place, ...]) -> tuple[Place, ...]:
        return tuple(replace(one, item=fill(one.item), inside=tuple(map(fill, one.inside))) for one in of)

    spots = {spot.part_id: spot for spot in rig.load.spots}
    for (figure, part_id), value in taken.items():
        if figure == "along" and part_id is not None:
            spots[part_id] = Spot(part_id=part_id, along_mm=value)
    for (figure, part_id), value in taken.items():
        if figure == "above" and part_id in spots:
            spots[part_id] = spots[part_id].model_copy(update={"above_mm": value})
    plan: dict[str, object] = {"spots": tuple(spots.values())}
    for name, figure in (("focuser_at_mm", "focuser"), ("tube_above_saddle_mm", "axis")):
        if (figure, None) in taken:
            plan[name] = taken[figure, None]
    return Rig(
        rig.name,
        Train(places(rig.train.places)),
        tuple(Gear(fill(gear.item), gear.quantity) for gear in rig.gear),
        rig.rules,
        places(rig.branch),
        rig.load.model_copy(update=plan),
    )


def _own_mm(body: Body) -> float:
    """How far from its middle a part of the train may balance: it does so somewhere in its own length."""
    return body.length_mm / 2 if body.key is not None and body.basis == "assumed" else 0.0


def _between(body: Body, low: Body, high: Body) -> Body:
    """A mass at its middle with the range that it lies in."""
    own_mm = _own_mm(body)
    ends = (low.along_mm - own_mm, high.along_mm + own_mm)
    return body if ends[0] == ends[1] else replace(body, basis="assumed", between_mm=ends)


def _moves_mm(case: Case, one: Assumed) -> float:
    """How much of the balance hangs on a figure: the mass that it places times its range, kg mm."""
    held = placed(case)
    tube = case.train.tube
    if one.figure == "focuser":
        loads = [load for load, place in held if place is not None and place is not tube]
    elif one.figure == "length":
        # What stands behind it is moved once for each time that it stands there.
        loads = [
            load
            for at, of_it in enumerate(case.train.places)
            if of_it.item.id == one.part_id
            for load, place in held
            if place is not None and place in case.train.places[at:]
        ]
    else:
        loads = [load for load, _ in held if load.item.id == one.part_id]
    return sum(load.mass_kg or 0.0 for load in loads) * (one.span[HIGH] - one.span[LOW])
