"""The Scout's whole pass and its answers over 100,800 combinations, in processor time, and its memory.

The reference: of a sample of combinations each one's rig is built and the bench's own functions are asked for
the same measures, one rig at a time, extrapolated to all combinations. They know nothing of which are alike.
"""

from __future__ import annotations

import time
import tracemalloc
from collections import defaultdict
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path

import numpy as np

from server.domain.load.lifts import work_lifts
from server.domain.measure import nominal
from server.domain.rig import Rules
from server.domain.scout.candidates import Choice
from server.domain.scout.measures import ALTITUDE_DEG, Pass, work_pass
from server.domain.scout.needs import Needs
from server.domain.sky.depth import work_depth
from server.domain.sky.frame import Frame, frame_of, put_on
from server.domain.sky.reckoning import DepthWishes
from server.domain.stars.field import corner_spot_um, standing_of
from server.domain.stars.telescope import Telescope, telescope_of
from server.domain.stars.wishes import StarWishes
from server.domain.workings.case import Case
from server.domain.workings.lit import light_of
from server.domain.workings.loads import loads_of
from server.flow.scout import Answer, contradiction_of, gains_of, misses_of, others_of, scout, why_not
from server.mechanics.payload import load_fraction, total_mass
from server.optics.seeing import expected_fwhm_arcsec
from tests.bench.measure import Line, Times
from tests.domain.scout.made import GARDEN, TARGETS, drawn

TIMES_FASTER = 1000.0
MOST_MB = 100.0
MOST_MS = 20.0
MOST_SCOUT_MS = 3000.0
NEEDS = Needs(budget=6500.0, lift_kg=16.0, payload_share=0.7, hours=40.0)
RULES = Rules()


def choice_of(tubes: int, correctors: int, cameras: int, mounts: int) -> Choice:
    """Made-up parts of which every corrector, or none as one of them, suits every tube."""
    these = drawn(5, tubes, correctors - 1, cameras, mounts, lacking=0.0)
    anywhere = {"corrector_type": "flattener", "slowest_ratio": None}
    lenses = (
        None if one is None else replace(one, part=one.part.model_copy(update=anywhere))
        for one in these.correctors
    )
    return replace(these, correctors=tuple(lenses))


def run(
    folder: Path, *, rounds: int = 5, counts: tuple[int, int, int, int] = (60, 5, 12, 28), some: int = 200
) -> list[Line]:
    """Times all of it; the folder is not used. So many combinations by chance are asked one by one."""
    these = choice_of(*counts)
    peak_mb = _peak_mb(lambda: work_pass(these, TARGETS, GARDEN, "EUR"))
    table = work_pass(these, TARGETS, GARDEN, "EUR")
    rng = np.random.default_rng(8)
    ours, parts = [], []
    for turn in range(rounds):
        ours.append(_timed(lambda: work_pass(these, TARGETS, GARDEN, "EUR")))
        sample = rng.permutation(table.count)[:some].tolist()
        parts.append(_one_by_one(table, sample, turn))
    by_one = Times(tuple(sum(one.values()) for one in parts))
    faster = by_one.median / Times(tuple(ours)).median
    lines = [
        Line(f"all measures of {table.count:,} combinations, ms", rounds, Times(tuple(ours)).text),
        Line(f"  the bench's functions one by one, from {some}, s", rounds, _seconds(by_one)),
        *(
            Line(f"    of which {name}, s", rounds, _seconds(Times(tuple(one[name] for one in parts))))
            for name in parts[0]
        ),
        Line(
            "  times faster", rounds, f"{faster:.0f}", f"{TIMES_FASTER:.0f} or more", faster >= TIMES_FASTER
        ),
        Line(
            "  most memory above the start, MB",
            1,
            f"{peak_mb:.0f}",
            f"under {MOST_MB:.0f}",
            peak_mb < MOST_MB,
        ),
    ]
    return lines + _answers(these, rounds)


def _one_by_one(table: Pass, sample: list[int], turn: int) -> dict[str, float]:
    """Seconds of each function for all combinations, from those of a sample."""
    taken: dict[str, float] = defaultdict(float)
    for number in sample:
        for name, seconds in _asked(table.choice, table, number, 1.0 + 1e-9 * turn).items():
            taken[name] += seconds * table.count / len(sample)
    return taken


def _asked(these: Choice, table: Pass, number: int, by: float) -> dict[str, float]:
    """Seconds of one. by: of the seeing, other each time, since the bench keeps what it worked out."""
    taken: dict[str, float] = defaultdict(float)
    begun = time.process_time()

    def lap(name: str) -> None:
        nonlocal begun
        now = time.process_time()
        taken[name] += now - begun
        begun = now

    rig = these.of(table.candidate(number))
    assert rig is not None
    case = Case(rig)
    lap("building the rig")
    frame, telescope = frame_of(case), telescope_of(case)
    assert isinstance(frame, Frame)
    assert isinstance(telescope, Telescope)
    for target in TARGETS:
        put_on(frame, target, None)
    lap("frame, fills and optics")
    terms = telescope.spaced(None)
    corner_spot_um(telescope, terms, standing_of(telescope, terms, StarWishes())[0])
    lap("the corner's star")
    light_of(case)
    lap("the light of a quarter")
    assert GARDEN.seeing_arcsec is not None
    star = expected_fwhm_arcsec(
        GARDEN.seeing_arcsec * by,
        telescope.aperture_mm,
        RULES.wavelength_nm,
        frame.scale_arcsec,
        telescope.obstruction,
        RULES.guiding_arcsec,
    )
    lap("the star's width")
    for target in TARGETS:
        work_depth(telescope, GARDEN, target, DepthWishes(), star, ALTITUDE_DEG)
    lap("the depth (hours and their spread, moonlight, stars)")
    load = total_mass((one.item.name, one.mass_kg) for one in loads_of(case)).known_kg
    rated = None if rig.mount is None else nominal(rig.mount.part.rated_kg)
    if rated is not None:
        load_fraction(load, rated)
    work_lifts(case)
    lap("load and lifts")
    return taken


def _answers(these: Choice, rounds: int) -> list[Line]:
    """What the page asks, from nothing and once the table is there."""
    answer = scout(these, NEEDS, TARGETS, GARDEN)
    whole = Times(tuple(_timed(lambda: scout(these, NEEDS, TARGETS, GARDEN)) for _ in range(rounds)))
    off = [number for number in answer.passing.tolist() if number not in set(answer.front.tolist())]
    failing = int(np.flatnonzero(~answer.judged.passes)[-1]) if not answer.judged.passes.all() else 0
    beaten = off[-1] if off else failing
    count, last = len(answer.passing), answer.table.candidate(answer.table.count - 1)
    lines = [
        Line(
            f"the whole answer ({count:,} pass, {len(answer.front)} on the front), ms",
            rounds,
            whole.text,
            f"under {MOST_SCOUT_MS:.0f}",
            whole.median * 1e3 < MOST_SCOUT_MS,
        )
    ]
    aimed: dict[str, Callable[[Answer], object]] = {
        "  why not, of one that fails": lambda found: why_not(found, failing),
        "  why not, of one that is beaten": lambda found: why_not(found, beaten),
        "  what each need costs": gains_of,
    }
    told: dict[str, Callable[[Answer], object]] = {
        "  of each other tube the nearest": others_of,
        "  the nearest misses": misses_of,
        "  needs that contradict": contradiction_of,
        "  the number of a combination": lambda found: found.table.number_of(last),
    }
    for what, work in (aimed | told).items():
        asked = partial(work, answer)
        taken = Times(tuple(_timed(asked) for _ in range(rounds + 1))[1:])
        aim = (f"under {MOST_MS:.0f}", taken.median * 1e3 < MOST_MS) if what in aimed else ()
        lines.append(Line(f"{what}, ms", rounds, taken.text, *aim))
    return lines


def _peak_mb(work: Callable[[], object]) -> float:
    """The most that is held at once beyond what was there before."""
    work()  # What is kept for good, as imports are, is the bench's.
    tracemalloc.start()
    try:
        work()
        return tracemalloc.get_traced_memory()[1] / 1e6
    finally:
        tracemalloc.stop()


def _seconds(times: Times) -> str:
    return f"{times.median:.1f} / {times.p95:.1f}"


def _timed(work: Callable[[], object]) -> float:
    begun = time.process_time()
    work()
    return time.process_time() - begun
