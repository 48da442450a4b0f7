"""Share links: what a guest sees, on this machine and on the network, and what nobody sees any more."""

from __future__ import annotations

import re
import socket
import subprocess
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
import uvicorn
from bs4 import Tag
from fastapi import FastAPI
from fastapi.testclient import TestClient

from server import paths
from server.app import create_share_app
from server.domain.connections import Connection, read_connection
from server.domain.entry import Entry
from server.domain.measure import Measure
from server.domain.observer import Observer
from server.domain.parts import Camera, Mount, OpticalTube, Part, SpacerRing
from server.flow.assemble_train import AddPart, SetGear
from server.flow.workbench import Workbench
from server.rim.phrasebook.tell import tell
from server.settings import Settings
from server.store import Stores
from server.web.drawing.qr import qr_svg
from tests import own_frames
from tests.chromium import ARGUMENTS, require_chromium, require_scanner
from tests.places import Place
from tests.web.club import entries_of, measured_with, observer_named, page_of, sit_down, words_of

LAN = "http://192.0.2.7:8322"
"""An address of the range that is kept for examples (RFC 5737)."""


@pytest.fixture
def place(club_place: Place) -> Place:
    return club_place


@pytest.fixture
def ruta(client: TestClient, stores: Stores) -> Observer:
    observer = observer_named(stores, "Ruta Ommerli")
    sit_down(client, observer)
    return observer


@pytest.fixture
def entry(ruta: Observer, stores: Stores) -> Entry:
    return entries_of(stores, ruta)["Put the calipers on the filters"]


@pytest.fixture
def token(client: TestClient, entry: Entry) -> str:
    """A link made by pressing the button."""
    answer = client.post(f"/logbook/{entry.id}/share", follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (303, f"/logbook/{entry.id}#share")
    link = page_of(client.get(f"/logbook/{entry.id}")).select_one(".links a")
    assert isinstance(link, Tag)
    return str(link["href"]).removeprefix("/s/")


@pytest.fixture
def lan_settings(settings: Settings) -> Settings:
    return settings.model_copy(update={"lan": True, "lan_address": "192.0.2.7"})


@pytest.fixture
def lan_app(lan_settings: Settings, stores: Stores) -> FastAPI:
    return create_share_app(lan_settings, stores)


@pytest.fixture
def guest(lan_app: FastAPI) -> TestClient:
    """A browser on another machine: no cookie, no observer."""
    return TestClient(lan_app, base_url=LAN)


def test_a_guest_sees_drawing_parts_distances_and_findings_with_their_working(
    guest: TestClient, token: str
) -> None:
    answer = guest.get(f"/s/{token}")
    assert answer.status_code == 200
    page = page_of(answer)
    assert page.h1.get_text() == "Put the calipers on the filters"
    assert page.select_one(".sheet-drawing svg desc")
    distances = [td.get_text().replace("\xa0", " ") for td in page.select(".sheet-run tbody td:last-child")]
    # Worked by hand from the lengths in the demo club's files; the tube has no length of its own.
    assert distances == ["–", "101.20 mm", "57.20 mm", "56.70 mm", "40.70 mm", "37.50 mm", "16.40 mm"]
    spacing = page.select_one("article.finding.stop")
    assert isinstance(spacing, Tag)
    assert "0.51 mm" in spacing.get_text()
    assert spacing.select_one(".working .inputs")
    assert "Source:" in spacing.get_text()


def test_a_guest_can_change_nothing_and_is_led_nowhere_else(guest: TestClient, token: str) -> None:
    page = page_of(guest.get(f"/s/{token}"))
    assert not page.select("form, button, input")
    links = {str(a["href"]).partition("?")[0] for a in page.select("a[href]")}
    assert links <= {f"/s/{token}", f"/s/{token}/file.html", f"/s/{token}/file.json"} | {
        link for link in links if link.startswith("#")
    }
    for path in ("/", "/logbook", "/shelf", "/bench", "/api/openapi.json", "/observers"):
        assert guest.get(path).status_code == 404
    for path in (f"/s/{token}", f"/s/{token}/put-on-shelf", "/logbook/1/share", "/logbook/take-in"):
        assert guest.post(path).status_code in (404, 405)


def test_the_network_pays_no_heed_to_an_observers_cookie(
    guest: TestClient, token: str, ruta: Observer
) -> None:
    guest.cookies.set("observer", str(ruta.id))
    assert "Ruta Ommerli" in words_of(guest.get(f"/s/{token}"))
    assert "your own logbook" not in words_of(guest.get(f"/s/{token}"))


def test_every_asset_of_a_guests_page_is_served_on_the_network(guest: TestClient, token: str) -> None:
    page = page_of(guest.get(f"/s/{token}"))
    assets = [tag.get("href") or tag.get("src") for tag in page.select("link[href], script[src]")]
    assert any("sheet.css" in str(asset) for asset in assets)
    for asset in assets:
        # The browser libraries are brought in by the build and may be missing in a checkout.
        if "/vendor/" not in str(asset):
            assert guest.get(str(asset)).status_code == 200, asset


def test_the_link_and_its_code_carry_the_networks_address(guest: TestClient, token: str) -> None:
    page = page_of(guest.get(f"/s/{token}"))
    address = f"{LAN}/s/{token}"
    assert page.select_one("figcaption.address").get_text() == address
    assert modules_of(str(page.select_one("svg.qr"))) == reference_modules(address)
    assert "works on this machine only" not in page.get_text()


def test_a_loopback_link_says_that_it_works_here_only_and_what_to_do(
    client: TestClient, entry: Entry, token: str
) -> None:
    for page in (f"/s/{token}", f"/logbook/{entry.id}"):
        said = words_of(client.get(page))
        assert "this machine only" in said
        assert "trainwright serve --lan" in said
        assert "send a file" in said


def modules_of(svg: str) -> set[tuple[int, int]]:
    """The dark modules that a drawn code shows, the quiet zone of four taken off."""
    steps = re.findall(r"M(\d+) (\d+)h1v1h-1z", svg)
    return {(int(x) - 4, int(y) - 4) for x, y in steps}


def reference_modules(text: str) -> set[tuple[int, int]]:
    import segno

    matrix = segno.make_qr(text, error="m").matrix
    return {(x, y) for y, row in enumerate(matrix) for x, module in enumerate(row) if module}


def test_the_owner_has_the_address_to_select_and_its_code_where_the_link_is_made(
    client: TestClient, entry: Entry, token: str, ruta: Observer
) -> None:
    sit_down(client, ruta)
    link = page_of(client.get(f"/logbook/{entry.id}")).select_one(".links > li")
    field = link.select_one("input")
    assert field.has_attr("readonly")
    assert str(field["value"]).endswith(f"/s/{token}")
    assert link.select_one(f"label[for={field['id']}]") is not None
    assert link.select_one(f"button[data-copy={field['id']}]").has_attr("hidden")
    assert modules_of(str(link.select_one("svg.qr"))) == modules_of(str(qr_svg(str(field["value"]), "")))


def test_a_qr_code_has_its_three_finders_and_its_quiet_zone() -> None:
    svg = str(qr_svg("http://192.0.2.7:8322/s/abc", "A code"))
    dark = modules_of(svg)
    side = max(x for x, _ in dark) + 1
    # ISO/IEC 18004 (from memory): a finder is 7 x 7, its ring dark, then light, then a dark 3 x 3.
    finder = {(x, y) for x in range(7) for y in range(7) if max(abs(x - 3), abs(y - 3)) != 2}
    for left, top in ((0, 0), (side - 7, 0), (0, side - 7)):
        seen = {(x, y) for x in range(7) for y in range(7) if (x + left, y + top) in dark}
        assert seen == finder
    assert f'viewBox="0 0 {side + 8} {side + 8}"' in svg
    assert (side - 21) % 4 == 0


@pytest.mark.browser
@pytest.mark.parametrize("theme", ["light", "dark", "red"])
def test_a_scanner_reads_the_address_off_the_screen(
    serving: str, token: str, tmp_path: Path, theme: str
) -> None:
    scanner, picture = require_scanner(), tmp_path / "page.png"
    chromium("--window-size=1200,900", f"--screenshot={picture}", f"{serving}/s/{token}?theme={theme}")
    read = subprocess.run([scanner, "-q", "--raw", picture], capture_output=True, text=True, check=True)
    assert read.stdout.strip() == f"{serving}/s/{token}"


def test_the_code_is_red_and_black_in_the_red_theme() -> None:
    style = (paths.STATIC / "css" / "logbook" / "sheet.css").read_text(encoding="utf-8")
    assert re.search(r'\[data-theme="red"\] \.qr-panel \{\s*fill: #f00;', style)
    assert re.search(r"\.qr-modules \{\s*fill: #000;", style)


def test_a_guest_reads_metric_until_the_address_asks_for_imperial(guest: TestClient, token: str) -> None:
    assert "57.20 mm" in words_of(guest.get(f"/s/{token}"))
    # 57.20 mm / 25.4 = 2.2520 in.
    assert "2.2520 in" in words_of(guest.get(f"/s/{token}?units=imperial"))
    guest.cookies.set("units", "imperial")
    assert "2.2520 in" in words_of(guest.get(f"/s/{token}"))


def test_a_guest_chooses_the_theme_in_the_address(guest: TestClient, token: str) -> None:
    page = page_of(guest.get(f"/s/{token}?theme=red&units=imperial"))
    assert page.html["data-theme"] == "red"
    chosen = [a.get_text() for a in page.select(".me a[aria-current]")]
    assert chosen == ["Imperial", "Red"]
    nonsense = page_of(guest.get(f"/s/{token}?theme=<script>&units=furlongs"))
    assert nonsense.html["data-theme"] == "system"


def test_a_withdrawn_link_and_one_that_never_was_answer_word_for_word_the_same(
    client: TestClient, guest: TestClient, entry: Entry, token: str, stores: Stores
) -> None:
    with stores.reading() as store:
        share = store.shares(entry.id)[0]
    client.post(f"/logbook/{entry.id}/share/{share.id}/withdraw")
    for browser in (client, guest):
        for rest in ("", "/file.html", "/file.json"):
            dead, never = browser.get(f"/s/{token}{rest}"), browser.get(f"/s/{'A' * len(token)}{rest}")
            assert dead.status_code == never.status_code == 404
            assert dead.text == never.text
            assert "calipers" not in dead.text
            assert "withdrawn" not in dead.text.lower()
    assert "1 link withdrawn" in words_of(client.get(f"/logbook/{entry.id}"))


def test_a_link_leaves_the_other_links_of_its_entry_alone_when_it_is_withdrawn(
    client: TestClient, guest: TestClient, entry: Entry, token: str, stores: Stores
) -> None:
    client.post(f"/logbook/{entry.id}/share")
    with stores.reading() as store:
        newer, older = store.shares(entry.id)
    assert older.token == token
    client.post(f"/logbook/{entry.id}/share/{older.id}/withdraw")
    assert guest.get(f"/s/{older.token}").status_code == 404
    assert guest.get(f"/s/{newer.token}").status_code == 200


def test_only_the_owner_makes_and_withdraws_links(
    client: TestClient, entry: Entry, token: str, stores: Stores
) -> None:
    with stores.reading() as store:
        share = store.shares(entry.id)[0]
    sit_down(client, observer_named(stores, "Annika Thornquist"))
    assert client.post(f"/logbook/{entry.id}/share").status_code == 404
    assert client.post(f"/logbook/{entry.id}/share/{share.id}/withdraw").status_code == 404
    assert client.get(f"/s/{token}").status_code == 200


def test_shared_pages_are_kept_by_no_cache_and_no_search_engine(guest: TestClient, token: str) -> None:
    answer = guest.get(f"/s/{token}")
    assert answer.headers["cache-control"] == "no-store"
    assert "noindex" in answer.headers["x-robots-tag"]
    assert "script-src 'self'" in answer.headers["content-security-policy"]


def test_a_member_puts_it_on_their_shelf_at_one_press(client: TestClient, token: str, stores: Stores) -> None:
    pavo = observer_named(stores, "Pavo Lindgarth")
    sit_down(client, pavo)
    form = page_of(client.get(f"/s/{token}")).select_one("form[action$=put-on-shelf]")
    assert isinstance(form, Tag)
    answer = client.post(str(form["action"]), follow_redirects=False)
    assert answer.status_code == 303
    copy = entries_of(stores, pavo)["Put the calipers on the filters"]
    assert answer.headers["location"].partition("?")[0] == f"/logbook/{copy.id}"
    assert "Taken in." in words_of(client.get(answer.headers["location"]))
    again = client.post(str(form["action"]))
    assert "stands in your logbook already" in words_of(again)
    assert entries_of(stores, pavo).keys() == {"Put the calipers on the filters"}
    with stores.reading() as store:
        bench = Workbench(store, pavo, tell)
        assert [rig.name for rig in bench.rigs()] == ["Fast Newtonian"]
        assert all(bench.holding(part.id).any for part in copy.document.parts)


def test_the_owner_is_led_to_the_entry_and_a_stranger_to_the_choice_of_observers(
    client: TestClient, entry: Entry, token: str
) -> None:
    page = page_of(client.get(f"/s/{token}"))
    assert page.select_one(f"main a[href='/logbook/{entry.id}']")
    assert not page.select("form[action$=put-on-shelf]")
    client.cookies.clear()
    said = words_of(client.get(f"/s/{token}"))
    assert "say who you are" in said


def test_a_guest_takes_the_files_along(guest: TestClient, token: str, entry: Entry) -> None:
    page = guest.get(f"/s/{token}/file.html")
    data = guest.get(f"/s/{token}/file.json")
    assert "attachment" in page.headers["content-disposition"]
    assert data.json()["title"] == entry.document.title
    assert "57.20 mm" in words_of(page)


@pytest.fixture
def serving(lan_settings: Settings, stores: Stores) -> Iterator[str]:
    """The network's pages, served for a real browser on a port of this machine."""
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        port = listener.getsockname()[1]
        settings = lan_settings.model_copy(update={"lan_address": "127.0.0.1", "lan_port": port})
        app = create_share_app(settings, stores)
        server = uvicorn.Server(uvicorn.Config(app, log_level="error", lifespan="off"))
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]}, daemon=True)
        thread.start()
        while not server.started:
            time.sleep(0.01)
        yield f"http://127.0.0.1:{port}"
        server.should_exit = True
        thread.join(10)


def chromium(*arguments: str) -> None:
    program = [str(require_chromium()), "--headless", *ARGUMENTS, *arguments]
    subprocess.run(program, check=True, capture_output=True, timeout=60)


def printed_pages(serving: str, token: str, tmp_path: Path) -> int:
    file = tmp_path / "sheet.pdf"
    chromium("--no-pdf-header-footer", f"--print-to-pdf={file}", f"{serving}/s/{token}")
    data = file.read_bytes()
    # 210 x 297 mm in points of 1/72 in (ISO 216), as the browser rounds them.
    assert re.search(rb"/MediaBox\s*\[0 0 59[45]\.?\d* 84[12]\.?\d*\]", data)
    return len(re.findall(rb"/Type\s*/Page\b(?!s)", data))


@pytest.mark.browser
def test_a_shared_page_prints_on_one_a4_sheet(serving: str, token: str, tmp_path: Path) -> None:
    assert printed_pages(serving, token, tmp_path) == 1


@pytest.mark.browser
def test_a_train_of_fourteen_parts_with_a_long_note_prints_on_one_a4_sheet(
    serving: str, ruta: Observer, stores: Stores, tmp_path: Path
) -> None:
    with stores.writing() as store:
        bench = Workbench(store, ruta, tell)
        rig = bench.new_rig("A long train of many rings, longer than anyone would build it")
        parts: list[Part] = [
            OpticalTube(
                maker="Corvin", model="Nordlicht 80 long focus", camera_side=thread("M48x0.75 female")
            ),
            *(
                SpacerRing(
                    maker="Halden Feinwerk",
                    model=f"Ring of {n} mm with a name that takes its room",
                    sky_side=thread("M48x0.75 male, 4 mm long"),
                    camera_side=thread("M48x0.75 female, 5 mm deep"),
                    length_mm=Measure(nominal=float(n), plus=0.02, minus=0.02),
                )
                for n in range(1, 13)
            ),
            Camera(maker="Velm", model="Auge 26", sky_side=thread("M48x0.75 male")),
        ]
        for part in parts:
            add = AddPart(part_id=bench.add_part(part).id)
            bench.change_rig(rig.id, bench.bench(rig.id).stored.version, add)
        mount = bench.add_part(Mount(maker="Velm", model="Mount"))
        gear = SetGear(part_id=mount.id, quantity=1)
        view = bench.change_rig(rig.id, bench.bench(rig.id).stored.version, gear)
        assert len(view.rig.train) == 14
        entry = bench.save_entry(rig.id, view.stored.version, "All rings in " * 9, "A long note. " * 300)
        token = bench.share(entry.id).token
    assert printed_pages(serving, token, tmp_path) == 1


def thread(text: str) -> Connection:
    return read_connection(text)


def test_a_guest_sees_what_was_measured_with_the_entry_and_no_other_set(
    guest: TestClient, stores: Stores, entry: Entry, token: str, tmp_path: Path
) -> None:
    assert "sheet-measured" not in guest.get(f"/s/{token}").text
    one = own_frames.measured(tmp_path, own_frames.Truth(curvature=40.0))
    measured_with(stores, entry, "Before the shim", one)
    with stores.writing() as store:
        other = own_frames.measured(tmp_path, own_frames.Truth(curvature=80.0), spacing_mm=56.0)
        store.add_measured(entry.observer_id, entry.rig_id, None, "Never shared", other)
    for path in (f"/s/{token}", f"/s/{token}/file.html"):
        page = page_of(guest.get(path))
        (shown,) = page.select(".sheet-measured")
        assert "Before the shim" in shown.get_text()
        assert "Best focus rises by" in shown.get_text()
        assert shown.svg is not None
        # No door of the app, and nothing that only the other set could tell.
        assert shown.select("a") == []
        assert "Never shared" not in page.get_text()
        assert "Spacing by the stars" not in shown.get_text()
