"""The cautions of a rig, which are common practice of the trade, no source."""

from __future__ import annotations

import pytest

from server.domain.load.work import work_cautions
from server.domain.load_plan import LoadPlan
from server.domain.parts import Counterweight, Part, PowerSource
from server.domain.rig import Rig
from server.domain.workings.case import Case
from server.rim.phrasebook.tell import plain
from tests.domain.rigs import camera, glass, mm, mount, rig, tube
from tests.told import check_power


def titles(one: Rig) -> list[str]:
    return [plain(note.title) for note in work_cautions(one)]


def test_the_suns_caution_comes_first_by_day_and_with_a_filter_that_is_made_for_it() -> None:
    heavy = Counterweight(model="Weight", mass_kg=mm(12.0))
    assert titles(rig(tube(), gear=[heavy], load=LoadPlan(sun=True)))[0] == "The Sun"
    assert titles(rig(tube(), glass(2.0, solar=True), camera()))[0] == "The Sun"
    assert "The Sun" not in titles(rig(tube(), gear=[heavy]))


@pytest.mark.parametrize(("mass_kg", "told"), [(9.5, True), (8.0, False)])
def test_a_load_above_twenty_pounds_or_the_lifters_own_limit_brings_the_caution(
    mass_kg: float, told: bool
) -> None:
    assert ("Lifting" in titles(rig(tube(mass_kg=mass_kg)))) is told
    assert "Lifting" in titles(rig(tube(mass_kg=mass_kg), load=LoadPlan(lift_limit_kg=7.0)))


def test_parts_that_are_light_alone_bring_the_caution_together() -> None:
    # 8.0 + 3.0 kg, of which neither is above 20 lb.
    assert "Lifting" in titles(rig(tube(mass_kg=8.0), camera(mass_kg=3.0)))
    assert "Lifting" not in titles(rig(tube(mass_kg=8.0), camera(mass_kg=0.5)))


def test_a_mount_that_weights_hang_on_brings_their_caution_and_that_of_its_clutches() -> None:
    told = titles(rig(tube(), gear=[mount(mount_type="equatorial")]))
    assert {"Counterweights", "Clutches"} <= set(told)
    free = titles(rig(tube(), gear=[mount(mount_type="strain_wave", rated_with="without")]))
    assert "Counterweights" not in free
    assert "Clutches" in free
    assert "Clutches" not in titles(rig(tube(), gear=[mount(mount_type="tracker")]))


@pytest.mark.parametrize(
    ("chemistry", "title"),
    [
        ("agm", "Lead-acid batteries"),
        ("lifepo4", "Lithium batteries"),
        ("mains", "Mains"),
    ],
)
def test_a_source_of_power_brings_its_own_caution(chemistry: str, title: str) -> None:
    source: Part = PowerSource.model_validate({"model": "Box", "chemistry": chemistry})
    assert title in titles(rig(tube(), gear=[source]))


def test_a_battery_of_unknown_chemistry_brings_all_of_them() -> None:
    told = titles(rig(tube(), gear=[PowerSource(model="Box")]))
    assert {"Lead-acid batteries", "Lithium batteries", "Mains"} <= set(told)


@pytest.mark.parametrize("capacity_ah", [50.0, 5.0, None])
@pytest.mark.parametrize(
    ("chemistry", "words"),
    [
        ("lifepo4", ("do not charge it below freezing", "Fuse the battery")),
        ("lithium_ion", ("do not charge it below freezing", "Fuse the battery")),
        ("agm", ("explosive gas", "Fuse the battery")),
        (None, ("do not charge it below freezing", "explosive gas", "residual-current", "Fuse the battery")),
    ],
)
def test_the_finding_of_the_night_says_each_batterys_caution_once(
    chemistry: str | None, words: tuple[str, ...], capacity_ah: float | None
) -> None:
    figures = {"chemistry": chemistry, "capacity_ah": None if capacity_ah is None else mm(capacity_ah)}
    gear = [PowerSource.model_validate({"model": name, "voltage_v": mm(12.0), **figures}) for name in "AB"]
    found = check_power(Case(rig(tube(), camera(), gear=gear, load=LoadPlan(night_hours=8.0))))[0]
    for one in words:
        assert found.phrase.template.count(one) == 1, one
