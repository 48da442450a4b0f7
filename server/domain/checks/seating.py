"""Does each screwed joint close: a thread too long for its hole, a filter it would touch, turns in mesh."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from server.domain.connections import Connection, InchThread, MetricThread
from server.domain.connections.printing import MM_PER_INCH, size_text
from server.domain.findings import Figure
from server.domain.measure import Measure
from server.domain.missing import lacks
from server.domain.parts import Filter, FilterWheel, PathPart
from server.domain.said import Missing, Named, Said, named, said
from server.domain.train import Joint, Place
from server.domain.verdicts import Advice, Given, Later, Verdict
from server.domain.workings.case import (
    Case,
    amount,
    input_of,
    not_known,
    worked_input,
)
from server.frozen import frozen
from server.mechanics.seating import LEAST_TURNS, Seat, seat
from server.optics.threads import external_root_diameter_mm, pitch_of_inch_thread_mm
from server.out_of_range import OutOfRangeError

EDGE_MM = 1e-9

Thread = MetricThread | InchThread


@frozen
class _Screwed:
    """One threaded joint: the male side and the female side with their places."""

    joint: Joint
    male: Thread
    female: Thread
    male_place: Place
    female_place: Place
    pitch_mm: float
    shims_mm: float


@dataclass(frozen=True)
class _InTheWay:
    """What stands behind a female thread: how deep, and the figures that say so."""

    part: Named
    depth_mm: float
    inputs: tuple[Given, ...]


def check_seating(case: Case) -> tuple[Verdict, ...]:
    """Return a finding for each joint that does not close or hold; silent where no length is known."""
    found: list[Verdict] = []
    good = 0
    missing: list[Missing] = []
    known = False
    for joint in case.train.joints:
        screwed = _screwed(joint)
        if screwed is None:
            continue
        lacking = _lacking(screwed)
        known = known or len(lacking) < 2
        if screwed.male.thread_mm is None:
            missing += lacking
            if screwed.female.thread_mm is not None:
                found += _turns(screwed, screwed.female.thread_mm, None)
            continue
        judged = _judge(screwed)
        found += judged
        missing += lacking
        good += not judged and not lacking
    found += _bores(case)
    if not known:
        return tuple(found)
    if missing:
        what = said("enter", missing=_few(missing))
        every = tuple(dict.fromkeys(missing))
        found.append(not_known("seating.unknown", every, said("seating.unknown", good=good), what))
    elif not found:
        sound = (said("seating.sound", good=good),)
        found.append(Verdict(code="seating.sound", weight="sound", says=sound))
    return tuple(found)


def _few(words: Sequence[Missing]) -> list[Missing | Said]:
    words = list(dict.fromkeys(words))
    return [*words] if len(words) <= 4 else [*words[:3], said("more", count=len(words) - 3)]


def _screwed(joint: Joint) -> _Screwed | None:
    upper, lower = joint.upper.camera_connection, joint.lower.sky_connection
    if not joint.mating.holds or not isinstance(upper, Thread) or not isinstance(lower, Thread):
        return None
    pitch = _pitch(upper)
    if pitch is None:
        return None
    lengths = [shim.length for shim in joint.shims]
    lifted = sum(length.nominal for length in lengths if length is not None)
    if upper.gender == "male":
        return _Screwed(joint, upper, lower, joint.upper, joint.lower, pitch, lifted)
    return _Screwed(joint, lower, upper, joint.lower, joint.upper, pitch, lifted)


def _pitch(thread: Thread) -> float | None:
    if isinstance(thread, InchThread):
        return pitch_of_inch_thread_mm(thread.threads_per_inch)
    return thread.pitch_mm


def _side(screwed: _Screwed, place: Place) -> str:
    return "camera side" if place is screwed.joint.upper else "sky side"


def _thread(screwed: _Screwed, place: Place, how: str) -> Missing:
    side = _side(screwed, place)
    return lacks(place, place.side_field(side), "thread", how=how, side=side)


def _lacking(screwed: _Screwed) -> list[Missing]:
    found = []
    if screwed.male.thread_mm is None:
        found.append(_thread(screwed, screwed.male_place, "long"))
    if screwed.female.thread_mm is None:
        found.append(_thread(screwed, screwed.female_place, "deep"))
    return found


def _behind(screwed: _Screwed) -> _InTheWay | None:
    """A filter whose place in the female part is known: how deep its near face lies behind the shoulder."""
    place = screwed.female_place
    part = place.part
    if isinstance(part, FilterWheel):
        item, at = (place.inside[0] if place.inside else None), part.filter_at_mm
    elif isinstance(part, Filter):
        item, at = place.item, part.aperture_at_mm
    else:
        return None
    if item is None or at is None or not isinstance(item.part, Filter) or not isinstance(part, PathPart):
        return None
    thickness = max(
        (
            inner.part.thickness_mm.nominal
            for inner in (place.inside or (item,))
            if isinstance(inner.part, Filter) and inner.part.thickness_mm is not None
        ),
        default=0.0,
    )
    inputs = [input_of("filter behind the sky-side shoulder", place.item, at, "length", 1)]
    from_sky = (place is screwed.joint.lower) is not place.flipped
    depth = at.nominal
    if not from_sky:
        length = place.length
        if length is None:
            return None
        depth = length.nominal - at.nominal
        inputs.append(input_of("optical length", place.item, length, "length", 1))
    inputs.append(worked_input("thickest glass in it", thickness, "length", 1))
    return _InTheWay(named(item), max(0.0, depth - thickness / 2.0), tuple(inputs))


def _judge(screwed: _Screwed) -> list[Verdict]:
    male = screwed.male.thread_mm
    assert male is not None
    behind = _behind(screwed)
    reach = male - screwed.shims_mm
    if reach <= 0:
        return []  # The shims' own finding says that nothing is left to hold.
    sits = _seated(screwed, reach, behind)
    if behind is not None and behind.depth_mm - reach < -EDGE_MM:
        return [_touches(screwed, behind, reach)]
    if sits.gap_mm > EDGE_MM and sits.stopped_by == "floor":
        return [_bottoms(screwed, sits)]
    return _turns(screwed, sits.engaged_mm, sits)


def _seated(screwed: _Screwed, reach: float, behind: _InTheWay | None) -> Seat:
    depth = screwed.female.thread_mm
    return seat(
        reach,
        reach if depth is None else depth,
        screwed.pitch_mm,
        floor_depth_mm=depth,
        part_depth_mm=None if behind is None else behind.depth_mm,
    )


def open_behind(case: Case, place: Place) -> float:
    """How much longer the train is behind a place than its lengths add up to, mm: by threads that bottom."""
    at = case.train.index_of(place)
    total = 0.0
    for joint in case.train.joints:
        screwed = _screwed(joint) if joint.index > at else None
        if screwed is None or screwed.male.thread_mm is None:
            continue
        reach = screwed.male.thread_mm - screwed.shims_mm
        sits = _seated(screwed, reach, _behind(screwed)) if reach > 0 else None
        total += sits.gap_mm if sits is not None and sits.stopped_by == "floor" else 0.0
    return total


def _names(screwed: _Screwed) -> dict[str, Place]:
    return {"male": screwed.male_place, "female": screwed.female_place}


def _inputs(screwed: _Screwed) -> tuple[Given, ...]:
    found = []
    for label, thread, place in (
        ("male thread, length", screwed.male, screwed.male_place),
        ("female thread, depth", screwed.female, screwed.female_place),
    ):
        if thread.thread_mm is not None:
            value = amount(thread.thread_mm, "length", 1)
            found.append(Given(label=label, amount=value, basis=place.part.basis, of=place.name))
    found += [input_of("thickness of the shim", s.item, s.length, "length", 2) for s in screwed.joint.shims]
    found.append(worked_input("pitch", screwed.pitch_mm, "length", 2))
    return tuple(found)


def _bottoms(screwed: _Screwed, sits: Seat) -> Verdict:
    gap = amount(sits.gap_mm, "length", 1)
    return Verdict(
        code="seating.bottoms",
        weight="watch",
        says=(said("seating.bottoms", **_names(screwed), gap=gap),),
        figure=Figure(label="shoulders apart", amount=gap),
        remedies=(Advice((said("seating.shim", gap=gap),)),),
        inputs=Later(_inputs, screwed),
        place=screwed.joint.lower.key,
    )


def _touches(screwed: _Screwed, behind: _InTheWay, reach: float) -> Verdict:
    over = amount(reach - behind.depth_mm, "length", 1)
    most = amount(behind.depth_mm, "length", 1)
    return Verdict(
        code="seating.touches",
        weight="stop",
        says=(said("seating.touches", **_names(screwed), filter=behind.part, over=over),),
        figure=Figure(label="thread too long by", amount=over),
        remedies=(Advice((said("seating.keep_off", over=over, most=most),)),),
        inputs=Later(lambda: (*_inputs(screwed), *behind.inputs)),
        place=screwed.joint.lower.key,
    )


def _turns(screwed: _Screwed, engaged_mm: float, sits: Seat | None) -> list[Verdict]:
    turns = engaged_mm / screwed.pitch_mm
    # With shims in the joint the joints' own check speaks of the turns that they take.
    if turns >= LEAST_TURNS - EDGE_MM or screwed.joint.shims:
        return []
    mesh = amount(turns, "count", 1)
    return [
        Verdict(
            code="seating.turns",
            weight="stop" if turns < 1.0 else "watch",
            says=(said("seating.turns", **_names(screwed), turns=mesh, at_most=sits is None),),
            figure=Figure(label="turns in mesh", amount=mesh),
            remedies=(Advice((said("seating.lock"),)),),
            inputs=Later(_inputs, screwed),
            place=screwed.joint.lower.key,
        )
    ]


def open_bore_of(connection: Connection | None) -> float | None:
    """The bore, mm, that a male thread cannot exceed: its root; None for no male thread."""
    if not isinstance(connection, Thread) or connection.gender != "male":
        return None
    pitch = _pitch(connection)
    if pitch is None:
        return None
    diameter = (
        connection.diameter_in * MM_PER_INCH if isinstance(connection, InchThread) else connection.diameter_mm
    )
    try:
        return external_root_diameter_mm(diameter, pitch)
    except OutOfRangeError:
        return None


def _bores(case: Case) -> list[Verdict]:
    """Parts whose stated bore is wider than their own male thread can leave open."""
    found: list[Verdict] = []
    for place in case.train:
        part = place.part
        if not isinstance(part, PathPart) or part.clear_aperture_mm is None:
            continue
        for connection in (part.sky_side, part.camera_side):
            root = open_bore_of(connection)
            if connection is None or root is None or part.clear_aperture_mm.nominal <= root + EDGE_MM:
                continue
            found.append(_bore(place, connection, part.clear_aperture_mm, root))
            break
    return found


def _bore(place: Place, connection: Connection, clear: Measure, root: float) -> Verdict:
    return Verdict(
        code="seating.bore",
        weight="watch",
        says=(
            said(
                "seating.bore",
                part=place,
                thread=size_text(connection),
                clear=amount(clear.nominal, "length", 1),
                root=amount(root, "length", 2),
            ),
        ),
        figure=Figure(label="root of the male thread", amount=amount(root, "length", 2)),
        inputs=Later(lambda: (input_of("clear aperture", place.item, clear, "length", 1),)),
        place=place.key,
    )
