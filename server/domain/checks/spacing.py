"""Does the sensor sit at the back focus that the corrector asks for?"""

from __future__ import annotations

from dataclasses import dataclass

from server.domain.checks.seating import open_behind
from server.domain.checks.spacing_inputs import inputs_of, tolerance_inputs, window_input
from server.domain.connections import mate
from server.domain.findings import Amount, Figure, Weight
from server.domain.measure import nominal
from server.domain.missing import lacks
from server.domain.parts import Corrector, Focuser, PathPart, Shim
from server.domain.said import Missing, Said, named, said
from server.domain.train import Place
from server.domain.verdicts import Act, Advice, Later, Verdict
from server.domain.workings.case import Case, amount, not_known
from server.domain.workings.worked import LARGEST_FACTOR, SMALLEST_FACTOR, Spacing
from server.optics.tolerance import Spread, root_sum_square, worst_case

SAME_FACTOR = 0.005
"""Half of the last digit in which a sentence shows a factor."""
STOP_AT_WINDOWS = 2.0
"""Beyond twice the window the corners are lost rather than touched (a choice of ours, no source)."""
EDGE_MM = 1e-9
"""A window's own edge belongs to it; a picometre of float rounding must not turn a verdict."""
SHOWN_MM = 0.005
"""Half of the last digit that a sentence shows: an error below it reads as nothing."""


def check_spacing(case: Case) -> tuple[Verdict, ...]:
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
        if part.back_focus_table:
            what = lacks(corrector, "back_focus_table")
            says = (said("enter", missing=what), said("spacing.beyond_table"))
            return (not_known("spacing.asked", (what,), *says),)
        what = lacks(corrector, "back_focus_mm")
        return (not_known("spacing.asked", (what,), said("enter", missing=what)),)
    if spacing.actual_mm is None or spacing.error_mm is None:
        part = corrector.part
        _, long, _ = window_of(case, part)
        if _sure_error_mm(spacing, asked) > long + EDGE_MM:
            return (_already_too_long(case, spacing, asked),)
        return (
            Verdict(
                code="spacing.unknown",
                weight="unknown",
                says=(
                    said(
                        "spacing.so_far",
                        corrector=corrector,
                        asked=amount(asked, "length", 2),
                        known=amount(spacing.known_mm, "length", 2),
                    ),
                    said("enter", missing=spacing.missing),
                ),
                inputs=Later(inputs_of, case, spacing),
                missing=(*spacing.missing, *spacing.glass_missing),
            ),
        )
    return (_judged(case, spacing, asked, spacing.actual_mm, spacing.error_mm),)


def _free(case: Case, spacing: Spacing, asked: float | None) -> Verdict:
    """A corrector whose distance only sets its factor: which one it then has."""
    corrector = spacing.corrector
    factor, stated = spacing.working_factor, nominal(corrector.part.factor)
    inputs = inputs_of(case, spacing)
    missing: tuple[Missing, ...] = ()
    weight: Weight = "sound"
    code = "spacing.free"
    amounts: dict[str, Amount] = {}
    if factor is None or stated is None:
        missing = (lacks(corrector, "factor"),)
        key = "spacing.free_no_factor"
    elif asked is None:
        amounts["stated"] = amount(stated, "times", 2)
        key = "spacing.free_as_stated"
    elif spacing.actual_mm is None:
        missing = spacing.missing
        key = "spacing.free_no_length"
    else:
        amounts = {
            "actual": amount(spacing.actual_mm, "length", 1),
            "asked": amount(asked, "length", 1),
            "factor": amount(factor, "times", 2),
            "stated": amount(stated, "times", 2),
        }
        key = code
        if not SMALLEST_FACTOR <= factor <= LARGEST_FACTOR:
            weight, key = "stop", "spacing.no_image"
    same = factor is not None and stated is not None and abs(factor - stated) < SAME_FACTOR
    return Verdict(
        code="spacing.unknown" if missing else "spacing.no_image" if weight == "stop" else code,
        weight="unknown" if missing else weight,
        says=(said(key, corrector=corrector, same=same, missing=missing, **amounts),),
        # A figure is shown with what it comes from: with nothing known but the factor there is none.
        figure=Figure(label="factor", amount=amount(factor, "times", 3)) if factor and inputs else None,
        inputs=inputs,
        missing=missing,
        working="spacing.free",
    )


def spacing_is_off(case: Case) -> bool:
    """Whether the sensor is known to stand outside the window that the corrector allows."""
    spacing = case.spacing
    if spacing is None or spacing.free or spacing.error_mm is None:
        return False
    short, long, _ = window_of(case, spacing.corrector.part)
    return not _within(spacing.error_mm, short, long)


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


def _judged(case: Case, spacing: Spacing, asked: float, actual: float, error: float) -> Verdict:
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
    says = [_placed(spacing, error, amounts, inside=inside)]
    remedies: list[Advice] = []
    weight: Weight
    if error < -short - EDGE_MM and (draw.missing or error + draw.travel_mm >= -short - EDGE_MM):
        # Only the focuser's draw decides: unknown travel may bring the sensor to its place as well.
        weight, code = ("unknown" if missing else "watch"), "spacing.focuser"
        says.append(said("spacing.focuser", focusers=draw.focusers, error=amounts["error"]))
    elif missing and (inside or (error > 0 and may_be_glass)):
        weight, code = "unknown", "spacing.glass_unknown"
    elif inside:
        weight, code = "sound", "spacing.sound"
    else:
        over = abs(error) > STOP_AT_WINDOWS * side + EDGE_MM
        weight, code = ("stop" if over else "watch"), ("spacing.long" if error > 0 else "spacing.short")
        says.append(said("spacing.allowed", some=side > 0.0, window=amounts["window"]))
        remedies = _remedies(case, spacing, error, short, long)
    opened = open_behind(case, spacing.corrector)
    if opened > SHOWN_MM:
        further = amount(opened, "length", 1)
        says.append(said("spacing.open", open=further))
        if weight == "sound" and not _within(error + opened, short, long):
            weight, code = "watch", "spacing.open"
            says = [said("spacing.by_lengths", corrector=spacing.corrector, open=further)]
        if weight != "sound":
            # What is told of rings holds once the threads close.
            remedies = [Advice((said("spacing.close_first"),)), *remedies]
    if missing:
        says.append(said("spacing.not_wholly", missing=missing))
        if spacing.glass_unsure_mm:
            says.append(said("spacing.unsure", unsure=amount(spacing.glass_unsure_mm, "length", 2)))
    return Verdict(
        code=code,
        weight=weight,
        says=tuple(says),
        figure=Figure(
            label="sensor behind its place",
            amount=amount(error, "length", 2),
            uncertainty=max(worst.plus_mm, worst.minus_mm) if spreads else None,
        ),
        remedies=tuple(remedies),
        inputs=Later(
            lambda: (
                *inputs_of(case, spacing),
                window_input(case, spacing, side, whose),
                *tolerance_inputs(spreads, worst, likely),
            )
        ),
        missing=missing,
    )


def _within(error: float, short: float, long: float) -> bool:
    return -short - EDGE_MM <= error <= long + EDGE_MM


def _placed(spacing: Spacing, error: float, amounts: dict[str, Amount], *, inside: bool) -> Said:
    """Where the sensor sits against where it should."""
    key = "spacing.there" if abs(error) < SHOWN_MM else "spacing.inside" if inside else "spacing.off"
    return said(key, corrector=spacing.corrector, far=error > 0, **amounts)


def _sure_error_mm(spacing: Spacing, asked: float) -> float:
    """How far too far the sensor sits at least: by the lengths known, with the most that glass may ask."""
    return spacing.known_mm - asked - spacing.glass_bound_mm


def _already_too_long(case: Case, spacing: Spacing, asked: float) -> Verdict:
    """A length is missing, and those that are known are too long by themselves."""
    _, long, whose = window_of(case, spacing.corrector.part)
    over = amount(_sure_error_mm(spacing, asked), "length", 2)
    return Verdict(
        code="spacing.long",
        weight="stop",
        says=(
            said(
                "spacing.already_long",
                corrector=spacing.corrector,
                known=amount(spacing.known_mm, "length", 2),
                asked=amount(asked, "length", 2),
                over=over,
                glass=spacing.glass_missing,
            ),
            said("enter", missing=(*spacing.missing, *spacing.glass_missing)),
        ),
        figure=Figure(label="sensor behind its place", amount=over, at_least=True),
        inputs=Later(lambda: (*inputs_of(case, spacing), window_input(case, spacing, long, whose))),
        missing=(*spacing.missing, *spacing.glass_missing),
    )


@dataclass(frozen=True)
class _Draw:
    """What focusers behind the corrector may add to the spacing, mm, and what to enter for it."""

    focusers: tuple[Place, ...]
    travel_mm: float
    missing: tuple[Missing, ...]


def _draw_of_focusers(spacing: Spacing) -> _Draw:
    found: list[Place] = []
    travel, missing = 0.0, []
    for length in spacing.lengths:
        part = length.place.part
        if isinstance(part, Focuser):
            found.append(length.place)
            if part.travel_mm is None:
                missing.append(lacks(length.place, "travel_mm"))
            else:
                travel += part.travel_mm.nominal
    return _Draw(tuple(found), travel, tuple(missing))


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


def _remedies(case: Case, spacing: Spacing, error: float, short: float, long: float) -> list[Advice]:
    """One part taken out, set to another length or put in that alone brings the sensor inside the window.

    Best first, three at most; where no one part does it, by how much to change the length.
    """
    found: list[tuple[float, Advice]] = []
    for length in spacing.lengths:
        place = length.place
        left = error - length.measure.nominal
        if error > 0 and _within(left, short, long) and _may_come_out(case, spacing, place):
            act = Act(verb="remove", part=named(place), place=place.key)
            found.append((abs(left), _one_part("spacing.take_out", act, length.measure.nominal, left)))
        wanted = _settable(place, length.measure.nominal - error)
        if wanted is not None:
            left = error + wanted - length.measure.nominal
            if _within(left, short, long):
                act = Act(verb="set_length", part=named(place), place=place.key, length_mm=wanted)
                found.append((abs(left), _one_part("spacing.set", act, wanted, left)))
    found += _rings_to_add(case, error, short, long)
    if found:
        return [remedy for _, remedy in sorted(found, key=lambda pair: pair[0])[:3]]
    change = amount(abs(error), "length", 2)
    if error < 0:
        return [Advice((said("spacing.add", change=change),))]
    between = sum(item.measure.nominal for item in spacing.lengths if item.place is not spacing.camera)
    if between < error - long - EDGE_MM:
        # Even the bare camera on the corrector sits too far away.
        return [Advice((said("spacing.camera_too_deep", camera=spacing.camera),))]
    return [Advice((said("spacing.take", change=change),))]


def _rings_to_add(case: Case, error: float, short: float, long: float) -> list[tuple[float, Advice]]:
    """Each owned ring that alone brings the sensor inside the window, at the first joint that it fits."""
    found: dict[int, tuple[float, Advice]] = {}
    for at, rings in case.rings.items():
        for ring in rings:
            length = ring.part.length_mm if isinstance(ring.part, PathPart) else None
            if length is None or ring.id in found or not _within(error + length.nominal, short, long):
                continue
            left = error + length.nominal
            act = Act(verb="add", part=named(ring), at=at)
            found[ring.id] = (abs(left), _one_part("spacing.put_in", act, length.nominal, left))
    return list(found.values())


def _one_part(key: str, act: Act, length_mm: float, left_mm: float) -> Advice:
    """What one part of that length does, and where the sensor sits then."""
    return Advice(
        (
            said(
                key,
                part=act.part,
                length=amount(length_mm, "length", 2),
                there=abs(left_mm) < SHOWN_MM,
                far=left_mm > 0,
                left=amount(abs(left_mm), "length", 2),
            ),
        ),
        act,
    )


def _settable(place: Place, wanted_mm: float) -> float | None:
    """The length nearest to a wanted one that an adjustable part can be set to, None where none is."""
    lengths = place.part.settable
    if lengths is None:
        return None
    shortest, longest = lengths.shortest_mm, lengths.longest_mm
    step = 0.01 if lengths.step_mm is None else lengths.step_mm
    if not shortest - step / 2 <= wanted_mm <= longest + step / 2:
        return None
    steps = round((wanted_mm - shortest) / step)
    return min(longest, round(shortest + steps * step, 6))


def _may_come_out(case: Case, spacing: Spacing, place: Place) -> bool:
    """Whether the train still closes without this part: a shim, or one whose neighbours mate."""
    if place is spacing.camera or not place.part.only_joins:
        return False
    if isinstance(place.part, Shim):
        return True
    upper = next((joint.upper for joint in case.train.joints if joint.lower is place), None)
    lower = next((joint.lower for joint in case.train.joints if joint.upper is place), None)
    if upper is None or lower is None:
        return False
    return mate(upper.camera_connection, lower.sky_connection).holds
