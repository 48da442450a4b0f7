"""One combination, or several side by side: drawn, reckoned, what is to be bought, and why not."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from textwrap import shorten
from typing import Any, ClassVar

from markupsafe import Markup

from server.domain.findings import Finding, ShortFinding
from server.domain.guarded import worked_or_none
from server.domain.measure import Money
from server.domain.observer import Observer
from server.domain.parts import CataloguedPart, OpticalTube
from server.domain.rig import Rig
from server.domain.said import Words, said
from server.domain.scout.against import judge_against, sight_of
from server.domain.scout.candidates import Candidate
from server.domain.scout.measures import RULES, work_built
from server.domain.scout.needs import Needs
from server.domain.scout.usual import TubeFigures
from server.domain.sky.target import credit
from server.domain.stars.upkeep import upkeep_of
from server.flow.scout import Answer
from server.flow.take_candidate import Closing
from server.flow.workbench import Workbench
from server.rim.answer import stop_of
from server.rim.phrasebook.tell import plain, tell
from server.rim.phrasebook.working import Working
from server.rim.prices import priced, prices_text, sums_of
from server.rim.scout_needs import MEASURE_WORDS
from server.rim.scout_words import measure_text, whole_name, why_not_words
from server.rim.scout_workings import WORKED
from server.rim.wording import write_money
from server.web.entering import form_of
from server.web.picture import sections_alike
from server.web.rendering import URLS
from server.web.scout.drawn import drawn_centre, drawn_corner, stars_of, white_arcsec2
from server.web.scout.framed import FramedRow, framed_rows
from server.web.scout.page import HEADS, cells_of
from server.web.stars.page import DrawnStar, side_px

MOST = 4
LONGEST_NOTE = 200


@dataclass(frozen=True)
class ToBuy:
    """A line of the shopping list.

    Attributes:
        name, url: what, and its page. price: of one. where: where it goes.
        source: what its figures are of, with its address where it is one. note: what is noted of it.
        enter: where a source is entered; "" while there is source or note.
    """

    name: str
    url: str
    price: str
    where: str
    source: str
    source_url: str
    note: str
    enter: str


@dataclass(frozen=True)
class Column:
    """A combination.

    Attributes:
        cells: its figures, as `HEADS` names them. why: whether it is on the front, or why not.
        stop: the first that stops it as one press puts it on the bench, None for nothing. more_stops: how
            many more do.
        section: drawn to scale. centre, corner: its stars. sketch: the address of a target's sketch.
        owned: what of it is owned. to_buy: what is not. rings: how the back focus is closed, and what that
            changes; trouble: why the Bridge could not look.
        total: what all of it costs yet; budget: that beside the budget, "" without one.
        upkeep: what its tube asks of its owner.
        findings: what the checks say, the sound last.
        without: the page without it.
    """

    key: str
    name: str
    cells: tuple[str, ...]
    why: str
    stop: ShortFinding | None
    more_stops: int
    section: Markup
    centre: DrawnStar | None
    corner: DrawnStar | None
    sketch: str
    owned: tuple[str, ...]
    to_buy: tuple[ToBuy, ...]
    rings: str
    trouble: Words
    total: str
    budget: str
    upkeep: tuple[str, ...]
    findings: tuple[Finding, ...]
    assumed: str
    without: str

    @property
    def sound(self) -> int:
        """How many findings are sound."""
        return sum(1 for one in self.findings if one.weight == "sound")


@dataclass(frozen=True)
class BesidePage:
    """The page.

    Attributes:
        back: the Scout's page with the same needs.
        notes: what a row's figure is of, by the row. rules_seeing: the seeing of the findings, where that is
            another one.
        rigs: one's own, by number. side: how wide the stars' pictures are. target: whose sketch is drawn.
        left_out: which of those asked for are not shown.
        framed, framed_said: the targets on each sensor, and their scale. credit: whose catalogue they are of.
        worked: how each row's figure is worked out.
        against: what obstruction takes and aperture gives: the first against each that differs.
    """

    template: ClassVar[str] = "scout/beside.html"

    columns: tuple[Column, ...]
    rows: tuple[str, ...]
    back: str
    side: str
    notes: Mapping[str, str]
    rules_seeing: str
    target: str
    left_out: tuple[str, ...]
    framed: tuple[FramedRow, ...]
    framed_said: str
    against: tuple[Finding, ...]
    credit: str
    query: Mapping[str, Any]
    rigs: tuple[tuple[int, str], ...]
    worked: Mapping[str, Working] = field(default_factory=lambda: WORKED)


def _rings(closing: Closing, stops: bool) -> str:
    """Between which parts the back focus is closed, and how; "" where the Bridge could not look, which its
    trouble says. stops: whether something stops the rig all the same.
    """
    offer = closing.offer
    if offer is None:
        nothing = "No rings that are owned or priced close it; the Bridge says what ring would."
        return "" if closing.trouble else nothing
    by = {"focuser": "focus lies in the focuser's travel", "nobody": "joined; no distance is asked for"}
    how = by.get(offer.posed.gap.whose, f"closed, {abs(offer.error_mm):.2f} mm off, as is allowed")
    bought = ", ".join(f"{count} x {item.name}" if count > 1 else item.name for item, count in offer.bought)
    by_what = (
        f"with {bought} to be bought"
        if bought
        else "by parts that you own"
        if offer.places
        else "with nothing between"
    )
    still = " See what stops it." if stops else ""
    ends = (end.item.part.kind_words for end in (offer.posed.gap.sky, offer.posed.gap.camera))
    said = f"{' to '.join(ends)}: {how}, {by_what}.{still}"
    return said[0].upper() + said[1:]


def _budget(items: Sequence[tuple[CataloguedPart, int]], more: bool, needs: Needs) -> str:
    """What of the budget is left, or missing; at most so much where a price is not known in its currency."""
    if needs.budget is None:
        return ""
    sums, unknown = sums_of(priced(items))
    unsure = unknown or more
    budget = round(100.0 * needs.budget)
    left = budget - sums.pop(needs.currency, 0)
    whole, rest = (write_money(Money(hundredths=one, currency=needs.currency)) for one in (budget, abs(left)))
    about = "" if not unsure and not sums else "at least " if left < 0 else "at most "
    return f"{about}{rest} more than your {whole}" if left < 0 else f"{about}{rest} of your {whole} left"


def _differing(bench: Workbench, answer: Answer, number: int, built: Rig, cells: Sequence[str]) -> str:
    """What of the figures is shown otherwise once the rings are in: what they weigh, shade and are off by."""
    table = work_built(answer.table, number, built, answer.targets, answer.site, answer.needs.currency)
    found = cells_of(replace(answer, table=table), 0, bench.observer)
    said = [
        f"{head} {now} instead of {before}"
        for head, now, before in zip(HEADS, found, cells, strict=True)
        if now != before
    ]
    return f" So built: {'; '.join(said)}." if said else ""


def _to_buy(item: CataloguedPart, where: str, reader: Observer) -> ToBuy:
    part = item.part
    return ToBuy(
        name=item.name,
        url=URLS.part(item.id),
        price="price not known yet" if part.price is None else write_money(part.price),
        where=where,
        source=part.document,
        source_url=part.document if part.document.startswith(("https://", "http://")) else "",
        note=shorten(part.note, LONGEST_NOTE, placeholder=" …"),
        enter="" if part.document or part.note else form_of(item, "document", reader.id),
    )


def _assumed(figures: TubeFigures, reader: Observer) -> str:
    """What is taken as usual for a tube's kind, with its range; "" for nothing."""
    mass, share = figures.mass_kg, figures.obstruction
    least, most = (measure_text("load", one, "", reader.units) for one in (mass.low, mass.high))
    shut = f"{100 * share.low:.0f} to {100 * share.high:.0f} %"
    ranges = {
        "mass_kg": f"its mass, {least} to {most}",
        "obstruction_mm": f"its central obstruction, {shut} of its aperture",
    }
    said = " and ".join(ranges[name] for name in figures.assumed)
    return f"{said} (common practice)" if said else ""


def _column(
    bench: Workbench, answer: Answer, number: int, rig: Rig, query: Mapping[str, Any]
) -> tuple[Column, Rig]:
    """A combination without its pictures, and the rig that it makes with the rings that are to be bought."""
    candidate, choice = answer.table.candidate(number), answer.table.choice
    parts = choice.parts_of(candidate)
    closing = bench.closing_of(parts)
    bought = () if closing.offer is None else closing.offer.bought
    wanted = tuple((item, 1) for item in parts if item.id not in choice.owned)
    # What the checks say, and the drawing shows, is of the rig with the rings that are to be bought.
    joined = rig if closing.offer is None else closing.rig
    findings = bench.look_at(joined)
    on_bench = findings if joined is closing.rig else bench.look_at(closing.rig)
    stop, stops = stop_of(on_bench), sum(one.weight == "stop" for one in on_bench)
    tube = parts[0].part
    upkeep = upkeep_of(tube.design) if isinstance(tube, OpticalTube) else None
    figures = answer.table.threes[int(answer.table.of[number])].figures
    cells = cells_of(answer, number, bench.observer)
    column = Column(
        key=candidate.key,
        name=whole_name(answer, number),
        cells=cells,
        why=why_not_words(answer, number, bench.observer.units),
        stop=stop,
        more_stops=max(0, stops - 1),
        section=Markup(""),
        centre=None,
        corner=None,
        sketch=URLS.candidate_sketch(candidate.key, **query) if answer.targets and answer.site else "",
        owned=tuple(
            f"{item.name} (the club’s)" if item.id in choice.borrowed else item.name
            for item in parts
            if item.id in choice.owned
        ),
        to_buy=(
            *(_to_buy(item, item.part.kind_words, bench.observer) for item, _ in wanted),
            *(_to_buy(item, "to close the back focus", bench.observer) for item, _ in bought),
        ),
        rings=_rings(closing, stop is not None)
        + ("" if closing.offer is None else _differing(bench, answer, number, joined, cells)),
        trouble=closing.trouble,
        total=prices_text((*wanted, *bought), closing.offer is None),
        budget=_budget((*wanted, *bought), closing.offer is None, answer.needs),
        upkeep=()
        if upkeep is None
        else (plain(upkeep.what), plain(upkeep.delicate), f"Outside: {plain(upkeep.field)}"),
        findings=tuple(sorted(findings, key=lambda one: one.weight == "sound")),
        assumed=_assumed(figures, bench.observer),
        without="",
    )
    return column, joined


def _left_out(strangers: int, more: int) -> tuple[str, ...]:
    """What is asked for and not shown: combinations of none of the parts here, and more than are shown."""
    are = "is" if strangers == 1 else "are"
    said = (
        f"{strangers} of those asked for {are} not among what is chosen from." if strangers else "",
        f"Four at most stand side by side: {more} more {'is' if more == 1 else 'are'} left out."
        if more
        else "",
    )
    return tuple(filter(None, said))


def _against(answer: Answer, numbers: Sequence[int], seeing: float | None) -> tuple[Finding, ...]:
    """The first of some combinations against each other one, each pair of tubes once."""
    sights = [sight for number in numbers if (sight := sight_of(answer.table, number)) is not None]
    by_tube = list({sight.tube.id: sight for sight in reversed(sights)}.values())[::-1]
    found = [
        worked_or_none(said("work.stars"), partial(judge_against, by_tube[0], other, seeing))
        for other in by_tube[1:]
    ]
    return tuple(tell(one) for one in found if one is not None)


def beside_page(
    bench: Workbench, answer: Answer, candidates: tuple[Candidate, ...], query: Mapping[str, Any]
) -> BesidePage:
    """Build the page; candidates that are not among the answer's are left out."""
    seeing = None if answer.site is None else answer.site.seeing_arcsec
    taken, whose = (RULES.seeing_arcsec, "the rules'") if seeing is None else (seeing, "the site's")
    found = []
    for one in candidates:
        number, rig = answer.table.number_of(one), answer.table.choice.of(one)
        if number is not None and rig is not None:
            found.append((number, rig))
    shown = [(number, rig, stars_of(rig, seeing)) for number, rig in found[:MOST]]
    drawn = [stars for _, _, stars in shown if stars is not None]
    scales = [(one, one.telescope.pixel_um / one.telescope.um_per_arcsec) for one in drawn]
    side = max((side_px([one], "seen") * scale for one, scale in scales), default=0.0)
    white = max(map(white_arcsec2, drawn), default=0.0)
    keys = [answer.table.candidate(number).key for number, _, _ in shown]
    columns: list[Column] = []
    joined: dict[str, Rig] = {}
    for number, rig, stars in shown:
        column, joined[f"c{keys[len(columns)]}"] = _column(bench, answer, number, rig, query)
        centre, corner = (one(stars, side, white, bench.observer) for one in (drawn_centre, drawn_corner))
        others = [key for key in keys if key != column.key]
        without = URLS.beside(**{**query, "c": others}) if others else ""
        sketch = column.sketch and URLS.candidate_sketch(column.key, stretch=keys[0], **query)
        columns.append(replace(column, centre=centre, corner=corner, sketch=sketch, without=without))
    sections = sections_alike(joined, bench.observer.units) if joined else ()
    columns = [replace(one, section=section) for one, section in zip(columns, sections, strict=True)]
    threes = [answer.table.threes[int(answer.table.of[number])] for number, _, _ in shown]
    frames = [(one.name, three.frame) for one, three in zip(columns, threes, strict=True)]
    framed, framed_said = framed_rows(answer.targets, frames)
    return BesidePage(
        columns=tuple(columns),
        rows=HEADS,
        back=URLS.scout(**query),
        side=f"Each star's picture is {side:.0f} arcsec wide; all have the same light in all, and one white."
        if drawn
        else "",
        notes={MEASURE_WORDS["star"]: f"in {whose} seeing, {taken:g} arcsec"},
        rules_seeing=f"The findings below take the rules' seeing, {RULES.seeing_arcsec:g} arcsec."
        if taken != RULES.seeing_arcsec
        else "",
        target=answer.targets[0].called if answer.targets else "",
        left_out=_left_out(len(candidates) - len(found), len(found) - len(shown)),
        framed=framed,
        framed_said=framed_said,
        against=_against(answer, [number for number, _, _ in shown], seeing),
        credit=credit() if not all(one.own for one in answer.targets) else "",
        query=query,
        rigs=tuple((one.id, one.name) for one in bench.rigs()),
    )
