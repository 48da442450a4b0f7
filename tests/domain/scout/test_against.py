"""Two tubes against each other.

Expected figures: the tables of tests/references/diffraction.py, areas by hand.
"""

from __future__ import annotations

import math

import pytest

from server.domain.observer import UnitSystem
from server.domain.parts import OpticalTube
from server.domain.scout.against import Sight, judge_against
from server.rim.phrasebook.tell import tell
from server.rim.wording import write_phrase
from tests.domain.rigs import item, tube
from tests.references import diffraction as reference

# A quarter of the cut-off of 200 mm, and half of that of 100 mm, at 550 nm: by hand from lambda / D.
DETAIL_ARCSEC = 4.0 * 206264.806 * 550e-6 / 200.0
SHARE = 0.33


def sight(part: OpticalTube, share: float, star: float = 2.0, usual: bool = False) -> Sight:
    assert part.aperture_mm is not None
    aperture = part.aperture_mm.nominal
    clear = math.pi / 4.0 * aperture**2 * (1.0 - share**2)
    return Sight(item(part), aperture, clear, share, usual, star)  # type: ignore[arg-type]


LENS = sight(tube(model="Lens", aperture_mm=100.0), 0.0, 2.9)
MIRROR = sight(tube(model="Mirror", design="newtonian", aperture_mm=200.0), SHARE, 2.6)


def said_of(one: Sight, other: Sight, units: UnitSystem = "metric") -> str:
    verdict = judge_against(one, other, DETAIL_ARCSEC)
    assert verdict is not None
    return write_phrase(tell(verdict).phrase, units)


def test_what_the_obstruction_takes_and_the_aperture_gives_are_told_as_the_tables_have_them():
    said = said_of(LENS, MIRROR)
    inside = {row[0]: row[3] for row in reference.ENCIRCLED}
    passed = {row[0]: dict(zip(reference.MTF_FREQUENCIES, row[1], strict=True)) for row in reference.MTF}
    assert "Halden Mirror (33 % of its diameter) takes 11 % of its light" in said
    assert f"leaves {inside[SHARE]:.0%}".replace("%", " %") in said
    assert f"a clear aperture has {inside[0.0]:.0%}".replace("%", " %") in said
    # Four times the area less 0.33 squared: 3.56.
    assert "Halden Mirror gathers 3.6× the light of Halden Lens" in said
    shares = passed[SHARE][0.25], passed[0.0][0.5], passed[0.0][0.25]
    mirror, lens, unshut = (f"{100 * share:.0f} %" for share in shares)
    assert f"of Halden Mirror pass {mirror} and those of Halden Lens {lens}; " in said
    assert f"with nothing before it the larger would pass {unshut}." in said
    assert "2.6 arcsec wide in Halden Mirror, and 2.9 arcsec in Halden Lens" in said


def test_it_is_the_same_whichever_stands_first():
    assert said_of(LENS, MIRROR) == said_of(MIRROR, LENS)


def test_a_usual_obstruction_is_told_as_one_that_nobody_has_said():
    usual = sight(tube(model="Mirror", design="newtonian", aperture_mm=200.0), 0.3, usual=True)
    verdict = judge_against(LENS, usual, None)
    assert verdict is not None
    assert "as is usual for its kind: nobody has said" in write_phrase(tell(verdict).phrase, "metric")
    bases = {one.label: one.basis for one in tell(verdict).inputs}
    assert bases["obstruction, linear"] == "assumed"
    assert bases["seeing"] == "delivered"


def test_a_star_that_is_not_known_is_left_out():
    unknown = sight(tube(model="Mirror", design="newtonian", aperture_mm=200.0), SHARE, math.nan)
    assert "on its pixels" not in said_of(LENS, unknown)


@pytest.mark.parametrize("aperture", [80.0, 150.0])
def test_of_two_of_one_kind_nothing_is_said(aperture: float):
    assert judge_against(LENS, sight(tube(aperture_mm=aperture), 0.0), 2.0) is None
