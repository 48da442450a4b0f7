"""Is a load above what its lifter wants to lift?"""

from __future__ import annotations

from server.domain.checks.case import COMMON_PRACTICE, Case, amount, listed, literal, say
from server.domain.findings import Figure, Finding, Input, Remedy
from server.domain.load.lifts import work_lifts
from server.domain.load.sheet import LiftLine

FORMULA = "load = sum of the masses that go together, against the lifter's own limit"
SOURCE = (
    "Sum of masses, against a limit that the lifter set. Two people, or smaller loads, above what one wants "
    f"to lift: {COMMON_PRACTICE}"
)
GUIDANCE = (
    "This is general guidance, not medical advice: ask a clinician about your own back. A limit for the "
    "floor of a room is none for carrying on a slope at night."
)


def check_lifting(case: Case) -> tuple[Finding, ...]:
    """Name the loads above the lifter's own limit, and those of unknown mass; silent without a limit."""
    limit = case.rig.load.lift_limit_kg
    if limit is None:
        return ()
    lines = work_lifts(case)
    over = sorted(
        (line for line in lines if line.over_personal_kg is not None), key=lambda line: -line.mass_kg
    )
    missing = tuple(dict.fromkeys(name for line in lines for name in line.missing))
    amounts = {"limit": amount(limit, "mass", 1)}
    inputs = (
        Input(label="limit", amount=amounts["limit"], basis="typed", of="the plan of the load"),
        *(_input(line) for line in lines),
    )
    unknown_words = literal(f" Not known yet: enter {listed(missing)}.") if missing else ""
    if over:
        told = []
        for number, line in enumerate(over):
            amounts |= {f"load_{number}": amount(line.mass_kg, "mass", 1)}
            at_least = "at least " if line.missing else ""
            told.append(literal(line.name) + f" ({at_least}{{load_{number}}})")
        heaviest = over[0]
        assert heaviest.over_personal_kg is not None
        return (
            Finding(
                code="lifting.over_limit",
                weight="stop",
                title="Lifting",
                phrase=say(
                    f"Above your own limit of {{limit}}: {listed(told)}. Do not lift it alone. {GUIDANCE}"
                    + unknown_words,
                    **amounts,
                ),
                figure=Figure(
                    label="heaviest load",
                    amount=amount(heaviest.mass_kg, "mass", 1),
                    at_least=bool(heaviest.missing),
                ),
                remedies=(
                    Remedy(
                        phrase=say(
                            f"Take at least {{over}} off {literal(heaviest.name)} and carry that by itself, "
                            "or lift it with two people who have agreed on the moves.",
                            over=amount(heaviest.over_personal_kg, "mass", 1),
                        )
                    ),
                ),
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
    if not lines:
        return ()
    heaviest = max(lines, key=lambda line: line.mass_kg)
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


def _input(line: LiftLine) -> Input:
    nothing = line.missing and line.mass_kg == 0
    return Input(
        label=line.name,
        amount=None if nothing else amount(line.mass_kg, "mass", 2),
        basis="" if nothing else "worked out",
        text="not known" if nothing else "",
    )
