"""Does the sensor sit at the back focus that the corrector asks for?"""

from __future__ import annotations

from dataclasses import dataclass

from server.domain.checks.case import Case, amount, listed, literal, say, unknown
from server.domain.checks.in_beam import GLASS_FORMULA, GLASS_SOURCE
from server.domain.checks.spacing_inputs import inputs_of, tolerance_inputs, window_input
from server.domain.checks.worked import LARGEST_FACTOR, SMALLEST_FACTOR, Spacing
from server.domain.connections import mate
from server.domain.findings import Action, Figure, Finding, Phrase, Remedy
from server.domain.measure import nominal
from server.domain.missing import lacks
from server.domain.parts import Adapter, Corrector, Focuser, Shim, SpacerRing
from server.domain.train import Place
from server.optics.tolerance import Spread, root_sum_square, worst_case

FORMULA = (
    "error = reference + sum of lengths + flange distance - (back focus + sum of shifts by glass); "
    f"{GLASS_FORMULA}; worst case = sum of tolerances; likely = root of the sum of their squares"
)
SOURCE = f"{GLASS_SOURCE} Likely error: JCGM 100:2008, 5.1.2."
SAME_FACTOR = 0.005
"""Half of the last digit in which a sentence shows a factor."""
STOP_AT_WINDOWS = 2.0
"""Beyond twice the window the corners are lost rather than touched (a choice of ours, no source)."""
EDGE_MM = 1e-9
"""A window's own edge belongs to it; a picometre of float rounding must not turn a verdict."""
SHOWN_MM = 0.005
"""Half of the last digit that a sentence shows: an error below it reads as nothing."""


def check_spacing(case: Case) -> tuple[Finding, ...]:
    """Compare the distance from the reference shoulder to the sensor with what the corrector asks for."""
    spacing = case.spacing
    if spacing is None:
        return ()
    corrector = spacing.corrector.item
    asked = spacing.asked_mm
    if spacing.free:
        return (_free(case, spacing, asked),)
    if asked is None:
        part = corrector.part
        what = lacks(corrector, "back_focus_mm", "the back focus that {} asks for")
        why = ""
        if part.back_focus_table:
            what = lacks(corrector, "back_focus_table", "the back focus of {} at this tube's focal length")
            why = " Its table does not reach this tube, and nothing is guessed beyond it."
        return (
            unknown(
                "spacing.asked",
                "Spacing",
                literal(f"Not known yet: enter {what}.{why}"),
                (what,),
                source=SOURCE,
            ),
        )
    if spacing.actual_mm is None or spacing.error_mm is None:
        part = corrector.part
        _, long, _ = window_of(case, part)
        if spacing.known_mm - asked - spacing.glass_bound_mm > long + EDGE_MM:
            return (_already_too_long(case, spacing, asked),)
        sentence = (
            literal(f"{corrector.name} asks for ")
            + "{asked}; the lengths known so far come to {known}."
            + literal(f" Not known yet: enter {listed(spacing.missing)}.")
        )
        return (
            Finding(
                code="spacing.unknown",
                weight="unknown",
                title="Spacing",
                phrase=say(
                    sentence,
                    asked=amount(asked, "length", 2),
                    known=amount(spacing.known_mm, "length", 2),
                ),
                inputs=inputs_of(case, spacing),
                formula=FORMULA,
                source=SOURCE,
                missing=(*spacing.missing, *spacing.glass_missing),
            ),
        )
    return (_judged(case, spacing, asked, spacing.actual_mm, spacing.error_mm),)


def _free(case: Case, spacing: Spacing, asked: float | None) -> Finding:
    """A corrector whose distance only sets its factor: which one it then has."""
    part, name = spacing.corrector.part, literal(spacing.corrector.name)
    factor, stated = spacing.working_factor, nominal(part.factor)
    weight, code = "sound", "spacing.free"
    inputs = inputs_of(case, spacing)
    amounts = {}
    missing: tuple[str, ...] = ()
    if factor is None or stated is None:
        missing = (lacks(spacing.corrector, "factor", "the factor"),)
        sentence = f"{name} may stand at any distance. Not known yet: enter its factor."
    elif asked is None:
        amounts["stated"] = amount(stated, "times", 2)
        sentence = (
            f"{name} may stand at any distance; its factor is taken as the stated {{stated}}, since nobody "
            f"says at "
            "which distance it holds."
        )
    elif spacing.actual_mm is None:
        missing = spacing.missing
        sentence = f"{name} may stand at any distance, which sets its factor." + literal(
            f" Not known yet: enter {listed(missing)}."
        )
    else:
        amounts |= {
            "actual": amount(spacing.actual_mm, "length", 1),
            "asked": amount(asked, "length", 1),
            "factor": amount(factor, "times", 2),
            "stated": amount(stated, "times", 2),
        }
        sentence = f"{name} may stand at any distance: {{actual}} from the sensor it works by {{factor}}"
        sentence += "." if abs(factor - stated) < SAME_FACTOR else ", at {asked} by the stated {stated}."
        if not SMALLEST_FACTOR <= factor <= LARGEST_FACTOR:
            weight, code = "stop", "spacing.no_image"
            sentence = f"{name} forms no image so far from the sensor: bring it nearer than {{actual}}."
    return Finding(
        code=code if not missing else "spacing.unknown",
        weight=weight if not missing else "unknown",
        title="Spacing",
        phrase=say(sentence, **amounts),
        # A figure is shown with what it comes from: with nothing known but the factor there is none.
        figure=Figure(label="factor", amount=amount(factor, "times", 3)) if factor and inputs else None,
        inputs=inputs,
        formula="m = 1 - d / f, f = d0 / (1 - m0)",
        source="Gaussian optics of a thin lens.",
        missing=missing,
    )


def window_of(case: Case, corrector: Corrector) -> tuple[float, float, str]:
    """How far too short and too long the sensor may sit (mm, both positive), and whose figure that is."""
    figure = corrector.back_focus_mm
    if (
        figure is not None
        and not corrector.back_focus_table
        and figure.plus is not None
        and figure.minus is not None
    ):
        return figure.minus, figure.plus, "corrector"
    return case.rig.rules.spacing_mm, case.rig.rules.spacing_mm, "rules"


def _judged(case: Case, spacing: Spacing, asked: float, actual: float, error: float) -> Finding:
    corrector = spacing.corrector.part
    short, long, whose = window_of(case, corrector)
    spreads = _spreads(spacing)
    worst, likely = worst_case(spreads), root_sum_square(spreads)
    side = long if error > 0 else short
    inside = _within(error, short, long)
    # Glass that is not wholly known only ever asks for more: it can take back an error on the long side.
    may_be_glass = bool(spacing.glass_missing) and error - spacing.glass_bound_mm <= long + EDGE_MM
    draw = _draw_of_focusers(spacing)
    missing = (*spacing.glass_missing, *draw.missing)
    amounts = {
        "error": amount(abs(error), "length", 2),
        "actual": amount(actual, "length", 2),
        "asked": amount(asked, "length", 2),
        "window": amount(side, "length", 2),
        "worst": amount(max(worst.plus_mm, worst.minus_mm), "length", 2),
        "likely": amount(max(likely.plus_mm, likely.minus_mm), "length", 2),
    }
    sentence = _placed(spacing, error, inside=inside)
    remedies: list[Remedy] = []
    if error < -short - EDGE_MM and (draw.missing or error + draw.travel_mm >= -short - EDGE_MM):
        # Only the focuser's draw decides: unknown travel may bring the sensor to its place as well.
        weight, code = ("unknown" if missing else "watch"), "spacing.focuser"
        sentence += (
            f" {literal(listed(draw.names))} stands behind the corrector: drawn out by {{error}} it brings "
            "the sensor to its place, and every change of focus takes it away again."
        )
    elif missing and (inside or (error > 0 and may_be_glass)):
        weight, code = "unknown", "spacing.glass_unknown"
    elif inside:
        weight, code = "sound", "spacing.sound"
    else:
        over = abs(error) > STOP_AT_WINDOWS * side + EDGE_MM
        weight, code = ("stop" if over else "watch"), ("spacing.long" if error > 0 else "spacing.short")
        sentence += " {window} is allowed." if side else " No error is allowed."
        remedies = _remedies(case, spacing, error, short, long)
    if missing:
        sentence += literal(f" Not wholly known yet: enter {listed(missing)}.")
        if spacing.glass_unsure_mm:
            amounts["unsure"] = amount(spacing.glass_unsure_mm, "length", 2)
            sentence += " The window's glass may ask for {unsure} more."
    return Finding(
        code=code,
        weight=weight,
        title="Spacing",
        phrase=Phrase(template=sentence, amounts=amounts),
        figure=Figure(
            label="sensor behind its place",
            amount=amount(error, "length", 2),
            uncertainty=max(worst.plus_mm, worst.minus_mm) if spreads else None,
        ),
        remedies=tuple(remedies),
        inputs=(
            *inputs_of(case, spacing),
            window_input(case, spacing, side, whose),
            *tolerance_inputs(spreads, worst, likely),
        ),
        formula=FORMULA,
        source=SOURCE,
        missing=missing,
    )


def _within(error: float, short: float, long: float) -> bool:
    return -short - EDGE_MM <= error <= long + EDGE_MM


def _placed(spacing: Spacing, error: float, *, inside: bool) -> str:
    """Where the sensor sits against where it should, as a sentence with its amounts."""
    name = literal(spacing.corrector.name)
    if abs(error) < SHOWN_MM:
        return f"The sensor sits where {name} asks for it: {{actual}} behind it, of {{asked}}."
    where = "far" if error > 0 else "close"
    if inside:
        return (
            f"The sensor sits where {name} asks for it: {{error}} too {where}, of the {{window}} allowed "
            f"({{actual}}, "
            "of {asked})."
        )
    return (
        f"The sensor sits {{error}} too {where} behind {name}: at {{actual}}, where {{asked}} is asked for."
    )


def _already_too_long(case: Case, spacing: Spacing, asked: float) -> Finding:
    """A length is missing, and those that are known are too long by themselves."""
    corrector = spacing.corrector.part
    _, long, whose = window_of(case, corrector)
    return Finding(
        code="spacing.long",
        weight="stop",
        title="Spacing",
        phrase=say(
            literal(f"The lengths known so far put the sensor behind {spacing.corrector.name} at ")
            + "{known} or more, and {asked} is asked for: {over} too far at least."
            + literal(f" Not known yet: enter {listed(spacing.missing)}."),
            known=amount(spacing.known_mm, "length", 2),
            asked=amount(asked, "length", 2),
            over=amount(spacing.known_mm - asked, "length", 2),
        ),
        figure=Figure(
            label="sensor behind its place",
            amount=amount(spacing.known_mm - asked, "length", 2),
            at_least=True,
        ),
        inputs=(*inputs_of(case, spacing), window_input(case, spacing, long, whose)),
        formula=FORMULA,
        source=SOURCE,
        missing=(*spacing.missing, *spacing.glass_missing),
    )


@dataclass(frozen=True)
class _Draw:
    """What focusers behind the corrector may add to the spacing, mm, and what to enter for it."""

    names: tuple[str, ...]
    travel_mm: float
    missing: tuple[str, ...]


def _draw_of_focusers(spacing: Spacing) -> _Draw:
    names: list[str] = []
    travel, missing = 0.0, []
    for length in spacing.lengths:
        part = length.place.part
        if isinstance(part, Focuser):
            names.append(length.place.name)
            if part.travel_mm is None:
                missing.append(lacks(length.place, "travel_mm", "the travel"))
            else:
                travel += part.travel_mm.nominal
    return _Draw(tuple(names), travel, tuple(missing))


def _spreads(spacing: Spacing) -> list[Spread]:
    """The tolerances of all that is added, and, taken away, of the glass that lengthens what is asked."""
    corrector = spacing.corrector.part
    added = [length.measure for length in spacing.lengths]
    if spacing.reference_mm and corrector.reference_mm is not None:
        added.append(corrector.reference_mm)
    found = [Spread(m.plus or 0.0, m.minus or 0.0) for m in added]
    for glass in spacing.glass:
        share = glass.shift_per_mm
        found.append(
            Spread((glass.thickness.plus or 0.0) * share, (glass.thickness.minus or 0.0) * share).subtracted()
        )
    return [spread for spread in found if spread.plus_mm or spread.minus_mm]


def _remedies(case: Case, spacing: Spacing, error: float, short: float, long: float) -> list[Remedy]:
    """One part taken out, set to another length or put in that alone brings the sensor inside the window.

    Best first, three at most; where no one part does it, by how much to change the length.
    """
    found: list[tuple[float, Remedy]] = []
    for length in spacing.lengths:
        place = length.place
        left = error - length.measure.nominal
        if error > 0 and _within(left, short, long) and _may_come_out(case, spacing, place):
            action = Action(verb="remove", words=f"Take out {place.name}", place=place.key)
            phrase = say(
                literal(f"Take out {place.name} ") + "({length}): " + _then(left),
                length=amount(length.measure.nominal, "length", 2),
                left=amount(abs(left), "length", 2),
            )
            found.append((abs(left), Remedy(phrase=phrase, action=action)))
        wanted = _settable(place, length.measure.nominal - error)
        if wanted is not None:
            left = error + wanted - length.measure.nominal
            if _within(left, short, long):
                action = Action(
                    verb="set_length", words=f"Set {place.name}", place=place.key, length_mm=wanted
                )
                phrase = say(
                    literal(f"Set {place.name} to ") + "{length}: " + _then(left),
                    length=amount(wanted, "length", 2),
                    left=amount(abs(left), "length", 2),
                )
                found.append((abs(left), Remedy(phrase=phrase, action=action)))
    found += _rings_to_add(case, error, short, long)
    if found:
        return [remedy for _, remedy in sorted(found, key=lambda pair: pair[0])[:3]]
    change = amount(abs(error), "length", 2)
    if error < 0:
        return [Remedy(phrase=say("Add {change} between corrector and camera.", change=change))]
    between = sum(item.measure.nominal for item in spacing.lengths if item.place is not spacing.camera)
    if between < error - long - EDGE_MM:
        # Even the bare camera on the corrector sits too far away.
        return [
            Remedy(
                phrase=say(
                    literal(
                        f"No ring can mend this: {spacing.camera.name} alone sits too deep. "
                        "It needs a camera of a shorter flange distance, or a corrector that asks for more."
                    )
                )
            )
        ]
    return [Remedy(phrase=say("Take {change} out between corrector and camera.", change=change))]


def _rings_to_add(case: Case, error: float, short: float, long: float) -> list[tuple[float, Remedy]]:
    """Each owned ring that alone brings the sensor inside the window, at the first joint that it fits."""
    found: dict[int, tuple[float, Remedy]] = {}
    for at, rings in case.rings.items():
        for ring in rings:
            length = ring.part.length_mm if isinstance(ring.part, SpacerRing | Adapter) else None
            if length is None or ring.id in found or not _within(error + length.nominal, short, long):
                continue
            left = error + length.nominal
            phrase = say(
                literal(f"Put in {ring.name} ") + "({length}) from your shelf: " + _then(left),
                length=amount(length.nominal, "length", 2),
                left=amount(abs(left), "length", 2),
            )
            action = Action(verb="add", words=f"Put {ring.name} in", part_id=ring.id, at=at)
            found[ring.id] = (abs(left), Remedy(phrase=phrase, action=action))
    return list(found.values())


def _then(left: float) -> str:
    """Where the sensor sits after a remedy."""
    if abs(left) < SHOWN_MM:
        return "then the sensor sits in its place."
    return "then the sensor sits {left} too " + ("far." if left > 0 else "close.")


def _settable(place: Place, wanted_mm: float) -> float | None:
    """The length nearest to a wanted one that an adjustable part can be set to, None where none is."""
    part, longest = place.part, place.adjustable_to_mm
    if longest is None or not isinstance(part, SpacerRing | Adapter) or part.length_mm is None:
        return None
    shortest = part.length_mm.nominal
    step = 0.01 if part.step_mm is None else part.step_mm.nominal
    if not shortest - step / 2 <= wanted_mm <= longest + step / 2:
        return None
    steps = round((wanted_mm - shortest) / step)
    return min(longest, round(shortest + steps * step, 6))


def _may_come_out(case: Case, spacing: Spacing, place: Place) -> bool:
    """Whether the train still closes without this part: a shim, or one whose neighbours mate."""
    if place is spacing.camera or place.part.kind not in ("spacer_ring", "shim", "adapter"):
        return False
    if isinstance(place.part, Shim):
        return True
    upper = next((joint.upper for joint in case.train.joints if joint.lower is place), None)
    lower = next((joint.lower for joint in case.train.joints if joint.upper is place), None)
    if upper is None or lower is None:
        return False
    return mate(upper.camera_connection, lower.sky_connection).holds
