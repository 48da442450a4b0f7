"""Which two of the front stand side by side.

Source: none needed: each answer is held against its definition.
"""

from __future__ import annotations

from server.domain.scout.needs import Needs
from server.flow.scout import Answer, scout
from server.flow.scout_pairs import designs_pair, ends_pair
from tests.domain.rigs import camera, tube
from tests.domain.scout.made import FULL_SENSOR, GARDEN, TARGETS, choice, euros

OPEN = Needs(payload_share=None, fill_least=None, fill_most=None)
CAMERA = camera(price=euros(0.0), **FULL_SENSOR)


def asked(*tubes: tuple[str, str, float, float, float]) -> Answer:
    """Of tubes by model, design, aperture, price and mass."""
    made = [
        tube(
            model=model,
            design=design,
            aperture_mm=aperture,
            focal_length_mm=5.0 * aperture,
            obstruction_mm=0.3 * aperture if design == "newtonian" else None,
            price=euros(price),
            mass_kg=mass,
        )
        for model, design, aperture, price, mass in tubes
    ]
    return scout(choice(made, [CAMERA]), OPEN, TARGETS, GARDEN)


def models(found: Answer, pair: tuple[int, int] | None) -> list[str]:
    parts = found.table.choice.by_number
    return [] if pair is None else [parts[int(found.table.tubes[number])].part.model for number in pair]


SMALL_LENS = ("Small lens", "apochromat", 60.0, 500.0, 2.0)
LARGE_LENS = ("Large lens", "apochromat", 110.0, 1500.0, 6.0)
SMALL_MIRROR = ("Small mirror", "newtonian", 100.0, 520.0, 4.0)
LARGE_MIRROR = ("Large mirror", "newtonian", 250.0, 2400.0, 15.0)


def test_a_refractor_and_a_reflector_of_the_same_money_are_taken():
    found = asked(SMALL_LENS, LARGE_LENS, SMALL_MIRROR, LARGE_MIRROR)
    assert models(found, designs_pair(found)) == ["Small lens", "Small mirror"]


def test_where_none_cost_the_same_the_nearest_are_taken():
    found = asked(SMALL_LENS, LARGE_MIRROR)
    assert models(found, designs_pair(found)) == ["Small lens", "Large mirror"]


def test_without_one_of_each_there_is_no_such_pair():
    found = asked(SMALL_LENS, LARGE_LENS)
    assert designs_pair(found) is None
    assert models(found, ends_pair(found)) == ["Small lens", "Large lens"]


def test_the_lightest_stands_beside_the_one_of_the_fewest_hours():
    found = asked(SMALL_MIRROR, LARGE_MIRROR, SMALL_LENS)
    assert models(found, ends_pair(found)) == ["Small lens", "Large mirror"]


def test_one_that_is_both_is_no_pair():
    found = asked(SMALL_LENS)
    assert designs_pair(found) is None
    assert ends_pair(found) is None
