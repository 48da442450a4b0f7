"""The guide camera's branch on the Bridge: main chain and guide chain as one problem, from one drawer.

The guide camera is in focus when prism to guide sensor is as long as prism to main sensor, the shift by glass
behind the prism taken off the latter. Parts of the branch need not pass the main light cone: so the search
sees every connection twice, once for the main chain and once for the branch, and a part that is too narrow
for the main chain has its ways in the branch alone.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache

from server.domain.checks.guide_branch import PARFOCAL_MM, GuidePaths, work_guide
from server.domain.connections import Connection
from server.domain.errors import RefusedError
from server.domain.much import much_is_made
from server.domain.observer import Holding
from server.domain.parts import CataloguedPart, GuideCamera, OffAxisGuider
from server.domain.said import Words, said
from server.domain.train import Place
from server.domain.workings.in_beam import Glass, beam_ratio, glass_in, lengths_of
from server.flow.assemble_train import StackUse
from server.flow.bridge_pose import Drawer, Posed, Side, choose, pose, pose_over, required_number
from server.flow.bridge_stock import Pieces, Way, hundredths, key_of, misfits, onto_key, thread_of
from server.flow.bridge_wishes import ContradictionError, Gap, Wishes
from server.flow.protocols import Stock
from server.search.pairs import Branch, Pair
from server.search.problem import Arc, Piece

MOST_PARTS = 6
"""How many parts the branch may have: more sag before a guide camera (a choice of ours, no source)."""
WISH = said("bridge.guide_wish")


def pose_gap(gap: Gap, wishes: Wishes, stock: Stock, shelf: Mapping[int, Holding]) -> Posed:
    """Make a gap a problem, with the guide camera's branch where that is wished for. Raises RefusedError."""
    if not wishes.guide:
        return pose(gap, wishes, stock, shelf)
    paths = _paths(gap)
    guider, camera = paths.guider, paths.camera
    _demand_place(gap, wishes, guider)
    ends = _ends(guider, camera)
    pieces = choose(gap, wishes, stock, shelf, ends, gap.rig.branch)
    narrow, left_out = misfits(pieces, stock, gap.clear_mm, True, clear_asked=gap.clear_asked)
    posed = pose_over(gap, wishes, pieces)
    number = required_number(guider)
    numbers = [one.number for one in posed.problem.required]
    if number not in numbers:
        raise ContradictionError(WISH, said("bridge.guide_glued", part=guider), said("bridge.guide_unglue"))
    at = numbers.index(number)
    # The prism's place follows from the way in which the guider is put in, so it stays as it is turned now.
    guiders = replace(posed.problem.required[at], arcs=posed.problem.required[at].arcs[:1])
    required = (*posed.problem.required[:at], guiders, *posed.problem.required[at + 1 :])
    first = posed.problem.nodes
    drawer = _drawer(pieces, posed, narrow, first)
    start, end = key_of(ends[0]), onto_key(ends[1])
    assert start is not None
    assert end is not None
    assert paths.rest_mm is not None
    assert paths.port_mm is not None
    assert paths.flange_mm is not None
    outside, missing = lengths_of(gap.rig.train.places[gap.rig.train.index_of(gap.camera) :])
    if missing:
        raise RefusedError(said("bridge.guide_main_unknown", missing=missing))
    shift = sum(plate.shift_mm for plate in _glass_behind(gap, guider))
    flange = sum(one.measure.nominal for one in outside) - shift
    off = hundredths(PARFOCAL_MM if wishes.guide_mm is None else wishes.guide_mm)
    branch = Branch(
        at,
        posed.nodes[start] + first,
        posed.nodes[end] + first,
        hundredths(paths.rest_mm),
        hundredths(flange),
        hundredths(paths.port_mm),
        hundredths(paths.flange_mm),
        (off, off),
        most_parts=MOST_PARTS,
        threads=(thread_of(ends[0]), thread_of(ends[1])),
    )
    problem = replace(posed.problem, nodes=2 * first, pieces=drawer.pieces, required=required)
    side = Side(guider, camera, branch, first, drawer, left_out)
    return replace(posed, problem=problem, ways=drawer.ways, side=side)


def _paths(gap: Gap) -> GuidePaths:
    """Both paths of the rig; why they are not known raises RefusedError."""
    rig = gap.rig
    for there, what in (
        (rig.guider, "guider"),
        (rig.guide_camera, "guide_camera"),
        (rig.train.camera, "camera"),
    ):
        if there is None:
            raise RefusedError(said("bridge.guide_lacks", what=what))
    paths = work_guide(rig)
    if paths is None:
        raise RefusedError(said("bridge.guide_scope"))
    port, front = _ends(paths.guider, paths.camera)
    lacking: list[Words] = [
        said(f"bridge.guide_{what}", part=part)
        for known, what, part in (
            (paths.rest_mm, "prism", paths.guider),
            (paths.port_mm, "path", paths.guider),
            (paths.flange_mm, "flange", paths.camera),
            (key_of(port), "port", paths.guider),
            (onto_key(front), "front", paths.camera),
        )
        if known is None
    ]
    lacking += paths.glass_missing
    if lacking:
        raise RefusedError(said("bridge.guide_unknown", missing=lacking))
    return paths


def _ends(
    guider: Place[OffAxisGuider], camera: CataloguedPart[GuideCamera]
) -> tuple[Connection | None, Connection | None]:
    part, front = guider.part, camera.part
    return part.side_port, front.sky_side


def _demand_place(gap: Gap, wishes: Wishes, guider: Place) -> None:
    """Raise in words where the guider does not stay in this gap, or the order of the glass is left open."""
    corrector, train = gap.rig.train.corrector, gap.rig.train
    if corrector is not None and train.index_of(guider) < train.index_of(corrector):
        raise RefusedError(said("bridge.guide_before", part=guider, corrector=corrector))
    if guider in gap.left:
        raise ContradictionError(WISH, said("bridge.guide_may_go", part=guider), said("bridge.guide_hangs"))
    if guider not in gap.kept:
        raise RefusedError(said("bridge.guide_outside", part=guider))
    if wishes.free_order and len(gap.kept) > 1 and glass_in(gap.kept, None)[0]:
        raise ContradictionError(WISH, said("bridge.any_order"), said("bridge.guide_order"))


def _glass_behind(gap: Gap, guider: Place) -> tuple[Glass, ...]:
    """The plates that stay behind the prism."""
    places = gap.rig.train.places
    inside = gap.kept[gap.kept.index(guider) + 1 :]
    return glass_in((*inside, *places[places.index(gap.camera) :]), beam_ratio(gap.rig.train))[0]


def _drawer(pieces: Pieces, posed: Posed, narrow: frozenset[int], first: int) -> Drawer:
    if posed.wishes.glued:
        return _doubled(posed.problem.pieces, posed.ways, narrow, first)
    own = _kept(pieces, narrow, first)
    # What must stay is this rig's own: the ways of its parts come to those of the drawer.
    return replace(own, ways={**posed.ways, **own.ways}) if len(own.ways) < len(posed.ways) else own


@lru_cache(maxsize=2)
def _kept(pieces: Pieces, narrow: frozenset[int], first: int) -> Drawer:
    return _doubled(pieces.pieces, pieces.ways, narrow, first)


def _doubled(
    pieces: tuple[Piece, ...], ways: Mapping[int, tuple[Way, ...]], narrow: frozenset[int], first: int
) -> Drawer:
    """The pieces with their ways in the main chain, where they are wide enough, and in the branch.

    A glued pair has a number below 0 and stays in the main chain.
    """
    made: list[Piece] = []
    doubled = dict(ways)
    with much_is_made():
        for piece in pieces:
            here = () if piece.number in narrow else piece.arcs
            there = tuple(Arc(arc.start + first, arc.end + first, arc.threads) for arc in piece.arcs)
            if piece.number < 0:
                there = ()
            own = ways.get(piece.number, ())
            doubled[piece.number] = (own if here else ()) + (own if there else ())
            made.append(replace(piece, arcs=(*here, *there)))
    return Drawer(tuple(made), doubled)


@dataclass(frozen=True)
class GuideStack:
    """The guide chain of an answer.

    Attributes:
        guider, camera: between which it stands.
        places: its parts, from the side port on; a part that stands there already keeps its key.
        uses: the same as a change of the bench takes them.
        bought_keys: places whose parts would have to be bought.
        main_mm, guide_mm: both paths from the prism, the shift by glass taken off the main one.
    """

    guider: Place[OffAxisGuider]
    camera: CataloguedPart[GuideCamera]
    places: tuple[Place, ...]
    uses: tuple[StackUse, ...]
    bought_keys: frozenset[int]
    main_mm: float
    guide_mm: float

    @property
    def off_mm(self) -> float:
        """How much the guide path is too long for the main one; negative too short."""
        return self.guide_mm - self.main_mm


def guide_stack(posed: Posed, pair: Pair, main: tuple[Place, ...]) -> GuideStack:
    """Put the guide chain of a pair before the guide camera; `main` are the places of its main stack."""
    side = posed.side
    assert side is not None
    standing: dict[int, list[Place]] = {}
    for place in posed.gap.rig.branch:
        standing.setdefault(place.item.id, []).append(place)
    taken = [place.key for place in (*posed.gap.rig.train, *posed.gap.rig.branch, *main)]
    next_key = max(taken, default=0) + 1
    places: list[Place] = []
    uses: list[StackUse] = []
    for use in pair.guide.uses:
        ways = posed.ways.get(use.number, ())
        flipped = ways[use.arc].flipped if ways else False
        here = standing.get(use.number)
        if here:
            kept = here.pop(0)
            places.append(Place(kept.key, kept.item, flipped, (), kept.set_length_mm))
            uses.append(StackUse(part_id=use.number, flipped=flipped, place=kept.key))
        else:
            places.append(Place(next_key, posed.pieces.items[use.number], flipped))
            uses.append(StackUse(part_id=use.number, flipped=flipped))
            next_key += 1
    left = Counter({line.number: line.bought for line in pair.guide.bill})
    bought = set()
    for place in reversed(places):
        if left[place.item.id]:
            left[place.item.id] -= 1
            bought.add(place.key)
    branch = side.branch
    behind = _lengths_behind(pair, posed)
    main_mm = (branch.rest + branch.main_flange + behind) / 100.0
    guide_mm = (branch.port + branch.guide_flange + sum(use.length for use in pair.guide.uses)) / 100.0
    return GuideStack(
        side.guider, side.camera, tuple(places), tuple(uses), frozenset(bought), main_mm, guide_mm
    )


def _lengths_behind(pair: Pair, posed: Posed) -> int:
    """What the main stack has behind the guider, hundredths of a millimetre."""
    assert posed.side is not None
    number = posed.problem.required[posed.side.branch.guider].number
    at = next(index for index, use in enumerate(pair.main.uses) if use.number == number)
    return sum(use.length for use in pair.main.uses[at + 1 :])
