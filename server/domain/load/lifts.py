"""What somebody has to lift: the loads that the owner planned, and those of the rig that nobody planned."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

from server.domain.checks.case import Case
from server.domain.checks.payload import loads_of
from server.domain.load.places import all_pieces, piece_of, sum_of
from server.domain.load.plan import Lift
from server.domain.load.sheet import LiftEnd, LiftLine, Piece
from server.domain.parts import Counterweight, Mount, PowerSource, Support
from server.domain.rig import Rig
from server.mechanics.lifting import Lifted, duration_of, lifting_index, recommended_limit

TUBE_AND_ALL = "the tube with all that rides on it"
REST = "the rest of what rides on the saddle"
MM_PER_M, MM_PER_CM = 1000.0, 10.0
HEAVY_ALONE_KG = 9.07
"""20 lb. Many keep what they carry alone below it (common practice, no source)."""


def work_lifts(case: Case) -> tuple[LiftLine, ...]:
    """Every load that is lifted: those of the plan in its order, then what no planned lift has touched."""
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
    for number in dict.fromkeys(lift.parts):
        if number not in pieces:
            continue
        whole, count = pieces[number], lift.parts.count(number)
        mass = None if whole.mass_kg is None else whole.mass_kg / whole.quantity * count
        chosen.append(replace(whole, quantity=count, mass_kg=mass))
    line = _line(rig, lift.name, index, tuple(chosen))
    if lift.carry_mm is not None:
        line = replace(line, carry_kg_m=line.mass_kg * lift.carry_mm / MM_PER_M * lift.trips)
    ends, to_plan = _ends(lift, line)
    line = replace(line, ends=ends, to_plan=to_plan)
    if len(chosen) < len(set(lift.parts)):
        line = replace(line, missing=(*line.missing, "what goes together: a part of it has left the rig"))
    return line


def _ends(lift: Lift, line: LiftLine) -> tuple[tuple[LiftEnd, ...], tuple[str, ...]]:
    """Both ends of a planned lift by the lifting equation, or what the plan must still say."""
    asked = {
        "the height where it is taken up": lift.from_height_mm,
        "the height where it is set down": lift.to_height_mm,
        "how far before you the hands are": lift.reach_mm,
        "how well the hands hold it": lift.coupling,
    }
    # The equation is for one person; a lift by several is held to nobody's index here.
    if lift.people > 1:
        return (), ()
    to_plan = tuple(words for words, value in asked.items() if value is None)
    if to_plan:
        return (), to_plan
    assert lift.from_height_mm is not None
    assert lift.to_height_mm is not None
    assert lift.reach_mm is not None
    start, end = lift.from_height_mm / MM_PER_CM, lift.to_height_mm / MM_PER_CM
    far = lift.reach_mm if lift.to_reach_mm is None else lift.to_reach_mm
    ends = (("where it is taken up", start, lift.reach_mm), ("where it is set down", end, far))
    return tuple(_end(lift, line, start, abs(end - start), *one) for one in ends), ()


def _end(
    lift: Lift, line: LiftLine, start_cm: float, way_cm: float, words: str, height_cm: float, reach_mm: float
) -> LiftEnd:
    assert lift.coupling is not None
    try:
        limit = recommended_limit(
            Lifted(
                reach_mm / MM_PER_CM,
                height_cm,
                start_cm,
                way_cm,
                lift.twist_deg or 0.0,
                lift.coupling,
                lift.per_minute,
                duration_of(lift.hours),
            )
        )
    except ValueError as error:
        return LiftEnd(words, None, None, str(error))
    return LiftEnd(words, limit, lifting_index(line.mass_kg, limit))


def _by_itself(case: Case, lifted: Counter[int]) -> list[LiftLine]:
    """The loads that a rig comes in where nobody says otherwise: the tube with all that rides on it, the
    mount, the stand, one counterweight of each sort, one battery of each sort. What planned lifts take is
    left out: of the tube's load, piece by piece, for what is left of it must be lifted as well.
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
    name = REST if lifted.keys() & {load.item.id for load in loads} else TUBE_AND_ALL
    lines = [_line(rig, name, None, tuple(riding))] if riding else []
    for gear in rig.gear:
        part = gear.item.part
        if lifted[gear.item.id]:
            continue
        if isinstance(part, Mount) and part.heaviest_piece_kg is not None:
            piece = piece_of(gear.item, 1, part.heaviest_piece_kg, "heaviest piece")
            lines.append(_line(rig, f"{gear.item.name}, heaviest piece", None, (piece,)))
        elif isinstance(part, Mount | Support | Counterweight | PowerSource):
            lines.append(_line(rig, gear.item.name, None, (piece_of(gear.item),)))
    return lines


def _line(rig: Rig, name: str, planned: int | None, pieces: tuple[Piece, ...]) -> LiftLine:
    known_kg, missing = sum_of(pieces)
    limit = rig.load.lift_limit_kg
    people = 1 if planned is None else rig.load.lifts[planned].people
    over = None if limit is None or people > 1 or known_kg <= limit else known_kg - limit
    return LiftLine(name, planned, pieces, known_kg, over_personal_kg=over, missing=missing)
