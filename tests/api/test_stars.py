"""The stars of a rig as JSON."""

from __future__ import annotations

import pytest

from tests.api.conftest import Api, good, trouble


def test_nine_stars_are_told_in_numbers_with_their_findings(ana: Api):
    rig = ana.built()
    found = good(ana.get(f"/rigs/{rig['id']}/stars"))
    assert [star["place"] for star in found["stars"]][4] == "centre"
    assert len(found["stars"]) == 9
    centre, corner = found["stars"][4], found["stars"][0]
    # f/6: the first dark ring at 1.22 x 0.55 x 6 = 4.0 um; half the light of a perfect star within 1.07 of
    # lambda N.
    assert 2.5 < centre["fwhm_alone_um"] < 4.5
    assert centre["strehl"] == pytest.approx(1.0, abs=0.01)
    # A doublet of 480 mm has a field of 0.361 x 480 mm: the corner at 13.7 mm is blurred over 0.54 / 6 mm =
    # 90 um.
    assert 60.0 < corner["d80_alone_um"] < 120.0
    assert found["growth_px"] > 5.0
    assert {one["code"] for one in found["findings"]} >= {"stars.corners", "stars.focus_unknown"}
    assert found["assumed"]


def test_a_wish_changes_the_answer_and_one_out_of_range_is_refused(ana: Api):
    rig = ana.built()
    plain = good(ana.get(f"/rigs/{rig['id']}/stars"))
    calm = good(ana.get(f"/rigs/{rig['id']}/stars", seeing_arcsec=1))
    assert calm["stars"][4]["fwhm_seen_um"] < plain["stars"][4]["fwhm_seen_um"]
    said = trouble(ana.get(f"/rigs/{rig['id']}/stars", tilt_arcmin=500), 422)
    assert "tilt_arcmin" in str(said)


def test_a_rig_that_says_too_little_names_what_it_lacks(ana: Api):
    rig = ana.rig()
    found = good(ana.get(f"/rigs/{rig['id']}/stars"))
    assert found["stars"] == []
    assert "a camera at the end of the train" in found["lacking"]
