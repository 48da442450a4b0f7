"""`python -m tests.reads`: which check, the stars or the load reads which field of a part, and asks for it.

They are run over the usual rigs, the demo club's, and rigs of every design of tube in which every kind stands
with every field or with none. What is read is then taken away, and of a choice each other answer is tried.
What is written is server/domain/checks/reads.json, and read by server/domain/checks/reads.py.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field, fields, is_dataclass, replace
from datetime import date
from functools import partial
from importlib import import_module
from itertools import count
from typing import Any, TypeVar
from unittest.mock import patch

from server.domain.checks.reads import FILE
from server.domain.checks.registry import CHECKS
from server.domain.connections import read_connection
from server.domain.fields import FieldSpec
from server.domain.guarded import worked
from server.domain.load.bodies import work_balance
from server.domain.load.lifts import work_lifts
from server.domain.load.places import pack, sum_places
from server.domain.load.power import work_power
from server.domain.load.work import work_cautions
from server.domain.load_plan import Cable, LoadPlan, Spot
from server.domain.measure import Measure
from server.domain.parts import KINDS, BasePart, CataloguedPart, OpticalTube, PathPart, specs_of
from server.domain.rig import Gear, Rig
from server.domain.said import Missing, said
from server.domain.stars.wishes import StarWishes
from server.domain.train import TRAIN_KINDS, Place, Train
from server.domain.verdicts import Verdict
from server.domain.workings.case import Case, Check
from server.flow.draw_stars import draw_stars
from server.paths import SEED_DATA
from server.rim.demo_files import load_of, read_demo_club
from server.rim.forms import read_part
from tests.domain.test_usual_rigs import SAID

NO_FIGURES = ("kind", "maker", "model", "price", "document", "note", "basis", "outputs")
Reading = tuple[int, str]
"""A part's number and the name of a field."""
_T = TypeVar("_T")


def _choices_of(kind: str, name: str) -> tuple[str, ...]:
    return tuple(value for spec in specs_of(kind) if spec.name == name for value, _ in spec.choices)


DESIGNS = _choices_of("optical_tube", "design")

# The corpus.

_numbers = count(1)


def _item(part: Any) -> CataloguedPart:
    return CataloguedPart(next(_numbers), 1, "Ana", 1, part)


def _demo_rigs() -> Iterator[Rig]:
    club = read_demo_club(SEED_DATA)
    items = {slug: _item(read_part(one.kind, one.texts)) for slug, one in club.parts.items()}
    for one in club.rigs:
        places = tuple(
            Place(key, items[at.part], at.flipped, tuple(items[i] for i in at.inside), at.set_length_mm)
            for key, at in enumerate(one.places, start=1)
        )
        branch = tuple(Place(100 + key, items[slug]) for key, slug in enumerate(one.branch))
        gear = tuple(Gear(items[slug], quantity) for slug, quantity in one.gear.items())
        load = load_of(one.load, {slug: item.id for slug, item in items.items()})
        yield Rig(one.name, Train(places), gear, one.rules, branch, load)


FITTING = {
    "sky_side": read_connection("M48x0.75 male"),
    "camera_side": read_connection("M48x0.75 female"),
    "side_port": read_connection("M48x0.75 female"),
    "mask_mm": Measure(nominal=190.0),
    "factor": Measure(nominal=0.8),
}
TRAIN = (
    *("optical_tube", "focuser", "tilt_adjuster", "rotator", "corrector", "adapter", "shim", "spacer_ring"),
    *("off_axis_guider", "filter_wheel", "camera"),
)


def _plausible(spec: FieldSpec) -> Any:
    """A value for a field that no part of the other rigs has."""
    if spec.shape == "measure":
        usual = {"fraction": 0.9, "ratio": 6.0, "voltage": 11.0}.get(spec.dimension, 20.0)
        return Measure(nominal=max(spec.minimum or 0.0, min(usual, (spec.maximum or 1.0) * 0.9)))
    if spec.shape == "count":
        return int(spec.minimum or 0) + 2
    if spec.shape in ("choice", "choices"):
        first = spec.choices[0][0]
        return first if spec.shape == "choice" else (first,)
    return {"flag": True, "connection": FITTING["sky_side"]}.get(spec.shape)


def _whole_rigs(seen: list[Rig]) -> Iterator[Rig]:
    """For each design of tube, with each kind of corrector in turn and with none: rigs of all kinds, whose
    fields are all filled, with and without their parts turned round, and one whose parts say nothing.
    """
    pool: dict[tuple[str, str], Any] = {}
    for rig in seen:
        for item in _items(rig):
            for spec in specs_of(item.kind):
                value = getattr(item.part, spec.name)
                if value not in (None, (), ""):
                    pool.setdefault((item.kind, spec.name), value)

    def part(kind: str, filled: bool, **given: Any) -> CataloguedPart:
        found: dict[str, Any] = {"model": KINDS[kind].kind_words, **given}
        for spec in specs_of(kind) if filled else ():
            value = FITTING.get(spec.name) or pool.get((kind, spec.name)) or _plausible(spec)
            if spec.name not in (*found, *NO_FIGURES, "obstruction_share") and value is not None:
                found[spec.name] = value
        return _item(KINDS[kind](**found))

    def whole(given: dict[str, dict[str, Any]], filled: bool, turned: bool, sun: bool) -> Rig:
        kinds = [kind for kind in TRAIN if kind != "corrector" or kind in given]
        kinds[2:2] = ["corrector"] if turned else []
        chain = [part(kind, filled, **given.get(kind, {})) for kind in kinds]
        places = [Place(key, one, turned and isinstance(one.part, PathPart)) for key, one in enumerate(chain)]
        places[-2] = replace(places[-2], inside=(part("filter", filled), part("filter", filled)))
        beside = [kind for kind in KINDS if kind not in TRAIN_KINDS and (filled or kind != "counterweight")]
        gear = [Gear(part(kind, filled)) for kind in beside]
        numbers = [item.id for item in (*chain, *(one.item for one in gear))]
        load = LoadPlan(
            clamp_mm=300.0,
            tube_above_saddle_mm=150.0,
            latitude_deg=48.0,
            longitude_deg=11.0,
            night=date(2026, 11, 26),
            low_c=-5.0,
            cooling_k=30.0,
            cables=tuple(Cable(part_id=i, length_mm=2000.0, gauge_awg=18) for i in numbers),
            spots=tuple(Spot(part_id=one.item.id, along_mm=200.0, above_mm=200.0) for one in gear),
            sun=sun,
        )
        branch = (Place(100, part("spacer_ring", filled)),)
        return Rig("Whole", Train(tuple(places)), tuple(gear), branch=branch, load=load)

    types = _choices_of("corrector", "corrector_type")
    for index, design in enumerate(DESIGNS):
        tube = {"optical_tube": {"design": design}}
        lens = {"corrector": {"corrector_type": types[index % len(types)]}}
        for given in (tube | lens, tube):
            yield whole(given, filled=True, turned=False, sun=index % 2 == 0)
            yield whole(given, filled=False, turned=False, sun=False)
        yield whole(tube | lens, filled=True, turned=True, sun=False)


def corpus() -> list[Rig]:
    """The rigs that are read, always the same."""
    seen = [*(make() for make in SAID), *_demo_rigs()]
    return [*seen, *_whole_rigs(seen)]


def _items(rig: Rig) -> list[CataloguedPart]:
    places = [*rig.train, *rig.branch]
    return [
        *(item for place in places for item in (place.item, *place.inside)),
        *(gear.item for gear in rig.gear),
    ]


def _afresh(rig: Rig, changed: dict[Reading, Any]) -> Rig:
    """The rig of new objects, so that nothing kept by one hides a read, with some figures changed."""

    def again(item: CataloguedPart) -> CataloguedPart:
        kept = {name: item.part.__dict__[name] for name in type(item.part).model_fields}
        kept |= {name: value for (of, name), value in changed.items() if of == item.id}
        return replace(item, part=type(item.part).model_construct(**kept))

    def places(of: Any) -> tuple[Place, ...]:
        return tuple(replace(p, item=again(p.item), inside=tuple(map(again, p.inside))) for p in of)

    gear = tuple(replace(one, item=again(one.item)) for one in rig.gear)
    return replace(rig, train=Train(places(rig.train)), branch=places(rig.branch), gear=gear)


# Who reads.


def _drawn_once(name: str) -> Any:
    """A picture is made of numbers alone and asks for nothing: the first one stands for all."""
    module, _, function = name.rpartition(".")
    draw, kept = getattr(import_module(module), function), list[Any]()

    def drawn(*given: Any) -> Any:
        if not kept:
            kept.append(draw(*given))
        return kept[0]

    return patch(name, drawn)


PICTURES = (
    "server.domain.stars.field._nine",
    "server.domain.stars.field._open_contrast",
    "server.optics.spikes.bright_star",
)


def _stars(rig: Rig) -> Any:
    view = draw_stars(rig, StarWishes())
    return view.lacking, view.findings, view.telescope


def _load(rig: Rig) -> Any:
    case = Case(rig)
    works: tuple[Callable[[], Any], ...] = (
        *(partial(work, case) for work in (sum_places, work_balance, work_lifts)),
        *(partial(work, rig) for work in (work_power, pack, work_cautions)),
    )
    return tuple(worked(said("text", text="the load"), work) for work in works)


def _shelf(rig: Rig) -> dict[str, Any]:
    """What of the shelf a check is handed: rings and adapters at each joint, and counterweights."""
    lying = tuple(item for item in _items(rig) if item.kind in ("spacer_ring", "adapter"))
    joints = {joint.index: lying for joint in rig.train.joints}
    weights = tuple((item, 1) for item in _items(rig) if item.kind == "counterweight")
    return {"joiners": joints, "rings": joints, "weights": weights}


def _judge(check: Check, rig: Rig) -> Any:
    found = check.find(Case(rig, **_shelf(rig)))
    return found, [tuple(one.inputs) for one in found]


READERS: dict[str, Callable[[Rig], Any]] = {
    **{check.name: partial(_judge, check) for check in CHECKS},
    "stars": _stars,
    "load": _load,
}

# The recording.


@contextmanager
def _listening() -> Iterator[dict[int, tuple[BasePart, set[str]]]]:
    """Parts by their identity, with the fields that are read of each while it lasts."""
    heard: dict[int, tuple[BasePart, set[str]]] = {}
    plain = BasePart.__getattribute__

    def listen(self: BasePart, name: str) -> Any:
        if name in type(self).model_fields:
            heard.setdefault(id(self), (self, set()))[1].add(name)
        return plain(self, name)

    BasePart.__getattribute__ = listen  # type: ignore[method-assign,assignment]
    try:
        yield heard
    finally:
        del BasePart.__getattribute__


def _all_of(kinds: type[_T], found: Any) -> Iterator[_T]:
    """All of these classes that stand somewhere in what a reader gives."""
    if isinstance(found, kinds):
        yield found
    if isinstance(found, tuple | list):
        for one in found:
            yield from _all_of(kinds, one)
    elif is_dataclass(found) and not isinstance(found, CataloguedPart):
        for one in fields(found):
            yield from _all_of(kinds, getattr(found, one.name))


@dataclass
class Heard:
    """Of one field: who asks for it or says nothing without it, who reads it, and the designs of the tubes of
    which it is asked.
    """

    asked: set[str] = field(default_factory=set)
    read: set[str] = field(default_factory=set)
    designs: set[str] = field(default_factory=set)

    def ask(self, reader: str, design: str | None) -> None:
        """Puts down that a reader asks for it, and of a tube of which design."""
        self.asked.add(reader)
        self.designs |= {design} if design else set()


class Record:
    """What was heard so far, by kind and field."""

    def __init__(self) -> None:
        self.heard: dict[tuple[str, str], Heard] = {}
        self._tried: set[tuple[object, ...]] = set()

    def of(self, part: BasePart, name: str) -> Heard:
        """What was heard of a field."""
        kind = str(type(part).model_fields["kind"].default)
        return self.heard.setdefault((kind, name), Heard())

    def run(self, reader: str, rig: Rig) -> tuple[set[Reading], Counter[str]]:
        """One reader over one rig: what it reads of the rig's parts, and the codes of what it says."""
        items = {item.id: item for item in _items(rig)}
        numbers = {id(item.part): item.id for item in items.values()}
        with _listening() as heard:
            found = worked(said("text", text=reader), lambda: READERS[reader](rig))
        readings = set[Reading]()
        for key, (part, names) in heard.items():
            for name in names:
                self.of(part, name).read.add(reader)
            readings |= {(numbers[key], name) for name in names if key in numbers}
        for one in _all_of(Missing, found):
            if one.part_id in items and one.field:
                part = items[one.part_id].part
                self.of(part, one.field).ask(reader, getattr(part, "design", None))
        return readings, Counter(one.code for one in _all_of(Verdict, found))

    def explore(self, reader: str, rig: Rig) -> None:
        """One reader over a rig as it is, and with each figure that it reads changed."""
        items = {item.id: item for item in _items(rig)}
        readings, says = self.run(reader, _afresh(rig, {}))
        for number, name in sorted(readings):
            part = items[number].part
            for answer in _other_answers(part, name):
                if self._first_time(reader, part.kind, name, answer):
                    self.run(reader, _afresh(rig, {(number, name): answer}))
            if name not in NO_FIGURES and getattr(part, name) not in (None, (), ""):
                self._take_away(reader, rig, items[number], name, says)

    def _take_away(self, reader: str, rig: Rig, item: CataloguedPart, name: str, says: Counter[str]) -> None:
        """A figure taken away; where a tube is then asked for it, from the tube as each other design too."""
        part = item.part
        empty = () if isinstance(getattr(part, name), tuple) else None
        own = part.design if isinstance(part, OpticalTube) else None
        under = getattr(rig.train.tube and rig.train.tube.part, "design", None)
        for design in (own, *(DESIGNS if own and name != "design" else ())):
            if self._first_time(reader, part.kind, name, empty, design or under):
                kept: dict[Reading, Any] = {(item.id, "design"): design} if design else {}
                before = says if design == own else self.run(reader, _afresh(rig, kept))[1]
                _, after = self.run(reader, _afresh(rig, kept | {(item.id, name): empty}))
                # The pictures show less where less is known, and nothing waits for it.
                if after < before and reader != "stars":
                    self.of(part, name).ask(reader, design)
            if reader not in self.of(part, name).asked:
                break

    def _first_time(self, *what: object) -> bool:
        """The same change of another part of the kind brings nothing new, but with another design of tube."""
        if what in self._tried:
            return False
        self._tried.add(what)
        return True


def _other_answers(part: BasePart, name: str) -> tuple[Any, ...]:
    """What else a choice or a yes or no could be."""
    spec = next((one for one in specs_of(part.kind) if one.name == name), None)
    if spec is None or name in NO_FIGURES:
        return ()
    answers = {"flag": (True, False), "choice": tuple(answer for answer, _ in spec.choices)}
    return tuple(answer for answer in answers.get(spec.shape, ()) if answer != getattr(part, name))


def record() -> str:
    """What is read and asked for over the whole corpus, as the file says it."""
    record = Record()
    with ExitStack() as stack:
        for name in PICTURES:
            stack.enter_context(_drawn_once(name))
        for rig in corpus():
            for reader in READERS:
                record.explore(reader, rig)
    _share(record.heard)
    return _written(record.heard)


def _share(heard: dict[tuple[str, str], Heard]) -> None:
    """What all parts of the path have, and a figure with a role, is judged alike, whatever the kind."""
    alike: dict[str, list[Heard]] = {}
    for kind, cls in KINDS.items():
        for spec in specs_of(kind):
            common = issubclass(cls, PathPart) and spec.name in PathPart.model_fields
            if spec.role or (common and spec.name != "mass_kg"):
                alike.setdefault(spec.role or spec.name, []).append(
                    heard.setdefault((kind, spec.name), Heard())
                )
    for found in alike.values():
        asked, read = set().union(*(one.asked for one in found)), set().union(*(one.read for one in found))
        for one in found:
            one.asked, one.read = set(asked), set(read)


def _written(heard: dict[tuple[str, str], Heard]) -> str:
    """One line a field, of those that a form asks for and that somebody reads."""
    kinds = []
    for kind in KINDS:
        lines = []
        for spec in specs_of(kind):
            one = heard.get((kind, spec.name))
            if one is None or spec.name in NO_FIGURES or not one.read | one.asked:
                continue
            who: dict[str, list[str]] = {
                "asked": [reader for reader in READERS if reader in one.asked],
                "read": [reader for reader in READERS if reader in one.read - one.asked],
                "of": [design for design in DESIGNS if design in one.designs],
            }
            if who["of"] == [*DESIGNS] or spec.name == "design":
                del who["of"]
            lines.append(f'  "{spec.name}": {json.dumps({k: v for k, v in who.items() if v})}')
        kinds.append(f' "{kind}": {{\n' + ",\n".join(lines) + "\n }")
    return "{\n" + ",\n".join(kinds) + "\n}\n"


if __name__ == "__main__":
    FILE.write_text(record(), encoding="utf-8")
