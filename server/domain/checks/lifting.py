"""Is a load above what its lifter wants to lift, or above what anybody is advised to lift alone?"""

from __future__ import annotations

from collections.abc import Iterable

from server.domain.cautions import HEAVY_ALONE_KG
from server.domain.checks.lifting_equation import CLINICIAN, EQUATION_SOURCE, GUIDANCE, judge_lift, line_input
from server.domain.checks.lifting_relief import relieve
from server.domain.findings import Amount, Figure, Finding, Input
from server.domain.load.lifts import work_lifts
from server.domain.load.sheet import LiftLine
from server.domain.workings.case import COMMON_PRACTICE, EDGE_KG, Case, amount, listed, literal, say
from server.mechanics.lifting import METRIC

FORMULA = (
    "load = sum of the masses that go together, against the lifter's own limit; of a load that several lift, "
    "the sum over how many they are"
)
SOURCE = (
    "Sum of masses, against a limit that the lifter set. Two people, or smaller loads, above what one wants "
    f"to lift: {COMMON_PRACTICE}"
)
MOST = "load = sum of the masses that go together, against the load constant of the lifting equation"
USUAL = "load = sum of the masses that go together, against 20 lb (9.07 kg)"
USUAL_SOURCE = (
    f"Sum of masses, against 20 lb, which many keep as the most they carry alone: {COMMON_PRACTICE}"
)


def check_lifting(case: Case) -> tuple[Finding, ...]:
    """Name the loads above the lifter's own limit, or without one above what is usual; what the lifting
    equation says of planned lifts; and the loads for which no way to lift them is advised to one person.
    Silent where nobody set a limit nor planned a lift and no load is known to be heavy: what rides or stands
    asks for its own mass.
    """
    limit = case.rig.load.lift_limit_kg
    lines = work_lifts(case)
    by_limit = _unlimited(lines) if limit is None else _by_limit(case, limit, lines)
    # Of a load above one's own limit the equation cannot say that it is right.
    by_equation = tuple(
        one
        for line in lines
        if (one := judge_lift(case, line)) is not None
        and not (one.weight == "sound" and line.over_personal_kg is not None)
    )
    if any(one.weight in ("stop", "watch") for one in by_equation):
        # Within one's own limit, and yet not to be lifted so: the one word is enough.
        by_limit = tuple(one for one in by_limit if one.weight != "sound")
    return (*by_limit, *by_equation, *_above_constant(case, lines))


def _by_limit(case: Case, limit: float, lines: tuple[LiftLine, ...]) -> tuple[Finding, ...]:
    over = _heaviest_first(line for line in lines if line.over_personal_kg is not None)
    missing = _missing(lines)
    amounts = {"limit": amount(limit, "mass", 1)}
    inputs = (
        Input(label="limit", amount=amounts["limit"], basis="typed", of="the plan of the load"),
        *(line_input(line) for line in lines),
    )
    unknown_words = literal(f" Not known yet: enter {listed(missing)}.") if missing else ""
    if over:
        told, loads = _told(over, limit)
        alone = " Do not lift it alone." if any(line.people == 1 for line in over) else " Do not lift it so."
        return (
            Finding(
                code="lifting.over_limit",
                weight="stop",
                title="Lifting",
                phrase=say(
                    f"Above your own limit of {{limit}}: {told}.{alone} {GUIDANCE}" + unknown_words,
                    **amounts,
                    **loads,
                ),
                figure=Figure(label="heaviest load", amount=loads["load_0"], at_least=bool(over[0].missing)),
                remedies=tuple(one for line in over for one in relieve(case.rig, line, limit)),
                inputs=inputs,
                formula=FORMULA,
                source=SOURCE,
                missing=missing,
            ),
        )
    if missing:
        return (
            Finding(
                code="lifting.unknown",
                weight="unknown",
                title="Lifting",
                phrase=say(
                    f"No load is known to be above your own limit of {{limit}}.{unknown_words}", **amounts
                ),
                inputs=inputs,
                formula=FORMULA,
                source=SOURCE,
                missing=missing,
            ),
        )
    # What several lift is nobody's to call sound: the limit is that of one.
    alone_lines = [line for line in lines if line.people == 1]
    # Nor is a load above the equation's load constant, however high somebody sets the own limit.
    if not alone_lines or any(line.share_kg > METRIC.load + EDGE_KG for line in lines):
        return ()
    heaviest = max(alone_lines, key=lambda line: line.mass_kg)
    return (
        Finding(
            code="lifting.sound",
            weight="sound",
            title="Lifting",
            phrase=say(
                "Every load that one person lifts is within your own limit of {limit}. How it is lifted "
                f"matters as much. {GUIDANCE}",
                **amounts,
            ),
            figure=Figure(label="heaviest load", amount=amount(heaviest.mass_kg, "mass", 1)),
            inputs=inputs,
            formula=FORMULA,
            source=SOURCE,
        ),
    )


def _unlimited(lines: tuple[LiftLine, ...]) -> tuple[Finding, ...]:
    """What is to be said of the loads that nobody planned, where their lifter set no limit."""
    open_lines = [line for line in lines if line.planned is None and line.mass_kg <= METRIC.load]
    heavy = _heaviest_first(line for line in open_lines if line.mass_kg > HEAVY_ALONE_KG + EDGE_KG)
    if not heavy:
        return ()
    told, loads = _told(heavy, HEAVY_ALONE_KG)
    missing = _missing(open_lines)
    unknown_words = literal(f" Not known yet: enter {listed(missing)}.") if missing else ""
    return (
        Finding(
            code="lifting.heavy_alone",
            weight="watch",
            title="Lifting",
            phrase=say(
                "Many lift no more than {usual} alone (common practice, no source). Above it: "
                f"{told}. Say the most that you lift alone, or plan the lift. {CLINICIAN}{unknown_words}",
                usual=amount(HEAVY_ALONE_KG, "mass", 1),
                **loads,
            ),
            figure=Figure(label="heaviest load", amount=loads["load_0"], at_least=bool(heavy[0].missing)),
            inputs=tuple(line_input(line) for line in open_lines),
            formula=USUAL,
            source=USUAL_SOURCE,
            missing=missing,
        ),
    )


def _above_constant(case: Case, lines: tuple[LiftLine, ...]) -> tuple[Finding, ...]:
    """The loads of which one person would lift more than the equation recommends at the very best."""
    over = _heaviest_first(line for line in lines if line.share_kg > METRIC.load + EDGE_KG)
    if not over:
        return ()
    told, loads = _told(over, METRIC.load)
    missing = _missing(over)
    most = amount(METRIC.load, "mass", 0)
    hands = "two" if any(line.people == 1 for line in over) else "more"
    return (
        Finding(
            code="lifting.above_constant",
            weight="stop",
            title="Lifting",
            phrase=say(
                "Above {most} even the best lift is over the recommended limit: "
                f"{hands} people, or smaller loads. Above it: {told}. {CLINICIAN}"
                + (literal(f" Not counted, not known yet: enter {listed(missing)}.") if missing else ""),
                most=most,
                **loads,
            ),
            figure=Figure(label="heaviest load", amount=loads["load_0"], at_least=bool(over[0].missing)),
            # The sentence says already what to do about one piece.
            remedies=tuple(
                one
                for line in over
                if sum(piece.quantity for piece in line.pieces) > 1
                for one in relieve(case.rig, line, METRIC.load)
            ),
            inputs=(
                Input(
                    label="load constant",
                    amount=most,
                    basis="delivered",
                    of="the revised lifting equation: the most that it recommends, under the best conditions",
                ),
                *(line_input(line) for line in over),
            ),
            formula=MOST,
            source=EQUATION_SOURCE,
            missing=missing,
        ),
    )


def _heaviest_first(lines: Iterable[LiftLine]) -> list[LiftLine]:
    return sorted(lines, key=lambda line: -line.share_kg)


def _missing(lines: Iterable[LiftLine]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(name for line in lines for name in line.missing))


def _told(lines: list[LiftLine], limit: float) -> tuple[str, dict[str, Amount]]:
    """Loads above a limit as a list in a sentence, and its amounts: what each one of its lifters carries."""
    words, loads = [], {}
    for number, line in enumerate(lines):
        key = f"load_{number}"
        # 9.04 kg must not be told as 9.0 kg where the limit is 9.0 kg.
        close = round(line.share_kg, 1) <= round(limit, 1)
        loads[key] = amount(line.share_kg, "mass", 3 if close else 1)
        whose = f"each of {line.people} carries " if line.people > 1 else ""
        at_least = "at least " if line.missing else ""
        words.append(literal(line.name) + f" ({whose}{at_least}{{{key}}})")
    return listed(words), loads
