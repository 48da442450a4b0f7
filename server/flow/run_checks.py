"""Judge a rig: run every check of the registry over it. There is no other judge."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from functools import cache, partial

from server.domain.checks.registry import CHECKS
from server.domain.guarded import Failed, worked
from server.domain.parts import CataloguedPart
from server.domain.rig import Rig
from server.domain.said import Said, said
from server.domain.train import Place
from server.domain.verdicts import Verdict
from server.domain.workings.case import Case, Check, told
from server.flow.protocols import PartQuery, Store

MOST_RINGS = 60
"""How many rings of the shelf are tried in one joint: more than anybody has of one thread."""
RINGS = ("spacer_ring", "adapter")
BROKEN = ("wrong_gender", "wrong_size", "wrong_kind")
MOST_WEIGHTS = 20
"""How many sorts of owned counterweights are looked up."""
NO_JOINERS: Mapping[int, tuple[CataloguedPart, ...]] = {}
NO_SWAPS: Mapping[int, tuple[tuple[Place, CataloguedPart], ...]] = {}


def run_checks(
    rig: Rig,
    joiners: Mapping[int, tuple[CataloguedPart, ...]] = NO_JOINERS,
    rings: Mapping[int, tuple[CataloguedPart, ...]] = NO_JOINERS,
    weights: tuple[tuple[CataloguedPart, int], ...] = (),
    swaps: Mapping[int, tuple[tuple[Place, CataloguedPart], ...]] = NO_SWAPS,
    only: Collection[str] | None = None,
) -> tuple[Verdict, ...]:
    """Return the verdicts of all checks, or `only` of those with these names, in the registry's order.

    `joiners` holds, by the index of a joint that does not mate, the parts that would join it; `rings`, by
    the index of a joint behind the corrector, what of the shelf fits into it (`find_rings`);
    `weights` owned counterweights that are not beside the rig (`find_weights`); `swaps`, by the index of a
    joint that does not mate, what would in the place of a part there (`find_swaps`).
    """
    case = Case(rig, joiners, rings, weights, swaps)
    asked = [check for check in CHECKS if only is None or check.name in only]
    return tuple(finding for check in asked for finding in _guarded(check, case))


@cache
def _work_of(name: str) -> Said:
    return said("work.check", title=said(f"title.{name}"))


def _guarded(check: Check, case: Case) -> Sequence[Verdict]:
    """A figure outside what a formula holds for is said in that formula's words, a fault as such; the other
    checks go on.
    """
    found = worked(_work_of(check.name), lambda: check.find(case))
    return (told(check.name, found),) if isinstance(found, Failed) else found


def find_joiners(store: Store, rig: Rig, observer_id: int) -> dict[int, tuple[CataloguedPart, ...]]:
    """Look on the observer's shelf for what would mend each joint that does not mate."""
    found: dict[int, tuple[CataloguedPart, ...]] = {}
    for joint in rig.train.joints:
        upper, lower = joint.upper.camera_connection, joint.lower.sky_connection
        if joint.mating.verdict in BROKEN and upper and lower:
            lines = store.joiners(upper, lower, observer_id)
            found[joint.index] = tuple(line.item for line in lines)
    return found


def _used_in(rig: Rig) -> Counter[int]:
    """How many pieces of each part stand in a rig's train and branch, filters with them."""
    return Counter(item.id for place in (*rig.train, *rig.branch) for item in (place.item, *place.inside))


def find_swaps(
    store: Store, rig: Rig, observer_id: int
) -> dict[int, tuple[tuple[Place, CataloguedPart], ...]]:
    """For each joint that does not mate, owned parts that mend it in the place of a ring or adapter there."""
    used = _used_in(rig)
    joints = rig.train.joints
    # A part between two such joints is asked for twice.
    between = cache(partial(store.joiners, observer_id=observer_id))
    found: dict[int, tuple[tuple[Place, CataloguedPart], ...]] = {}
    for at, joint in enumerate(joints):
        if joint.mating.verdict not in BROKEN:
            continue
        swaps: list[tuple[Place, CataloguedPart]] = []
        first = joints[at - 1].upper if at else None
        last = joints[at + 1].lower if at + 1 < len(joints) else None
        for place, above, below in ((joint.upper, first, joint.lower), (joint.lower, joint.upper, last)):
            if place.item.kind not in RINGS or above is None or below is None:
                continue
            upper, lower = above.camera_connection, below.sky_connection
            if upper is not None and lower is not None:
                lines = between(upper, lower)
                swaps += [(place, line.item) for line in lines if line.holding.at_hand > used[line.item.id]]
        found[joint.index] = tuple(swaps)
    return found


def find_rings(store: Store, rig: Rig, observer_id: int) -> dict[int, tuple[CataloguedPart, ...]]:
    """Where the sensor sits too close, look on the shelf for what fits behind the corrector.

    Only what the observer owns more of than this rig holds is offered.
    """
    spacing = Case(rig).spacing
    if spacing is None or spacing.error_mm is None or spacing.error_mm >= 0:
        return {}
    used = _used_in(rig)
    found: dict[int, tuple[CataloguedPart, ...]] = {}
    after = rig.train.index_of(spacing.corrector)
    for joint in rig.train.joints:
        upper, lower = joint.upper.camera_connection, joint.lower.sky_connection
        if joint.index > after and joint.mating.holds and upper and lower:
            lines = store.joiners(upper, lower, observer_id, MOST_RINGS)
            found[joint.index] = tuple(
                line.item for line in lines if line.holding.at_hand > used[line.item.id]
            )
    return found


def find_weights(store: Store, rig: Rig, observer_id: int) -> tuple[tuple[CataloguedPart, int], ...]:
    """Counterweights that the observer owns and that are not beside this rig, each with how many.

    Looked for only where the plan of the load says enough to judge them.
    """
    if rig.mount is None or rig.load.tube_above_saddle_mm is None:
        return ()
    beside = {gear.item.id: gear.quantity for gear in rig.gear}
    query = PartQuery(observer_id, kind="counterweight", holding="owned", limit=MOST_WEIGHTS)
    found = ((line.item, line.holding.owned) for line in store.find_parts(query).lines)
    return tuple(
        (item, owned - beside.get(item.id, 0)) for item, owned in found if owned > beside.get(item.id, 0)
    )
