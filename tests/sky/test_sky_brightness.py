"""The sky's brightness and the air, against published figures."""

from __future__ import annotations

import numpy as np
import pytest

from server.sky.sky_brightness import (
    DARKEST,
    air_mass,
    extinction_mag,
    extinction_per_air_mass,
    from_naked_eye_limit,
    from_sky_class,
    naked_eye_limit,
    sky_at,
    sky_class,
)


@pytest.mark.parametrize(("limit", "sky"), [(6.0, 20.80), (5.0, 19.30)])
def test_a_faintest_star_tells_the_sky(limit, sky):
    # Schaefer 1990 in the form that observers use, worked apart from the code.
    told = from_naked_eye_limit(limit)
    assert told.magnitude == pytest.approx(sky, abs=0.005)
    assert told.uncertainty == 0.5


def test_a_sky_of_21_shows_stars_of_6_1_and_the_way_back_leads_to_it():
    assert naked_eye_limit(21.0) == pytest.approx(6.116, abs=0.001)
    assert from_naked_eye_limit(naked_eye_limit(20.0)).magnitude == pytest.approx(20.0, abs=0.05)


def test_sharp_eyes_make_no_sky_darker_than_the_natural_one():
    # Beyond 7.93 the formula has no answer at all.
    assert {from_naked_eye_limit(limit).magnitude for limit in (6.7, 7.5, 7.93, 8.0)} == {DARKEST}


def test_each_class_has_a_sky_that_is_of_this_class_and_brighter_than_the_one_before():
    skies = [from_sky_class(number).magnitude for number in range(1, 10)]
    assert [sky_class(sky) for sky in skies] == list(range(1, 10))
    assert skies == sorted(skies, reverse=True)


@pytest.mark.parametrize(
    ("sky", "number"),
    [(22.3, 1), (21.95, 2), (21.8, 3), (21.0, 4), (20.0, 5), (19.2, 6), (18.6, 7), (18.1, 8), (17.0, 9)],
)
def test_a_measured_sky_has_its_class(sky, number):
    # The lists that observers share: 21.99, 21.89, 21.69, 20.49, 19.50, 18.94, 18.38 between classes 1 to 8.
    assert sky_class(sky) == number


def test_a_wide_class_is_less_certain_than_a_narrow_one():
    assert from_sky_class(4).uncertainty == pytest.approx(0.6)
    assert from_sky_class(2).uncertainty == 0.5


def test_class_and_faintest_star_agree_within_what_both_say_of_themselves():
    # Bortle 2001 gives the faintest star of each class: 6.1 to 6.5 in the fourth, 5.1 to 5.5 in the sixth.
    for number, limit in ((4, 6.3), (5, 5.8), (6, 5.3), (7, 4.8)):
        by_class, by_star = from_sky_class(number), from_naked_eye_limit(limit)
        apart = abs(by_class.magnitude - by_star.magnitude)
        assert apart < by_class.uncertainty + by_star.uncertainty


def test_air_masses_are_those_of_kasten_and_young():
    # Their fit at the horizon: 37.92. At 10 degrees "nearly 6" (Green 1992), at 60 near 1 / sin(60) = 1.1547.
    assert air_mass([0.0, 10.0, 60.0]) == pytest.approx([37.92, 5.586, 1.15399], rel=1e-4)
    assert float(air_mass(90.0)) == pytest.approx(1.0, abs=5e-4)
    assert float(extinction_mag(60.0, 0.2)) == pytest.approx(0.2308, abs=1e-4)


def test_the_sky_is_brighter_lower_down():
    # Worked apart from the code: 21.587 at the zenith is 21.463 at 60 degrees.
    assert float(sky_at(60.0, 21.587)) == pytest.approx(21.463, abs=0.001)
    assert float(sky_at(90.0, 21.587)) == 21.587
    assert np.all(np.diff(sky_at(np.arange(0.0, 91.0), 21.5)) > 0.0)


def test_the_air_takes_what_a_mountains_table_says_brought_down_to_the_sea_and_some_haze():
    # Palomar's published table, 1,700 m up; down at the sea the air is exp(1700 / 7000) as thick. A low site
    # has more haze, up to 0.08.
    nm = [360.0, 400.0, 440.0, 500.0, 560.0, 650.0, 700.0, 790.0]
    mountain = np.array([0.585, 0.385, 0.267, 0.178, 0.150, 0.085, 0.073, 0.059]) * np.exp(1700.0 / 7000.0)
    haze = extinction_per_air_mass(nm) - mountain
    assert np.all((haze > 0.0) & (haze < 0.08))


@pytest.mark.parametrize(
    ("work", "given"),
    [
        (from_naked_eye_limit, (9.0,)),
        (from_sky_class, (0,)),
        (naked_eye_limit, (30.0,)),
        (sky_class, (float("nan"),)),
        (air_mass, ([30.0, -1.0],)),
        (extinction_mag, (30.0, -0.1)),
        (sky_at, (91.0, 21.0)),
        (sky_at, (45.0, [21.0, 5.0])),
        (extinction_per_air_mass, (200.0,)),
    ],
)
def test_what_no_sky_has_is_refused_in_words(work, given):
    with pytest.raises(ValueError, match=r"must be .*\. \w.*\.$"):
        work(*given)
