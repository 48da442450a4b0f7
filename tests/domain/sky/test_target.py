"""Targets: the catalogue's and one's own, and a line of a list."""

from __future__ import annotations

import pytest
from pydantic import ValidationError

from server.domain.errors import NotFoundError
from server.domain.sky.target import ListedTarget, Target, catalogue_target, credit

LOOP = Target(name="The whole loop", kind="SNR", ra_deg=312.0, dec_deg=31.0, major_arcmin=210.0, own=True)


@pytest.mark.parametrize("name", ["M31", "m 31", "NGC 224", "ngc 0224", "Andromeda Galaxy"])
def test_the_catalogue_knows_a_galaxy_by_all_its_names(name):
    found = catalogue_target(name)
    # Its J2000 place, 00h 42m 44.3s +41 16' 09" (published by every atlas), to an arcsecond or two.
    assert (found.ra_deg, found.dec_deg) == pytest.approx((10.6846, 41.2692), abs=6e-4)
    assert (found.name, found.called, found.common_name) == ("NGC 224", "M 31", "Andromeda Galaxy")
    assert (found.kind, found.constellation, found.own) == ("G", "And", False)
    assert found.ellipse_arcmin == (found.major_arcmin, found.minor_arcmin)


def test_what_the_catalogue_does_not_know_is_not_there_and_the_sentence_says_what_to_do():
    with pytest.raises(NotFoundError, match="no “NGC 99999”. Search by a part of the name, or enter it"):
        catalogue_target("NGC 99999")
    with pytest.raises(NotFoundError) as long:
        catalogue_target("x" * 5000)
    assert len(str(long.value)) < 200


def test_what_the_catalogue_has_no_figure_of_stays_unknown():
    # NGC 6960, the western veil: no magnitude and no surface brightness are listed of it.
    veil = catalogue_target("NGC 6960")
    assert veil.v_mag is None
    assert veil.surface_b_mag is None
    assert veil.surface_v_mag is None


def test_an_own_target_without_a_short_side_is_round_and_without_a_size_has_none():
    assert LOOP.ellipse_arcmin == (210.0, 210.0)
    assert LOOP.model_copy(update={"minor_arcmin": 160.0}).ellipse_arcmin == (210.0, 160.0)
    assert Target(name="A point", ra_deg=1.0, dec_deg=2.0).ellipse_arcmin is None
    assert (LOOP.called, LOOP.common_name) == ("The whole loop", "")


@pytest.mark.parametrize(
    ("given", "sentence"),
    [
        ({"minor_arcmin": 5.0}, "Its long side is missing: give that first"),
        ({"major_arcmin": 5.0, "minor_arcmin": 6.0}, "of 6' is longer than the long one of 5'. Swap them"),
    ],
)
def test_sides_that_cannot_be_are_refused(given, sentence):
    with pytest.raises(ValidationError, match=sentence):
        Target(name="A", ra_deg=1.0, dec_deg=2.0, **given)


def test_a_line_of_a_list_is_an_own_entry_or_the_catalogues_object_of_its_name():
    own = ListedTarget(id=7, observer_id=1, revision=1, name=LOOP.name, target=LOOP)
    assert (own.key, own.seen) == ("own-7", LOOP)
    listed = ListedTarget(id=8, observer_id=1, revision=1, name="NGC 224")
    assert (listed.key, listed.seen) == ("NGC 224", catalogue_target("M 31"))
    with pytest.raises(NotFoundError):
        _ = ListedTarget(id=9, observer_id=1, revision=1, name="Gone").seen


def test_whose_catalogue_it_is_and_its_licence_are_told():
    # What the licence asks for: the name of the work, and that it is CC BY-SA 4.0.
    assert "OpenNGC" in credit()
    assert "CC-BY-SA-4.0" in credit().replace(" ", "-")
