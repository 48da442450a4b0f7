"""What the lifting equation says of a planned lift, end by end, or what the plan must still say first."""

from __future__ import annotations

import math

from server.domain.findings import Amount, Figure, Finding, Input, Remedy
from server.domain.load.lifts import ASKED
from server.domain.load.places import basis_of
from server.domain.load.sheet import LiftEnd, LiftLine
from server.domain.load_plan import Lift
from server.domain.workings.case import Case, amount, listed, literal, say
from server.mechanics.lifting import LIMITS, METRIC, RECOVERY, duration_of

EQUATION = (
    "limit = 23 kg x 25 / H x (1 - 0.003 |V - 75|) x (0.82 + 4.5 / D) x (1 - 0.0032 A) x frequency x hold, "
    "cm and "
    "degrees; index = load / limit"
)
EQUATION_SOURCE = (
    "Waters, Putz-Anderson, Garg, Applications Manual for the Revised NIOSH Lifting Equation, DHHS (NIOSH) "
    f"94-110 (revised 2021). {LIMITS} A cold field at night on a slope is outside it: take it as a least."
)
HIGH_INDEX = 3.0
"""Beyond it most people are at risk, by the manual."""
CLINICIAN = "This is general guidance, not medical advice: ask a clinician about your own back."
GUIDANCE = f"{CLINICIAN} A limit for the floor of a room is none for carrying on a slope at night."
CLOSER = "Bring it closer, straight before you, and between knee and shoulder."
LESS_OFTEN = "Lift it less often, with rests between."
TOO_OFTEN = "lifts in a minute"
"""In the refusal of a lift that is made too often."""
GENTLER = "Hold it closer, lift it less far, make it lighter, or lift it with two people."
AT_BEST = {
    "from_height_mm": "taken up at the best height",
    "to_height_mm": "set down at the best height",
    "reach_mm": "held close",
    "coupling": "with the best grip",
    "twist_deg": "straight ahead",
}
"""How a figure that the plan leaves open is judged first. Twist alone is not asked for: see `_inputs`."""
PLAN = "the plan of the load"


def at_least(value_kg: float, digits: int = 1) -> Amount:
    """A mass of which at least so much is meant, kg: rounded up, for a lower one would not do."""
    step = 10.0**digits
    # A hair above a whole step is float rounding, not one step more.
    return amount(math.ceil(value_kg * step - 1e-6) / step, "mass", digits)


def judge_lift(case: Case, line: LiftLine) -> Finding | None:
    """What the equation says of one load: of its worse end, or what the plan must still say. None for a load
    that nobody planned, and for one that is too heavy for its lifters however they lift it.
    """
    if line.planned is None:
        return None
    lift = case.rig.load.lifts[line.planned]
    refused = next((end for end in (*line.ends, *line.at_best) if end.index is None), None)
    if refused is not None:
        return _outside(lift, line, refused)
    if line.people > 1:
        too_heavy = line.over_personal_kg is not None or line.share_kg > METRIC.load
        return None if too_heavy else _by_team(case, lift, line)
    if line.to_plan:
        return _at_best(lift, line)
    return _by_index(lift, line)


def _worse(ends: tuple[LiftEnd, ...]) -> tuple[LiftEnd, dict[str, Amount]]:
    worse = max(ends, key=lambda end: end.index or 0.0)
    assert worse.index is not None
    assert worse.limit_kg is not None
    return worse, {
        "limit": amount(worse.limit_kg, "mass", 1),
        "index": amount(worse.index, "times", 2),
    }


def _by_index(lift: Lift, line: LiftLine) -> Finding:
    name = literal(named(line))
    worse, amounts = _worse(line.ends)
    assert worse.index is not None
    amounts["mass"] = amount(line.mass_kg, "mass", 1)
    at_least_words = "at least " if line.missing else ""
    sentence = (
        f"{name} is {at_least_words}{{mass}}; lifted so, {worse.words}, the equation recommends {{limit}} at "
        f"most: a lifting index of {at_least_words}{{index}}."
    )
    remedies: tuple[Remedy, ...] = ()
    if worse.index > 1.0:
        weight, code = (
            ("stop", "lifting.index_high") if worse.index > HIGH_INDEX else ("watch", "lifting.index")
        )
        sentence += (
            " Some healthy people should not lift it so." if weight == "watch" else " Do not lift it so."
        )
        remedies = (Remedy(phrase=say(GENTLER)),)
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
        inputs=_inputs(lift, line),
        formula=EQUATION,
        source=EQUATION_SOURCE,
        missing=line.missing,
    )


def named(line: LiftLine) -> str:
    """A load's name as it begins a sentence."""
    return line.name[:1].upper() + line.name[1:]


def _outside(lift: Lift, line: LiftLine, end: LiftEnd) -> Finding:
    """A lift beyond the equation's range: nobody should make it so, be they one or several."""
    return Finding(
        code="lifting.outside",
        weight="stop",
        title="Lifting",
        phrase=say(literal(f"{named(line)}, {end.words}{_even(lift)}: {end.refusal} ") + GUIDANCE),
        remedies=(Remedy(phrase=say(LESS_OFTEN if TOO_OFTEN in end.refusal else CLOSER)),),
        inputs=_inputs(lift, line),
        formula=EQUATION,
        source=EQUATION_SOURCE,
    )


def _by_team(case: Case, lift: Lift, line: LiftLine) -> Finding:
    """A lift by several: the equation has no limit for it, and an even share is none."""
    several = f"{line.people} people"
    own = () if case.rig.load.lift_limit_kg is not None else ("the most that each of them lifts alone",)
    of_range = tuple(
        words for name, words in ASKED.items() if name != "coupling" and getattr(lift, name) is None
    )
    missing = (f"how its weight is shared among {several}", *own, *of_range, *line.missing)
    amounts = {"share": amount(line.share_kg, "mass", 1)}
    least = "at least" if line.missing else "about"
    shared = (
        ""
        if _of_nothing(line)
        else f" Shared evenly each carries {least} {{share}}, which is not a safe limit for a team."
    )
    return Finding(
        code="lifting.team_unknown",
        weight="unknown",
        title="Lifting",
        phrase=say(
            f"{literal(named(line))}: whether {several} may lift it so is not "
            f"known, as the equation is for one person.{shared} Agree on the moves first. {CLINICIAN}",
            **(amounts if shared else {}),
        ),
        inputs=_inputs(lift, line),
        formula=EQUATION,
        source=EQUATION_SOURCE,
        missing=missing,
    )


def _at_best(lift: Lift, line: LiftLine) -> Finding:
    """A lift of which too little is said to judge it, unless it is too much even at the best of it."""
    worse, amounts = _worse(line.at_best)
    assert worse.index is not None
    missing = (*line.to_plan, *line.missing)
    name = literal(named(line))
    if worse.index <= 1.0:
        return Finding(
            code="lifting.plan_unknown",
            weight="unknown",
            title="Lifting",
            phrase=say(
                f"Whether {literal(line.name)} is fit to be lifted so is not known yet: enter "
                f"{literal(listed(missing))}. {GUIDANCE}"
            ),
            inputs=_inputs(lift, line),
            formula=EQUATION,
            source=EQUATION_SOURCE,
            missing=missing,
        )
    amounts["mass"] = amount(line.mass_kg, "mass", 1)
    return Finding(
        code="lifting.over_at_best",
        weight="stop",
        title="Lifting",
        phrase=say(
            f"{name} is {'at least ' if line.missing else ''}{{mass}}; {worse.words}{_even(lift)}, the "
            "equation recommends {limit} at most: a lifting index of at least {index}. Do not lift it so. "
            f"{literal(f'Not known yet: enter {listed(missing)}.')} {GUIDANCE}",
            **amounts,
        ),
        figure=Figure(label="lifting index", amount=amounts["index"], at_least=True),
        remedies=(Remedy(phrase=say(GENTLER)),),
        inputs=_inputs(lift, line),
        formula=EQUATION,
        source=EQUATION_SOURCE,
        missing=missing,
    )


def _even(lift: Lift) -> str:
    """At what best of it a lift is judged of which something is not said: ", even with the best grip"."""
    best = [words for name, words in AT_BEST.items() if getattr(lift, name) is None]
    asked = any(getattr(lift, name) is None for name in ASKED)
    return f", even {listed(best)}" if asked else ""


def _inputs(lift: Lift, line: LiftLine) -> tuple[Input, ...]:
    """What the equation gave for each end; what the plan says of the lift, and what it leaves open and the
    equation was given all the same.
    """
    ends = line.ends or line.at_best
    found = [
        Input(
            label=f"recommended limit {end.words}{', at best' if line.at_best else ''}",
            amount=None if end.limit_kg is None else amount(end.limit_kg, "mass", 1),
            basis="worked out",
            text=end.refusal,
        )
        for end in ends
    ]
    found.append(line_input(line))
    for label, value, otherwise in (
        ("hands' height where it is taken up", lift.from_height_mm, "not known: judged at the best height"),
        ("hands' height where it is set down", lift.to_height_mm, "not known: judged at the best height"),
        ("hands before the ankles, taken up", lift.reach_mm, "not known: judged as held close"),
        ("hands before the ankles, set down", lift.to_reach_mm, "as where it is taken up"),
    ):
        said = None if value is None else amount(value, "length", 0)
        found.append(_of_plan(label, said, otherwise))
    twist = None if lift.twist_deg is None else amount(lift.twist_deg, "angle", 0)
    found.append(_of_plan("turned aside", twist, "not at all: lifted straight ahead"))
    usual = Lift(name=lift.name, parts=lift.parts)
    often = f"{lift.per_minute:g} lifts in a minute"
    if lift.per_minute == usual.per_minute:
        often += ", which is one in five minutes, or fewer"
    long = f"{lift.hours:g} h at most, then {RECOVERY[duration_of(lift.hours)]}"
    found += [
        _said("how often", often, assumed=lift.per_minute == usual.per_minute),
        _said("for how long", long, assumed=lift.hours == usual.hours),
        _said("hold", lift.coupling or "not known: judged as good", assumed=lift.coupling is None),
    ]
    return tuple(found)


def _of_plan(label: str, value: Amount | None, otherwise: str) -> Input:
    if value is None:
        return Input(label=label, amount=None, basis="assumed", of=PLAN, text=otherwise)
    return Input(label=label, amount=value, basis="typed", of=PLAN)


def _said(label: str, text: str, *, assumed: bool) -> Input:
    return Input(label=label, amount=None, basis="assumed" if assumed else "typed", of=PLAN, text=text)


def _of_nothing(line: LiftLine) -> bool:
    return bool(line.missing) and line.mass_kg == 0


def line_input(line: LiftLine) -> Input:
    """A load as an input of a working, its mass the sum of what is known of it."""
    nothing = _of_nothing(line)
    return Input(
        label=line.name,
        amount=None if nothing else amount(line.mass_kg, "mass", 2),
        basis="" if nothing else basis_of(line.pieces),
        text="not known" if nothing else "",
    )
