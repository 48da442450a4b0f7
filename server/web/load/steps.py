"""The steps of the load's page: what each answers as soon as it can, and from what."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from server.domain.findings import Amount, Finding, Weight
from server.domain.load.rough import RoughBalance
from server.domain.load.sheet import BalanceSheet, BarAnswer, LiftLine, PowerSheet, two_digits
from server.domain.load_plan import LoadPlan
from server.domain.said import Missing, Quantity, Said, said

STEPS: tuple[tuple[str, str, tuple[str, ...]], ...] = (
    ("mass", "Mass and rating", ("payload", "hanging", "stand", "sag")),
    ("lifts", "What is lifted", ("lifting",)),
    ("balance", "Balance", ("balance",)),
    ("power", "Power", ("power",)),
)
"""Each step: its name, its words, and the checks that it shows."""
JUDGED = ("balance.along", "balance.along_off", "balance.plate_short", "balance.doubt", "balance.clamp_at")
"""Findings that say where the tube balances."""
ANSWERED = ("lifts", "balance")
"""Steps that answer and ask by themselves, so that what is not known folds."""
NIGHT_H = (6.0, 14.0)
"""A short night of summer and a long one of winter at middle latitudes, sunset to sunrise (rounded)."""


@dataclass(frozen=True)
class Step:
    """One step of the page.

    Attributes:
        name, words: for its address and its heading; weight: the heaviest of its findings, None for none.
        says: what can be answered that no finding says.
        told: findings that want reading; lines: what holds, and what is not known and is answered roughly.
    """

    name: str
    words: str
    weight: Weight | None
    says: tuple[Said, ...]
    told: tuple[Finding, ...]
    lines: tuple[Finding, ...]


def steps_of(findings: Sequence[Finding], says: dict[str, tuple[Said, ...]]) -> tuple[Step, ...]:
    """Return the page's steps with the findings that belong to each, the heaviest first, as they come."""
    found = []
    for name, words, checks in STEPS:
        own = [one for one in findings if one.code.partition(".")[0] in checks]
        folded = ("sound", "unknown") if name in ANSWERED else ("sound",)
        found.append(
            Step(
                name=name,
                words=words,
                weight=own[0].weight if own else "unknown" if name == "balance" else None,
                says=says.get(name, ()),
                told=tuple(one for one in own if one.weight not in folded),
                lines=tuple(one for one in own if one.weight in folded),
            )
        )
    return tuple(found)


def _length(mm: float) -> Amount:
    return Amount(value=mm, dimension="length", digits=0)


def lifts_say(lines: Iterable[LiftLine]) -> tuple[Said, ...]:
    """The heaviest load that is lifted at once."""
    heaviest = max(lines, key=lambda one: one.mass_kg, default=None)
    if heaviest is None or heaviest.mass_kg <= 0.0:
        return ()
    mass = Amount(value=heaviest.mass_kg, dimension="mass", digits=2)
    return (said("lifting.heaviest", name=heaviest.name, mass=mass, bound=bool(heaviest.missing)),)


def balance_says(
    sheet: BalanceSheet, rough: RoughBalance, plan: LoadPlan, findings: Iterable[Finding]
) -> tuple[Said, ...]:
    """Where the tube balances and how hard it pulls, as far as no finding says it."""
    codes = {one.code for one in findings}
    found: list[Said] = []
    if not codes & set(JUDGED):
        if sheet.centre_basis == "measured" and sheet.centre_mm is not None:
            found.append(said("balance.rough_measured", centre=_length(sheet.centre_mm)))
        elif rough.centre is not None:
            found += _along(rough, rough.centre, plan.clamp_mm)
        elif rough.missing:
            found.append(said("balance.rough_first", missing=rough.missing))
    if sheet.moment_arm_mm is None and rough.torque_nm is not None:
        found += _about_the_axis(rough, rough.torque_nm)
    if rough.left_out:
        found.append(said("not_counted", missing=rough.left_out))
    return tuple(found)


def _along(rough: RoughBalance, centre: tuple[float, float, float], clamp_mm: float | None) -> list[Said]:
    low, at, high = centre
    ends = {"low": _length(low), "at": _length(at), "high": _length(high)}
    found = [said("balance.rough", assumed=bool(rough.assumed), clamped=clamp_mm is not None, **ends)]
    if clamp_mm is not None:
        side = "behind" if low > clamp_mm else "before" if high < clamp_mm else ""
        found.append(said("balance.rough_off", side=side, clamp=_length(clamp_mm)))
    return found


def _about_the_axis(rough: RoughBalance, torque_nm: tuple[float, float]) -> list[Said]:
    least, most = (Amount(value=one, dimension="torque", digits=two_digits(one)) for one in torque_nm)
    return [said("balance.rough_torque", least=least, most=most), *_hung(rough.bars)]


def _hung(bars: tuple[BarAnswer, ...]) -> list[Said]:
    """How the weights at hand balance both ends of it, each thing once."""
    if len({bar.outcome for bar in bars}) != 1 or any(bar.weights for bar in bars):
        return [_hangs(bar, most=bool(end)) for end, bar in enumerate(bars)]
    masses = [Amount(value=bar.short_kg, dimension="mass", digits=1) for bar in bars if bar.short_kg]
    if bars[0].outcome != said("bar.none") or len(masses) < len(bars):
        return [bar.outcome for bar in bars[:1] if bar.outcome]
    end = _length(bars[0].bar_end_mm or 0.0)
    words = {"none": bars[0].outcome, "least": masses[0], "most": masses[-1], "end": end}
    return [said("balance.rough_no_weight", **words)]


def _hangs(bar: BarAnswer, *, most: bool) -> Said:
    if not bar.weights:
        return said("balance.rough_hang_not", most=most, why=bar.outcome)
    hung = [said("bar.hung", weight=one.name, at=_length(one.at_mm)) for one in bar.weights]
    return said("balance.rough_hang", most=most, hung=hung)


def opens_most(rough: RoughBalance) -> tuple[tuple[Missing, Amount], ...]:
    """What to measure along the tube, and by how much that narrows the balance: the most first."""
    return tuple((one.enter, _length(one.moves_mm)) for one in rough.assumed if one.moves_mm >= 1.0)


def power_says(sheet: PowerSheet) -> tuple[Said, ...]:
    """What is drawn and how long the battery lasts while nobody has said how long the night is."""
    if sheet.mean_w is None or sheet.hours is not None:
        return ()
    bound = bool(sheet.uncounted)
    lasts = None if sheet.lasts_h is None else Quantity(sheet.lasts_h, "", digits=1)
    watts = Quantity(sheet.mean_w, "W", digits=0)
    # What is assumed of a night leaves two figures.
    least, most = (Quantity(float(f"{sheet.mean_w * hours:.2g}"), "Wh", digits=0) for hours in NIGHT_H)
    short, long = (Quantity(hours, "", digits=0) for hours in NIGHT_H)
    return (
        said("power.mean", watts=watts, lasts=lasts, batteries=sheet.batteries, bound=bound),
        said("power.any_night", short=short, long=long, least=least, most=most, bound=bound),
    )
