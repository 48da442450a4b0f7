"""The Scout's answer as its template sees it."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any, ClassVar

from markupsafe import Markup

from server.arrays import Floats
from server.domain.fields import FieldSpec
from server.domain.observer import Observer
from server.domain.parts import CataloguedPart, specs_of
from server.domain.scout.candidates import Candidate
from server.domain.scout.needs import FRONT_MEASURES, MeasureName, Needs
from server.domain.sky.target import ListedTarget
from server.domain.sky.usual_targets import usual_targets
from server.flow.open_figures import figures_that_matter
from server.flow.scout import Answer, gains_of, misses_of, others_of
from server.flow.scout_pairs import designs_pair, ends_pair
from server.rim.phrasebook.tell import plain
from server.rim.scout_needs import LIKED, MEASURE_WORDS, NEED_SPECS, need_texts
from server.rim.scout_words import (
    LEFT_OPEN,
    against_words,
    beside_words,
    gain_words,
    kind_words,
    measure_text,
    said_of,
    whole_name,
    why_not_words,
    without_words,
)
from server.web.entering import form_of
from server.web.rendering import URLS
from server.web.scout.asked import ALL_TUBES
from server.web.scout.plot import Axis, Point, axis_of, scatter_svg
from server.web.scout.stops_page import stops_url

COLUMNS: tuple[MeasureName, ...] = (
    "cost",
    "hours",
    "load",
    "lift",
    "share",
    "corner",
    "light",
    "star",
    "power",
)
HEADS = (*(MEASURE_WORDS[name] for name in COLUMNS), "fills")
FILLED = {MEASURE_WORDS["cost"]: "rings", MEASURE_WORDS["corner"]: "corner"}
"""What a row's cells get once it is looked at on the bench, by the head."""
RARER = (
    "payload_share",
    "corner_arcsec",
    "corner_light",
    "fill_least",
    "fill_most",
    "guiding",
    "filters",
    "spikes",
)
"""Needs that fewer have, folded away."""
USUAL_TEXTS = need_texts(Needs())
QUICK_FIELDS = ("maker", "model", "design", "aperture_mm", "focal_length_mm", "mass_kg", "price")
_SPECS = {spec.name: spec for spec in specs_of("optical_tube")}
QUICK_SPECS = tuple(_SPECS[name] for name in QUICK_FIELDS)
"""What one knows of a tube that one does not own."""
MOST_OF_A_TUBE = 3
MOST_TUBES = 20


@dataclass(frozen=True)
class Choosable:
    """A part or a target to be ticked."""

    key: str
    name: str
    ticked: bool


@dataclass(frozen=True)
class KeptLine:
    """Needs that were kept, with the address that asks for them."""

    id: int
    name: str
    url: str


@dataclass(frozen=True)
class CandidateLine:
    """A combination in the table.

    Attributes:
        key, url: its name in addresses, and its page. number: on the plot, or in its list.
        name: what stands behind the tube. cells: its figures, as `COLUMNS` names them. likes: how many of the
            wishes it meets. alike: how many others it stands for, alike_url: the page of these.
    """

    key: str
    url: str
    number: int
    name: str
    cells: tuple[str, ...]
    likes: int
    alike: int = 0
    alike_url: str = ""


@dataclass(frozen=True)
class TubeGroup:
    """A tube with its combinations of the front.

    Attributes:
        id: what its place on the page is called. more: how many further ones there are. other: the page with
            these as well, or without them; "" for none.
    """

    id: str
    name: str
    what: str
    lines: tuple[CandidateLine, ...]
    more: int
    other: str


@dataclass(frozen=True)
class ScoutPage:
    """The page.

    Attributes:
        typed, errors, likes: the form. front: the ticked measures.
        sites, targets, kinds, cameras, mounts: what is chosen from lists.
        said: the answer. trouble: why there is none.
        groups: the front by tube; tubes, tubes_url: how many tubes it has, and the page with all of them, or
            with the first ones alone, "" where these are all. shared: what all of the front have.
        others: each further tube, and why it is not on the front. gains: what each need costs.
        against: needs that nothing meets together.
        misses: what comes nearest, with why not.
        unmeasured: how many of those that meet the needs cannot be compared yet, which the answer says itself
            where none can.
        stops_url: where the bench says what stops the shown lines; "" for none.
        beside: what each combination carries by the needs.
        without: targets that some measures are without.
        pairs: two of the front that are worth standing side by side, in words, each with the address.
        matters: figures that could change the answer, each with where it is entered.
        query: the page's own choices, for its further addresses.
        rigs: one's own, each with what would better it. kept: needs that were kept.
        wishes: how many there are.
        lacks: what kind of part to enter first.
        entered, refused: the form of a tube to consider. unticked: none was ticked to stand side by side.
    """

    template: ClassVar[str] = "scout/scout.html"
    filled: ClassVar[Mapping[str, str]] = FILLED

    typed: Mapping[str, str]
    errors: Mapping[str, str]
    likes: tuple[str, ...]
    front: tuple[MeasureName, ...]
    sites: tuple[tuple[int, str], ...]
    site_id: int | None
    targets: tuple[Choosable, ...]
    kinds: tuple[Choosable, ...]
    cameras: tuple[Choosable, ...]
    mounts: tuple[Choosable, ...]
    considered: bool
    said: str
    trouble: str
    plot: Markup | None
    plot_words: str
    groups: tuple[TubeGroup, ...]
    tubes: int
    tubes_url: str
    shared: tuple[str, ...]
    others: tuple[tuple[str, str, str], ...]
    gains: tuple[str, ...]
    against: str
    misses: tuple[tuple[str, str, str], ...]
    unmeasured: int
    stops_url: str
    beside: str
    without: str
    pairs: tuple[tuple[str, str], ...]
    matters: tuple[tuple[str, str], ...]
    query: Mapping[str, Any]
    rigs: tuple[tuple[str, str], ...]
    kept: tuple[KeptLine, ...]
    wishes: int
    lacks: tuple[tuple[str, str], ...]
    entered: Mapping[str, str]
    refused: Mapping[str, str]
    specs: tuple[FieldSpec, ...] = NEED_SPECS
    liked: tuple[str, ...] = LIKED
    rarer: tuple[str, ...] = RARER
    columns: tuple[str, ...] = HEADS
    unticked: bool = False
    quick: tuple[FieldSpec, ...] = QUICK_SPECS

    @property
    def more_open(self) -> bool:
        """Whether one of the rarer needs is set, other than as is usual, or could not be read."""
        return any(self.typed[name] != USUAL_TEXTS[name] or name in self.errors for name in RARER)

    @property
    def left_open(self) -> Mapping[str, str]:
        """What leaving a need open means, by its name."""
        return LEFT_OPEN

    @property
    def measures(self) -> tuple[tuple[MeasureName, str], ...]:
        """What the front may be over."""
        return tuple((name, MEASURE_WORDS[name]) for name in FRONT_MEASURES)


def shared_of(answer: Answer) -> tuple[str, ...]:
    """The camera and the mount that all of the front have."""
    front = [answer.table.candidate(int(number)) for number in answer.front]
    parts = answer.table.choice.by_number
    found = [{getattr(one, name) for one in front} for name in ("camera", "mount")]
    return tuple(parts[number].name for some in found if len(some) == 1 for number in some if number)


def _behind(answer: Answer, candidate: Candidate, shared: tuple[str, ...]) -> str:
    """What stands behind the tube, but for what all have."""
    parts = answer.table.choice.by_number
    numbers = candidate.corrector, candidate.camera, candidate.mount
    names = [parts[number].name for number in numbers if number and parts[number].name not in shared]
    return ", ".join(names) or "no corrector"


def cells_of(answer: Answer, number: int, reader: Observer) -> tuple[str, ...]:
    """The figures of one combination; the corner's star in pixels too."""
    values = answer.table.measures["value"]

    def text(name: MeasureName) -> str:
        return measure_text(name, float(values[name][number]), answer.needs.currency, reader.units)

    def cell(name: MeasureName) -> str:
        known = name == "corner" and not math.isnan(values["corner_px"][number])
        return f"{text(name)}, {text('corner_px')}" if known else text(name)

    least, most = text("fill_least"), text("fill_most")
    fills = least if least == most else f"{least.removesuffix(' %')} to {most}"
    return (*map(cell, COLUMNS), fills)


def line_of(
    answer: Answer,
    number: int,
    nth: int,
    name: str,
    reader: Observer,
    query: Mapping[str, Any],
    alike: int = 0,
) -> CandidateLine:
    """A combination's line. nth: which it is. name: what it is called here. alike: it stands for so many."""
    key = answer.table.candidate(number).key
    return CandidateLine(
        key=key,
        url=URLS.candidate(key, **query),
        number=nth,
        name=name,
        cells=cells_of(answer, number, reader),
        likes=int(answer.likes[number]),
        alike=alike,
        alike_url=URLS.alike(**{**query, "c": key}) if alike else "",
    )


def _turned(query: Mapping[str, Any], what: str, id: str) -> str:
    """The page with what is shut opened, or with what is open shut, at the place of that name."""
    opened = list(query.get("open", ()))
    opened = [one for one in opened if one != what] if what in opened else [*opened, what]
    return f"{URLS.scout(**{**query, 'open': opened})}#{id}"


def groups_of(answer: Answer, reader: Observer, query: Mapping[str, Any]) -> tuple[TubeGroup, ...]:
    """The front by tube, in the front's order; the first few, but for what the query opens."""
    alike, shared, opened = Counter(answer.alike.values()), shared_of(answer), query.get("open", ())
    found: dict[int, list[tuple[int, int]]] = {}
    for nth, number in enumerate(map(int, answer.front), start=1):
        found.setdefault(int(answer.table.tubes[number]), []).append((nth, number))
    parts = answer.table.choice.by_number

    def group(tube: int, of: list[tuple[int, int]]) -> TubeGroup:
        shown = of if str(tube) in opened else of[:MOST_OF_A_TUBE]
        id = f"tube-{tube}"
        lines = (
            line_of(
                answer,
                number,
                nth,
                _behind(answer, answer.table.candidate(number), shared),
                reader,
                query,
                alike[number],
            )
            for nth, number in shown
        )
        return TubeGroup(
            id=id,
            name=parts[tube].name,
            what=_what(parts[tube]),
            lines=tuple(lines),
            more=len(of) - len(shown),
            other=_turned(query, str(tube), id) if len(of) > MOST_OF_A_TUBE else "",
        )

    shown = list(found.items()) if ALL_TUBES in opened else list(found.items())[:MOST_TUBES]
    return tuple(group(tube, of) for tube, of in shown)


def _what(item: CataloguedPart) -> str:
    part = item.part
    aperture, focal = getattr(part, "aperture_mm", None), getattr(part, "focal_length_mm", None)
    if aperture is None or focal is None:
        return ""
    return f"f/{focal.nominal / aperture.nominal:.1f}"


def _same(figures: Floats) -> bool:
    """Whether no two of the known figures differ."""
    known = figures[figures == figures]
    return bool(known.size == 0 or known.min() == known.max())


def plot_of(
    answer: Answer, groups: Iterable[TubeGroup], reader: Observer, query: Mapping[str, Any]
) -> tuple[Markup | None, str]:
    """The plot over two measures, the third as size; None where nothing can be placed. What the table shows
    has its number there.

    What is the same for all, like a cost of nothing, is no axis while others differ.
    """
    values = answer.table.measures["value"]
    names = sorted(answer.needs.front, key=lambda name: _same(values[name][answer.passing]))[:3]
    currency = answer.needs.currency

    def point(number: int) -> Point:
        x, y, size = (float(values[one][number]) for one in (*names, names[-1], names[-1])[:3])
        return Point(x, y, size)

    numbers = {line.key: line.number for group in groups for line in group.lines}

    def linked(number: int) -> Point:
        name, key = whole_name(answer, number), answer.table.candidate(number).key
        return replace(
            point(number),
            name=f"{name}: {_three(answer, number, reader)}",
            url=URLS.candidate(key, **query),
            key=key,
            number=numbers.get(key, 0),
        )

    front = [linked(number) for number in map(int, answer.front)]
    shown = [one for one in front if not math.isnan(one.x + one.y)]
    if len(names) < 2 or not shown or _same(values[names[1]][answer.passing]):
        return None, ""
    on_front = set(map(int, answer.front))
    faint = [point(int(number)) for number in answer.passing if int(number) not in on_front]
    faint = [one for one in faint if not math.isnan(one.x + one.y)]

    def axis(name: MeasureName, figures: list[float]) -> Axis:
        def write(tick: float) -> str:
            return measure_text(name, tick, currency, reader.units)

        return axis_of(MEASURE_WORDS[name], figures, write)

    across = axis(names[0], [one.x for one in (*shown, *faint)])
    up = axis(names[1], [one.y for one in (*shown, *faint)])
    third = (
        f", the larger the more {MEASURE_WORDS[names[2]]}"
        if len(names) > 2 and not _same(values[names[2]][answer.passing])
        else ""
    )
    numbered = sum(1 for one in shown if one.number)
    few = f"; the table shows {numbered} of them" if numbered < len(shown) else ""
    rest = f"; {len(faint):,} {'other that meets' if len(faint) == 1 else 'others that meet'} your needs "
    words = (
        f"{len(shown)} that no other beats, numbered as in the table, × what the bench stops{third}{few}"
        + (f"{rest}{'is' if len(faint) == 1 else 'are'} faint." if faint else ".")
    )
    return scatter_svg(across, up, faint, shown, words), words


def _three(answer: Answer, number: int, reader: Observer) -> str:
    values, currency = answer.table.measures["value"], answer.needs.currency
    figures = [(MEASURE_WORDS[name], name, float(values[name][number])) for name in answer.needs.front]
    return ", ".join(
        f"{words} {measure_text(name, value, currency, reader.units)}" for words, name, value in figures
    )


def scout_page(
    answer: Answer | None,
    trouble: str,
    lacks: tuple[tuple[str, str], ...],
    needs: Needs,
    typed: Mapping[str, str],
    errors: Mapping[str, str],
    sites: tuple[tuple[int, str], ...],
    site_id: int | None,
    listed: tuple[ListedTarget, ...],
    cameras: tuple[Choosable, ...],
    mounts: tuple[Choosable, ...],
    query: Mapping[str, Any],
    rigs: tuple[tuple[str, str], ...],
    kept: tuple[KeptLine, ...],
    reader: Observer,
    entered: Mapping[str, str],
    refused: Mapping[str, str],
) -> ScoutPage:
    """Build the page."""
    misses = (
        () if answer is None or len(answer.passing) else tuple(_why(answer, misses_of(answer), reader, query))
    )
    groups = () if answer is None else groups_of(answer, reader, query)
    plot, plot_words = (None, "") if answer is None else plot_of(answer, groups, reader, query)
    tubes = 0 if answer is None else len(answer.tubes_of(answer.front))
    chosen = needs.targets or tuple(one.key for one in listed)
    return ScoutPage(
        typed=typed,
        errors=errors,
        likes=needs.like,
        front=needs.front,
        sites=sites,
        site_id=site_id,
        targets=tuple(Choosable(one.key, one.seen.called, one.key in chosen) for one in listed),
        kinds=tuple(Choosable(one.key, kind_words(one), one.key in chosen) for one in usual_targets()),
        cameras=cameras,
        mounts=mounts,
        considered=needs.considered,
        said="" if answer is None else said_of(answer),
        trouble=trouble,
        plot=plot,
        plot_words=plot_words,
        groups=groups,
        tubes=tubes,
        tubes_url=_turned(query, ALL_TUBES, "answer-head") if tubes > MOST_TUBES else "",
        shared=() if answer is None else shared_of(answer),
        others=() if answer is None or misses else tuple(_why(answer, others_of(answer), reader, query)),
        gains=()
        if answer is None
        else tuple(gain_words(line, gains, needs.currency, reader.units) for line, gains in gains_of(answer)),
        against="" if answer is None else against_words(answer),
        misses=misses,
        unmeasured=len(answer.unmeasured) if answer is not None and groups else 0,
        stops_url=""
        if answer is None
        else stops_url(answer, [line.key for one in groups for line in one.lines], query),
        beside="" if answer is None else beside_words(answer, reader.units),
        without="" if answer is None else without_words(answer),
        pairs=() if answer is None else tuple(_pairs(answer, query)),
        matters=() if answer is None else tuple(_matters(answer, reader)),
        query=query,
        rigs=rigs,
        kept=kept,
        wishes=0 if answer is None else len(answer.lines) - len(answer.musts),
        lacks=lacks,
        entered=entered,
        refused=refused,
    )


def _pairs(answer: Answer, query: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """Two of the front side by side."""
    found = {
        "Refractor against reflector": designs_pair(answer),
        "Small and light against deep": ends_pair(answer),
    }
    for words, pair in found.items():
        if pair is not None:
            keys = [answer.table.candidate(number).key for number in pair]
            yield words, URLS.beside(**{**query, "c": keys})


def _matters(answer: Answer, reader: Observer) -> Iterator[tuple[str, str]]:
    """What to find out first, each with where it is entered."""
    parts = answer.table.choice.by_number
    for asked in figures_that_matter(answer):
        item = None if asked.part_id is None else parts.get(asked.part_id)
        url = "" if item is None else form_of(item, asked.field, reader.id)
        yield plain(asked.says), url


def _why(
    answer: Answer, numbers: Iterable[int], reader: Observer, query: Mapping[str, Any]
) -> Iterator[tuple[str, str, str]]:
    """Combinations, each with its page and why it is not on the front."""
    for number in map(int, numbers):
        words = why_not_words(answer, number, reader.units)
        key = answer.table.candidate(number).key
        yield whole_name(answer, number), URLS.candidate(key, **query), words
