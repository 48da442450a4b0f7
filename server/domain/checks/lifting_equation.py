"""What the lifting equation says of a planned lift, end by end, or what the plan must still say first."""

from __future__ import annotations

import math

from server.domain.findings import Amount, Figure, Weight
from server.domain.load.lifts import ASKED
from server.domain.load.places import basis_of
from server.domain.load.sheet import LiftEnd, LiftLine
from server.domain.load_plan import Lift
from server.domain.missing import wants
from server.domain.said import Quantity, Said, said
from server.domain.verdicts import Advice, Given, Later, Verdict
from server.domain.workings.case import Case, amount
from server.mechanics.lifting import METRIC, duration_of

HIGH_INDEX = 3.0
"""Beyond it most people are at risk, by the manual."""
AT_BEST = ("from_height_mm", "to_height_mm", "reach_mm", "coupling", "twist_deg")
"""Figures that are judged first at their best where the plan leaves them open. Twist alone is not asked for:
see `_inputs`.
"""
PLAN = "the plan of the load"
GUIDANCE = (said("caution.lifting.clinician"), said("caution.lifting.slope"))


def at_least(value_kg: float, digits: int = 1) -> Amount:
    """A mass of which at least so much is meant, kg: rounded up, for a lower one would not do."""
    step = 10.0**digits
    # A hair above a whole step is float rounding, not one step more.
    return amount(math.ceil(value_kg * step - 1e-6) / step, "mass", digits)


def judge_lift(case: Case, line: LiftLine) -> Verdict | None:
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


def _by_index(lift: Lift, line: LiftLine) -> Verdict:
    worse, amounts = _worse(line.ends)
    assert worse.index is not None
    amounts["mass"] = amount(line.mass_kg, "mass", 1)
    remedies: tuple[Advice, ...] = ()
    weight: Weight
    if worse.index > 1.0:
        high = worse.index > HIGH_INDEX
        weight, code = ("stop", "lifting.index_high") if high else ("watch", "lifting.index")
        remedies = (Advice((said("lifting.gentler"),)),)
    elif line.missing:
        # What is missing can only make it heavier: an index of 1 or less says nothing yet.
        weight, code = "unknown", "lifting.index_unknown"
        amounts = {"limit": amounts["limit"]}
    else:
        weight, code = "sound", "lifting.index_sound"
    says = [said(code, load=line.name, end=worse.at, missing=line.missing, **amounts)]
    if line.missing:
        says.append(said("not_counted", missing=line.missing))
    return Verdict(
        code=code,
        weight=weight,
        says=(*says, *GUIDANCE),
        figure=None
        if weight == "unknown"
        else Figure(label="lifting index", amount=amounts["index"], at_least=bool(line.missing)),
        remedies=remedies,
        inputs=Later(_inputs, lift, line),
        missing=line.missing,
        working="lifting.equation",
    )


def _outside(lift: Lift, line: LiftLine, end: LiftEnd) -> Verdict:
    """A lift beyond the equation's range: nobody should make it so, be they one or several."""
    facts = {"load": line.name, "end": end.at, "best": _best(lift), "refusal": end.refusal}
    return Verdict(
        code="lifting.outside",
        weight="stop",
        says=(said("lifting.outside", **facts), *GUIDANCE),
        remedies=(Advice((said("lifting.less_often" if end.too_often else "lifting.closer"),)),),
        inputs=Later(_inputs, lift, line),
        working="lifting.equation",
    )


def _by_team(case: Case, lift: Lift, line: LiftLine) -> Verdict:
    """A lift by several: the equation has no limit for it, and an even share is none."""
    own = () if case.rig.load.lift_limit_kg is not None else (wants("each_alone"),)
    of_range = tuple(
        wants(f"lift.{name}") for name in ASKED if name != "coupling" and getattr(lift, name) is None
    )
    missing = (wants("how_shared", people=line.people), *own, *of_range, *line.missing)
    share = None if _of_nothing(line) else amount(line.share_kg, "mass", 1)
    facts = {"load": line.name, "people": line.people, "least": bool(line.missing), "share": share}
    return Verdict(
        code="lifting.team_unknown",
        weight="unknown",
        says=(said("lifting.team_unknown", **facts), said("caution.lifting.clinician")),
        inputs=Later(_inputs, lift, line),
        missing=missing,
        working="lifting.equation",
    )


def _at_best(lift: Lift, line: LiftLine) -> Verdict:
    """A lift of which too little is said to judge it, unless it is too much even at the best of it."""
    worse, amounts = _worse(line.at_best)
    assert worse.index is not None
    missing = (*line.to_plan, *line.missing)
    if worse.index <= 1.0:
        says = said("lifting.plan_unknown", load=line.name, missing=missing)
        return Verdict(
            code="lifting.plan_unknown",
            weight="unknown",
            says=(says, *GUIDANCE),
            inputs=Later(_inputs, lift, line),
            missing=missing,
            working="lifting.equation",
        )
    facts = {"load": line.name, "end": worse.at, "best": _best(lift), "missing": line.missing}
    says = said("lifting.over_at_best", **facts, mass=amount(line.mass_kg, "mass", 1), **amounts)
    return Verdict(
        code="lifting.over_at_best",
        weight="stop",
        says=(says, said("enter", missing=missing), *GUIDANCE),
        figure=Figure(label="lifting index", amount=amounts["index"], at_least=True),
        remedies=(Advice((said("lifting.gentler"),)),),
        inputs=Later(_inputs, lift, line),
        missing=missing,
        working="lifting.equation",
    )


def _best(lift: Lift) -> list[Said]:
    """At what best of it a lift is judged of which something is not said."""
    if all(getattr(lift, name) is not None for name in ASKED):
        return []
    return [said("lifting.best", of=name) for name in AT_BEST if getattr(lift, name) is None]


def _inputs(lift: Lift, line: LiftLine) -> tuple[Given, ...]:
    """What the equation gave for each end; what the plan says of the lift, and what it leaves open and the
    equation was given all the same.
    """
    found = [
        Given(
            said("lifting.limit_of", end=end.at, best=bool(line.at_best)),
            None if end.limit_kg is None else amount(end.limit_kg, "mass", 1),
            "worked out",
            note=said("text", text=end.refusal) if end.refusal else None,
        )
        for end in line.ends or line.at_best
    ]
    found.append(line_input(line))
    for label, value, otherwise in (
        ("hands' height where it is taken up", lift.from_height_mm, "height"),
        ("hands' height where it is set down", lift.to_height_mm, "height"),
        ("hands before the ankles, taken up", lift.reach_mm, "reach"),
        ("hands before the ankles, set down", lift.to_reach_mm, "to_reach"),
    ):
        given = None if value is None else amount(value, "length", 0)
        found.append(_of_plan(label, given, otherwise))
    twist = None if lift.twist_deg is None else amount(lift.twist_deg, "angle", 0)
    found.append(_of_plan("turned aside", twist, "twist"))
    usual = Lift(name=lift.name, parts=lift.parts)
    seldom = lift.per_minute == usual.per_minute
    often = said("lifting.often", often=Quantity(lift.per_minute, ""), seldom=seldom)
    long = said("lifting.long", hours=Quantity(lift.hours, "h"), duration=duration_of(lift.hours))
    found += [
        _noted("how often", often, assumed=seldom),
        _noted("for how long", long, assumed=lift.hours == usual.hours),
        _noted("hold", said("lifting.hold", hold=lift.coupling), assumed=lift.coupling is None),
    ]
    return tuple(found)


def _of_plan(label: str, value: Amount | None, otherwise: str) -> Given:
    if value is None:
        return Given(label, None, "assumed", PLAN, said("lifting.otherwise", of=otherwise))
    return Given(label, value, "typed", PLAN)


def _noted(label: str, note: Said, *, assumed: bool) -> Given:
    return Given(label, None, "assumed" if assumed else "typed", PLAN, note)


def _of_nothing(line: LiftLine) -> bool:
    return bool(line.missing) and line.mass_kg == 0


def line_input(line: LiftLine) -> Given:
    """A load as an input of a working, its mass the sum of what is known of it."""
    if _of_nothing(line):
        return Given(line.name, None, "")
    return Given(line.name, amount(line.mass_kg, "mass", 2), basis_of(line.pieces))
