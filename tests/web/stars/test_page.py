"""The stars' pages as a browser meets them."""

from __future__ import annotations

import base64
import io
import math
from typing import Any

import numpy as np
import pytest
from fastapi.testclient import TestClient
from PIL import Image

from server.domain.stars.wishes import StarWishes
from server.flow.draw_stars import draw_stars
from server.flow.workbench import Workbench
from server.rim.phrasebook.tell import tell
from server.store import Stores
from server.web.stars.page import facts_of
from server.web.stars.png import about_the_middle, star_png
from tests.domain.rigs import camera, rig, tube
from tests.places import Place
from tests.web.club import observer_named, page_of, sit_down, words_of

pytestmark = pytest.mark.file_alone(reason="drawn of what others read from both databases")


@pytest.fixture
def place(club_place: Place) -> Place:
    return club_place


NAMES = ("Newtonian, bare", "Newtonian, corrected", "doublet, bare", "doublet, flattened", "Ritchey-Chretien")


class Loans:
    """The loan cupboard's rigs: five tubes, one camera."""

    def __init__(self, client: TestClient, stores: Stores) -> None:
        keeper = observer_named(stores, "Isolde Wrackham")
        sit_down(client, keeper)
        self.client = client
        with stores.reading() as store:
            self.rigs = {line.name: line.id for line in Workbench(store, keeper, tell).rigs()}

    def number(self, name: str) -> int:
        return next(i for full, i in self.rigs.items() if name in full)

    def stars(self, name: str, **query: Any) -> Any:
        return self.client.get(f"/bench/{self.number(name)}/stars", params=query)


@pytest.fixture
def loans(client: TestClient, stores: Stores) -> Loans:
    return Loans(client, stores)


def pixels(address: str) -> Image.Image:
    """The picture behind a data: address."""
    return Image.open(io.BytesIO(base64.b64decode(address.partition(",")[2])))


@pytest.mark.parametrize("name", NAMES)
def test_nine_stars_with_words_and_numbers_stand_over_each_sensor(loans: Loans, name: str):
    answer = loans.stars(name)
    assert answer.status_code == 200
    page = page_of(answer)
    images = page.select(".star-sensor img")
    assert len(images) == 9
    sizes = {pixels(str(image["src"])).size for image in images}
    assert len(sizes) == 1
    assert all("full width" in str(image["alt"]) for image in images)
    few, others = page.select("section[aria-labelledby=numbers-head] table")
    heads = [[head.get_text(strip=True) for head in table.select("thead th")[1:]] for table in (few, others)]
    assert heads[0][:3] == ["centre", "middle of a side: right", heads[0][2]]
    assert heads[0][2].endswith("corner: top right")
    assert len(heads[0]) in (3, 4)
    assert sum(map(len, heads)) == 9
    assert few.find_parent("details") is None
    assert others.find_parent("details") is not None
    assert page.select_one(".bright img") is not None
    assert len(page.select(".star-plots svg title")) == 2


def test_the_corners_of_the_five_tubes_are_as_a_practitioner_expects(loans: Loans):
    said = {name: words_of(loans.stars(name)) for name in NAMES}
    assert "by coma" in said["Newtonian, bare"]
    assert "Put a coma corrector" in said["Newtonian, bare"]
    assert "by the curved field" in said["doublet, bare"]
    assert "Put a flattener" in said["doublet, bare"]
    assert "by the curved field" in said["Ritchey-Chretien"]
    for even in ("Newtonian, corrected", "doublet, flattened"):
        # Even as far as a perfect corrector goes, which nobody may call sound.
        assert "the field is even" in said[even]
        assert "if the correction is perfect" in said[even]
        assert "the maker's spot sizes of" in said[even]


def test_a_wish_is_typed_with_its_unit_and_changes_the_picture(loans: Loans):
    plain = page_of(loans.stars("Newtonian, corrected")).select(".star-sensor img")
    off = page_of(loans.stars("Newtonian, corrected", focus_um="0.05 mm")).select(".star-sensor img")
    assert plain[4]["src"] != off[4]["src"]
    field = page_of(loans.stars("Newtonian, corrected", focus_um="0.05 mm")).select_one("#wish-focus_um")
    assert field is not None
    assert field["value"] == "0.05 mm"


def test_what_cannot_be_read_is_said_at_its_field_and_the_rest_is_drawn(loans: Loans):
    answer = loans.stars("Newtonian, corrected", focus_um="5 kg", seeing_arcsec="2 arcsec", tilt_arcmin="500")
    assert answer.status_code == 422
    page = page_of(answer)
    assert page.select_one("#wish-focus_um-error") is not None
    assert page.select_one("#wish-tilt_arcmin-error") is not None
    assert page.select_one("#wish-focus_um")["value"] == "5 kg"
    assert len(page.select(".star-sensor img")) == 9


def test_to_htmx_the_stars_alone_are_sent(loans: Loans):
    url = f"/bench/{loans.number('doublet, bare')}/stars"
    answer = loans.client.get(url, params={"shown": "alone"}, headers={"HX-Request": "true"})
    assert answer.text.lstrip().startswith('<div id="stars"')
    assert "<form" not in answer.text


@pytest.mark.parametrize("shown", ["alone", "seen", "pixels", "nonsense"])
def test_each_way_to_look_is_drawn_linear_and_stretched(loans: Loans, shown: str):
    stretched = page_of(loans.stars("doublet, bare", shown=shown)).select(".star-sensor img")
    linear = page_of(loans.stars("doublet, bare", shown=shown, linear=1)).select(".star-sensor img")
    assert stretched[0]["src"] != linear[0]["src"]


def test_a_rig_that_lacks_a_camera_teaches_what_to_enter(loans: Loans):
    started = loans.client.post("/bench", data={"name": "Nothing yet"}, follow_redirects=True)
    number = str(started.url).rsplit("/", 1)[-1].split("?")[0]
    said = words_of(loans.client.get(f"/bench/{number}/stars"))
    assert "No star yet" in said
    assert "a camera at the end of the train" in said


def test_two_to_four_rigs_stand_side_by_side_under_one_sky(loans: Loans):
    numbers = [loans.number(name) for name in NAMES[:4]]
    answer = loans.client.get("/bench/stars", params={"rig": numbers, "seeing_arcsec": "2"})
    assert answer.status_code == 200
    page = page_of(answer)
    assert len(page.select(".star-compare thead th")) == 4
    assert len(page.select(".star-compare img")) == 8
    assert words_of(answer).count("2 and 0.7 arcsec") == 4


def test_what_is_said_of_correctors_and_collimation_stands_where_there_is_one(loans: Loans):
    lens, mirror = (words_of(loans.stars(name)) for name in ("doublet, bare", "Newtonian, corrected"))
    for words in ("stands above, under Collimation", "A corrector off its distance"):
        assert words in mirror
        assert words not in lens


def test_the_comparison_says_what_is_assumed_of_each_and_counts_the_corrector_in(loans: Loans):
    numbers = [loans.number(name) for name in NAMES[:2]]
    answer = loans.client.get("/bench/stars", params={"rig": numbers})
    page = page_of(answer)
    section = page.select_one("section[aria-labelledby=assumed-head]")
    assert section is not None
    said = section.get_text(" ", strip=True)
    assert "wholly away" in said
    assert "Not drawn: colour error" in said
    assert [h.get_text(strip=True) for h in section.select("h3")][-1] == "All of them"
    rows = {
        row.th.get_text(strip=True): [cell.get_text(strip=True) for cell in row.select("td")]
        for row in page.select(".star-compare tbody tr")
    }
    assert rows["price of the corrector"][0] == rows["mass of the corrector"][0] == "no corrector"
    assert rows["mass of both"][0] == rows["mass of the tube"][0] == rows["mass of the tube"][1]
    kilograms = {"kg": 1.0, "g": 0.001}
    masses = []
    for what in ("the tube", "the corrector", "both"):
        value, unit = rows[f"mass of {what}"][1].split()
        masses.append(float(value) * kilograms[unit])
    assert masses[2] == pytest.approx(masses[0] + masses[1], abs=0.011)
    assert masses[1] > 0.0


def test_a_comet_is_drawn_whole_or_said_to_be_cut_off(loans: Loans):
    numbers = [loans.number(name) for name in NAMES[:2]]
    page = page_of(loans.client.get("/bench/stars", params={"rig": numbers, "shown": "seen"}))
    corner = page.select(".star-compare tbody tr")[1].select_one("img")
    image = np.asarray(pixels(str(corner["src"]))).astype(int)
    edge = max(image[0].max(), image[-1].max(), image[:, 0].max(), image[:, -1].max())
    # An edge of a hundredth of the centre's peak is drawn so grey, by asinh(1) / asinh(100).
    grey = 255.0 * math.asinh(1.0) / math.asinh(100.0)
    assert (edge > grey) == ("cut off" in str(corner["alt"]))
    # Nothing inside falls to black along a straight line: from row to row and column to column it is smooth.
    assert np.abs(np.diff(image.max(axis=0))).max() < 60
    assert np.abs(np.diff(image.max(axis=1))).max() < 60


@pytest.mark.parametrize(("count", "status"), [(1, 200), (5, 422)])
def test_one_rig_or_five_are_too_few_or_too_many(loans: Loans, count: int, status: int):
    numbers = list(loans.rigs.values())[:count]
    answer = loans.client.get("/bench/stars", params={"rig": numbers})
    assert answer.status_code == status
    assert "tick two to four rigs" in words_of(answer)


def test_the_comparison_offers_every_rig_and_the_bench_leads_to_the_stars(loans: Loans):
    page = page_of(loans.client.get("/bench/stars"))
    assert len(page.select("input[name=rig]")) == 5
    number = loans.number("doublet, bare")
    assert (
        page_of(loans.client.get(f"/bench/{number}")).select_one(f"a[href='/bench/{number}/stars']")
        is not None
    )


def test_upkeep_and_its_cautions_stand_open_on_the_page(loans: Loans):
    said = words_of(loans.stars("Newtonian, bare"))
    assert "laser goes into no eye" in said
    assert "certified full-aperture solar filter, fixed in front of the tube" in said


def test_a_picture_keeps_its_middle_and_its_upper_side():
    values = np.zeros((5, 5))
    values[4, 2] = 1.0
    image = pixels(star_png(values, 1.0, stretched=False))
    # The last row is the upper one on the sensor, and the first of a picture.
    assert image.getpixel((2, 0)) == 255
    assert about_the_middle(values, 9)[6, 4] == 1.0
    assert about_the_middle(values, 3).shape == (3, 3)
    faint = pixels(star_png(np.full((3, 3), 0.01), 1.0, stretched=True)).tobytes()[4]
    assert 30 < faint < 60


def test_what_an_obstruction_that_nobody_entered_costs_is_not_said_to_be_nothing() -> None:
    def lost(**given: Any) -> str:
        mirror = tube(design="newtonian", aperture_mm=200.0, focal_length_mm=800.0, **given)
        sensor = camera(width_px=6200, height_px=4140, pixel_um=3.8)
        field = draw_stars(rig(mirror, sensor), StarWishes()).field
        assert field is not None
        return dict(facts_of(field, "metric"))["light lost to obstruction, vanes and clips"]

    assert lost() == "not known yet: enter the central obstruction of Halden Tube"
    # 70 mm of 200 mm are 0.35, and 0.35 squared of the light.
    assert lost(obstruction_mm=70.0).startswith("12.")


def test_an_imperial_reader_is_told_stars_by_sky_and_pixels_alone(loans: Loans):
    table = "section[aria-labelledby=numbers-head] table"
    assert "µm" in page_of(loans.stars("doublet, bare")).select_one(table).get_text()
    loans.client.post("/units", data={"units": "imperial"})
    said = page_of(loans.stars("doublet, bare")).select_one(table).get_text()
    assert "arcsec" in said
    assert "µm" not in said
    assert "mm" not in said


def test_the_stars_are_told_in_a_sentence_that_a_redraw_announces(loans: Loans):
    said = [
        page_of(loans.stars("doublet, bare", **wish)).select_one("#stars [role=status]").get_text(strip=True)
        for wish in ({}, {"focus_um": "200 um"})
    ]
    assert all(one.startswith("Full width ") and "at the widest corner" in one for one in said)
    assert said[0] != said[1]


def test_the_address_keeps_what_is_wished_for_and_no_more(loans: Loans):
    url = f"/bench/{loans.number('doublet, bare')}/stars"
    wishes = {"focus_um": "50 um", "tilt_arcmin": "0", "seeing_arcsec": "", "shown": "alone"}
    answer = loans.client.get(url, params=wishes, headers={"HX-Request": "true"})
    assert answer.headers["HX-Replace-Url"] == f"{url}?focus_um=50+um&shown=alone"


def test_the_rarer_wishes_fold_until_one_is_wished_for(loans: Loans):
    def folded(**wishes: str) -> Any:
        return page_of(loans.stars("doublet, bare", **wishes)).select_one("#wishes details")

    assert not folded(focus_um="50 um").has_attr("open")
    assert folded(tilt_arcmin="3").has_attr("open")
    assert folded(tilt_arcmin="500").has_attr("open"), "what could not be read is in sight"
