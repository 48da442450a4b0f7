"""Tolerances by drawing: many trains made at random within their tolerances (numpy, seeded).

Import this lazily: it brings numpy. How a length is drawn follows from what its tolerance rests on:

* `maker`, `typed`, `assumed`: limits without more knowledge. Every value between them is as likely
  (JCGM 100:2008, 4.3.7, from memory; with unequal sides 4.3.8).
* `measured`: a normal distribution whose two standard deviations are the tolerance on each side (a coverage
  factor of 2, JCGM 100:2008, 6.2.1, from memory). With unequal sides each side has its own width and as
  many draws (the "dimidiated" normal of Barlow, PHYSTAT 2003).

That a maker's limits are as good as uniform is common practice; the parts of one batch may all err alike,
which is not modelled.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations, combinations_with_replacement
from typing import Literal

import numpy as np
import numpy.typing as npt

from server.optics.ranges import LONGEST_MM, checked
from server.optics.tolerance import Spread
from server.out_of_range import OutOfRangeError

Floats = npt.NDArray[np.float64]
Basis = Literal["maker", "typed", "measured", "assumed"]

#: The tolerance of a measured length is this many standard deviations.
COVERAGE = 2.0
#: As many shims as one joint takes without trouble; common practice, no source. Bounds the search as well.
MOST_SHIMS = 5
_MOST_TRIALS = 2_000_000
_MOST_AVAILABLE = 12
_BLOCK = 8192


@dataclass(frozen=True)
class Length:
    """One length of the train: its tolerance, what that rests on, and whether it is added (1) or taken (-1).

    A length that is taken away is one that the train starts later by, such as a thread turned in.
    """

    spread: Spread
    basis: Basis
    sign: Literal[1, -1] = 1

    @property
    def mean_mm(self) -> float:
        """The mean of what is drawn, mm from the nominal length, with the sign of its part in the sum."""
        plus, minus = self.spread.plus_mm, self.spread.minus_mm
        if self.basis == "measured":
            return self.sign * (plus - minus) / COVERAGE / math.sqrt(2.0 * math.pi)  # Two half normals.
        return self.sign * (plus - minus) / 2.0

    @property
    def variance_mm2(self) -> float:
        """The variance of what is drawn, mm^2."""
        plus, minus = self.spread.plus_mm, self.spread.minus_mm
        if self.basis == "measured":
            squares = (plus * plus + minus * minus) / (2.0 * COVERAGE * COVERAGE)
            return squares - self.mean_mm**2
        return (plus + minus) ** 2 / 12.0  # GUM 4.3.8.


@dataclass(frozen=True)
class Trains:
    """Trains made at random: how far each came out from the nominal length, mm, as drawn.

    share: of the variance of the sum that each length brings, in the order given (all 0 where nothing
    varies), from the distributions themselves and not from the draws.
    """

    drawn_mm: Floats
    share: tuple[float, ...]

    @property
    def trials(self) -> int:
        """How many trains."""
        return int(self.drawn_mm.size)

    @cached_property
    def off_mm(self) -> Floats:
        """The same in rising order, worked out when first asked for."""
        return np.sort(self.drawn_mm)


@dataclass(frozen=True)
class Chance:
    """A chance, 0 to 1, found by counting, with its standard error.

    Where all or none of the trains fell inside, the standard error is 0 and says nothing: the true chance
    then lies within 3 / trials of it with 95 % confidence (the rule of three, Hanley and Lippman-Hand, JAMA
    249, 1743 (1983), from memory).
    """

    value: float
    standard_error: float
    trials: int


@dataclass(frozen=True)
class Shims:
    """Shims to have at hand, mm in rising order, and the chance that some of them bring the train inside."""

    thicknesses_mm: tuple[float, ...]
    chance: Chance


def make_trains(lengths: Sequence[Length], *, seed: int, trials: int = 100_000) -> Trains:
    """Return trains made at random from lengths that err independently.

    lengths: none gives trains that are all exact. seed: 0 or more; the same seed gives the same trains.
    trials: 1 to 2 000 000. Raises ValueError outside.
    Source: JCGM 101:2008 (propagation of distributions by Monte Carlo, from memory); see the module.
    """
    count = int(checked("The number of trains", trials, 1, _MOST_TRIALS, "", "Give a number such as 100000."))
    rng = np.random.default_rng(seed)
    off = np.zeros(count)
    draw = np.empty(min(_BLOCK, count))
    # Lengths that cannot err are not drawn.
    varying = [one for one in lengths if one.spread.plus_mm > 0.0 or one.spread.minus_mm > 0.0]
    for begin in range(0, count, _BLOCK):
        some = off[begin : begin + _BLOCK]
        part = draw[: some.size]
        for one in varying:
            plus, minus = one.spread.plus_mm, one.spread.minus_mm
            if one.basis == "measured":
                rng.standard_normal(out=part)
                if plus == minus:
                    part *= plus / COVERAGE
                else:
                    part *= np.where(part > 0.0, plus / COVERAGE, minus / COVERAGE)
            else:
                rng.random(out=part)
                part *= plus + minus
                part -= minus
            if one.sign > 0:
                some += part
            else:
                some -= part
    total = math.fsum(one.variance_mm2 for one in lengths)
    share = tuple(one.variance_mm2 / total if total > 0.0 else 0.0 for one in lengths)
    return Trains(off, share)


def chance_inside(trains: Trains, low_mm: float, high_mm: float, shims_mm: Sequence[float] = ()) -> Chance:
    """Return the chance that a finished train falls inside its window.

    low_mm, high_mm: the window's ends from the nominal length, of either sign, low <= high, such as -0.5 and
    0.5. shims_mm: thicknesses at hand, above 0; a train counts when some of them together (or none) bring it
    inside. At most 12. Raises ValueError outside.
    Source: counting; standard error of a binomial share, sqrt(p (1 - p) / n).
    """
    low, high = _checked_window(low_mm, high_mm)
    shims = _checked_shims(shims_mm)
    return _chance(trains, low, high, shims)


def shims_needed(
    trains: Trains,
    low_mm: float,
    high_mm: float,
    probability: float,
    *,
    steps_mm: Sequence[float] = (),
    at_hand_mm: Sequence[float] = (),
) -> Shims | None:
    """Return the fewest shims that bring the train inside its window with a chosen chance, or None.

    low_mm, high_mm: as `chance_inside`. probability: above 0, to 1. steps_mm: thicknesses that can be had, as
    many of each as needed. at_hand_mm: single shims. At most 12 of both, each above 0; at most 5 are used.
    Of as many shims the thinner set is taken. None where no such set does it: a shim only lengthens, so a
    train that comes out too long asks for a shorter part and shims to make up for it. Raises ValueError
    outside. Source: counting over all sets, in order of their number.
    """
    low, high = _checked_window(low_mm, high_mm)
    wanted = checked(
        "The chance asked for", probability, 0.0, 1.0, "", "Give a share such as 0.95.", above_low=True
    )
    steps, hand = sorted(set(_checked_shims(steps_mm))), _checked_shims(at_hand_mm)
    _checked_shims([*steps, *hand])
    for number in range(MOST_SHIMS + 1):
        sets = {
            tuple(sorted([*bought, *own]))
            for had in range(min(number, len(hand)) + 1)
            for own in combinations(hand, had)
            for bought in combinations_with_replacement(steps, number - had)
        }
        for some in sorted(sets, key=lambda one: (math.fsum(one), one)):
            chance = _chance(trains, low, high, some)
            if chance.value >= wanted:
                return Shims(some, chance)
    return None


def _chance(trains: Trains, low: float, high: float, shims: Sequence[float]) -> Chance:
    if not shims:
        # Without shims nothing has to be put in order.
        inside = int(np.count_nonzero((trains.drawn_mm >= low) & (trains.drawn_mm <= high)))
        return _binomial(inside, trains.trials)
    totals = {0.0}
    for one in shims:
        totals |= {round(one + other, 9) for other in totals}
    # A train is inside with a shim when without it it lies in the window moved down by the shim.
    inside, done = 0, 0
    for total in sorted(totals, reverse=True):
        begin = max(int(np.searchsorted(trains.off_mm, low - total, side="left")), done)
        end = int(np.searchsorted(trains.off_mm, high - total, side="right"))
        if end > begin:
            inside += end - begin
            done = end
    return _binomial(inside, trains.trials)


def _binomial(inside: int, trials: int) -> Chance:
    share = inside / trials
    return Chance(share, math.sqrt(share * (1.0 - share) / trials), trials)


def _checked_window(low_mm: float, high_mm: float) -> tuple[float, float]:
    fix = "Give how far from the nominal length it may be."
    low = checked("The window's short end", low_mm, -LONGEST_MM, LONGEST_MM, "mm", fix)
    return low, checked("The window's long end", high_mm, low, LONGEST_MM, "mm", fix)


def _checked_shims(shims_mm: Sequence[float]) -> list[float]:
    if len(shims_mm) > _MOST_AVAILABLE:
        raise OutOfRangeError(
            f"There are {len(shims_mm)} shims to choose from; at most {_MOST_AVAILABLE} can be tried. "
            "Leave out those that are alike."
        )
    fix = "Give the thickness in mm."
    return [checked("A shim", one, 0.0, 100.0, "mm", fix, above_low=True) for one in shims_mm]
