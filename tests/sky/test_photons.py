"""Electrons of stars, against published worked figures."""

from __future__ import annotations

import pytest

from server.sky.photons import photons_per_nm, star_electrons


def test_a_star_of_23_9_in_v_sends_2_42_photons_a_second_through_a_square_metre():
    # A university's table of the Bessell bands works this out: 2.42 photons/s in V, 88 nm wide.
    assert star_electrons(23.90, 1.0, 1e6, (506.0, 594.0), 1.0) == pytest.approx(2.42, rel=0.01)


def test_a_star_of_20_through_200_mm_leaves_1_55_electrons_a_second():
    # 200 mm with 35 % before it: 0.0275675 m^2, efficiency 0.64 (by hand from the same zero point: 1.5508).
    assert star_electrons(20.0, 1.0, 27567.5, (506.0, 594.0), 0.64) == pytest.approx(1.5508, rel=0.01)


def test_the_table_holds_at_its_bands_and_runs_evenly_between():
    assert photons_per_nm(440.0) == pytest.approx(1.4612e8)
    assert photons_per_nm(495.0) == pytest.approx((1.4612e8 + 9.988e7) / 2)
    assert photons_per_nm(320.0) == photons_per_nm(360.0)
    assert photons_per_nm(1000.0) == photons_per_nm(790.0)


@pytest.mark.parametrize(
    "given",
    [
        (30.0, 1.0, 1.0, (500.0, 600.0), 0.5),
        (5.0, 0.0, 1.0, (500.0, 600.0), 0.5),
        (5.0, 1.0, 1.0, (600.0, 500.0), 0.5),
        (5.0, 1.0, 1.0, (500.0, 600.0), 1.5),
        (5.0, 1.0, 1.0, (100.0, 200.0), 0.5),
    ],
)
def test_what_no_exposure_has_is_refused_in_words(given):
    with pytest.raises(ValueError, match="must"):
        star_electrons(*given)
