"""One change on the bench: what it may be, and what it makes of a plan.

A tube stands first and a camera last, always; whatever lies between moves freely.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Annotated, Literal

from pydantic import Field, TypeAdapter

from server.domain.connections import Connection, mate
from server.domain.errors import RefusedError
from server.domain.limits import MOST_BRANCH, MOST_GEAR, MOST_OF_ONE, MOST_PLACES
from server.domain.load_plan import LoadPlan
from server.domain.measure import Frozen
from server.domain.parts import (
    CataloguedPart,
    Filter,
    OffAxisGuider,
    PathPart,
)
from server.domain.rig import MOST_LEFT_OPEN, FieldSeen, GearPlan, LeftOpen, PlacePlan, RigPlan, Rules
from server.domain.said import Said, exact_length, said
from server.domain.train import BRANCH_KINDS, TRAIN_KINDS, Place, Train, rides_beside
from server.flow.one_place import flipped, refuse_over_tube, set_length, swapped, with_filter

Number = Annotated[int, Field(ge=0, le=2**53 - 1)]
"""A part's number or a place's key: whole, and small enough for every store and every JSON reader."""


class AddPart(Frozen):
    """Add a part at a joint: `at` is its index in the train, None for where its kind usually goes.

    `branch`: it goes between the off-axis guider's side port and the guide camera, `at` counted there.
    """

    verb: Literal["add"] = "add"
    part_id: Number
    at: int | None = Field(default=None, ge=0, le=MOST_PLACES)
    branch: bool = False


class RemovePart(Frozen):
    """Take a place out of the train."""

    verb: Literal["remove"] = "remove"
    place: Number


class MovePart(Frozen):
    """Move a place so that it stands at index `to` in the new order."""

    verb: Literal["move"] = "move"
    place: Number
    to: int = Field(ge=0, le=MOST_PLACES)


class SwapPart(Frozen):
    """Put another part in a place."""

    verb: Literal["swap"] = "swap"
    place: Number
    part_id: Number


class FlipPart(Frozen):
    """Turn a reversible part round."""

    verb: Literal["flip"] = "flip"
    place: Number


class SetLength(Frozen):
    """Set an adjustable ring or adapter to a length in mm."""

    verb: Literal["set_length"] = "set_length"
    place: Number
    length_mm: float = Field(gt=0, le=500)


class PutFilter(Frozen):
    """Put a filter into a wheel or drawer, or bring one that is there into the beam."""

    verb: Literal["put_filter"] = "put_filter"
    place: Number
    part_id: Number


class TakeFilter(Frozen):
    """Take a filter out of a wheel or drawer."""

    verb: Literal["take_filter"] = "take_filter"
    place: Number
    part_id: Number


class StackUse(Frozen):
    """One part of a stack: `place` is the key of a place that it stood in and keeps, filters and set length
    with it; None for a part that comes in.
    """

    part_id: Number
    flipped: bool = False
    place: Number | None = None


class ReplaceStack(Frozen):
    """Put a whole stack between two places, in its own order, for all that stands between them now.

    `branch`: what then stands between the off-axis guider's side port and the guide camera; None leaves that
    as it is.
    """

    verb: Literal["stack"] = "stack"
    sky: Number
    camera: Number
    uses: tuple[StackUse, ...] = Field(max_length=MOST_PLACES)
    branch: tuple[StackUse, ...] | None = Field(default=None, max_length=MOST_BRANCH)


class SetGear(Frozen):
    """Set how many of a part ride along beside the train; 0 takes it off, without a number one more comes."""

    verb: Literal["gear"] = "gear"
    part_id: Number
    quantity: int | None = Field(default=None, ge=0, le=MOST_OF_ONE)


class SetRules(Frozen):
    """Set what the rig is judged by."""

    verb: Literal["rules"] = "rules"
    rules: Rules


class SetSeen(Frozen):
    """Draw the rig's stars by the field that frames showed, or (None) by its parts again."""

    verb: Literal["seen"] = "seen"
    seen: FieldSeen | None = None


class SetLoad(Frozen):
    """Set what the owner says of the load: balance, lifts, the night, cables, cases, the Sun."""

    verb: Literal["load"] = "load"
    load: LoadPlan


class LeaveOpen(Frozen):
    """Say that a figure of a part cannot be found out; with `ask`, that it is to be asked for again."""

    verb: Literal["leave_open"] = "leave_open"
    part_id: Number
    field: str = Field(min_length=1, max_length=60)
    ask: bool = False


Change = Annotated[
    AddPart
    | RemovePart
    | MovePart
    | SwapPart
    | FlipPart
    | SetLength
    | PutFilter
    | TakeFilter
    | ReplaceStack
    | SetGear
    | SetRules
    | SetSeen
    | SetLoad
    | LeaveOpen,
    Field(discriminator="verb"),
]
CHANGE: TypeAdapter[Change] = TypeAdapter(Change)


def new_parts_of(change: Change) -> tuple[int, ...]:
    """The catalogue numbers that a change brings in and that must be looked up first."""
    if isinstance(change, ReplaceStack):
        return tuple(use.part_id for use in (*change.uses, *(change.branch or ())))
    return (change.part_id,) if isinstance(change, AddPart | SwapPart | PutFilter | SetGear) else ()


def apply_change(plan: RigPlan, change: Change, parts: Mapping[int, CataloguedPart]) -> tuple[RigPlan, Said]:
    """Make a change on a plan.

    `parts` holds the parts of the plan and those that the change brings in. Returns the new plan and what was
    done ("moved X"). Raises RefusedError, in words, where the change makes no sense.
    """
    match change:
        case SetRules():
            return plan.model_copy(update={"rules": change.rules}), said("did.rules")
        case SetSeen():
            return plan.model_copy(update={"seen": change.seen}), said("did.seen", seen=bool(change.seen))
        case SetLoad():
            return plan.model_copy(update={"load": change.load}), said("did.load")
        case ReplaceStack():
            return _change_stack(plan, change, parts)
        case LeaveOpen():
            return _leave_open(plan, change, parts)
        case SetGear():
            return _gear(plan, change, parts[change.part_id], parts)
    if change_is_of_branch(plan, change):
        return change_branch(plan, change, parts)
    places = list(plan.places)
    if isinstance(change, AddPart):
        done = _add(places, change, parts, plan.next_key)
    else:
        done = _change_place(places, change, parts)
    return plan.model_copy(update={"places": tuple(places)}), done


def _leave_open(
    plan: RigPlan, change: LeaveOpen, parts: Mapping[int, CataloguedPart]
) -> tuple[RigPlan, Said]:
    """Stop asking for a figure, or ask again. Raises RefusedError for a part that the rig does not hold."""
    if (
        change.part_id not in plan.part_ids
        or change.field not in type(parts[change.part_id].part).model_fields
    ):
        raise RefusedError(said("refused.not_in_rig"))
    one = LeftOpen(part_id=change.part_id, field=change.field)
    others = tuple(other for other in plan.left_open if other != one)
    left = others if change.ask else (*others, one)[-MOST_LEFT_OPEN:]
    return (
        plan.model_copy(update={"left_open": left}),
        said("did.left_open", part=parts[change.part_id], ask=change.ask),
    )


def _add(
    places: list[PlacePlan], change: AddPart, parts: Mapping[int, CataloguedPart], next_key: int
) -> Said:
    """Put a new place into the places, turned as it fits, and say so."""
    part = parts[change.part_id]
    at = _index_for(places, part, change.at, parts)
    if len(places) >= MOST_PLACES:
        raise RefusedError(said("refused.full", count=MOST_PLACES))
    places.insert(at, PlacePlan(key=next_key, part_id=part.id))
    places[at] = _turned_to_fit(places, at, parts)
    return said("did.added", part=part, turned=places[at].flipped)


def _change_place(
    places: list[PlacePlan],
    change: RemovePart | MovePart | SwapPart | FlipPart | SetLength | PutFilter | TakeFilter,
    parts: Mapping[int, CataloguedPart],
) -> Said:
    """Change one of the places where it stands in the list, and say so."""
    index = _find(places, change.place)
    place, part = places[index], parts[places[index].part_id]
    match change:
        case RemovePart():
            del places[index]
            return said("did.took_out", part=part)
        case MovePart():
            places[:] = _moved(places, index, change.to, parts)
            at = next(at for at, one in enumerate(places) if one.key == place.key)
            return said("did.moved", part=part, behind=parts[places[at - 1].part_id] if at else None)
        case SwapPart():
            new = parts[change.part_id]
            places[index] = swapped(place, part, new)
            places[index] = _turned_to_fit(places, index, parts) if new.id != part.id else place
            return said("did.swapped", part=part, new=new)
        case FlipPart():
            places[index] = flipped(place, part)
            return said("did.turned", part=part)
        case SetLength():
            places[index] = set_length(place, part, change.length_mm)
            return said("did.set_length", part=part, length=exact_length(change.length_mm))
        case PutFilter():
            new = parts[change.part_id]
            places[index] = with_filter(place, part, new)
            return said("did.put_filter", part=new)
        case TakeFilter():
            if change.part_id not in place.inside:
                raise RefusedError(said("refused.not_held", part=part))
            inside = tuple(i for i in place.inside if i != change.part_id)
            places[index] = place.model_copy(update={"inside": inside})
            return said("did.took_filter", part=parts[change.part_id], holder=part)


def _change_stack(
    plan: RigPlan, change: ReplaceStack, parts: Mapping[int, CataloguedPart]
) -> tuple[RigPlan, Said]:
    """Put a stack into the train and, where the change says so, another before the guide camera."""
    places, done = replace_stack(list(plan.places), change, parts, plan.next_key)
    plan = plan.model_copy(update={"places": tuple(places)})
    if change.branch is not None:
        branch = _put(list(plan.branch), change.branch, parts, plan.next_key, BRANCH_KINDS)
        plan = plan.model_copy(update={"branch": tuple(branch)})
    return plan, done


def replace_stack(
    places: list[PlacePlan], change: ReplaceStack, parts: Mapping[int, CataloguedPart], next_key: int
) -> tuple[list[PlacePlan], Said]:
    """The places with a stack put between two of them, and what was done. Raises RefusedError."""
    first, last = _find(places, change.sky), _find(places, change.camera)
    if first >= last:
        raise RefusedError(said("refused.stack_order"))
    before, now, after = places[: first + 1], places[first + 1 : last], places[last:]
    between = [kind for kind in TRAIN_KINDS if kind not in ("optical_tube", "camera")]
    put = _put(now, change.uses, parts, next_key, between)
    if len(before) + len(put) + len(after) > MOST_PLACES:
        raise RefusedError(said("refused.stack_long", count=MOST_PLACES))
    sky, camera = (parts[places[index].part_id] for index in (first, last))
    guided = change.branch is not None
    done = said("did.put_stack", count=len(put), sky=sky, camera=camera, guided=guided)
    return [*before, *put, *after], done


def _put(
    now: list[PlacePlan],
    uses: tuple[StackUse, ...],
    parts: Mapping[int, CataloguedPart],
    next_key: int,
    kinds: Collection[str],
) -> list[PlacePlan]:
    """The places of a stack for those that stand there now; what stays keeps its own. Raises RefusedError."""
    standing = {place.key: place for place in now}
    put: list[PlacePlan] = []
    for use in uses:
        item = parts[use.part_id]
        if item.kind not in kinds:
            raise RefusedError(said("refused.no_place", part=item))
        if use.place is None:
            refuse_over_tube(item)
        turns = isinstance(item.part, PathPart) and bool(item.part.reversible)
        if use.place is None:
            place = PlacePlan(key=next_key, part_id=item.id)
            next_key += 1
        else:
            kept = standing.pop(use.place, None)
            if kept is None or kept.part_id != item.id:
                raise RefusedError(said("refused.stands_no_longer", part=item))
            place = kept
        if use.flipped and not (turns or place.flipped):
            raise RefusedError(said("refused.not_reversible", part=item))
        put.append(place.model_copy(update={"flipped": use.flipped}))
    return put


def change_is_of_branch(plan: RigPlan, change: Change) -> bool:
    """Whether a change is about the guide camera's branch and not about the train."""
    if isinstance(change, AddPart):
        return change.branch
    keys = {place.key for place in plan.branch}
    return (
        isinstance(change, RemovePart | FlipPart | SetLength | MovePart | SwapPart) and change.place in keys
    )


def change_branch(plan: RigPlan, change: Change, parts: Mapping[int, CataloguedPart]) -> tuple[RigPlan, Said]:
    """Make a change between the off-axis guider's side port and the guide camera. Raises RefusedError."""
    branch = list(plan.branch)
    if isinstance(change, AddPart):
        part = parts[change.part_id]
        if part.kind not in BRANCH_KINDS:
            raise RefusedError(said("refused.not_of_branch", part=part))
        if len(branch) >= MOST_BRANCH:
            raise RefusedError(said("refused.branch_full", count=MOST_BRANCH))
        at = len(branch) if change.at is None else min(change.at, len(branch))
        branch.insert(at, PlacePlan(key=plan.next_key, part_id=part.id))
        branch[at] = _turned_to_fit(branch, at, parts, _side_port(plan, parts))
        done = said("did.added_branch", part=part)
    else:
        assert isinstance(change, RemovePart | FlipPart | SetLength | MovePart | SwapPart)
        index = _find(branch, change.place)
        place, part = branch[index], parts[branch[index].part_id]
        match change:
            case RemovePart():
                del branch[index]
                done = said("did.took_out_branch", part=part)
            case FlipPart():
                branch[index] = flipped(place, part)
                done = said("did.turned", part=part)
            case SetLength():
                branch[index] = set_length(place, part, change.length_mm)
                done = said("did.set_length", part=part, length=exact_length(change.length_mm))
            case _:
                raise RefusedError(said("refused.branch_change", part=part))
    return plan.model_copy(update={"branch": tuple(branch)}), done


def _side_port(plan: RigPlan, parts: Mapping[int, CataloguedPart]) -> Connection | None:
    """The side port of the train's off-axis guider, None where there is none or it is not known."""
    found = (parts[place.part_id].part for place in plan.places)
    return next((part.side_port for part in found if isinstance(part, OffAxisGuider)), None)


def _find(places: list[PlacePlan], key: int) -> int:
    for index, place in enumerate(places):
        if place.key == key:
            return index
    raise RefusedError(said("refused.gone"))


def _bounds(places: list[PlacePlan], parts: Mapping[int, CataloguedPart]) -> tuple[int, int]:
    """The first and last index at which a part between tube and camera may be inserted."""
    low = 1 if places and parts[places[0].part_id].kind == "optical_tube" else 0
    high = len(places)
    if places and parts[places[-1].part_id].kind == "camera":
        high -= 1
    return low, high


def _index_for(
    places: list[PlacePlan], item: CataloguedPart, at: int | None, parts: Mapping[int, CataloguedPart]
) -> int:
    if item.kind not in TRAIN_KINDS:
        raise RefusedError(said("refused.not_of_path", part=item))
    kinds = [parts[p.part_id].kind for p in places]
    if item.kind in ("optical_tube", "camera") and item.kind in kinds:
        old = parts[places[kinds.index(item.kind)].part_id]
        raise RefusedError(said("refused.one_only", old=old, part=item))
    refuse_over_tube(item)
    if isinstance(item.part, Filter) and item.part.unmounted:
        raise RefusedError(said("refused.no_cell", part=item, thread=True))
    if item.kind == "optical_tube":
        return 0
    if item.kind == "camera":
        return len(places)
    low, high = _bounds(places, parts)
    return high if at is None else min(max(at, low), high)


def _turned_to_fit(
    places: list[PlacePlan],
    at: int,
    parts: Mapping[int, CataloguedPart],
    before: Connection | None = None,
) -> PlacePlan:
    """A new place, turned round where more of its joints hold that way; `before` is what the first meets."""
    new = places[at]
    if not Place(new.key, parts[new.part_id]).can_flip:
        return new

    def joints_that_hold(flipped: bool) -> int:
        turned = [*places[:at], new.model_copy(update={"flipped": flipped}), *places[at + 1 :]]
        train = Train(tuple(Place(p.key, parts[p.part_id], p.flipped) for p in turned))
        held = sum(j.mating.holds for j in train.joints if new.key in (j.upper.key, j.lower.key))
        meets = before is not None and at == 0
        return held + (meets and mate(before, train.places[0].sky_connection).holds)

    return new.model_copy(update={"flipped": joints_that_hold(True) > joints_that_hold(False)})


def _moved(
    places: list[PlacePlan], index: int, to: int, parts: Mapping[int, CataloguedPart]
) -> list[PlacePlan]:
    place = places[index]
    kind = parts[place.part_id].kind
    if kind in ("optical_tube", "camera"):
        raise RefusedError(
            said("refused.stands_fixed", part=parts[place.part_id], first=kind == "optical_tube")
        )
    rest = places[:index] + places[index + 1 :]
    low, high = _bounds(rest, parts)
    rest.insert(min(max(to, low), high), place)
    return rest


def _gear(
    plan: RigPlan, change: SetGear, item: CataloguedPart, parts: Mapping[int, CataloguedPart]
) -> tuple[RigPlan, Said]:
    # What was beside the train before its maker's data changed can still be taken off.
    if change.quantity and not rides_beside(item.part):
        raise RefusedError(said("refused.in_train", part=item))
    was = next((g.quantity for g in plan.gear if g.part_id == change.part_id), 0)
    quantity = was + 1 if change.quantity is None else change.quantity
    if quantity > MOST_OF_ONE:
        raise RefusedError(said("refused.pieces", count=MOST_OF_ONE))
    mounts = [parts[g.part_id] for g in plan.gear if parts[g.part_id].kind == "mount"]
    if item.kind == "mount" and quantity:
        other = next((m for m in mounts if m.id != item.id), None)
        if other is not None:
            raise RefusedError(said("refused.stands_on", part=other))
        if quantity > 1:
            raise RefusedError(said("refused.one_mount"))
    gear = [g for g in plan.gear if g.part_id != change.part_id]
    if quantity:
        new = GearPlan(part_id=item.id, quantity=quantity)
        position = next((i for i, g in enumerate(plan.gear) if g.part_id == item.id), len(gear))
        gear.insert(position, new)
    if len(gear) > MOST_GEAR:
        raise RefusedError(said("refused.gear", count=MOST_GEAR))
    if not was:
        done = said("did.added", part=item, turned=False)
    elif quantity:
        done = said("did.set_count", part=item, count=quantity)
    else:
        done = said("did.took_off", part=item)
    return plan.model_copy(update={"gear": tuple(gear)}), done
