"""The light path's numbers: the sensor's map against polygons, random trains against their bare draw."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import shapely
import shapely.affinity

from server.optics.beam import cone
from server.optics.draws import Length, make_trains
from server.optics.light_map import light_at
from server.optics.openings import Opening, Rectangle, Round, prism
from server.optics.tolerance import Spread
from tests.bench.measure import Line, Times
from tests.optics.drawn_light import STATED_ERROR, drawn_share, grid

PUPIL_MM = 600.0
BEAM = cone(5.0, PUPIL_MM)
WIDTH_MM, HEIGHT_MM = 36.0, 24.0
DISTANCES = (6, 15, 18, 22, 30, 40, 50, 55, 60, 75, 95, 110)
DIAMETERS = (42, 40, 41, 41, 42, 42, 42, 41, 42, 43, 43, 44)
TRAIN: tuple[Round, ...] = tuple(Round(x, d) for x, d in zip(DISTANCES, DIAMETERS, strict=True))
"""Twelve round openings, all of which cut somewhere."""

MIXED: tuple[Opening, ...] = (*TRAIN[:10], Rectangle(20.0, 36.0, 36.0), prism(60.0, 90.0, 15.0, 12.0, 12.0))
"""Ten of them with a square filter and a prism."""

ENOUGH_SEGMENTS = 32
"""Sides to a quarter of a turn the polygons begin with: 128 sides are short of a disc by (2 pi / 128)^2 / 6,
4.0e-4 of it. They are doubled until the error is below the stated one."""

TIMES_FASTER = 50.0
TIMES_THE_DRAW = 3.0
TRAINS = 100_000


def run(
    folder: Path,
    *,
    columns: int = 96,
    rows: int = 64,
    trains: int = TRAINS,
    rounds: int = 15,
    warm_up: int = 3,
) -> list[Line]:
    """Times both; the folder is not used.

    Polygons are cut once over the whole map (they take seconds), by arrays of shapes, with as few sides (of
    doubled numbers) as keep their error below the stated one.
    """
    own: list[float] = []
    mixed: list[float] = []
    one_pass: list[float] = []
    places = grid(WIDTH_MM, HEIGHT_MM, columns, rows)
    values = np.random.default_rng(1).random((len(TRAIN), rows, columns))
    for number in range(warm_up + rounds):
        taken = (
            _timed(lambda: light_at(BEAM, TRAIN, *places)),
            _timed(lambda: light_at(BEAM, MIXED, *places)),
            _timed(lambda: np.sqrt(values)),
        )
        if number >= warm_up:
            for kept, took in zip((own, mixed, one_pass), taken, strict=True):
                kept.append(took)
    exact = light_at(BEAM, TRAIN, *places)
    polygons_took, segments, error = _cut_polygons(*places, exact.through, rows * columns // 64 + 1)
    map_times, pass_times = Times(tuple(own)), Times(tuple(one_pass))
    faster = polygons_took / map_times.median
    off = _largest_error(columns, rows)
    return [
        Line(f"light map, {columns} x {rows} points, 12 openings, ms", rounds, map_times.text),
        Line("  the same with a square filter and a prism, ms", rounds, Times(tuple(mixed)).text),
        Line(
            "  largest error against polygons of 8192 sides",
            1,
            f"{off:.1e}",
            f"under {STATED_ERROR:g}",
            off < STATED_ERROR,
        ),
        Line(f"  shapely, {4 * segments} sides (error {error:.0e}), ms", 1, f"{polygons_took * 1000:.0f}"),
        Line(
            "  times faster than shapely",
            rounds,
            f"{faster:.0f}",
            f"{TIMES_FASTER:.0f} or more",
            faster >= TIMES_FASTER,
        ),
        Line("  one numpy pass (a root) over 12 values a point, ms", rounds, pass_times.text),
        Line("  times that pass", rounds, f"{map_times.median / pass_times.median:.0f}"),
        *_trains(trains, rounds, warm_up),
    ]


def _trains(trains: int, rounds: int, warm_up: int) -> list[Line]:
    lengths = [
        *(Length(Spread(0.05, 0.05), "maker") for _ in range(7)),
        *(Length(Spread(0.1, 0.05), "typed", -1) for _ in range(2)),
        *(Length(Spread(0.02, 0.02), "measured") for _ in range(2)),
        Length(Spread(0.03, 0.02), "measured"),
    ]
    measured = sum(one.basis == "measured" for one in lengths)

    def bare() -> object:
        rng = np.random.default_rng(3)
        return rng.random((len(lengths) - measured, trains)), rng.standard_normal((measured, trains))

    own, draws = [], []
    for number in range(warm_up + rounds):
        taken = _timed(lambda: make_trains(lengths, seed=3, trials=trains)), _timed(bare)
        if number >= warm_up:
            own.append(taken[0])
            draws.append(taken[1])
    ratio = Times(tuple(own)).median / Times(tuple(draws)).median
    return [
        Line(
            f"{trains:,} random trains of {len(lengths)} lengths, ms",
            rounds,
            Times(tuple(own)).text,
        ),
        Line("  the bare draw of the same numbers, ms", rounds, Times(tuple(draws)).text),
        Line(
            "  times that draw", rounds, f"{ratio:.2f}", f"under {TIMES_THE_DRAW:g}", ratio < TIMES_THE_DRAW
        ),
    ]


def _cut_polygons(x: np.ndarray, y: np.ndarray, exact: np.ndarray, step: int) -> tuple[float, int, float]:
    """Seconds, sides to a quarter of a turn and error of the fastest polygons that keep the stated error."""
    # A sample over the map tells how many sides are needed.
    some = np.s_[::step]
    segments = ENOUGH_SEGMENTS
    while _polygon_error(x[some], y[some], exact[some], segments) > STATED_ERROR:
        segments *= 2
    begun = time.perf_counter()
    shares = _shares(x, y, segments)
    took = time.perf_counter() - begun
    return took, segments, float(np.abs(shares - exact).max())


def _polygon_error(x: np.ndarray, y: np.ndarray, exact: np.ndarray, segments: int) -> float:
    return float(np.abs(_shares(x, y, segments) - exact).max())


def _shares(x: np.ndarray, y: np.ndarray, segments: int) -> np.ndarray:
    """The share of each point by polygons, all points in one call; openings that do not cut are left out."""
    pupil = PUPIL_MM / (2.0 * BEAM.focal_ratio)
    whole = shapely.Point(0.0, 0.0).buffer(pupil, quad_segs=segments)
    light = np.full(x.shape, whole, dtype=object)
    for one in TRAIN:
        larger = PUPIL_MM / one.distance_mm
        middle_x, middle_y = x * (1.0 - larger), y * (1.0 - larger)
        radius = one.diameter_mm / 2.0 * larger
        cuts = np.flatnonzero(np.hypot(middle_x, middle_y) + pupil > radius)
        if cuts.size:
            places = shapely.points(middle_x[cuts], middle_y[cuts])
            discs = shapely.buffer(places, radius, quad_segs=segments)
            light[cuts] = shapely.intersection(light[cuts], discs)
    return shapely.area(light) / whole.area


def _largest_error(columns: int, rows: int) -> float:
    """The largest error at some points of both maps, against polygons of very many sides."""
    worst = 0.0
    for openings in (TRAIN, MIXED):
        x, y = grid(WIDTH_MM, HEIGHT_MM, min(columns, 9), min(rows, 7))
        for place in zip(x, y, light_at(BEAM, openings, x, y).through, strict=True):
            drawn = drawn_share(BEAM, list(openings), *place[:2], quad_segs=2048)
            worst = max(worst, abs(place[2] - drawn))
    return worst


def _timed(call: Callable[[], object]) -> float:
    begun = time.perf_counter()
    call()
    return time.perf_counter() - begun
