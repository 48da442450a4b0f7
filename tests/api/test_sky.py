"""The sky as JSON: sites, the list of targets, the catalogue, one target on rigs."""

from __future__ import annotations

import pytest

from tests.api.conftest import Api, Json, good, trouble

# On SQLite and on PostgreSQL.
GARDEN: Json = {
    "name": "The garden",
    "latitude_deg": 50.0,
    "longitude_deg": 8.0,
    "zone": "Europe/Berlin",
    "brightness_by": "magnitude",
    "brightness": 20.0,
    "seeing_arcsec": 3.0,
}
DUST: Json = {"name": "Dust by the cluster", "kind": "DrkN", "ra_deg": 58.0, "dec_deg": 24.5}


def kept(api: Api, **fields: object) -> int:
    number: int = good(api.post("/sky/sites", {"site": GARDEN | fields}), 201)["id"]
    return number


def plan(api: Api, key: str, *rigs: Json, **asked: object) -> Json:
    found: Json = good(api.get(f"/sky/at/{key}", rig=[rig["id"] for rig in rigs], **asked))
    return found


# Sites


def test_a_site_is_kept_changed_and_removed(ana: Api):
    number = kept(ana, name="  The garden ")
    found = good(ana.get(f"/sky/sites/{number}"))
    assert found["site"]["name"] == "The garden"
    assert (found["revision"], found["sky_mag"]) == (1, 20.0)
    body = {"revision": 1, "site": GARDEN | {"horizon": [[90, 35], [0, 20]]}}
    changed = good(ana.put(f"/sky/sites/{number}", body))
    assert changed["revision"] == 2
    assert changed["site"]["horizon"] == [[0, 20], [90, 35]]
    stale = trouble(ana.put(f"/sky/sites/{number}", body), 409)
    assert (stale["code"], stale["current_version"]) == ("stale_version", 2)
    good(ana.delete(f"/sky/sites/{number}"), 204)
    assert good(ana.get("/sky/sites")) == []


def test_how_dark_a_site_is_stays_unknown_until_somebody_says_it(ana: Api):
    kept(ana, brightness=None, brightness_by=None)
    (found,) = good(ana.get("/sky/sites"))
    assert found["sky_mag"] is None
    assert found["sky_uncertainty_mag"] is None


@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({"latitude_deg": "50"}, "latitude_deg"),
        ({"latitude_deg": 91}, "latitude_deg"),
        ({"zone": "Europe/Nowhere"}, "zone"),
        ({"horizon": [[0, 20], [360, 30]]}, "horizon"),
        ({"brightness_by": None}, "brightness"),
        ({"name": "  "}, "name"),
        ({"name": "\u202egarden"}, "name"),
        ({"moons": 2}, "moons"),
    ],
)
def test_a_site_that_is_refused_names_the_field(ana: Api, fields: Json, field: str):
    error = trouble(ana.post("/sky/sites", {"site": GARDEN | fields}), 422)
    assert error["code"] == "field_errors"
    assert list(error["fields"]) == [field]


def test_a_rig_has_a_usual_site_until_that_is_removed(ana: Api):
    number, rig = kept(ana), ana.rig()
    address = f"/sky/rigs/{rig['id']}/site"
    assert good(ana.get(address)) == {"site_id": None}
    assert good(ana.put(address, {"site_id": number})) == {"site_id": number}
    assert good(ana.get(address)) == {"site_id": number}
    good(ana.delete(f"/sky/sites/{number}"), 204)
    assert good(ana.get(address)) == {"site_id": None}


def test_anothers_sites_and_targets_answer_as_if_they_were_not_there(ana: Api, ben: Api):
    number = kept(ana)
    listed = good(ana.post("/sky/targets", {"target": DUST}), 201)
    rig = ben.rig()
    trouble(ben.get(f"/sky/sites/{number}"), 404)
    trouble(ben.delete(f"/sky/sites/{number}"), 404)
    trouble(ben.put(f"/sky/rigs/{rig['id']}/site", {"site_id": number}), 404)
    trouble(ben.delete(f"/sky/targets/{listed['id']}"), 404)
    trouble(ben.get(f"/sky/at/{listed['key']}"), 404)
    trouble(ben.get("/sky/at/M 31", site=number), 404)


# The list


def test_an_object_of_the_catalogue_stands_on_the_list_once_by_whatever_name(ana: Api):
    one = good(ana.post("/sky/list", {"name": "m31"}), 201)
    assert good(ana.post("/sky/list", {"name": "NGC 224"}), 201) == one
    assert one["target"]["called"] == "M 31"
    assert one["target"]["kind_words"] == "galaxy"
    assert good(ana.get("/sky/targets")) == [one]
    trouble(ana.post("/sky/list", {"name": "M 999"}), 404)
    refused = ana.put(f"/sky/targets/{one['id']}", {"revision": 1, "target": DUST})
    assert "catalogue's" in trouble(refused, 422)["message"]
    good(ana.delete(f"/sky/targets/{one['id']}"), 204)
    assert good(ana.get("/sky/targets")) == []


def test_an_own_target_is_kept_and_changed_and_what_nobody_knows_is_null(ana: Api):
    one = good(ana.post("/sky/targets", {"target": DUST}), 201)
    assert one["key"] == f"own-{one['id']}"
    assert one["target"]["own"]
    assert one["target"]["v_mag"] is None
    body = {"revision": 1, "target": DUST | {"major_arcmin": 40.0, "minor_arcmin": 25.0}}
    changed = good(ana.put(f"/sky/targets/{one['id']}", body))
    assert (changed["revision"], changed["target"]["major_arcmin"]) == (2, 40.0)
    trouble(ana.put(f"/sky/targets/{one['id']}", body), 409)


@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({"ra_deg": 361}, "ra_deg"),
        ({"minor_arcmin": 5}, "major_arcmin"),
        ({"major_arcmin": 5, "minor_arcmin": 6}, "minor_arcmin"),
        ({"name": ""}, "name"),
        ({"own": False}, "own"),
    ],
)
def test_an_own_target_that_is_refused_names_the_field(ana: Api, fields: Json, field: str):
    error = trouble(ana.post("/sky/targets", {"target": DUST | fields}), 422)
    assert list(error["fields"]) == [field]


def test_two_lines_of_a_list_do_not_bear_one_name(ana: Api):
    good(ana.post("/sky/targets", {"target": DUST}), 201)
    again = trouble(ana.post("/sky/targets", {"target": DUST}), 422)
    assert "on your list already" in again["fields"]["name"]


# The catalogue


def test_the_catalogue_is_searched_by_name_and_credited(ana: Api):
    found = good(ana.get("/sky/catalogue", text="whirlpool"))
    assert found["targets"][0]["target"]["name"] == "NGC 5194"
    assert found["targets"][0]["above_h"] is None
    assert found["targets"][0]["framed"] is None
    assert "CC-BY-SA" in found["credit"]


def test_every_filter_narrows_the_search_and_pages_follow_each_other(ana: Api):
    asked: Json = {"kind": "galaxies", "constellation": "UMa", "least_arcmin": 5, "most_arcmin": 30}
    bright: Json = {"faintest_mag": 11, "faintest_surface": 24, "order": "brightness"}
    found = good(ana.get("/sky/catalogue", **asked, **bright))
    names = [one["target"]["called"] for one in found["targets"]]
    # V 6.9 and 7.9: M 81 and M 101 are the brightest galaxies of the Great Bear (any atlas, from memory).
    assert names[:2] == ["M 81", "M 101"]
    assert all(5 <= one["target"]["major_arcmin"] <= 30 for one in found["targets"])
    second = good(ana.get("/sky/catalogue", **asked, **bright, offset=1, limit=1))
    assert [one["target"]["called"] for one in second["targets"]] == ["M 101"]
    assert (second["offset"], second["total"]) == (1, found["total"])


def test_with_a_site_and_a_rig_each_line_says_when_and_how_large(ana: Api):
    number, rig = kept(ana), ana.built()
    found = good(ana.get("/sky/catalogue", text="M 31", month=11, year=2027, site=number, rig=rig["id"]))[
        "targets"
    ][0]
    # It culminates at 90 - 50 + 41.3 degrees.
    assert found["culmination_deg"] == pytest.approx(81.3, abs=0.2)
    assert found["best_month"] in (9, 10, 11)
    # Up all night of 12 h darkness but for its end below 30 degrees; the Moon takes about half.
    assert 8.0 < found["above_h"] < 12.5
    assert 0.35 < found["moonless_h"] / found["above_h"] < 0.65
    # 22.8 x 15.2 mm behind 480 mm take in 2.72 x 1.81 degrees; M 31 is 178' long.
    assert found["framed"]["frame"]["width_deg"] == pytest.approx(2.72, abs=0.01)
    assert found["framed"]["fill"] > 0.8


def test_what_is_never_up_has_no_best_month(ana: Api):
    found = good(ana.get("/sky/catalogue", text="NGC 104", site=kept(ana)))["targets"][0]
    assert found["best_month"] is None
    assert found["above_h"] == 0.0


@pytest.mark.parametrize(
    "asked", [{"kind": "comets"}, {"constellation": "Xyz"}, {"month": 13}, {"q": "M 31"}]
)
def test_a_search_for_what_there_is_not_is_refused(ana: Api, asked: Json):
    error = trouble(ana.get("/sky/catalogue", **asked), 422)
    assert list(error["fields"]) == list(asked)


# One target


def test_a_target_is_planned_on_a_rig_at_its_usual_site(ana: Api):
    number, rig = kept(ana), ana.built()
    good(ana.put(f"/sky/rigs/{rig['id']}/site", {"site_id": number}))
    found = plan(ana, "M 51", rig, evening="2027-04-07")
    assert found["site_id"] == number
    assert [month["month"] for month in found["year"]["months"]] == list(range(1, 13))
    # It stands opposite the Sun in April: 13 h 30 m of right ascension.
    assert found["year"]["best_month"] in (3, 4)
    assert found["year"]["culmination_deg"] == pytest.approx(87.2, abs=0.2)
    assert found["year"]["sentence"].startswith("Best in")
    night = found["night"]
    assert night["evening"] == "2027-04-07"
    assert night["dusk"].endswith("+02:00")
    # New Moon on 6 April 2027 (any almanac, from memory).
    assert night["moon_lit"] < 0.05
    assert night["windows"][0]["start"] >= night["dusk"]
    assert night["highest"]["altitude_deg"] > 80.0
    (one,) = found["rigs"]
    assert one["framed"]["best_angle_deg"] is not None
    # 13.7' along the shorter side of 1.81 degrees: an eighth.
    assert one["framed"]["fill"] == pytest.approx(0.115, abs=0.02)
    depth = one["depth"]
    assert depth["hours"]["low"] < depth["hours"]["value"] < depth["hours"]["high"]
    assert depth["surface_mag"] == pytest.approx(22.9 - 0.8)
    assert depth["full_well_e"] is depth["gain"] is depth["saturating_mag"] is None
    assert {"the gain settings of Halden Auge 26", "the dark current of Halden Auge 26"} <= set(
        one["missing"]
    )
    assert any("No filter is counted" in words for words in depth["assumed"])
    assert depth["least_sure"][0]["share"] > 0.2
    by_month = depth["nights_by_month"]
    best = by_month[found["year"]["best_month"] - 1]
    assert depth["nights"].startswith(str(best["least"]))
    assert [one["month"] for one in by_month] == list(range(1, 13))
    assert all(one["least"] >= best["least"] for one in by_month if one["least"] is not None)
    assert one["panels"] is None
    assert one["trouble"] == found["trouble"] == ""


def test_without_a_site_there_is_a_frame_and_no_more(ana: Api):
    found = plan(ana, "M 51", ana.built())
    assert found["site_id"] is found["year"] is found["night"] is None
    (one,) = found["rigs"]
    assert one["framed"]["frame"]["scale_arcsec"] == pytest.approx(1.63, abs=0.01)
    assert one["depth"] is None


def test_without_a_rig_there_are_year_and_night(ana: Api):
    found = plan(ana, "M 51", site=kept(ana))
    assert found["rigs"] == []
    # Its lowest is 50 + 47.2 - 90 = 7 degrees, below the line of 30.
    assert found["year"]["standing"] == "sets"
    assert found["night"]["steps"]


def test_a_site_of_unknown_sky_asks_for_it(ana: Api):
    number = kept(ana, brightness=None, brightness_by=None)
    (one,) = plan(ana, "M 51", ana.built(), site=number)["rigs"]
    assert one["depth"] is None
    assert "how dark the sky of the site is" in one["missing"]


def test_a_rig_that_says_too_little_names_what_it_lacks(ana: Api):
    (one,) = plan(ana, "M 51", ana.rig(), site=kept(ana))["rigs"]
    assert one["framed"]["frame"] is one["framed"]["angle_deg"] is one["framed"]["fill"] is None
    assert "a camera at the end of the train" in one["missing"]


def test_a_target_of_unknown_size_and_brightness_gets_null_and_no_nought(ana: Api):
    listed = good(ana.post("/sky/targets", {"target": DUST}), 201)
    found = plan(ana, listed["key"], ana.built(), site=kept(ana))
    assert (found["listed"], found["credit"]) == (listed["id"], "")
    (one,) = found["rigs"]
    framed, depth = one["framed"], one["depth"]
    assert framed["fill"] is framed["best_fill"] is framed["best_angle_deg"] is None
    assert depth["hours"] is depth["frames"] is depth["target_e_s_arcsec2"] is None
    assert depth["signal_to_noise_px"] is depth["signal_to_noise_arcsec2"] is None
    assert depth["shortest_s"] > 0.0
    assert any("how bright the target is" in words for words in one["missing"])


def test_wishes_change_the_answer(ana: Api):
    number, rig = kept(ana), ana.built()
    plain = plan(ana, "M 51", rig, site=number)["rigs"][0]["depth"]
    asked = plan(ana, "M 51", rig, site=number, signal_to_noise=20, sub_s=120, surface_mag=22, angle_deg=30)
    (one,) = asked["rigs"]
    assert one["depth"]["hours"]["value"] > 2.0 * plain["hours"]["value"]
    assert (one["depth"]["sub_s"], one["depth"]["surface_mag"]) == (120.0, 22.0)
    assert one["framed"]["angle_deg"] == 30.0


def test_a_mosaic_is_laid_out_in_panels(ana: Api):
    (one,) = plan(ana, "M 31", ana.built(), columns=2, rows=1, overlap=0.2, angle_deg=0)["rigs"]
    panels = one["panels"]
    assert [(panel["row"], panel["column"]) for panel in panels["panels"]] == [(1, 1), (1, 2)]
    # 2.72 degrees and 0.8 of them once more.
    assert panels["width_deg"] == pytest.approx(1.8 * 2.72, abs=0.02)
    assert panels["shared_width_arcmin"] == pytest.approx(0.2 * 2.72 * 60, abs=0.2)
    left, right = panels["panels"]
    # North is up, so east is at the left.
    assert left["ra_deg"] > right["ra_deg"]


def test_a_mosaics_exposures_and_nights_are_those_of_all_panels(ana: Api):
    number, rig = kept(ana), ana.built()
    one, four = (
        plan(ana, "M 31", rig, site=number, columns=side, rows=side, signal_to_noise=50)["rigs"][0]["depth"]
        for side in (1, 2)
    )
    assert one["hours"] == four["hours"]
    assert four["frames"] == 4 * one["frames"]
    months = [
        (few["most"], many["most"])
        for few, many in zip(*(x["nights_by_month"] for x in (one, four)), strict=True)
    ]
    assert all(4 * (few - 1) < many <= 4 * few for few, many in months if few is not None)


def test_several_rigs_stand_side_by_side_with_the_reasons(ana: Api):
    number, one = kept(ana), ana.built("One")
    slow = ana.rig("Slow")
    tube = ana.part(
        "optical_tube",
        "Nordlicht 60",
        design="apochromat",
        camera_side={"type": "metric_thread", "diameter_mm": 42, "pitch_mm": 0.75, "gender": "male"},
        aperture_mm={"nominal": 60},
        focal_length_mm={"nominal": 600},
    )
    for part in (tube, one["train"][-1]["part"]["id"]):
        slow = ana.change(slow, verb="add", part_id=part)
    found = plan(ana, "M 51", one, slow, site=number)
    assert [rig["rig"] for rig in found["rigs"]] == ["One", "Slow"]
    assert found["reasons"][0].startswith("Slow takes")
    five = ana.get("/sky/at/M 51", rig=[one["id"], slow["id"], 3, 4, 5])
    assert list(trouble(five, 422)["fields"]) == ["rig"]


@pytest.mark.parametrize(
    "asked", [{"evening": "1900-01-01"}, {"rows": 11}, {"hours": 0}, {"gain": "nan"}, {"moon": 1}]
)
def test_a_wish_out_of_range_is_refused(ana: Api, asked: Json):
    assert list(trouble(ana.get("/sky/at/M 51", **asked), 422)["fields"]) == list(asked)


def test_a_target_that_nobody_knows_is_not_there(ana: Api):
    assert "M 999" in trouble(ana.get("/sky/at/M 999"), 404)["message"]
    trouble(ana.get("/sky/at/own-7"), 404)
