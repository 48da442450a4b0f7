"""The Scout's figures are the bench's: each of 200 combinations by chance, as the rig that one press makes.

Source: none needed: the bench's own functions are asked, on a case of their own, one rig at a time.

A tube that says nothing of its obstruction or its mass has a range by its design there (usual.py), which the
bench does not know. The bench is then asked about the same tube with the range's figure entered, and only
for what the range is for: the obstruction for hours and the star's width, the mass for what is carried and
lifted. The corner's star and light are asked of the tube as it is.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import cache
from typing import Any

import pytest

from server.domain.guarded import worked_or_none
from server.domain.load.lifts import work_lifts
from server.domain.load_plan import Lift, LoadPlan
from server.domain.measure import Measure
from server.domain.rig import Rig, Rules
from server.domain.said import said
from server.domain.scout.candidates import Candidate, Choice, suits
from server.domain.scout.measures import ALTITUDE_DEG, ENDS, End, Pass, work_pass
from server.domain.scout.needs import MeasureName
from server.domain.scout.usual import TubeFigures, figures_of
from server.domain.sky.depth import Depth, work_depth
from server.domain.sky.frame import Frame, frame_of, panels_over, put_on
from server.domain.sky.reckoning import DepthWishes
from server.domain.sky.target import Target
from server.domain.stars.field import corner_spot_um, standing_of
from server.domain.stars.telescope import telescope_of
from server.domain.stars.wishes import StarWishes
from server.domain.workings.case import Case
from server.domain.workings.lit import light_of
from server.domain.workings.loads import loads_of
from server.mechanics.payload import load_fraction, total_mass
from server.optics.seeing import expected_fwhm_arcsec
from tests.domain.rigs import camera, corrector, mount, tube
from tests.domain.scout.made import FULL_SENSOR, GALAXY, GARDEN, TARGETS, choice, drawn, euros

SAMPLED = 200
OFF = 3e-4
"""By how much the star's width (relative) and the corner's light may differ."""
RULES = Rules()


@cache
def whole() -> Pass:
    return work_pass(these(), TARGETS, GARDEN, "EUR")


def these() -> Choice:
    return drawn(1, tubes=40)


@cache
def sampled() -> tuple[int, ...]:
    return tuple(random.Random(2).sample(range(whole().count), SAMPLED))


@cache
def figures_of_tube(number: int) -> TubeFigures:
    part = next(one.part for one in these().tubes if one.id == number)
    case = Case(rig_with(Candidate(number, 0, these().cameras[0].id, 0)))
    return figures_of(part, case.optics.obstruction)


def rig_with(candidate: Candidate, entered: Mapping[str, Any] | None = None) -> Rig:
    """The rig that one press makes, with figures entered into its tube."""
    tubes = tuple(
        replace(one, part=one.part.model_copy(update=dict(entered or {})))
        if one.id == candidate.tube
        else one
        for one in these().tubes
    )
    rig = replace(these(), tubes=tubes).of(candidate)
    assert rig is not None
    return rig


def ranged(candidate: Candidate, end: End, *fields: str) -> dict[str, Any]:
    """What is entered where the tube says nothing of it."""
    figures = figures_of_tube(candidate.tube)
    shares = {"obstruction_mm": "obstruction_share", "mass_kg": "mass_kg"}
    spans = {"obstruction_mm": figures.obstruction, "mass_kg": figures.mass_kg}
    return {
        shares[field]: Measure(nominal=getattr(spans[field], end))
        for field in fields
        if field in figures.assumed
    }


def same(figure: float, wanted: float | None) -> bool:
    return math.isnan(figure) if wanted is None else figure == wanted


def check(name: MeasureName, bench: Callable[[Candidate, End], float | None], off: float = 0.0) -> None:
    told = 0
    for number in sampled():
        candidate = whole().candidate(number)
        for end in ENDS:
            figure, wanted = float(whole().measures[end][name][number]), bench(candidate, end)
            if off and wanted is not None:
                assert figure == pytest.approx(wanted, rel=off, abs=off), (name, candidate, end)
            else:
                assert same(figure, wanted), (name, candidate, end, figure, wanted)
            told += wanted is not None
    assert told > SAMPLED // 2, name


def known_load(candidate: Candidate, end: End) -> float | None:
    rig = rig_with(candidate, ranged(candidate, end, "mass_kg"))
    carried = total_mass((load.item.name, load.mass_kg) for load in loads_of(Case(rig)))
    return None if carried.missing else carried.known_kg


# -- Each figure


def test_what_the_mount_carries_is_the_benchs_sum():
    check("load", known_load)


def test_the_share_of_the_mounts_rating_is_the_benchs():
    def bench(candidate: Candidate, end: End) -> float | None:
        carried = known_load(candidate, end)
        rated = next(one.part.rated_kg for one in these().mounts if one and one.id == candidate.mount)
        return None if carried is None or rated is None else load_fraction(carried, rated.nominal)

    check("share", bench)


def test_the_heaviest_piece_is_the_heaviest_of_the_benchs_lifts_when_the_tube_is_lifted_by_itself():
    def bench(candidate: Candidate, end: End) -> float | None:
        rig = rig_with(candidate, ranged(candidate, end, "mass_kg"))
        plan = LoadPlan(lifts=(Lift(name="the tube", parts=(candidate.tube,)),))
        lines = work_lifts(Case(replace(rig, load=plan)))
        apart = {candidate.tube, candidate.mount}
        alone = [line for line in lines if {piece.part_id for piece in line.pieces} <= apart]
        assert len(alone) == 2
        mount = next((one.part for one in these().mounts if one and one.id == candidate.mount), None)
        if mount is not None and mount.heaviest_piece_kg is None and mount.mass_kg is None and end != "low":
            return None
        return max(line.mass_kg for line in alone)

    check("lift", bench)


def test_the_hours_are_the_depths_for_all_targets_together():
    def bench(candidate: Candidate, end: End) -> float | None:
        number = whole().number_of(candidate)
        if end != "value" and lacking(number):
            return float(whole().measures[end]["hours"][number])  # The next test's.
        rig = rig_with(candidate, ranged(candidate, end, "obstruction_mm"))
        telescope = worked_or_none(said("work.scout"), lambda: telescope_of(Case(rig)))
        if telescope is None:
            return None
        found = [work_depth(telescope, GARDEN, one, DepthWishes(), 3.0, ALTITUDE_DEG) for one in TARGETS]
        counts = [panels_of(rig, one) for one in TARGETS]
        hours = [
            count * one.hours.value
            for one, count in zip(found, counts, strict=True)
            if isinstance(one, Depth) and one.hours is not None
        ]
        return sum(hours) if len(hours) == len(TARGETS) else None

    check("hours", bench)


def panels_of(rig: Rig, target: Target) -> int:
    """How many frames take a target in, by the bench's own count of columns and rows."""
    frame = frame_of(Case(rig))
    if not isinstance(frame, Frame) or target.ellipse_arcmin is None:
        return 1
    if (put_on(frame, target, None).best_fill or 0.0) <= 1.0:
        return 1
    (columns, rows), _ = panels_over(frame, target.ellipse_arcmin)
    return columns * rows


def lacking(number: int | None) -> bool:
    assert number is not None
    return bool(whole().lacking[int(whole().of[number])])


def test_hours_are_a_range_while_a_figure_of_the_camera_is_not_known():
    ends = [whole().measures[end]["hours"] for end in ("low", "value", "high")]
    seen = 0
    for number in range(whole().count):
        low, value, high = (float(one[number]) for one in ends)
        if lacking(number) and not math.isnan(value):
            assert low < value < high
            seen += 1
    assert seen


def test_the_fills_are_those_at_the_best_angle():
    def fills(candidate: Candidate) -> list[float]:
        frame = frame_of(Case(rig_with(candidate)))
        found = [put_on(frame, one, None).best_fill for one in TARGETS] if isinstance(frame, Frame) else []
        return [fill for fill in found if fill is not None]

    check("fill_least", lambda candidate, _: min(fills(candidate), default=None))
    check("fill_most", lambda candidate, _: max(fills(candidate), default=None))
    for number in sampled():
        wanted = fills(whole().candidate(number)) or [math.nan] * len(TARGETS)
        assert whole().fills[:, number].tolist() == pytest.approx(wanted, rel=0.0, abs=0.0, nan_ok=True)


def test_the_corners_star_is_what_the_check_of_the_corners_works_out():
    def bench(candidate: Candidate, _: End) -> float | None:
        telescope = telescope_of(Case(rig_with(candidate)))
        # What is taken for perfect has no figure, nor has what lacks one.
        if telescope is None or telescope.perfect or telescope.missing:
            return None
        terms = telescope.spaced(None)
        standing, _best = standing_of(telescope, terms, StarWishes())
        return 2.0 * corner_spot_um(telescope, terms, standing) / telescope.um_per_arcsec

    check("corner", bench)


def test_the_light_in_the_corner_is_the_benchs():
    def bench(candidate: Candidate, _: End) -> float | None:
        lit = light_of(Case(rig_with(candidate)))
        return None if lit is None else lit.quarter.light[lit.quarter.points["corner"]]

    check("light", bench, OFF)


def test_a_stars_width_is_the_benchs_integral():
    def bench(candidate: Candidate, _: End) -> float | None:
        case = Case(rig_with(candidate, ranged(candidate, "value", "obstruction_mm")))
        frame, optics = frame_of(case), case.optics
        if not isinstance(frame, Frame) or optics.aperture_mm is None:
            return None
        assert GARDEN.seeing_arcsec is not None
        assert optics.obstruction is not None
        return expected_fwhm_arcsec(
            GARDEN.seeing_arcsec,
            optics.aperture_mm,
            RULES.wavelength_nm,
            frame.scale_arcsec,
            optics.obstruction,
            RULES.guiding_arcsec,
        )

    check("star", bench, OFF)


def test_the_cost_is_the_sum_of_what_is_not_owned_to_the_cent():
    parts = these().by_number

    def bench(candidate: Candidate, end: End) -> float | None:
        numbers = (candidate.tube, candidate.corrector, candidate.camera, candidate.mount)
        prices = [parts[one].part.price for one in numbers if one and one not in these().owned]
        known = [price.hundredths for price in prices if price is not None and price.currency == "EUR"]
        return sum(known) / 100 if len(known) == len(prices) or end == "low" else None

    check("cost", bench)


# -- All of them


def test_every_combination_that_suits_is_in_the_table_once():
    suited = sum(
        suits(one.part, None if lens is None else lens.part)
        for one in these().tubes
        for lens in these().correctors
    )
    assert 0 < suited < len(these().tubes) * len(these().correctors)
    assert whole().count == suited * len(these().cameras) * len(these().mounts)
    found = {whole().candidate(number) for number in range(whole().count)}
    assert len(found) == whole().count
    assert whole().number_of(whole().candidate(77)) == 77
    assert whole().number_of(Candidate(-5, 0, 0, 0)) is None


def test_a_combination_that_no_formula_holds_for_is_in_the_table_with_its_figures_unknown():
    # A sensor 44 mm behind a corrector that asks for 15: it stands further out than by the whole distance.
    deep = choice(
        [tube(design="apochromat", obstruction_mm=0.0)],
        [camera(flange_mm=44.0, **FULL_SENSOR)],
        [corrector(back_focus_mm=15.0)],
        [mount(20.0, mass_kg=8.0)],
    )
    table = work_pass(deep, (GALAXY,), GARDEN, "EUR")
    assert table.count == 2
    (behind,) = (n for n in range(2) if table.candidate(n).corrector)
    found = {name: float(column[behind]) for name, column in table.measures["value"].items()}
    assert math.isnan(found["corner"])
    assert found["load"] == pytest.approx(5.0 + 0.4 + 0.6)
    assert found["hours"] > 0.0


def test_a_tube_beyond_all_formulas_is_in_the_table_and_takes_none_beside_it_down():
    # 1 mm of focal length behind 2 m of aperture is f/0.0005.
    some = choice(
        [tube(aperture_mm=2000.0, focal_length_mm=1.0), tube(obstruction_mm=0.0)],
        [camera(**FULL_SENSOR)],
        mounts=[mount(20.0, mass_kg=8.0)],
    )
    beyond, sound = 0, 1
    found = work_pass(some, (GALAXY,), GARDEN, "EUR").measures["value"]
    for name in ("hours", "star", "corner", "light", "fill_least"):
        assert math.isnan(found[name][beyond])
    assert (found["load"].tolist(), found["lift"].tolist()) == ([5.6, 5.6], [8.0, 8.0])
    assert found["hours"][sound] > 0.0


def test_a_known_figure_has_no_range_and_a_missing_one_lies_within_its_own():
    seen = set()
    for number in range(whole().count):
        assumed = figures_of_tube(whole().candidate(number).tube).assumed
        for name, field in (("hours", "obstruction_mm"), ("load", "mass_kg"), ("lift", "mass_kg")):
            low, value, high = (
                float(whole().measures[end][name][number]) for end in ("low", "value", "high")
            )
            if math.isnan(value):
                continue
            assert low <= value <= high
            if name == "hours" and lacking(number):
                continue
            if field not in assumed:
                assert low == high
            elif name != "lift":
                seen.add((name, low < high))
    assert ("hours", True) in seen
    assert ("load", True) in seen


def test_a_price_in_another_currency_is_not_known_and_what_is_owned_costs_nothing():
    some = choice(
        [tube(model="Ours", price=euros(900, "USD")), tube(model="Dear", price=euros(900, "USD"))],
        [camera(price=euros(250.5))],
        owned=("Ours",),
    )
    table = work_pass(some, (), None, "EUR")
    cost = table.measures["value"]["cost"].tolist()
    assert cost[0] == 250.5
    assert math.isnan(cost[1])
    dollars = work_pass(some, (), None, "USD").measures["value"]["cost"].tolist()
    assert all(math.isnan(one) for one in dollars)


def test_without_a_site_or_its_sky_the_hours_are_unknown_and_the_rest_is_there():
    some = choice([tube(obstruction_mm=0.0)], [camera(**FULL_SENSOR)])
    for site in (None, GARDEN.model_copy(update={"brightness": None, "brightness_by": None})):
        found = work_pass(some, (GALAXY,), site, "EUR").measures["value"]
        assert math.isnan(found["hours"][0])
        assert not math.isnan(found["star"][0])
        assert not math.isnan(found["fill_least"][0])


def test_without_targets_neither_hours_nor_fills_are_known():
    found = work_pass(choice([tube()], [camera(**FULL_SENSOR)]), (), GARDEN, "EUR").measures["value"]
    assert all(math.isnan(found[name][0]) for name in ("hours", "fill_least", "fill_most"))


def test_of_nothing_there_is_nothing():
    for none in (choice([], []), choice([tube()], []), choice([], [camera()])):
        assert work_pass(none, TARGETS, GARDEN, "EUR").count == 0
