"""What the Scout asks of the ground of all its tubes, correctors and cameras: arrays against floats."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from server.mechanics.payload import load_fraction
from server.optics.beam import Corrector, Tube, trace
from server.optics.field import Standing, compromise_focus_mm, corner_spot_um
from server.optics.imaging import (
    effective_focal_length_mm,
    effective_focal_ratio,
    field_of_view_deg,
    pixel_scale_arcsec,
    samples_per_width,
)
from server.optics.light_map import Way, light_at, lights_at
from server.optics.openings import Opening, Round
from server.optics.seeing import expected_fwhm_arcsec, expected_fwhms_arcsec
from server.optics.wavefront import FieldTerms
from tests.bench.measure import Line, Times

OFF = 3e-4
"""By how much widths and light may differ from those of each rig."""
TIMES_FASTER = 1000.0
"""Of the figures that are equal to the last bit."""
WIDTHS_MS = 500.0
Floats = np.ndarray


def run(
    folder: Path, *, rounds: int = 7, counts: tuple[int, int, int, int] = (60, 5, 12, 28), some: int = 300
) -> list[Line]:
    """Times it in turn; the folder is not used. One by one so many rigs by chance are taken, extrapolated to
    all combinations: floats know nothing of which are alike.
    """
    tubes, correctors, cameras, mounts = counts
    rng = np.random.default_rng(14)
    aperture, focal = rng.uniform(80.0, 300.0, tubes), rng.uniform(400.0, 1600.0, tubes)
    factor, pixel = rng.choice([0.75, 1.0, 1.5], correctors), rng.uniform(2.4, 9.0, cameras)
    wide, hole = rng.uniform(12.0, 36.0, cameras), rng.choice([0.0, 0.2, 0.35], tubes)
    rating, load = rng.uniform(5.0, 40.0, mounts), rng.uniform(3.0, 20.0, (tubes, correctors, cameras))
    of_tube, of_lens = np.ix_(range(tubes), range(correctors), [0])[:2]
    names = "aperture", "focal", "factor", "pixel", "wide", "hole", "load"
    given = np.broadcast_arrays(
        aperture[of_tube], focal[of_tube], factor[of_lens], pixel, wide, hole[of_tube], load
    )
    rigs = dict(zip(names, given, strict=True))
    flat = np.stack([one.ravel() for one in given], axis=1)
    few = flat[rng.permutation(len(flat))[:some]].tolist()
    combinations = len(flat) * mounts
    lines = _figures(rigs, rating, few, combinations, rounds)
    lines += _widths(flat, few, rounds)
    return lines + _lights(flat, few, rounds)


def _measures(share, aperture, focal, factor, pixel, wide, hole, load):
    """What is equal bit for bit, of one rig by floats or of all by arrays. share: of a load in ratings."""
    length = effective_focal_length_mm(focal, factor)
    ratio = effective_focal_ratio(focal, aperture, factor)
    scale = pixel_scale_arcsec(pixel, length)
    terms = FieldTerms(0.0 * focal, -1.0 / ratio / focal, 0.1 / focal / ratio, 0.1 / focal / ratio)
    high = wide / 1.5
    standing = Standing(focus_mm=compromise_focus_mm(terms, ratio, wide, high))
    spot = corner_spot_um(terms, wide, high, ratio, standing, hole)
    return (
        length,
        ratio,
        scale,
        field_of_view_deg(wide, length),
        samples_per_width(3.0, scale),
        spot,
        share(load),
    )


def _figures(
    rigs: dict[str, Floats], rating: Floats, few: list, combinations: int, rounds: int
) -> list[Line]:
    heavy = float(rating[0])

    def at_once():
        return _measures(lambda load: load_fraction(load[..., np.newaxis], rating), **rigs)

    def one_by_one():
        return [_measures(lambda load: load_fraction(load, heavy), *one) for one in few]

    ours, floats = _in_turn(at_once, one_by_one, rounds)
    one = Times(tuple(took / len(few) * combinations for took in floats))
    faster = one.median / Times(tuple(ours)).median
    equal = all(_equal(rating[:1], place) for place in few)
    return [
        Line(f"figures of {combinations:,} combinations, ms", rounds, Times(tuple(ours)).text),
        Line(f"  floats one by one, from {len(few)}, ms", rounds, one.text),
        Line(
            "  times faster", rounds, f"{faster:.0f}", f"{TIMES_FASTER:.0f} or more", faster >= TIMES_FASTER
        ),
        Line("  equal to the last bit", 1, "yes" if equal else "NO", "yes", equal),
    ]


def _equal(rating: Floats, place: list[float]) -> bool:
    alone = _measures(lambda load: load_fraction(load, float(rating[0])), *place)
    arrays = _measures(lambda load: load_fraction(load, rating), *(np.array([one]) for one in place))
    return [float(one[0]) for one in arrays] == list(alone)


def _widths(flat: Floats, few: list, rounds: int) -> list[Line]:
    def figures(aperture, focal, factor, pixel, wide, hole, load):
        return (
            3.0,
            aperture,
            550.0,
            pixel_scale_arcsec(pixel, effective_focal_length_mm(focal, factor)),
            hole,
            0.7,
        )

    expected = [expected_fwhm_arcsec(*figures(*one)) for one in few]
    # Anew each time: the bench keeps what it has worked out.
    shifted = iter(range(1, rounds + 1))

    def one_by_one():
        by = 1.0 + 1e-9 * next(shifted)
        return [expected_fwhm_arcsec(3.0 * by, *figures(*one)[1:]) for one in few]

    ours, floats = _in_turn(lambda: expected_fwhms_arcsec(*figures(*flat.T)), one_by_one, rounds)
    off = np.abs(expected_fwhms_arcsec(*figures(*np.array(few).T)) / np.array(expected) - 1.0).max()
    return _beside(f"star widths of {len(flat):,} rigs", ours, floats, len(few) / len(flat), off, WIDTHS_MS)


def _lights(flat: Floats, few: list, rounds: int) -> list[Line]:
    def way(aperture, focal, factor, pixel, wide, hole, load) -> Way:
        tube = Tube(focal, aperture, hole, 1.0 / focal)
        lens = Corrector(55.0 / (1.0 - factor), 55.0) if factor != 1.0 else Corrector(None, 55.0)
        openings: list[Opening] = [Round(90.0, 40.0), Round(55.0, 36.0), Round(17.5, wide + 4.0)]
        return trace(tube, [lens]), openings

    ways, corners = [way(*one) for one in flat.tolist()], flat[:, 4:5] / 2.0
    each = [(way(*one), np.array([one[4] / 2.0])) for one in few]

    def one_by_one():
        return [light_at(*one, x, x / 1.5).through[0] for one, x in each]

    ours, floats = _in_turn(lambda: lights_at(ways, corners, corners / 1.5), one_by_one, rounds)
    x = np.array([x for _, x in each])
    off = np.abs(lights_at([one for one, _ in each], x, x / 1.5)[0][:, 0] - np.array(one_by_one())).max()
    return _beside(f"corner light of {len(flat):,} rigs", ours, floats, len(few) / len(flat), off)


def _beside(
    what: str, ours: list[float], floats: list[float], share: float, off: float, aim_ms: float | None = None
) -> list[Line]:
    own, one = Times(tuple(ours)), Times(tuple(took / share for took in floats))
    aim = () if aim_ms is None else (f"under {aim_ms:.0f}", own.median * 1000.0 < aim_ms)
    return [
        Line(f"{what}, ms", len(ours), own.text, *aim),
        Line("  one by one, extrapolated, ms", len(ours), one.text),
        Line("  times faster", len(ours), f"{one.median / own.median:.0f}"),
        Line("  furthest off", 1, f"{off:.1e}", f"under {OFF:g}", bool(off < OFF)),
    ]


def _in_turn(ours: Callable[[], object], floats: Callable[[], object], rounds: int) -> tuple[list, list]:
    """Seconds of both, in turn, after a warm-up of ours."""
    ours()
    found: tuple[list[float], list[float]] = ([], [])
    for _ in range(rounds):
        for call, kept in zip((ours, floats), found, strict=True):
            begun = time.perf_counter()
            call()
            kept.append(time.perf_counter() - begun)
    return found
