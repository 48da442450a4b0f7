"""The Scout's figures beside those of the rigs that one press makes, over a real store.

Source: none needed: the bench's own functions are asked of each rig as it then stands on the bench.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator
from typing import Any

import pytest

from server.domain.observer import Holding
from server.domain.parts import Part
from server.domain.rig import Rig
from server.domain.scout.measures import ALTITUDE_DEG, Pass, work_built
from server.domain.scout.needs import MeasureName, Needs
from server.domain.sky.depth import Depth, work_depth
from server.domain.sky.frame import Frame, frame_of, put_on
from server.domain.sky.reckoning import DepthWishes
from server.domain.stars.field import corner_spot_um, standing_of
from server.domain.stars.telescope import telescope_of
from server.domain.stars.wishes import StarWishes
from server.domain.workings.case import Case
from server.domain.workings.lit import light_of
from server.domain.workings.loads import loads_of
from server.flow.scout import choice_of, scout
from server.mechanics.payload import total_mass
from tests.domain.rigs import camera, corrector, mm, mount, ring
from tests.domain.scout.made import FULL_SENSOR, GARDEN, SMALL, drawn
from tests.flow.test_workbench import Install, install

__all__ = ["install"]

OFF = 3e-4
"""By how much the corner's light, worked out on many at once, may differ (as in test_measures)."""
NARROW: dict[str, Any] = {"width_px": 4500, "height_px": 3000, **FULL_SENSOR}
NAMES: tuple[MeasureName, ...] = ("load", "hours", "corner", "fill_least", "light")


def on_the_bench(rig: Rig) -> dict[str, float]:
    """What the bench's functions say of a rig; nan for what is not known."""
    case = Case(rig)
    found: dict[str, float] = dict.fromkeys(NAMES, math.nan)
    carried = total_mass((load.item.name, load.mass_kg) for load in loads_of(case))
    found["load"] = math.nan if carried.missing else carried.known_kg
    telescope, frame, lit = telescope_of(case), frame_of(case), light_of(case)
    assert telescope is not None
    depth = work_depth(telescope, GARDEN, SMALL, DepthWishes(), 3.0, ALTITUDE_DEG)
    assert isinstance(depth, Depth)
    assert depth.hours is not None
    assert isinstance(frame, Frame)
    found["hours"], found["fill_least"] = depth.hours.value, put_on(frame, SMALL, None).best_fill or math.nan
    if not telescope.perfect and not telescope.missing:
        standing, _ = standing_of(telescope, telescope.spaced(None), StarWishes())
        spot = corner_spot_um(telescope, telescope.spaced(None), standing)
        found["corner"] = 2.0 * spot / telescope.um_per_arcsec
    if lit is not None:
        found["light"] = lit.quarter.light[lit.quarter.points["corner"]]
    return found


def told(table: Pass, number: int) -> dict[str, float]:
    return {name: float(table.measures["value"][name][number]) for name in NAMES}


def agree(scouts: dict[str, float], benchs: dict[str, float]) -> bool:
    """Whether all figures are the same to the last bit, the light but for its rounding."""
    return all(
        benchs[name] == pytest.approx(scouts[name], rel=OFF if name == "light" else 0.0, abs=0.0, nan_ok=True)
        for name in NAMES
    )


@pytest.fixture
def pressed(install: Install) -> Iterator[list[tuple[Rig, Pass, int]]]:
    """Every combination of some parts as it stands on the bench, with the Scout's table and its number there.

    One corrector wants just what the cameras have, one 37.5 mm more, for which there are rings, and one
    20.3 mm more, for which there are rings of 20.2.
    """
    some: list[Part] = [
        *(one.part for one in drawn(3, tubes=6, lacking=0.0).tubes),
        corrector(model="None needed", back_focus_mm=17.5),
        corrector(model="Just so"),
        corrector(model="Nearly", back_focus_mm=mm(37.8, 0.5)),
        camera(model="Mono", **NARROW),
        camera(model="Second", **{**NARROW, "width_px": 3000}),
        mount(20.0, mass_kg=8.0),
        *(ring(long, model=f"{long} mm") for long in (37.5, 20.2)),
    ]
    with install.bench() as bench:
        for part in some:
            bench.add_part(part, Holding(owned=5))
        choice = choice_of(bench.store, bench.observer.id, Needs())
        table = scout(choice, Needs(), (SMALL,), GARDEN).table
        found = []
        for number in range(table.count):
            stored = bench.take_candidate(choice.parts_of(table.candidate(number)))
            found.append((bench.bench(stored.id).rig, table, number))
        yield found


def rings_of(rig: Rig) -> list[float]:
    """What each ring of a rig weighs, kg."""
    return [one.part.mass_kg.nominal for one in rig.train if one.part.kind == "spacer_ring"]


def test_the_scouts_figures_are_those_of_the_rig_on_the_bench_or_differ_by_its_rings_alone(pressed: Any):
    kinds: Counter[str] = Counter()
    corners = 0
    for rig, table, number in pressed:
        benchs, scouts, rings = on_the_bench(rig), told(table, number), rings_of(rig)
        spacing = Case(rig).spacing
        off = None if spacing is None else spacing.error_mm
        if not rings and not off:
            assert agree(scouts, benchs), (number, scouts, benchs)
            kinds["no ring"] += 1
        if rings:
            assert benchs["load"] == pytest.approx(math.fsum((scouts["load"], *rings)), rel=1e-15)
            exact = abs(off or 0.0) < 1e-6
            for name in ("hours", "corner", "fill_least") if exact else ():
                assert benchs[name] == pytest.approx(scouts[name], rel=1e-9, nan_ok=True)
            kinds["exact" if exact else "off"] += 1
        corners += not math.isnan(benchs["corner"])
        # Side by side shows these beside the others.
        built = work_built(table, number, rig, (SMALL,), GARDEN, "EUR")
        assert agree(told(built, 0), benchs), (number, told(built, 0), benchs)
    assert corners > 5
    assert min(kinds[kind] for kind in ("no ring", "exact", "off")) > 2, kinds
