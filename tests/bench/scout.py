"""What the Scout works out over all its candidates: against the quadratic method, in processor time."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from server.search.scout.fronts_of_many import Bools, Floats, beaten_by, front
from server.search.scout.influence import influence
from server.search.scout.needs import contradictory, judge, nearest_misses, relax
from server.search.scout.steps import boxes
from tests.bench.measure import Line, Times

TIMES_FASTER = 200.0
MOST_MS = 20.0
MOST_FRONT_MS = 3000.0
MEASURES = ("money", "mass", "hours", "corner star", "empty frame", "collimation")
STEPS = (100.0, 1.0, 0.1, 0.25, 0.1, 0.0)


def candidates(tubes: int, correctors: int, cameras: int, mounts: int) -> Floats:
    """Made-up figures of all combinations, (rows, measures), composed as those of real ones are: sums of
    prices and masses, and what a mount has no part in."""
    rng = np.random.default_rng(5)
    counts = (tubes, correctors, cameras, mounts)
    aperture, focal = rng.uniform(60, 300, tubes), rng.uniform(3.5, 10, tubes)
    price = [np.round(9 * aperture**1.1 * rng.uniform(0.7, 1.4, tubes), -1)]
    price += [
        np.round(rng.uniform(low, high, count), -1)
        for low, high, count in zip((0, 300, 400), (600, 3000, 6000), counts[1:], strict=True)
    ]
    mass = [aperture**2 / 6000 * rng.uniform(0.7, 1.3, tubes)]
    mass += [
        rng.uniform(low, high, count)
        for low, high, count in zip((0.0, 0.3, 4.0), (1.0, 1.5, 30.0), counts[1:], strict=True)
    ]
    factor, pixel = rng.uniform(0.7, 1.0, correctors), rng.uniform(2.4, 9.0, cameras)
    axes = np.ix_(*(np.arange(count) for count in counts))
    hours = 4e5 / aperture[axes[0]] ** 2 * rng.uniform(0.8, 1.3, cameras)[axes[2]] * factor[axes[1]] ** 0.2
    length = (aperture * focal)[axes[0]] * factor[axes[1]]
    corner = 1.0 + rng.uniform(0, 6, (tubes, correctors, cameras))[axes[0], axes[1], axes[2]]
    empty = np.abs(1.0 - 206.3 * 4000 * pixel[axes[2]] / length / 3600)
    upkeep = rng.integers(0, 4, tubes)[axes[0]]
    full = (
        sum(one[axis] for one, axis in zip(price, axes, strict=True)),
        sum(one[axis] for one, axis in zip(mass, axes, strict=True)),
        np.log(hours),
        corner,
        empty,
        upkeep,
    )
    return np.column_stack([np.broadcast_to(one, counts).ravel() for one in full]).astype(float)


def run(
    folder: Path, *, rounds: int = 9, counts: tuple[int, int, int, int] = (60, 5, 12, 28), few: int = 8000
) -> list[Line]:
    """Times all of it; the folder is not used. The quadratic method takes so few, and is extrapolated."""
    values = candidates(*counts)
    rows = len(values)
    few = min(few, rows)
    sample = values[np.random.default_rng(6).permutation(rows)[:few], :3]
    limits = np.array([6500.0, 25.0, np.log(30.0), 5.0, 0.8, 2.0])
    lines = []
    quadratic, ours, agreed = [], [], True
    for _ in range(rounds):
        begun = time.process_time()
        plain = by_pairs(sample)
        quadratic.append((time.process_time() - begun) * (rows / few) ** 2)
        ours.append(_timed(lambda: front(values[:, :3])))
        agreed &= plain == front(sample).tolist()
    faster = Times(tuple(quadratic)).median / Times(tuple(ours)).median
    lines += [
        Line(f"front of 3 measures, {rows} rows: quadratic, from {few}, s", rounds, f"{min(quadratic):.1f}"),
        Line(f"  as the Scout does ({front(values[:, :3]).size} rows), ms", rounds, Times(tuple(ours)).text),
        Line(
            "    times faster", rounds, f"{faster:.0f}", f"{TIMES_FASTER:.0f} or more", faster >= TIMES_FASTER
        ),
        Line("    the same rows of the few", rounds, "yes" if agreed else "NO", "the same", agreed),
    ]
    lines += [_front(f"{count} measures", values[:, :count], rounds) for count in (2, 4, 5, 6)]
    for count in (3, 4):
        lines.append(_front(f"{count} measures against each other", against_each_other(rows, count), rounds))
    return lines + _answers(values, limits, rounds)


def _answers(values: Floats, limits: Floats, rounds: int) -> list[Line]:
    """What the page asks once the figures are there."""
    rows = len(values)
    three = np.ascontiguousarray(values[:, :3])
    judged = judge(values, limits)
    passing = np.flatnonzero(judged.passes)
    worst, middle = np.argsort((three / three.max(axis=0)).sum(axis=1))[[-1, rows // 2]].tolist()
    worth = np.array([100.0, 1.0, 0.1, 0.25, 0.1, 1.0])
    tight = np.array([300.0, 3.0, 0.0, 1.0, 0.01, 0.0])
    low, high = three[passing].copy(), three[passing].copy()
    high[::5, 1] *= 1.3

    def costs() -> None:
        again = judge(values, limits)
        for which in range(limits.size):
            relax(again, values, which)

    return [
        _line(f"needs judged, what each costs ({passing.size} pass)", rounds, costs, MOST_MS),
        _line("  what one costs", rounds, lambda: relax(judged, values, 1), MOST_MS),
        _line("nearest misses", rounds, lambda: nearest_misses(judged, worth, 5), MOST_MS),
        _line("needs that contradict", rounds, lambda: contradictory(values, tight), MOST_MS),
        _line(
            f"why not, of the worst ({beaten_by(three, worst).size} beat it)",
            rounds,
            lambda: beaten_by(three, worst),
            MOST_MS,
        ),
        _line(
            f"why not, of a middling one ({beaten_by(three, middle).size} beat it)",
            rounds,
            lambda: beaten_by(three, middle),
            MOST_MS,
        ),
        _line(
            "front in steps, 6 measures",
            rounds,
            lambda: front(boxes(values, STEPS).rounded),
        ),
        _line(f"influence of {(low < high).sum()} figures", rounds, lambda: influence(low, high)),
    ]


def by_pairs(values: Floats) -> list[int]:
    """The quadratic method: each row against all others, a measure at a time."""
    columns: list[Floats] = [np.ascontiguousarray(column) for column in values.T]
    kept = []
    for at in range(len(values)):
        no_worse: Bools = columns[0] <= columns[0][at]
        better: Bools = columns[0] < columns[0][at]
        for column in columns[1:]:
            no_worse &= column <= column[at]
            better |= column < column[at]
        if not (no_worse & better).any():
            kept.append(at)
    return kept


def against_each_other(rows: int, measures: int) -> Floats:
    """What is good in one measure is bad in another: a front as long as few tables have."""
    figures = np.random.default_rng(7).normal(size=(rows, measures))
    figures[:, 0] = 0.3 * figures[:, 0] - figures[:, 1:].sum(axis=1)
    return figures


def _front(what: str, values: Floats, rounds: int) -> Line:
    return _line(f"front of {what} ({front(values).size} rows)", rounds, lambda: front(values), MOST_FRONT_MS)


def _line(what: str, rounds: int, work: Callable[[], object], most_ms: float | None = None) -> Line:
    taken = Times(tuple(_timed(work) for _ in range(rounds + 1))[1:])
    if most_ms is None:
        return Line(f"{what}, ms", rounds, taken.text)
    return Line(f"{what}, ms", rounds, taken.text, f"under {most_ms:.0f}", taken.median * 1e3 < most_ms)


def _timed(work: Callable[[], object]) -> float:
    begun = time.process_time()
    work()
    return time.process_time() - begun
