"""Narrow filters in fast beams: the shares of `tests/references/narrow_band.py`, on rigs."""

import pytest

from tests.domain.rigs import (
    camera,
    corrector,
    finding,
    findings,
    glass,
    holding,
    input_named,
    number,
    ring,
    shown,
    tube,
    wheel,
)


def line(width, **given):
    return glass(2.0, **({"band_centre_nm": 656.28, "band_width_nm": width, "effective_index": 2.0} | given))


def bands(*filters, ratio=2.8, of_tube=None, **of_corrector):
    """A lens so fast that the beam at the sensor has this ratio."""
    given = {"aperture_mm": 100.0, "focal_length_mm": 100.0 * ratio} | (of_tube or {})
    behind = (ring(17.5), holding(wheel(20.0), *filters), camera())
    return findings("bands", tube(**given), corrector(**of_corrector), *behind)


def test_three_nanometres_at_f2_8_lose_two_fifths_of_the_line_and_a_wider_or_shifted_one_is_named():
    (found,) = bands(line(3.0))
    assert (found.weight, found.code) == ("watch", "bands.lost")
    assert number(found, "least") == pytest.approx(1 - 0.595, abs=0.03)
    assert number(found, "most") == pytest.approx(1 - 0.583, abs=0.03)
    # lambda / (8 n^2 N^2) = 656.28 / (8 x 4 x 7.84) = 2.616 nm at the edge.
    assert number(found, "need") == pytest.approx(5.23, abs=0.01)
    assert "made for {ratio}, or a plain one {need} wide or more" in found.remedies[0].phrase.template


def test_five_nanometres_there_are_told_with_both_shapes_and_are_no_watch():
    (found,) = bands(line(5.0))
    assert (found.weight, found.code) == ("sound", "bands.some")
    assert (number(found, "least"), number(found, "most")) == pytest.approx((0.015, 0.198), abs=0.03)
    assert not found.remedies


@pytest.mark.parametrize(("width", "shape_matters"), [(0.5, False), (1.0, True)])
def test_both_ends_are_told_only_where_the_bands_shape_makes_a_hundredth(width, shape_matters):
    # A band so thin leaves W / 2 / E with steep sides, sqrt(pi / ln 2) W / 4 / E as a bell: of E = 2.616 nm
    # 0.0956 and 0.1017 of 0.5 nm, 0.1911 and 0.2034 of 1 nm.
    (found,) = bands(line(width))
    assert number(found, "least") == pytest.approx(1 - width * 0.2034, abs=1e-3)
    assert number(found, "most") == pytest.approx(1 - width * 0.1911, abs=1e-3)
    assert ("{least} to {most} of the line" in found.phrase.template) == shape_matters
    assert ("by the band's shape" in found.phrase.template) == shape_matters


def test_a_slow_beam_is_sound_in_one_line():
    (found,) = bands(line(7.0), ratio=7.0)
    assert (found.weight, found.code) == ("sound", "bands.sound")


def test_a_filter_made_for_the_beam_keeps_what_a_plain_one_loses():
    (plain,) = bands(line(5.0), ratio=1.9)
    (made,) = bands(line(5.0, made_for_ratio=1.9), ratio=1.9)
    assert (plain.weight, made.weight) == ("watch", "sound")


def test_a_filter_made_for_a_fast_beam_is_wrong_in_a_slow_one():
    (found,) = bands(line(4.0, made_for_ratio=1.9), ratio=5.0)
    assert found.weight == "watch"
    assert "to the red" in found.phrase.template
    assert "not made for so fast a beam" in found.remedies[0].phrase.template


def test_an_index_that_nobody_gives_is_shown_as_assumed():
    (found,) = bands(line(3.0, effective_index=None))
    assert next(i for i in found.inputs if i.label.startswith("effective index")).basis == "assumed"


def test_an_index_is_shown_to_the_hundredth():
    (found,) = bands(line(3.0, effective_index=2.05))
    assert shown(found, "effective index") == "2.05"


def test_of_several_filters_the_one_that_loses_most_is_told_whichever_is_in_the_beam():
    (found,) = bands(line(7.0, model="Wide"), line(3.0, model="Thin"))
    assert "Sell Thin" in found.phrase.template


def test_before_a_reducer_the_beam_is_as_slow_as_the_tubes():
    filters = holding(wheel(20.0), line(3.0))
    reducer = corrector(corrector_type="reducer", factor=0.7)
    before = finding("bands", tube(), filters, reducer, ring(37.5), camera())
    assert input_named(before, "focal ratio") == pytest.approx(4.0, abs=1e-6)
    behind = finding("bands", tube(), reducer, ring(17.5), filters, camera())
    assert input_named(behind, "focal ratio") < 3.0


def test_a_broad_filter_is_no_matter_and_a_narrow_one_of_unknown_band_is_asked_for():
    assert bands(line(100.0)) == []
    assert bands(line(30.5)) == []
    assert bands(line(30.0)) != []
    assert bands(glass(2.0)) == []
    (found,) = bands(glass(2.0, broadband=False))
    assert (found.weight, found.missing) == (
        "unknown",
        ("the band centre of Sell Glass", "the band width of Sell Glass"),
    )
