"""The Scout's answer: which combinations meet one's needs, which of these no other beats, why not another.

Nothing is scored: needs let through or leave out, and the front is whatever no other beats in all measures.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TypeAlias, cast

from server.domain.errors import RefusedError
from server.domain.measure import nominal
from server.domain.observer import Observer
from server.domain.parts import Camera, CataloguedPart, Corrector, Mount, OpticalTube, is_a
from server.domain.scout.candidates import MOST_COMBINATIONS, Choice
from server.domain.scout.measures import End, Pass, work_pass
from server.domain.scout.needs import HOURS_STEP, LIMITS, STEPS, MeasureName, Needs
from server.domain.scout.usual import COLLIMATED_IN_THE_FIELD, WITH_SPIDER, WITHOUT_SPIDER
from server.domain.sky.site import Site, StoredSite
from server.domain.sky.target import Target
from server.domain.sky.usual_targets import KEY, usual_targets
from server.flow.protocols import PartQuery, Store

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    from server.search.scout.needs import Judged

    Floats: TypeAlias = "npt.NDArray[np.float64]"
    Ints: TypeAlias = "npt.NDArray[np.int64]"

Flag = Literal["collimate", "spikes"]
FLAGS: tuple[Flag, ...] = ("collimate", "spikes")
AT_ONCE = 200
"""Parts that are read together."""
MOST_MISSES = 5
MOST_KEPT = 30


@dataclass(frozen=True)
class NeedLine:
    """A need that is said: its name, what it limits and at what; must: it leaves out what fails it."""

    name: str
    measure: MeasureName | Flag
    limit: float
    at_most: bool
    must: bool


@dataclass(frozen=True)
class Gain:
    """What relaxing one need to a limit brings: how many combinations, and the tubes among them that no
    combination had before.
    """

    limit: float
    combinations: int
    tubes: tuple[int, ...]


@dataclass(frozen=True)
class Why:
    """Why a combination is not among the answer.

    Attributes:
        failed: the needs that it fails: name, its value, the limit.
        beaten_by: the number of one that beats it, None for none; better, alike: the measures in which that
            is better, and in which it is the same.
        alike: a combination that is practically equal stands for it.
        unknown: measures of the front that are not known of it, so that nothing can be told.
    """

    failed: tuple[tuple[NeedLine, float], ...]
    beaten_by: int | None
    better: tuple[MeasureName, ...]
    same: tuple[MeasureName, ...]
    alike: int | None
    unknown: tuple[MeasureName, ...] = ()


@dataclass(frozen=True, eq=False)
class Answer:
    """What the Scout found.

    Attributes:
        lines: the needs that are said.
        judged: of the musts; passing: numbers of the combinations that meet them, so far as can be told.
        likes: how many of the wishes each combination meets.
        front: of the passing, what no other beats when counted in steps, by the first measure; alike: for
            each passing one that is practically equal to one of the front, that one.
        unmeasured: passing ones of which a measure of the front is not known.
    """

    needs: Needs
    targets: tuple[Target, ...]
    site: Site | None
    table: Pass
    lines: tuple[NeedLine, ...]
    judged: Judged
    passing: Ints
    likes: Ints
    front: Ints
    alike: dict[int, int]
    unmeasured: Ints

    @property
    def musts(self) -> tuple[NeedLine, ...]:
        """The needs that leave out."""
        return tuple(line for line in self.lines if line.must)

    def tubes_of(self, numbers: Ints) -> tuple[int, ...]:
        """The catalogue numbers of the tubes among some combinations, in their order."""
        return tuple(dict.fromkeys(self.table.tubes[numbers].tolist()))


def meant_by(store: Store, observer_id: int, needs: Needs) -> tuple[StoredSite | None, tuple[Target, ...]]:
    """The site and the targets that needs mean: the first of one's sites and all of one's list, where they
    name none. Kinds of target come after one's own.
    """
    sites = store.sites(observer_id)
    site = next((one for one in sites if one.id == needs.site_id), sites[0] if sites else None)
    listed = store.targets(observer_id)
    own = [one.seen for one in listed if not needs.targets or one.key in needs.targets]
    asked = any(key.startswith(KEY) for key in needs.targets)
    kinds = [one.target for one in usual_targets() if one.key in needs.targets] if asked else []
    return site, (*own, *kinds)


def ask(store: Store, observer_id: int, needs: Needs) -> tuple[Choice, Answer | None]:
    """What is chosen from, and the answer; None where there is nothing to choose. Raises RefusedError."""
    choice = choice_of(store, observer_id, needs)
    if not choice.tubes or not choice.cameras:
        return choice, None
    site, targets = meant_by(store, observer_id, needs)
    return choice, scout(choice, needs, targets, None if site is None else site.site)


def keep_needs(store: Store, observer: Observer, name: str, needs: Needs) -> None:
    """Keep needs by a name, in place of those that have it. Raises RefusedError for more than MOST_KEPT."""
    others = [one for one in store.kept_needs(observer.id) if one.name.casefold() != name.casefold()]
    if len(others) >= MOST_KEPT:
        raise RefusedError(f"{MOST_KEPT} lists of needs are kept already: forget some of them.")
    store.keep_needs(observer.id, name, needs)


def choice_of(store: Store, observer_id: int, needs: Needs) -> Choice:
    """All parts that are chosen from: the observer's shelf, or the whole catalogue."""

    def some(kind: str) -> list[CataloguedPart]:
        holding: Literal["catalogue", "at_hand"] = "catalogue" if needs.considered else "at_hand"
        found: list[CataloguedPart] = []
        while True:
            query = PartQuery(observer_id, kind=kind, holding=holding, limit=AT_ONCE, offset=len(found))
            lines = store.find_parts(query).lines
            found += [line.item for line in lines]
            if len(lines) < AT_ONCE:
                return found

    tubes = tuple(item for item in some("optical_tube") if is_a(item, OpticalTube))
    correctors = tuple(item for item in some("corrector") if is_a(item, Corrector))
    cameras = tuple(item for item in some("camera") if is_a(item, Camera))
    mounts = tuple(item for item in some("mount") if is_a(item, Mount))
    if needs.cameras:
        cameras = tuple(item for item in cameras if item.id in needs.cameras)
    if needs.mounts:
        mounts = tuple(item for item in mounts if item.id in needs.mounts)
    # What one keeps one has, whether or not the shelf says so.
    shelf = store.shelf(observer_id)
    owned = frozenset(number for number, held in shelf.items() if held.at_hand)
    owned |= {*needs.cameras, *needs.mounts}
    beside = {kind: _taken(some(kind), owned) for kind in needs.beside}
    return Choice(
        tubes,
        (None, *correctors),
        cameras,
        mounts or (None,),
        owned,
        tuple(item for item in beside.values() if item is not None),
        tuple(kind for kind, item in beside.items() if item is None),
        frozenset(number for number, held in shelf.items() if held.borrowed),
    )


def _taken(items: Sequence[CataloguedPart], owned: frozenset[int]) -> CataloguedPart | None:
    """What every combination carries of a kind: one that is owned before others, of these the thinnest, then
    the lightest.
    """

    def least(item: CataloguedPart) -> tuple[bool, float, float]:
        figures = (nominal(getattr(item.part, name, None)) for name in ("length_mm", "mass_kg"))
        thick, heavy = (math.inf if one is None else one for one in figures)
        return item.id not in owned, thick, heavy

    return min(items, key=least, default=None)


def scout(choice: Choice, needs: Needs, targets: Sequence[Target], site: Site | None) -> Answer:
    """Work the answer out. Raises RefusedError for more combinations than are looked at."""
    import numpy as np

    from server.search.scout.needs import judge

    if choice.combinations > MOST_COMBINATIONS:
        raise RefusedError(
            f"{choice.combinations:,} combinations are more than {MOST_COMBINATIONS:,}. Keep a camera or a "
            "mount, or look at your shelf alone."
        )
    table = work_pass(choice, targets, site, needs.currency)
    lines = lines_of(needs)
    values, limits = columns_of(table, tuple(line for line in lines if line.must))
    judged = judge(values, limits)
    passing = np.flatnonzero(judged.passes)
    wishes, wanted = columns_of(table, tuple(line for line in lines if not line.must))
    likes = (wishes <= wanted).sum(axis=1)
    front, alike, unmeasured = _front(table, passing, needs.front)
    return Answer(needs, tuple(targets), site, table, lines, judged, passing, likes, front, alike, unmeasured)


def lines_of(needs: Needs) -> tuple[NeedLine, ...]:
    """The needs that are said, in the order of their form."""
    found = [
        NeedLine(name, measure, float(limit), at_most, name not in needs.like)
        for name, measure, at_most in LIMITS
        if (limit := getattr(needs, name)) is not None
    ]
    found += [
        NeedLine(flag, flag, 0.0, True, flag not in needs.like)
        for flag in FLAGS
        if getattr(needs, flag) is False
    ]
    asked = {"guiding": needs.guiding == "off_axis_guider", "filters": needs.filters is True}
    roomy = [name for name in asked if asked[name]]
    if roomy:
        # One room for all that goes in: a must as soon as one of them is.
        must = any(name not in needs.like for name in roomy)
        found.append(NeedLine(roomy[-1], "room", 0.0, at_most=False, must=must))
    return tuple(found)


def columns_of(table: Pass, lines: Sequence[NeedLine], end: End = "value") -> tuple[Floats, Floats]:
    """Each combination's figures for some needs, and their limits, all turned so that less is better."""
    import numpy as np

    columns = [_column(table, line, end) * (1.0 if line.at_most else -1.0) for line in lines]
    limits = [line.limit * (1.0 if line.at_most else -1.0) for line in lines]
    stacked = np.stack(columns, axis=1) if columns else np.zeros((table.count, 0))
    return stacked, np.array(limits, dtype=np.float64)


def _column(table: Pass, line: NeedLine, end: End = "value") -> Floats:
    import numpy as np

    if line.measure in ("collimate", "spikes"):
        of_tube = [_asks(one.part, line.measure) for one in table.choice.tubes]
        tubes = np.array([one.tube for one in table.threes], dtype=np.int64)
        return np.array(of_tube, dtype=np.float64)[tubes][table.of]
    name = cast(MeasureName, line.measure)
    found, least = table.measures[end][name], table.measures["low"][name]
    # What is known of it may be too much already.
    beyond = np.isnan(found) & (least > line.limit) & line.at_most
    return np.where(beyond, least, found)


def _asks(tube: OpticalTube, what: str) -> float:
    """1 where a tube asks to be collimated, or draws spikes; 0 where not, nan where nobody has said."""
    if what == "collimate":
        return math.nan if tube.design is None else float(tube.design in COLLIMATED_IN_THE_FIELD)
    if tube.spider_vanes is not None:
        return float(tube.spider_vanes > 0 and not tube.spider_curved)
    if tube.design in WITHOUT_SPIDER:
        return 0.0
    return 1.0 if tube.design in WITH_SPIDER else math.nan


def _front(table: Pass, passing: Ints, measures: Sequence[MeasureName]) -> tuple[Ints, dict[int, int], Ints]:
    """The front of the passing in steps, who stands for whom, and those of which a measure is not known."""
    import numpy as np

    from server.search.scout.fronts_of_many import front, unknown
    from server.search.scout.steps import boxes

    if not passing.size:
        return passing, {}, passing
    values = np.stack([stepped(table, name)[passing] for name in measures], axis=1)
    found = boxes(values, np.array([1.0 for _ in measures]))
    kept = set(front(found.rounded).tolist())
    numbers = passing[found.best[sorted(kept)]]
    stands = {
        int(passing[row]): int(passing[found.best[box]])
        for row, box in enumerate(found.of.tolist())
        if box in kept and found.best[box] != row
    }
    order = np.argsort(table.measures["value"][measures[0]][numbers], kind="stable")
    return numbers[order], stands, passing[unknown(values)]


def stepped(table: Pass, name: MeasureName, end: End = "value") -> Floats:
    """A measure in the steps in which a person counts; hours by a tenth of themselves."""
    import numpy as np

    column = table.measures[end][name]
    if name == "hours":
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.log(column) / math.log1p(HOURS_STEP)
    return column / STEPS[name]


def why_not(answer: Answer, number: int) -> Why:
    """Why a combination is not on the front."""
    import numpy as np

    from server.search.scout.fronts_of_many import beaten_by

    values, limits = columns_of(answer.table, answer.musts)
    failed = tuple(
        (line, float(_column(answer.table, line)[number]))
        for at, line in enumerate(answer.musts)
        if values[number, at] > limits[at]
    )
    if failed or not answer.passing.size:
        return Why(failed, None, (), (), None)
    if number in answer.alike:
        return Why((), None, (), (), answer.alike[number])
    names = answer.needs.front
    figures = np.stack([answer.table.measures["value"][name] for name in names], axis=1)
    unknown = tuple(name for name, one in zip(names, figures[number], strict=True) if math.isnan(one))
    if unknown:
        return Why((), None, (), (), None, unknown)
    among = np.append(answer.passing[answer.passing != number], number)
    found = beaten_by(figures[among], among.size - 1)
    if not found.size:
        # In steps, in which a little more counts for nothing.
        figures = np.stack([np.rint(stepped(answer.table, name)) for name in names], axis=1)
        found = beaten_by(figures[among], among.size - 1)
    if not found.size:
        return Why((), None, (), (), None)
    beaters = among[found].tolist()
    on_front = set(answer.front.tolist())
    other = next((one for one in beaters if one in on_front), beaters[0])
    better = tuple(n for k, n in enumerate(names) if figures[other, k] < figures[number, k])
    same = tuple(n for k, n in enumerate(names) if figures[other, k] == figures[number, k])
    return Why((), other, better, same, None)


def gains_of(answer: Answer) -> tuple[tuple[NeedLine, tuple[Gain, ...]], ...]:
    """What each need costs: what relaxing it alone would bring, those first that bring most tubes."""
    from server.search.scout.needs import relax

    values, _ = columns_of(answer.table, answer.musts)
    had = set(answer.tubes_of(answer.passing))
    found = []
    for at, line in enumerate(answer.musts):
        gains: list[Gain] = []
        seen = had
        for one in relax(answer.judged, values, at):
            if line.measure == "share" and one.by > 1.0:
                break  # Nobody loads a mount beyond its rating.
            tubes = tuple(tube for tube in answer.tubes_of(one.rows) if tube not in had)
            if set(tubes) - seen or not gains:
                gains.append(Gain(one.by if line.at_most else -one.by, one.gains, tubes))
                seen = seen | set(tubes)
        if gains:
            found.append((line, tuple(gains)))
    found.sort(key=lambda one: -len(one[1][-1].tubes))
    return tuple(found)


def others_of(answer: Answer) -> tuple[int, ...]:
    """For each tube that is not on the front the combination that comes nearest to it: fewest failed needs,
    failed by least, then least by the front's first measure.
    """
    import numpy as np

    from server.search.scout.needs import how_far

    on_front = set(answer.tubes_of(answer.front))
    first = np.nan_to_num(answer.table.measures["value"][answer.needs.front[0]], nan=np.inf)
    far = how_far(answer.judged, _scales(answer))
    order = np.lexsort((first, far, answer.judged.failed_count))
    found: dict[int, int] = {}
    for number in map(int, order):
        found.setdefault(int(answer.table.tubes[number]), number)
    return tuple(number for tube, number in found.items() if tube not in on_front)


def misses_of(answer: Answer) -> Ints:
    """The nearest misses, where nothing meets all needs: fewest failed, then by least."""
    from server.search.scout.needs import nearest_misses

    return nearest_misses(answer.judged, _scales(answer), MOST_MISSES)


def _scales(answer: Answer) -> Floats:
    """The step in which each must is counted."""
    import numpy as np

    return np.array([_scale(line) for line in answer.musts], dtype=np.float64)


def _scale(line: NeedLine) -> float:
    if line.measure == "hours":
        return max(1e-6, HOURS_STEP * line.limit)
    return STEPS.get(cast(MeasureName, line.measure), 1.0)


def contradiction_of(answer: Answer) -> tuple[NeedLine, ...]:
    """The fewest needs that nothing meets together; empty where something meets all."""
    from server.search.scout.needs import contradictory

    found = contradictory(*columns_of(answer.table, answer.musts))
    return tuple(answer.musts[at] for at in found)
