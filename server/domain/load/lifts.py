"""What somebody has to lift: the loads that the owner planned, and those of the rig that nobody planned."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace
from typing import Literal

from server.domain.load.places import all_pieces, piece_of, rides, sum_of
from server.domain.load.sheet import LiftEnd, LiftLine, Piece, Trips
from server.domain.load_plan import Lift
from server.domain.missing import wants
from server.domain.parts import CataloguedPart, Mount
from server.domain.rig import Rig
from server.domain.said import Missing, Said, said
from server.domain.workings.case import EDGE_KG, Case
from server.domain.workings.loads import loads_of
from server.mechanics.lifting import (
    KNUCKLE_CM,
    Lifted,
    TooOftenError,
    duration_of,
    lifting_index,
    recommended_limit,
)
from server.out_of_range import OutOfRangeError

MM_PER_M, MM_PER_CM = 1000.0, 10.0
HEAVIEST_PIECE = "heaviest piece"


def work_lifts(case: Case) -> tuple[LiftLine, ...]:
    """Every load that is lifted: those of the plan in its order, then what no planned lift has touched."""
    return case.rig.once(LiftLine, lambda: _lifts(case))


def _lifts(case: Case) -> tuple[LiftLine, ...]:
    rig = case.rig
    pieces = {piece.part_id: piece for piece in all_pieces(rig)}
    planned = tuple(_planned(rig, index, lift, pieces) for index, lift in enumerate(rig.load.lifts))
    lifted: Counter[int] = Counter()
    for lift in rig.load.lifts:
        # A piece that is lifted again and again is one piece: the most of it that goes in one lift.
        lifted |= Counter(lift.parts)
    return planned + tuple(_by_itself(case, lifted))


def _planned(rig: Rig, index: int, lift: Lift, pieces: dict[int, Piece]) -> LiftLine:
    chosen: list[Piece] = []
    too_many: list[Missing] = []
    for number in dict.fromkeys(lift.parts):
        if number not in pieces:
            continue
        whole, count = pieces[number], lift.parts.count(number)
        if count > whole.quantity:
            too_many.append(wants("fewer_in_lift", part=whole.name, count=whole.quantity))
            count = whole.quantity
        mass = None if whole.mass_kg is None else whole.mass_kg / whole.quantity * count
        chosen.append(replace(whole, quantity=count, mass_kg=mass))
    line = _line(rig, said("lift.own", name=lift.name), index, tuple(chosen))
    if lift.carry_mm is not None:
        line = replace(line, carry_kg_m=line.mass_kg * lift.carry_mm / MM_PER_M * lift.trips)
    line = _by_equation(lift, replace(line, missing=(*line.missing, *too_many)))
    if len(chosen) < len(set(lift.parts)):
        line = replace(line, missing=(*line.missing, wants("lift_part_gone")))
    return line


def sum_trips(lines: tuple[LiftLine, ...]) -> Trips | None:
    """All that is carried, mass times distance; None where no lift says how far. Source: arithmetic."""
    told = [line for line in lines if line.carry_kg_m is not None]
    if not told:
        return None
    return Trips(
        kg_m=math.fsum(line.carry_kg_m or 0.0 for line in told),
        missing=tuple(dict.fromkeys(name for line in told for name in line.missing)),
        unsaid=tuple(line.name for line in lines if line.carry_kg_m is None),
    )


ASKED = ("from_height_mm", "to_height_mm", "reach_mm", "coupling")
"""What the lifting equation needs of a planned lift."""


def _by_equation(lift: Lift, line: LiftLine) -> LiftLine:
    """The line with both ends by the lifting equation, or with what the plan must still say."""
    asked = tuple(wants(f"lift.{name}") for name in ASKED if getattr(lift, name) is None)
    ends = _ends(lift, line.mass_kg)
    if lift.people > 1:
        # The equation is for one person, but what is out of its reach is out of each one's.
        return replace(line, ends=tuple(end for end in ends if end.refusal))
    return replace(line, at_best=ends, to_plan=asked) if asked else replace(line, ends=ends)


def _ends(lift: Lift, mass_kg: float) -> tuple[LiftEnd, LiftEnd]:
    """Both ends of a lift by the equation.

    A figure that is missing is put in at its best, so that no real lift has a higher limit: hands at the
    height of the knuckles, no way, close to the body, a good hold.
    """
    start = KNUCKLE_CM if lift.from_height_mm is None else lift.from_height_mm / MM_PER_CM
    end = KNUCKLE_CM if lift.to_height_mm is None else lift.to_height_mm / MM_PER_CM
    known_way = lift.from_height_mm is not None and lift.to_height_mm is not None
    near = (lift.reach_mm or 0.0) / MM_PER_CM
    far = near if lift.to_reach_mm is None else lift.to_reach_mm / MM_PER_CM
    way = abs(end - start) if known_way else 0.0
    return (
        _end(lift, mass_kg, start, way, "taken_up", start, near),
        _end(lift, mass_kg, start, way, "set_down", end, far),
    )


def _end(
    lift: Lift,
    mass_kg: float,
    start_cm: float,
    way_cm: float,
    at: Literal["taken_up", "set_down"],
    height_cm: float,
    reach_cm: float,
) -> LiftEnd:
    try:
        limit = recommended_limit(
            Lifted(
                reach_cm,
                height_cm,
                start_cm,
                way_cm,
                lift.twist_deg or 0.0,
                lift.coupling or "good",
                lift.per_minute,
                duration_of(lift.hours),
            )
        )
    except OutOfRangeError as error:
        return LiftEnd(at, None, None, str(error), isinstance(error, TooOftenError))
    return LiftEnd(at, limit, lifting_index(mass_kg, limit))


def _by_itself(case: Case, lifted: Counter[int]) -> list[LiftLine]:
    """The loads that a rig comes in where nobody says otherwise: the tube with all that rides on it, then
    each sort of gear that does not ride, one at a time. What planned lifts take is left out piece by piece,
    for what is left of it must be lifted as well.
    """
    rig = case.rig
    loads = loads_of(case)
    riding: list[Piece] = []
    taken = Counter(lifted)
    for load in loads:
        less = min(taken[load.item.id], load.quantity)
        taken[load.item.id] -= less
        if load.quantity > less:
            riding.append(piece_of(load.item, load.quantity - less, load.measure, load.label))
    rest = bool(lifted.keys() & {load.item.id for load in loads})
    name = said("lift.riding", rest=rest)
    lines = [_line(rig, name, None, tuple(riding))] if riding else []
    for gear in rig.gear:
        if rides(gear.item):
            continue
        less = min(taken[gear.item.id], gear.quantity)
        taken[gear.item.id] -= less
        if gear.quantity > less:
            lines.append(replace(_alone(rig, gear.item), count=gear.quantity - less))
    return lines


def _alone(rig: Rig, item: CataloguedPart) -> LiftLine:
    """One of a sort of gear, by itself; of a mount that comes apart its heaviest piece."""
    part = item.part
    if isinstance(part, Mount) and part.heaviest_piece_kg is not None:
        piece = piece_of(item, 1, part.heaviest_piece_kg, HEAVIEST_PIECE)
        return _line(rig, said("lift.heaviest", part=item), None, (piece,))
    return _line(rig, said("opening.part", part=item), None, (piece_of(item),))


def _line(rig: Rig, name: Said, planned: int | None, pieces: tuple[Piece, ...]) -> LiftLine:
    known_kg, missing = sum_of(pieces)
    limit = rig.load.lift_limit_kg
    people = 1 if planned is None else rig.load.lifts[planned].people
    line = LiftLine(name, planned, pieces, known_kg, missing=missing, people=people)
    if limit is None or line.share_kg <= limit + EDGE_KG:
        return line
    return replace(line, over_personal_kg=line.share_kg - limit)
