"""What the Scout found, in sentences."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from server.domain.findings import Amount
from server.domain.measure import Money
from server.domain.observer import UnitSystem
from server.domain.parts import KINDS, CataloguedPart
from server.domain.scout.candidates import Candidate
from server.domain.scout.needs import HOURS_STEP, STEPS, MeasureName
from server.domain.scout.usual import THICKNESS_MM
from server.domain.sky.reckoning import surface_of
from server.domain.sky.usual_targets import UsualTarget
from server.flow.scout import Answer, Gain, NeedLine, Why, contradiction_of, why_not
from server.rim.phrasebook.forms import listed
from server.rim.scout_needs import MEASURE_WORDS
from server.rim.sky_words import two_digits
from server.rim.wording import KG_PER_POUND, write_amount, write_measure, write_money

NEED_WORDS = {
    "budget": "the budget",
    "lift_kg": "what you lift",
    "payload_share": "the share of the mount's rating",
    "hours": "the hours",
    "corner_arcsec": "the star in the corner",
    "corner_light": "the light in the corner",
    "fill_least": "how much a target fills at least",
    "fill_most": "how much a target fills at most",
    "guiding": "room for the guider",
    "filters": "room for filters",
    "collimate": "no collimating",
    "spikes": "no spikes",
}
FAILS = {"collimate": "it asks to be collimated", "spikes": "it draws spikes"}
LEFT_OPEN = {
    "budget": "cost is told, not limited",
    "lift_kg": "any weight",
    "payload_share": "any load",
    "hours": "any time",
    "corner_arcsec": "any corner",
    "corner_light": "any corner",
    "fill_least": "a target may be small",
    "fill_most": "a target may be cut off",
    "guiding": "no guider is counted",
    "filters": "nothing is counted for filters",
    "collimate": "either",
    "spikes": "either",
}
"""What it means to leave a need open."""


def counted(number: int, noun: str) -> str:
    """So many of them: 1 tube, 3 tubes."""
    return f"{number:,} {noun}" if number == 1 else f"{number:,} {noun}s"


def measure_text(
    name: MeasureName | str, value: float, currency: str, units: UnitSystem, finer: int = 0
) -> str:
    """A measure as a person reads it; "not known yet" for nan. finer: so many more digits."""
    if math.isnan(value):
        return "not known yet"
    if name == "cost":
        return write_money(Money(hundredths=round(100.0 * value), currency=currency))
    if name in ("load", "lift"):
        return write_amount(Amount(value=value, dimension="mass", digits=1 + finer), units)
    if name == "hours":
        return f"{value:,.{1 + finer}f} h" if finer else f"{two_digits(value)} h"
    if name in ("star", "corner"):
        return f"{value:.{1 + finer}f} arcsec"
    if name == "corner_px":
        return f"{value:.1f} px"
    if name == "room":
        return write_amount(Amount(value=value, dimension="length", digits=1), units)
    if name == "power":
        return f"{value:.0f} W"
    return f"{100 * value:.{finer}f} %"


def kind_words(usual: UsualTarget) -> str:
    """A kind of target with the sizes that are usual of it: "small galaxies, 2.5' to 3.7'"."""
    ends = usual.low_arcmin, usual.high_arcmin
    low, high = (f"{one:.1f}" if one < 10.0 else f"{one:.0f}" for one in ends)
    return f"{usual.target.name}, {low}' to {high}'"


def names_of(answer: Answer, candidate: Candidate) -> tuple[str, str]:
    """The tube's name, and that of what stands behind it."""
    parts: Mapping[int, CataloguedPart] = answer.table.choice.by_number
    numbers = candidate.corrector, candidate.camera, candidate.mount
    return parts[candidate.tube].name, ", ".join(parts[number].name for number in numbers if number)


def whole_name(answer: Answer, number: int) -> str:
    """A combination by all its parts."""
    tube, behind = names_of(answer, answer.table.candidate(number))
    return f"{tube} with {behind}"


def without_words(answer: Answer) -> str:
    """Targets of which hours or fills cannot be told while others can be, "" where there is none."""
    dim = [one.called for one in answer.targets if surface_of(one) is None]
    points = [one.called for one in answer.targets if one.ellipse_arcmin is None]
    said = []
    if dim and answer.site is not None and answer.site.sky is not None:
        said.append(f"Hours are without {listed(dim)}, whose surface brightness is not known.")
    if points:
        said.append(f"Fills are without {listed(points)}, whose size is not known.")
    return " ".join(said)


def said_of(answer: Answer) -> str:
    """The answer in a sentence or two."""
    count, passing, front = answer.table.count, len(answer.passing), len(answer.front)
    said = f"Of {counted(count, 'combination')} {passing:,} {'meets' if passing == 1 else 'meet'} your needs"
    if not passing:
        return f"{said}."
    tubes = len(answer.tubes_of(answer.front))
    names = [MEASURE_WORDS[name] for name in answer.needs.front]
    over = listed(names)
    if not front:
        of = "it" if passing == 1 else "none of them"
        known = ("is" if len(names) == 1 else "are all") + (" not" if passing == 1 else "")
        return f"{said}; of {of} {over} {known} known."
    verb = "is" if tubes == 1 else "are"
    return f"{said}; {counted(tubes, 'tube')} {verb} not beaten by another in {over}."


def step_words(answer: Answer, units: UnitSystem) -> str:
    """In which steps combinations are counted as practically equal."""
    steps = [
        f"{100 * HOURS_STEP:.0f} % of the {MEASURE_WORDS[name]}"
        if name == "hours"
        else f"{measure_text(name, STEPS[name], answer.needs.currency, units, 1)} of {MEASURE_WORDS[name]}"
        for name in answer.needs.front
    ]
    return f"Their figures come to the same in steps of {listed(steps)}."


def gain_words(line: NeedLine, gains: Sequence[Gain], currency: str, units: UnitSystem) -> str:
    """What relaxing a need brings."""
    if line.measure in ("collimate", "spikes"):
        tubes = counted(len(gains[-1].tubes), "tube")
        what = "Collimating" if line.name == "collimate" else "Spikes"
        return f"{what} would bring {tubes} and {counted(gains[-1].combinations, 'combination')} more."
    if line.measure == "room":
        last = gains[-1]
        more = counted(last.combinations, "combination")
        more = f"{counted(len(last.tubes), 'tube')} and {more}" if last.tubes else more
        return f"Going without {NEED_WORDS[line.name]} would bring {more} more."
    pieces = []
    for one in (gains[0], *gains[-1:]) if len(gains) > 1 else gains:
        more = counted(len(one.tubes), "tube") if one.tubes else counted(one.combinations, "combination")
        limit = measure_text(line.measure, _out(line, one.limit, units), currency, units)
        pieces.append(f"{limit} brings {more} more")
    start = measure_text(line.measure, line.limit, currency, units)
    words = NEED_WORDS[line.name]
    return f"{words[:1].upper()}{words[1:]}, {start} now: {'; '.join(pieces)}."


def _out(line: NeedLine, limit: float, units: UnitSystem) -> float:
    """A limit rounded, in the reader's unit, so that it lets through what it was found for."""
    digits = {"cost": 0, "load": 1, "lift": 1, "corner": 1, "star": 1}.get(str(line.measure), 2)
    if line.measure == "hours":
        digits = 1 - math.floor(math.log10(limit)) if limit > 0 else 1
    pounds = units == "imperial" and line.measure in ("load", "lift")
    step = 10.0**-digits * (KG_PER_POUND if pounds else 1.0)
    return (math.ceil(limit / step - 1e-9) if line.at_most else math.floor(limit / step + 1e-9)) * step


def _beside_limit(line: NeedLine, value: float, currency: str, units: UnitSystem) -> str:
    """A figure and the limit that it fails, with as many digits as tell them apart."""
    told = ["", ""]
    for finer in range(4):
        told = [measure_text(line.measure, one, currency, units, finer) for one in (value, line.limit)]
        # Hours have their digits by their size: 1.0 and 1.00 are no two figures.
        if len({float(one.split()[0].replace(",", "")) for one in told}) > 1:
            break
    return " where ".join(told)


def _too_little(line: NeedLine, mm: float, units: UnitSystem) -> str:
    """Of the room before the camera so much is missing."""
    return f"{NEED_WORDS[line.name]}, {measure_text('room', max(-mm, 0.05), '', units)} too little"


def beside_words(answer: Answer, units: UnitSystem) -> str:
    """What each combination carries by the needs, and what of it nobody has entered; "" for nothing."""
    choice, said = answer.table.choice, []
    for item in choice.beside:
        thick, mass = getattr(item.part, "length_mm", None), getattr(item.part, "mass_kg", None)
        whose = "the club’s" if item.id in choice.borrowed else "yours"
        price = whose if item.id in choice.owned else write_money(item.part.price) or "no price known"
        figures = (write_measure(thick, "length", units), write_measure(mass, "mass", units), price)
        said.append(f"{item.name} is counted with each ({', '.join(filter(None, figures))}).")
    for kind in choice.lacking:
        where = "in the catalogue" if answer.needs.considered else "on your shelf"
        name = KINDS[kind].kind_words
        line = f"Not known yet: no {name} {where}; its mass and price are not counted"
        usual = THICKNESS_MM.get(kind)
        if usual is not None:
            ends = (measure_text("room", one, "", units) for one in (usual.value, usual.low, usual.high))
            line += ", its room is taken as {}, {} to {} (common practice)".format(*ends)
        said.append(f"{line}.")
    return " ".join(said)


def why_not_words(answer: Answer, number: int, units: UnitSystem) -> str:
    """Why a combination is not on the front, with the name of what beats it or stands for it."""
    why = why_not(answer, number)
    stands = why.alike if why.alike is not None else why.beaten_by
    return why_words(answer, why, "" if stands is None else whole_name(answer, stands), units)


def why_words(answer: Answer, why: Why, other: str, units: UnitSystem) -> str:
    """Why a combination is not on the front. other: the name of what beats it, or is alike."""
    currency = answer.needs.currency
    if why.failed:
        fails = "; ".join(
            FAILS.get(line.name)
            or (line.measure == "room" and _too_little(line, value, units))
            or f"{NEED_WORDS[line.name]}, {_beside_limit(line, value, currency, units)} is the limit"
            for line, value in why.failed
        )
        return f"It fails your needs: {fails}."
    if why.alike is not None:
        return f"It is practically equal to {other}, which stands for it."
    if why.beaten_by is not None:
        better = [MEASURE_WORDS[one] for one in why.better]
        said = f"{other} beats it"
        if better:
            said += f" in {listed(better)}"
        rest = [MEASURE_WORDS[one] for one in why.same]
        return said + (f", with practically the same {listed(rest)}." if rest else ".")
    if why.unknown:
        lacking = listed([MEASURE_WORDS[one] for one in why.unknown])
        return f"Whether anything beats it cannot be told: {lacking} not known yet."
    return "Nothing that meets your needs beats it."


def against_words(answer: Answer) -> str:
    """The needs that nothing meets together, "" where something meets all."""
    lines = contradiction_of(answer)
    if not lines:
        return ""
    names = [NEED_WORDS[line.name] for line in lines]
    if len(names) == 1:
        return f"Nothing meets {names[0]} alone: relax it, or enter other candidates."
    return f"Nothing meets {listed(names)} together: relax one of them."
