"""Every page there is, and how to come to it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from urllib.parse import urlencode

from playwright.sync_api import FilePayload, Page, expect

from server.domain.parts import KINDS
from tests import own_frames
from tests.browser.conftest import Club

BAD_CSV = (
    "kind,maker,model,length_mm,sky_side,camera_side\n"
    "spacer_ring,Pellow & Dray,R7,7 mm,M48x0.75 female,M48x0.75 male\n"
    "spacer_ring,Pellow & Dray,R9,9 kg,M48x0.75 female,M48x0.75 male\n"
)


@dataclass(frozen=True)
class Shown:
    """A page: its name, what opens it, whether somebody is at the bench, and its status."""

    name: str
    open: Callable[[Page, Club], object]
    observer: bool = True
    status: int = 200


def at(name: str, path: str, status: int = 200, observer: bool = True) -> Shown:
    """A page that has an address; the club's numbers stand in braces."""

    def go(page: Page, club: Club) -> None:
        numbers = {**club.__dict__, "earlier": club.entries[0], "later": club.entries[1]}
        numbers |= {"before": club.measured[0], "after": club.measured[1]}
        page.goto(path.format(**numbers))

    return Shown(name, go, observer, status)


def open_report(page: Page, club: Club) -> None:
    page.goto("/shelf/import")
    page.get_by_label("CSV file").set_input_files(
        {"name": "rings.csv", "mimeType": "text/csv", "buffer": BAD_CSV.encode()}
    )
    page.get_by_role("button", name="Read it and report").click()
    page.get_by_role("heading", name="Problems").wait_for()


def open_refused_form(page: Page, club: Club) -> None:
    page.goto("/shelf/new?kind=spacer_ring")
    page.get_by_label("Model").fill("R7")
    page.get_by_label("Optical length", exact=True).fill("7 kg")
    page.get_by_role("button", name="Put it on the shelf").click()
    page.get_by_text("Not stored yet.").wait_for()


def open_filled_form(page: Page, club: Club) -> None:
    page.goto("/shelf/new")
    page.get_by_label("Paste or type it in one go").fill("80 mm f/6 apochromat, 2.4 kg\nSoft case, 5 kg")
    page.get_by_role("button", name="Fill the form").click()
    page.get_by_text("Nothing is stored yet.").wait_for()
    page.locator("details").evaluate_all("all => all.forEach(it => { it.open = true; })")


def open_drawer(page: Page, club: Club) -> None:
    page.goto("/shelf/drawer")
    page.locator("details").evaluate_all("all => all.forEach(it => { it.open = true; })")
    page.get_by_label("10: one more ring M48, 10 mm", exact=True).click()


def open_refused_drawer(page: Page, club: Club) -> None:
    open_drawer(page, club)
    page.get_by_label("How many: shim M48, 0.2 mm").fill("some")
    page.get_by_label("Other lengths of ring M48", exact=True).fill("5 kg")
    page.get_by_role("button", name="Put all of it on the shelf").click()
    page.get_by_text("Not stored yet.").wait_for()


def open_kind_asked(page: Page, club: Club) -> None:
    page.goto("/shelf/new")
    page.get_by_label("Paste or type it in one go").fill("Pixel size: 3.75 um; resolution 1280 x 960")
    page.get_by_role("button", name="Fill the form").click()
    page.get_by_text("It may be").wait_for()
    page.get_by_text("Another kind").click()


def open_view_menu(page: Page, club: Club) -> None:
    page.goto("/about")
    page.locator("details.me summary").click()


def open_note(page: Page, club: Club) -> None:
    page.goto(f"/bench/{club.rig}?tray=1")
    page.get_by_role("button", name="tray", exact=True).click()
    expect(page.get_by_text("The parts of your shelf, opened beside the run")).to_be_visible()


def open_working(page: Page, club: Club) -> None:
    page.goto(f"/bench/{club.rig}")
    page.locator("#bench details").evaluate_all("all => all.forEach(it => { it.open = true })")
    expect(page.locator("#bench a[data-fetch]")).to_have_count(0)


def open_one_working(page: Page, club: Club) -> None:
    page.goto(f"/bench/{club.rig}")
    page.goto(str(page.locator("#bench a[data-fetch]").first.get_attribute("href")))


def open_kit(page: Page, club: Club) -> None:
    page.goto(f"/bench/kit?rig={club.rig}")
    for box in page.get_by_role("checkbox").all():
        box.check()
    page.get_by_role("button", name="Plan the kit").click()
    page.get_by_role("heading", name="undone in all").wait_for()


def open_answer(page: Page, club: Club) -> None:
    """The Scout's answer to a garden's budget and back, over the whole catalogue."""
    page.goto("/scout?asked=1&catalogue=1&budget=4000&lift_kg=14&like=fill_least&front=cost&front=load")
    page.get_by_role("heading", name="meet your needs").wait_for()


def open_stops(page: Page, club: Club) -> None:
    open_answer(page, club)
    keys = page.locator(".scout-table input").evaluate_all("all => all.map(one => one.value)")
    page.goto(f"/scout/stops?asked=1&catalogue=1&{urlencode({'c': keys}, doseq=True)}")
    page.get_by_role("heading", name="Which stop on the bench").wait_for()


def open_alike(page: Page, club: Club) -> None:
    open_answer(page, club)
    page.get_by_role("link", name="stands for").first.click()
    page.get_by_role("heading", name="It stands for").wait_for()


def open_beside(page: Page, club: Club) -> None:
    open_answer(page, club)
    for box in page.get_by_label("side by side").all()[:2]:
        box.check()
    page.get_by_role("button", name="Put the ticked side by side").click()
    page.get_by_role("heading", name="Side by side").wait_for()


def open_set(page: Page, club: Club) -> None:
    """Two frames handed in, and a file that is none."""
    page.goto(f"/bench/{club.rig}/frames")
    files = {**own_frames.pair(), "notes.fits": b"no picture"}
    page.get_by_label("Frames of one spacing").set_input_files(
        [FilePayload(name=name, mimeType="image/fits", buffer=content) for name, content in files.items()]
    )
    page.get_by_role("button", name="Look at them").click()
    page.get_by_role("heading", name="The frames", exact=True).wait_for()


def open_refused_set(page: Page, club: Club) -> None:
    open_set(page, club)
    page.get_by_label("Focuser's position for out.fits").fill("far out")
    page.get_by_role("button", name="Measure").click()
    page.get_by_text("see the fields that are marked").wait_for()


PAGES = (
    at("the choice of observers", "/", observer=False),
    at("an observer's first page", "/"),
    at("the cautions", "/cautions"),
    at("about", "/about"),
    at("the words", "/words"),
    Shown("the menu of units and themes", open_view_menu),
    at("the shelf", "/shelf"),
    at("the catalogue", "/shelf?holding=catalogue"),
    at("a search that finds nothing", "/shelf?q=zzzz"),
    at("the choice of kinds", "/shelf/new"),
    *(at(f"the form: {KINDS[kind].kind_words}", f"/shelf/new?kind={kind}") for kind in KINDS),
    Shown("a form with a mistake in it", open_refused_form, status=422),
    Shown("a form filled from a specification", open_filled_form),
    Shown("a specification whose kind is asked", open_kind_asked),
    Shown("the drawer", open_drawer),
    Shown("the drawer with mistakes in it", open_refused_drawer, status=422),
    at("a part of another's", "/shelf/{part}"),
    at("a part of one's own", "/shelf/{own_part}"),
    at("the change of a part", "/shelf/{own_part}/edit"),
    at("CSV in and out", "/shelf/import"),
    Shown("the report on a CSV file", open_report),
    at("all rigs", "/bench"),
    at("a rig on the bench", "/bench/{rig}"),
    Shown("a rig with all workings open", open_working),
    Shown("how a finding was worked out", open_one_working),
    Shown("a word's note", open_note),
    at("the tray at a joint", "/bench/{rig}?at=2"),
    at("the tray before the guide camera", "/bench/{rig}?guide=1"),
    at("the Bridge", "/bench/{rig}/bridge?wait=1"),
    at("the Bridge with the guide camera in focus too", "/bench/{rig}/bridge?guide=1&source=owned&wait=1"),
    at("the Bridge without a guide chain", "/bench/{rig}/bridge?guide=1&source=owned&guide_off=0&wait=1"),
    at("the choice of rigs for a kit", "/bench/kit"),
    Shown("one kit for several rigs", open_kit),
    at("the stars of a rig", "/bench/{rig}/stars"),
    at("the stars of a rig with a mistake in the form", "/bench/{rig}/stars?focus_um=5+kg", status=422),
    at("rigs' stars side by side", "/bench/stars?rig={rig}&rig=2"),
    at("the choice of rigs for the stars", "/bench/stars"),
    at("which frames to take of a rig", "/bench/{rig}/frames"),
    Shown("frames that were handed in", open_set),
    Shown("frames that were handed in, with a mistake in the form", open_refused_set, status=422),
    at("what frames said", "/frames/{before}"),
    at("what frames said before and after", "/frames/compare?before={before}&after={after}"),
    at("the targets of the sky", "/sky"),
    at("a search for targets with a mistake in it", "/sky?kind=galaxies&least_arcmin=big", status=422),
    at("one's own list of targets", "/sky?mine=1"),
    at("a target on a rig", "/sky/at/M31?rig={rig}&columns=2&rows=2"),
    at("a target on two rigs", "/sky/at/NGC%207000?rig={rig}&rig=2"),
    at("a target with a mistake in the form", "/sky/at/M51?rig={rig}&evening=yesterday", status=422),
    at("the plan of a list", "/sky/plan?rig={rig}"),
    at("focal lengths that frame a list", "/sky/focal-lengths?rig={rig}"),
    at("a new site", "/sky/sites/new"),
    at("a target of one's own", "/sky/targets/new?like=M42"),
    Shown("the Scout's answer", open_answer),
    at("the Scout without a camera to choose", "/scout?asked=1&camera=999999"),
    at("the Scout's needs with mistakes in them", "/scout?asked=1&budget=lots&lift_kg=0", status=422),
    Shown("what one of the Scout's stands for", open_alike),
    Shown("which of the Scout's stop on the bench", open_stops),
    at("what would better a rig", "/scout/from/{rig}?asked=1&catalogue=1"),
    Shown("two of the Scout's side by side", open_beside),
    at("the load of a rig", "/bench/{rig}/load"),
    at("a packing list", "/bench/{rig}/packing"),
    at("the logbook", "/logbook"),
    at("an entry", "/logbook/{entry}"),
    at("an entry with what was measured", "/logbook/{earlier}"),
    at("two entries side by side", "/logbook/compare?earlier={earlier}&later={later}"),
    at("taking in a file", "/logbook/take-in"),
    at("a share page", "/s/{token}", observer=False),
    at("a share page seen by its observer", "/s/{token}"),
    at("a share link that leads nowhere", "/s/nothing", status=404, observer=False),
    at("a page that is not there", "/nowhere", status=404),
    at("a part that is not there", "/shelf/999999", status=404),
)

FORM = "the form: "
FEWER_FORMS = {FORM + KINDS[kind].kind_words for kind in ("optical_tube", "corrector", "camera", "mount")}
FEWER_PAGES = tuple(page for page in PAGES if not page.name.startswith(FORM) or page.name in FEWER_FORMS)
"""One form of each make-up: between them they hold every shape of field."""
