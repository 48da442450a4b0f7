"""What the rig carries where: on the saddle, on the bar, on the tripod or pier, on the ground."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from server.domain.load.sheet import Packed, Piece, PlaceName, PlaceSum
from server.domain.measure import Measure
from server.domain.missing import mass_of
from server.domain.parts import CataloguedPart
from server.domain.rig import Rig
from server.domain.said import Missing
from server.domain.workings.case import Case
from server.domain.workings.loads import Load, loads_of
from server.mechanics.payload import total_mass


def piece_of(
    item: CataloguedPart, quantity: int = 1, figure: Measure | None = None, label: str = "mass"
) -> Piece:
    """A part as a piece of a sum; `figure` is its mass where that is not its own mass."""
    measure = item.part.mass_kg if figure is None else figure
    return Piece(
        part_id=item.id,
        name=item.name,
        kind_words=item.part.kind_words,
        quantity=quantity,
        mass_kg=None if measure is None else measure.nominal * quantity,
        basis="" if measure is None else item.part.basis_of(measure),
        label=label,
    )


def _loaded(item: CataloguedPart, quantity: int, load: Load | None) -> Piece:
    """A part as a piece of a sum, with the mass that it has on the saddle where it rides there."""
    if load is None:
        return piece_of(item, quantity)
    piece = piece_of(item, quantity, load.measure, load.label)
    return replace(piece, basis="assumed") if load.assumed else piece


def sum_of(pieces: Iterable[Piece]) -> tuple[float, tuple[Missing, ...]]:
    """The known mass of some pieces, kg, and what to enter for the rest ("the mass of X")."""
    known = tuple(pieces)
    total = total_mass((piece.name, piece.mass_kg) for piece in known)
    return total.known_kg, tuple(
        dict.fromkeys(mass_of(p.part_id, p.name) for p in known if p.mass_kg is None)
    )


def basis_of(pieces: Iterable[Piece]) -> str:
    """Where the sum of some pieces is from: of one piece where its mass is, otherwise it is worked out."""
    found = tuple(pieces)
    return found[0].basis if len(found) == 1 and found[0].quantity == 1 else "worked out"


def sum_places(case: Case) -> tuple[PlaceSum, ...]:
    """What each place carries, the saddle first; places that carry nothing are left out.

    The stand carries the mount with all that is on it, so its pieces are those of saddle and bar as well.
    """
    saddle = [_loaded(load.item, load.quantity, load) for load in loads_of(case)]
    at: dict[PlaceName, list[Piece]] = {
        "saddle": saddle,
        "bar": [],
        "stand": [],
        "ground": [],
        "unplaced": [],
    }
    for gear in case.rig.gear:
        place = place_of(gear.item)
        if place is not None:
            at[place].append(piece_of(gear.item, gear.quantity))
    at["stand"] += at["saddle"] + at["bar"]
    return tuple(PlaceSum(place, tuple(pieces), *sum_of(pieces)) for place, pieces in at.items() if pieces)


def place_of(item: CataloguedPart) -> PlaceName | None:
    """Where gear goes; None for what `loads_of` has counted on the saddle."""
    match item.part.rides_at:
        case "bar" | "stand" | "ground" as place:
            return place
        case None:
            return "unplaced"
    return None


def rides(item: CataloguedPart) -> bool:
    """Whether a piece of gear rides on the saddle: whether `loads_of` counts it."""
    return item.part.rides_at in ("tube", "saddle")


def all_pieces(rig: Rig) -> tuple[Piece, ...]:
    """Every part that travels with the rig, each catalogue number once, in the order of train, then gear.

    A tube weighs here what it weighs on the saddle: with its rings where it comes with them.
    """
    on_saddle = {load.item.id: load for load in loads_of(Case(rig))}
    counted: dict[int, int] = {}
    items: dict[int, CataloguedPart] = {}
    for place in (*rig.train, *rig.branch):
        for item in (place.item, *place.inside):
            items[item.id] = item
            counted[item.id] = counted.get(item.id, 0) + 1
    for gear in rig.gear:
        items[gear.item.id] = gear.item
        counted[gear.item.id] = counted.get(gear.item.id, 0) + gear.quantity
    found: list[Piece] = []
    for number, count in counted.items():
        found.append(_loaded(items[number], count, on_saddle.get(number)))
    return tuple(found)


def pack(rig: Rig) -> tuple[Packed, ...]:
    """What goes in which case, in the order in which the plan names the cases; what is loose comes last.

    Rings that are parts of their own stand on their own line.
    """
    case_of = {use.part_id: use.case for use in rig.load.cases}
    cases: dict[str, list[Piece]] = {use.case: [] for use in rig.load.cases}
    cases[""] = []
    for piece in all_pieces(rig):
        cases[case_of.get(piece.part_id, "")].append(piece)
    return tuple(Packed(name, tuple(pieces), *sum_of(pieces)) for name, pieces in cases.items() if pieces)
