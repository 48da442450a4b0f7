"""Is a load above what its lifter wants to lift?"""

from __future__ import annotations

from server.domain.checks.case import COMMON_PRACTICE, Case, amount, listed, literal, say
from server.domain.findings import Figure, Finding, Input, Remedy
from server.domain.load.lifts import work_lifts
from server.domain.load.plan import Lift
from server.domain.load.sheet import LiftLine

FORMULA = "load = sum of the masses that go together, against the lifter's own limit"
SOURCE = (
    "Sum of masses, against a limit that the lifter set. Two people, or smaller loads, above what one wants "
    f"to lift: {COMMON_PRACTICE}"
)
EQUATION = (
    "limit = 23 kg x 25 / H x (1 - 0.003 |V - 75|) x (0.82 + 4.5 / D) x (1 - 0.0032 A) x frequency x hold, "
    "cm and "
    "degrees; index = load / limit"
)
EQUATION_SOURCE = (
    "Waters, Putz-Anderson, Garg, Applications Manual for the Revised NIOSH Lifting Equation, DHHS (NIOSH) "
    "94-110 "
    "(revised 2021). For two-handed lifts by healthy workers on a level floor; not for carrying, nor a "
    "slope at night."
)
HIGH_INDEX = 3.0
"""Beyond it most people are at risk, by the manual."""
GUIDANCE = (
    "This is general guidance, not medical advice: ask a clinician about your own back. A limit for the "
    "floor of a room is none for carrying on a slope at night."
)


def check_lifting(case: Case) -> tuple[Finding, ...]:
    """Name the loads above the lifter's own limit, and what the lifting equation says of planned lifts;
    silent where neither a limit nor a lift is planned.
    """
    limit = case.rig.load.lift_limit_kg
    if limit is None and not case.rig.load.lifts:
        return ()
    lines = work_lifts(case)
    found = tuple(one for line in lines if (one := _by_equation(case, line)) is not None)
    return found if limit is None else (*_by_limit(limit, lines), *found)


def _by_equation(case: Case, line: LiftLine) -> Finding | None:
    """What the equation says of one planned lift: its worse end, or what the plan must still say."""
    name = literal(line.name)
    if not line.ends:
        return _to_plan(name, line) if line.to_plan else None
    refused = next((end for end in line.ends if end.index is None), None)
    inputs = tuple(
        Input(
            label=f"recommended limit {end.words}",
            amount=None if end.limit_kg is None else amount(end.limit_kg, "mass", 1),
            basis="worked out",
            text=end.refusal,
        )
        for end in line.ends
    ) + _of_plan(case, line)
    if refused is not None:
        return Finding(
            code="lifting.outside",
            weight="stop",
            title="Lifting",
            phrase=say(literal(f"{line.name}, {refused.words}: {refused.refusal} ") + GUIDANCE),
            remedies=(
                Remedy(phrase=say("Bring it closer, straight before you, and between knee and shoulder.")),
            ),
            inputs=inputs,
            formula=EQUATION,
            source=EQUATION_SOURCE,
        )
    worse = max(line.ends, key=lambda end: end.index or 0.0)
    assert worse.index is not None
    assert worse.limit_kg is not None
    amounts = {
        "mass": amount(line.mass_kg, "mass", 1),
        "limit": amount(worse.limit_kg, "mass", 1),
        "index": amount(worse.index, "times", 2),
    }
    at_least = "at least " if line.missing else ""
    sentence = (
        f"{name} is {at_least}{{mass}}; lifted so, {worse.words}, the equation recommends {{limit}} at "
        f"most: a lifting "
        "index of {index}."
    )
    remedies: tuple[Remedy, ...] = ()
    if worse.index > 1.0:
        weight, code = (
            ("stop", "lifting.index_high") if worse.index > HIGH_INDEX else ("watch", "lifting.index")
        )
        sentence += (
            " Some healthy people should not lift it so." if weight == "watch" else " Do not lift it so."
        )
        remedies = (
            Remedy(
                phrase=say("Hold it closer, lift it less far, make it lighter, or lift it with two people.")
            ),
        )
    elif line.missing:
        # What is missing can only make it heavier: an index of 1 or less says nothing yet.
        weight, code = "unknown", "lifting.index_unknown"
        amounts = {"limit": amounts["limit"]}
        sentence = (
            f"{name}: lifted so, {worse.words}, the equation recommends {{limit}} at most; whether it is "
            "lighter is not known yet."
        )
    else:
        weight, code = "sound", "lifting.index_sound"
    if line.missing:
        sentence += literal(f" Not counted, not known yet: enter {listed(line.missing)}.")
    return Finding(
        code=code,
        weight=weight,
        title="Lifting",
        phrase=say(f"{sentence} {GUIDANCE}", **amounts),
        figure=None
        if weight == "unknown"
        else Figure(label="lifting index", amount=amounts["index"], at_least=bool(line.missing)),
        remedies=remedies,
        inputs=inputs,
        formula=EQUATION,
        source=EQUATION_SOURCE,
        missing=line.missing,
    )


def _to_plan(name: str, line: LiftLine) -> Finding:
    """A lift that somebody plans and of which too little is said to judge it."""
    missing = (*line.to_plan, *line.missing)
    return Finding(
        code="lifting.plan_unknown",
        weight="unknown",
        title="Lifting",
        phrase=say(
            f"Whether {name} is fit to be lifted so is not known yet: enter {literal(listed(missing))}. "
            f"{GUIDANCE}"
        ),
        inputs=(_input(line),),
        formula=EQUATION,
        source=EQUATION_SOURCE,
        missing=missing,
    )


def _of_plan(case: Case, line: LiftLine) -> tuple[Input, ...]:
    """What the plan says of the lift, and what it leaves open and the equation was given all the same."""
    if line.planned is None:
        return ()
    lift, of = case.rig.load.lifts[line.planned], "the plan of the load"
    found = [_input(line)]
    for label, value in (
        ("hands' height where it is taken up", lift.from_height_mm),
        ("hands' height where it is set down", lift.to_height_mm),
        ("hands before the ankles, taken up", lift.reach_mm),
        ("hands before the ankles, set down", lift.to_reach_mm),
    ):
        if value is None:
            found.append(
                Input(label=label, amount=None, basis="assumed", of=of, text="as where it is taken up")
            )
        else:
            found.append(Input(label=label, amount=amount(value, "length", 0), basis="typed", of=of))
    if lift.twist_deg is None:
        straight = "not at all: lifted straight ahead"
        found.append(Input(label="turned aside", amount=None, basis="assumed", of=of, text=straight))
    else:
        twist = amount(lift.twist_deg, "angle", 0)
        found.append(Input(label="turned aside", amount=twist, basis="typed", of=of))
    often = f"{lift.per_minute:g} lifts in a minute, for {lift.hours:g} h at most"
    usual = Lift(name=lift.name, parts=lift.parts)
    unsaid = (lift.per_minute, lift.hours) == (usual.per_minute, usual.hours)
    found += [
        Input(label="how often", amount=None, basis="assumed" if unsaid else "typed", of=of, text=often),
        Input(label="hold", amount=None, basis="typed", of=of, text=lift.coupling or "not known"),
    ]
    return tuple(found)


def _by_limit(limit: float, lines: tuple[LiftLine, ...]) -> tuple[Finding, ...]:
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
