"""Is a load above what its lifter wants to lift, or above what anybody is advised to lift alone?"""

from __future__ import annotations

from collections.abc import Iterable

from server.domain.cautions import HEAVY_ALONE_KG
from server.domain.checks.lifting_equation import GUIDANCE, judge_lift, line_input
from server.domain.checks.lifting_relief import relieve
from server.domain.findings import Amount, Figure
from server.domain.load.lifts import work_lifts
from server.domain.load.sheet import LiftLine
from server.domain.said import Missing, Said, said
from server.domain.verdicts import Advice, Given, Later, Verdict
from server.domain.workings.case import EDGE_KG, Case, amount, digits_apart
from server.mechanics.lifting import METRIC


def check_lifting(case: Case) -> tuple[Verdict, ...]:
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


def _by_limit(case: Case, limit: float, lines: tuple[LiftLine, ...]) -> tuple[Verdict, ...]:
    over = _heaviest_first(line for line in lines if line.over_personal_kg is not None)
    missing = _missing(lines)
    loads, heaviest_load, limit_amount = _told(over, limit)
    amounts = {"limit": limit_amount}
    inputs: tuple[Given, ...] = (
        Given(label="limit", amount=amounts["limit"], basis="typed", of="the plan of the load"),
        *(line_input(line) for line in lines),
    )
    unknown = (said("enter", missing=missing),) if missing else ()
    if over:
        alone = any(line.people == 1 for line in over)
        says = said("lifting.over_limit", loads=loads, alone=alone, **amounts)
        return (
            Verdict(
                code="lifting.over_limit",
                weight="stop",
                says=(says, *GUIDANCE, *unknown),
                figure=Figure(label="heaviest load", amount=heaviest_load, at_least=bool(over[0].missing)),
                remedies=tuple(one for line in over for one in relieve(case.rig, line, limit)),
                inputs=inputs,
                missing=missing,
            ),
        )
    if missing:
        return (
            Verdict(
                code="lifting.unknown",
                weight="unknown",
                says=(said("lifting.unknown", **amounts), *unknown),
                inputs=inputs,
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
        Verdict(
            code="lifting.sound",
            weight="sound",
            says=(said("lifting.sound", **amounts), *GUIDANCE),
            figure=Figure(label="heaviest load", amount=amount(heaviest.mass_kg, "mass", 1)),
            inputs=inputs,
        ),
    )


def _unlimited(lines: tuple[LiftLine, ...]) -> tuple[Verdict, ...]:
    """What is to be said of the loads that nobody planned, where their lifter set no limit."""
    open_lines = [line for line in lines if line.planned is None and line.mass_kg <= METRIC.load]
    heavy = _heaviest_first(line for line in open_lines if line.mass_kg > HEAVY_ALONE_KG + EDGE_KG)
    if not heavy:
        return ()
    loads, heaviest, usual = _told(heavy, HEAVY_ALONE_KG)
    missing = _missing(open_lines)
    return (
        Verdict(
            code="lifting.heavy_alone",
            weight="watch",
            says=(
                said("lifting.heavy_alone", usual=usual, loads=loads),
                said("caution.lifting.clinician"),
                *((said("enter", missing=missing),) if missing else ()),
            ),
            figure=Figure(label="heaviest load", amount=heaviest, at_least=bool(heavy[0].missing)),
            remedies=(Advice((said("lifting.or_say"),)),),
            inputs=tuple(line_input(line) for line in open_lines),
            missing=missing,
        ),
    )


def _above_constant(case: Case, lines: tuple[LiftLine, ...]) -> tuple[Verdict, ...]:
    """The loads of which one person would lift more than the equation recommends at the very best."""
    over = _heaviest_first(line for line in lines if line.share_kg > METRIC.load + EDGE_KG)
    if not over:
        return ()
    loads, heaviest, most = _told(over, METRIC.load)
    missing = _missing(over)
    two = any(line.people == 1 for line in over)
    return (
        Verdict(
            code="lifting.above_constant",
            weight="stop",
            says=(
                said("lifting.above_constant", most=most, loads=loads, two=two),
                said("caution.lifting.clinician"),
                *((said("not_counted", missing=missing),) if missing else ()),
            ),
            figure=Figure(label="heaviest load", amount=heaviest, at_least=bool(over[0].missing)),
            # The sentence says already what to do about one piece.
            remedies=tuple(
                one
                for line in over
                if sum(piece.quantity for piece in line.pieces) > 1
                for one in relieve(case.rig, line, METRIC.load)
            ),
            inputs=Later(lambda: (_constant(most), *map(line_input, over))),
            missing=missing,
        ),
    )


def _constant(most: Amount) -> Given:
    return Given(
        label="load constant",
        amount=most,
        basis="delivered",
        of="the revised lifting equation: the most that it recommends, under the best conditions",
    )


def _heaviest_first(lines: Iterable[LiftLine]) -> list[LiftLine]:
    return sorted(lines, key=lambda line: -line.share_kg)


def _missing(lines: Iterable[LiftLine]) -> tuple[Missing, ...]:
    return tuple(dict.fromkeys(name for line in lines for name in line.missing))


def _told(lines: list[LiftLine], limit: float) -> tuple[list[Said], Amount | None, Amount]:
    """Loads above a limit (kg), each with what one of its lifters carries; that of the first, and the limit.

    The limit is written as everywhere, but with as many digits as tell a load that is near it from it.
    """
    found: list[Said] = []
    amounts: list[Amount] = []
    finest = 1
    for line in lines:
        digits = digits_apart(line.share_kg, limit)
        finest = max(finest, digits)
        amounts.append(amount(line.share_kg, "mass", digits))
        facts = {"load": line.name, "people": line.people, "several": line.people > 1}
        found.append(said("lifting.load", **facts, missing=line.missing, mass=amounts[-1]))
    told = amount(limit, "mass", None if finest == 1 else finest)
    return found, amounts[0] if amounts else None, told
