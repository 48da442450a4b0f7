"""Every route of the hosted form, from its own table, asked by everybody for their own and for another's.

`LINES` says of each route who may ask for it. A new route without a line fails, and so does a line without a
route. What is another's answers as if it were not there, shows nothing of it, and changes nothing of it.
"""

from __future__ import annotations

import json
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Literal

import pytest
from fastapi import FastAPI
from httpx2 import Response

from server.domain.account import OneTimeLink, Role
from server.domain.scout.needs import Needs
from server.flow.accounts import Club, digest, form_token
from server.flow.frame_sets import FrameSets
from server.flow.workbench import Workbench
from server.hosted import create_hosted_app
from server.rim.phrasebook.tell import tell
from server.settings import HostedSettings
from server.store import open_stores
from server.store.accounts import HostedStore, HostedStores
from server.web.safety import SAFE_METHODS
from tests.web.hosted import ADDRESS, OTHER, PASSWORD, Browser, kept

MARK = "quillfeather"
"""Stands in the names of what is Annika's own, and nowhere else."""

GARDEN = {
    "name": "Yard",
    "latitude_deg": "50",
    "longitude_deg": "8",
    "zone": "Europe/Berlin",
    "seeing_arcsec": "3",
    "revision": "{site_revision}",
}
SITE: dict[str, object] = {
    "name": "Yard",
    "latitude_deg": 50.0,
    "longitude_deg": 8.0,
    "zone": "Europe/Berlin",
}
CLOUD: dict[str, object] = {"name": "Cloud", "kind": "DrkN", "ra_deg": 58.0, "dec_deg": 24.5}
CLOUD_FORM = {
    "name": "Cloud",
    "kind": "DrkN",
    "ra_deg": "3 h 52 m",
    "dec_deg": "24.5",
    "revision": "{target_revision}",
}
RING = {"kind": "spacer_ring", "maker": "Halden", "model": "Ring", "length_mm": {"value": 5.0}}

Who = Literal["anyone", "member", "owner", "steward"]


@dataclass(frozen=True)
class Line:
    """What a route is expected to do.

    Attributes:
        who: anyone; a member, who is shown their own alone; the owner of what is named; a steward.
        sent: the form, or below /api the JSON. Texts in braces are filled in.
        query: behind the path.
        fine: what it answers to who may ask; a 422 where what is sent would have to be long.
        refused: what it answers to another than the owner.
    """

    who: Who
    sent: dict[str, Any] = field(default_factory=dict)
    query: str = ""
    fine: frozenset[int] = frozenset({200, 201, 204, 303})
    refused: frozenset[int] = frozenset({404})


def anyone(**sent: Any) -> Line:
    return Line("anyone", sent)


def member(query: str = "", **sent: Any) -> Line:
    return Line("member", sent, query)


def owner(query: str = "", **sent: Any) -> Line:
    return Line("owner", sent, query)


def steward(**sent: Any) -> Line:
    return Line("steward", sent)


def also(line: Line, *statuses: int) -> Line:
    """The same, where what is sent is not all that is needed, or what is asked for is not there."""
    return Line(line.who, line.sent, line.query, line.fine | set(statuses), line.refused)


def hidden(line: Line, *statuses: int) -> Line:
    """The same, where another's is refused by these."""
    return Line(line.who, line.sent, line.query, line.fine, frozenset(statuses))


VERSION = {"version": "{version}"}
ME = "/api/observers/{observer_id}"

LINES: dict[str, Line] = {
    # Open
    "GET /health": anyone(),
    "GET /sign-in": anyone(),
    "POST /sign-in": anyone(login="Annika Thornquist", password=PASSWORD),
    "GET /door": anyone(),
    "POST /door": anyone(login="Zoe", words="Hello", password=OTHER, again=OTHER),
    "GET /invitation/{token}": anyone(),
    "POST /invitation/{token}": anyone(login="Yan", password=OTHER, again=OTHER),
    "GET /password/{token}": anyone(),
    "POST /password/{token}": anyone(password=OTHER, again=OTHER),
    "GET /s/{token}": anyone(),
    "GET /s/{token}/file.html": anyone(),
    "GET /s/{token}/file.json": anyone(),
    # One's own account
    "POST /sign-out": member(),
    "GET /account": member(),
    "POST /account/password": member(present=PASSWORD, password=OTHER, again=OTHER),
    "POST /account/sessions/end-others": member(),
    "POST /account/sessions/{session_id}/end": member(),
    "GET /account/take-out.json": member(),
    "POST /account/delete": member(leaving=PASSWORD),
    # Stewards
    "GET /members": steward(),
    "GET /members/log": steward(),
    "POST /members/invite": steward(role="member"),
    "POST /members/invitations/{link_id}/withdraw": steward(),
    "POST /members/asked/{asked_id}": steward(answer="confirm"),
    "POST /members/{observer_id}/password-link": steward(),
    "POST /members/{observer_id}/role": steward(role="steward"),
    "POST /members/{observer_id}/closed": steward(closed="yes"),
    # First page
    "GET /": member(),
    "GET /cautions": member(),
    "GET /about": member(),
    "GET /words": member(),
    "POST /units": member(units="imperial"),
    "POST /theme": member(theme="dark"),
    # Shelf: the catalogue is the club's, what one has of it is one's own
    "GET /shelf": member(),
    "GET /shelf/export.csv": member(),
    "GET /shelf/import": member(),
    "POST /shelf/import": also(member(), 422),
    "POST /shelf/import/enter": also(member(), 422),
    "GET /shelf/drawer": member(),
    "POST /shelf/drawer": also(member(), 422),
    "GET /shelf/new": member(),
    "POST /shelf/new": also(member("kind=spacer_ring", maker="Halden", model="Ring"), 422),
    "POST /shelf/new/paste": also(member(text="M48 ring 5 mm"), 422),
    "GET /shelf/understood": also(member("kind=spacer_ring&length_mm=5"), 422),
    "GET /shelf/{part_id}": member(),
    "POST /shelf/{part_id}/holding": member(step="owned:1"),
    "GET /shelf/{part_id}/edit": hidden(owner(), 403),
    "POST /shelf/{part_id}/edit": hidden(also(owner(revision="1", maker="Halden", model="Other"), 422), 403),
    "POST /shelf/{part_id}/copy": member(),
    "POST /shelf/{part_id}/remove": hidden(also(owner(), 409), 403),
    # Bench
    "GET /bench": member(),
    "POST /bench": member(name="Second"),
    "GET /bench/kit": also(member("rig={rig_id}&rig={other_rig_id}"), 404),
    "POST /bench/kit/stop": also(member("rig={rig_id}&rig={other_rig_id}"), 404),
    "GET /bench/stars": also(member("rig={rig_id}&rig={other_rig_id}"), 404),
    "GET /bench/{rig_id}": owner(),
    "GET /bench/{rig_id}/stars": owner(),
    "POST /bench/{rig_id}/name": owner(**VERSION, name="Renamed"),
    "POST /bench/{rig_id}/remove": also(owner(**VERSION), 422),
    "POST /bench/{rig_id}/change": owner(**VERSION, verb="remove", place="1"),
    "POST /bench/{rig_id}/settle": also(
        owner(part_id="{part_id}", revision="1", field="mass_kg", text="1"), 409, 422
    ),
    "POST /bench/{rig_id}/copy": owner(),
    "GET /bench/{rig_id}/working/{code}": also(owner(), 404),
    "POST /bench/{rig_id}/rules": also(owner(**VERSION), 422),
    "POST /bench/{rig_id}/undo": also(owner(**VERSION), 422),
    "POST /bench/{rig_id}/redo": also(owner(**VERSION), 422),
    "POST /bench/{rig_id}/save": owner(**VERSION, title="Again"),
    # Frames
    "GET /bench/{rig_id}/frames": owner(),
    "POST /frames/hand-in/{rig_id}": also(owner(), 422),
    "GET /bench/{rig_id}/frames/set/{token}": owner(),
    "POST /bench/{rig_id}/frames/set/{token}": also(owner(do="stop"), 422),
    "POST /bench/{rig_id}/frames/set/{token}/keep": also(owner(name="Kept"), 404, 422),
    "GET /frames/compare": also(owner("before={measured_id}&after={other_measured_id}"), 422),
    "GET /frames/{measured_id}": owner(),
    "POST /frames/{measured_id}/screws": also(owner(), 422),
    "POST /frames/{measured_id}/turn": also(owner(), 422),
    "POST /frames/{measured_id}/seeing": also(owner(), 422),
    "POST /frames/{measured_id}/remove": owner(),
    "GET /frames/{measured_id}/stars.csv": owner(),
    # Load
    "GET /bench/{rig_id}/load": owner(),
    "POST /bench/{rig_id}/load": also(owner(**VERSION), 422),
    "POST /bench/{rig_id}/purpose": also(owner(**VERSION), 422),
    "GET /bench/load/understood": also(member("mass=1"), 404),
    # It leads to the load and reads nothing.
    "GET /bench/{rig_id}/load/{rest:path}": member(),
    "GET /bench/{rig_id}/packing": owner(),
    "POST /bench/{rig_id}/packing": also(owner(**VERSION), 422),
    # Bridge
    "GET /bench/{rig_id}/bridge": owner(),
    "POST /bench/{rig_id}/bridge/stop": owner(),
    "POST /bench/{rig_id}/bridge/put": also(owner(**VERSION, sky="1", camera="2", uses=""), 422),
    # It puts a ring on the asker's own wish list; of the rig it reads nothing.
    "POST /bench/{rig_id}/bridge/wish": also(member(seat="M48x0.75 male", length="5 mm"), 404, 422),
    # The sky
    "GET /sky": member(),
    "GET /sky/sites/new": member(),
    "POST /sky/sites/new": also(member(**GARDEN), 422),
    "GET /sky/sites/{site_id}": owner(),
    "POST /sky/sites/{site_id}": also(owner(**GARDEN), 422),
    "POST /sky/sites/{site_id}/remove": owner(),
    "POST /sky/rigs/{rig_id}/site": owner(site="{site_id}"),
    "GET /sky/targets/new": member(),
    "POST /sky/targets/new": also(member(**CLOUD_FORM), 422),
    "GET /sky/targets/{target_id}": owner(),
    "POST /sky/targets/{target_id}": also(owner(**CLOUD_FORM), 422),
    "POST /sky/targets/{target_id}/remove": owner(),
    "POST /sky/list": member(name="NGC7000"),
    "GET /sky/plan": member("rig={rig_id}&site={site_id}"),
    "GET /sky/focal-lengths": member(),
    "GET /sky/at/{key}": member("rig={rig_id}&site={site_id}"),
    "GET /sky/at/{key}/panels.csv": also(member("rig={rig_id}&site={site_id}"), 404, 422),
    "GET /sky/at/{key}/sketch/{rig_id}.png": also(owner("noise=1&site={site_id}"), 404),
    # Scout
    "GET /scout": member(),
    "POST /scout/candidate": also(member(), 422),
    "POST /scout/keep": also(member("budget=2000", name="Mine"), 422),
    "POST /scout/kept/{needs_id}/forget": owner(),
    "GET /scout/all.csv": member(),
    "GET /scout/from/{rig_id}": owner(),
    "GET /scout/beside": also(member(), 404, 422),
    "GET /scout/sketch/{key}.png": also(member(), 404, 422),
    "POST /scout/take": also(member(c="1-2-3"), 404, 422),
    "POST /scout/swap": also(owner(c="1-2-3", rig="{rig_id}"), 404, 422),
    # Logbook, share
    "GET /logbook": member(),
    "GET /logbook/compare": also(member("earlier={entry_id}&later={other_entry_id}"), 404, 422),
    "GET /logbook/take-in": member(),
    "POST /logbook/take-in": also(member(), 422),
    "GET /logbook/{entry_id}": owner(),
    "POST /logbook/{entry_id}/bring-back": owner(),
    "GET /logbook/{entry_id}/file.html": owner(),
    "GET /logbook/{entry_id}/file.json": owner(),
    "POST /logbook/{entry_id}/share": owner(),
    "POST /logbook/{entry_id}/share/{share_id}/withdraw": owner(),
    "POST /s/{token}/put-on-shelf": member(),
    # The API: everything of it is asked in one's own name alone
    "GET /api/openapi.json": member(),
    "GET /api/kinds": member(),
    f"GET {ME}": owner(),
    f"PUT {ME}/units": owner(units="imperial"),
    f"GET {ME}/parts": owner(),
    f"POST {ME}/parts": also(owner(part=RING), 422),
    f"GET {ME}/parts/{{part_id}}": owner(),
    f"PUT {ME}/parts/{{part_id}}": also(owner(revision=1, part=RING), 422),
    f"DELETE {ME}/parts/{{part_id}}": also(owner(), 409),
    f"POST {ME}/parts/{{part_id}}/copy": owner(),
    f"PUT {ME}/parts/{{part_id}}/holding": owner(owned=2, wished=0, considered=0),
    f"GET {ME}/rigs": owner(),
    f"POST {ME}/rigs": owner(name="Second"),
    f"GET {ME}/rigs/{{rig_id}}": owner(),
    f"PUT {ME}/rigs/{{rig_id}}/name": owner(**VERSION, name="Renamed"),
    f"DELETE {ME}/rigs/{{rig_id}}": also(owner("version={version}"), 422),
    f"POST {ME}/rigs/{{rig_id}}/changes": owner(**VERSION, change={"verb": "remove", "place": 1}),
    f"POST {ME}/rigs/{{rig_id}}/undo": also(owner(**VERSION), 422),
    f"POST {ME}/rigs/{{rig_id}}/redo": also(owner(**VERSION), 422),
    f"POST {ME}/rigs/{{rig_id}}/bridge": also(owner(), 422),
    f"GET {ME}/rigs/{{rig_id}}/stars": owner(),
    f"GET {ME}/rigs/{{rig_id}}/frames": owner(),
    f"GET {ME}/rigs/{{rig_id}}/frames/plan": owner(),
    f"GET {ME}/frames/sets/{{token}}": owner(),
    f"POST {ME}/frames/sets/{{token}}/measure": also(owner(), 422),
    f"POST {ME}/frames/sets/{{token}}/stop": also(owner(), 202, 422),
    f"DELETE {ME}/frames/sets/{{token}}": owner(),
    f"POST {ME}/frames/sets/{{token}}/keep": also(owner(), 404, 422),
    f"GET {ME}/frames/compare": also(owner("before={measured_id}&after={other_measured_id}"), 422),
    f"GET {ME}/frames/{{measured_id}}": owner(),
    f"GET {ME}/frames/{{measured_id}}/stars.csv": owner(),
    f"PUT {ME}/frames/{{measured_id}}/screws": owner(radius_mm=30.0, angles_deg=[90.0, 210.0, 330.0]),
    f"POST {ME}/frames/{{measured_id}}/turn": also(
        owner(before="{other_measured_id}", number=1, out_um=50.0), 422
    ),
    f"DELETE {ME}/frames/{{measured_id}}": owner(),
    "POST /api/frames/hand-in/{observer_id}/{rig_id}": also(owner(), 422),
    f"GET {ME}/sky/sites": owner(),
    f"POST {ME}/sky/sites": also(owner(site=SITE), 422),
    f"GET {ME}/sky/sites/{{site_id}}": owner(),
    f"PUT {ME}/sky/sites/{{site_id}}": also(owner(site=SITE, revision="{site_revision}"), 422),
    f"DELETE {ME}/sky/sites/{{site_id}}": owner(),
    f"GET {ME}/sky/rigs/{{rig_id}}/site": owner(),
    f"PUT {ME}/sky/rigs/{{rig_id}}/site": owner(site_id=None),
    f"GET {ME}/sky/targets": owner(),
    f"POST {ME}/sky/targets": owner(target=CLOUD),
    f"POST {ME}/sky/list": owner(name="NGC7000"),
    f"PUT {ME}/sky/targets/{{target_id}}": owner(target=CLOUD, revision="{target_revision}"),
    f"DELETE {ME}/sky/targets/{{target_id}}": owner(),
    f"GET {ME}/sky/catalogue": owner(),
    f"GET {ME}/sky/at/{{key}}": owner(),
    f"POST {ME}/scout": owner(),
    f"POST {ME}/scout/table": owner(),
    f"POST {ME}/scout/rigs": also(owner(key="1-2-3"), 404, 422),
    f"GET {ME}/scout/needs": owner(),
    f"POST {ME}/scout/needs": owner(name="Mine", needs={"budget": 2000}),
    f"DELETE {ME}/scout/needs/{{needs_id}}": owner(),
    f"POST {ME}/rigs/{{rig_id}}/entries": owner(**VERSION, title="Again"),
    f"GET {ME}/entries": owner(),
    f"GET {ME}/entries/compare": owner("earlier={entry_id}&later={other_entry_id}"),
    f"GET {ME}/entries/{{entry_id}}": owner(),
    f"POST {ME}/entries/{{entry_id}}/bring-back": owner(),
    f"POST {ME}/take-in": hidden(also(owner(), 422), 404, 422),
    f"GET {ME}/entries/{{entry_id}}/shares": owner(),
    f"POST {ME}/entries/{{entry_id}}/shares": owner(),
    f"DELETE {ME}/entries/{{entry_id}}/shares/{{share_id}}": owner(),
    "GET /api/shares/{token}": member(),
    f"POST {ME}/put-on-shelf": owner(token="{share_token}"),
}

SHOWS_WHAT_IS_SHARED = {"POST /s/{token}/put-on-shelf", "GET /api/shares/{token}"}
"""Whoever holds a link may see what it shows."""
NEEDS_NO_OBJECT = {f"GET {ME}", f"PUT {ME}/units"}


@dataclass(frozen=True)
class World:
    """A club of three, as it is before a test."""

    folder: Path
    numbers: dict[str, int]
    tokens: dict[str, str]
    filled: dict[str, object]


@pytest.fixture(scope="module")
def world(tmp_path_factory: pytest.TempPathFactory, club_database: Path) -> World:
    folder = tmp_path_factory.mktemp("world")
    shutil.copyfile(club_database, folder / "club.sqlite3")
    stores = HostedStores(open_stores(folder / "club.sqlite3"))
    verbs = Club(stores)
    with stores.writing() as store:
        by_name = {one.name: one.id for one in store.observers()}
        numbers = {
            "annika": by_name["Annika Thornquist"],
            "declan": by_name["Declan Varrow"],
            "ruta": by_name["Ruta Ommerli"],
        }
        for name, number in numbers.items():
            role: Role = "steward" if name == "ruta" else "member"
            store.add_account(number, store.observer(number).name, role, kept(PASSWORD), datetime.now(UTC))
        filled = marked(store, numbers["annika"])
        store.add_asked("Quentin", "Hello", kept(OTHER), datetime.now(UTC))
        filled["asked_id"] = store.asked()[0].id
    filled["invitation_token"] = verbs.invite(None, "member")
    filled["link_id"] = invited(stores)[0].id
    tokens = {name: verbs._begun(number, "signed in", "a test") for name, number in numbers.items()}
    with stores.writing() as store:
        filled["session_id"] = store.sessions(numbers["annika"])[0].id
        ruta = verbs.who(tokens["ruta"])
    assert ruta is not None
    filled["password_token"] = verbs.password_link(ruta, numbers["annika"])
    filled["set_token"] = FrameSets(folder / "frames").begin(numbers["annika"], int(str(filled["rig_id"])))
    stores.close()
    return World(folder, numbers, tokens, filled)


def invited(stores: HostedStores) -> tuple[OneTimeLink, ...]:
    with stores.reading() as store:
        return store.links("invitation")


def marked(store: HostedStore, annika: int) -> dict[str, object]:
    """Puts the mark on all that is Annika's; what its addresses are filled by."""
    bench = Workbench(store, store.observer(annika), tell)
    for number, line in enumerate(store.rigs(annika)):
        store.rename_rig(line.id, line.version, f"{MARK} {number}")
    measured = [one for line in store.rigs(annika) for one in store.measurements(annika, line.id)]
    rig = store.rig(measured[0].rig_id)
    entry = bench.save_entry(rig.id, rig.version, f"{MARK} evening", "")
    site = store.sites(annika)[0]
    store.change_site(site.id, site.revision, site.site.model_copy(update={"name": f"{MARK} hill"}))
    target = next((one for one in store.targets(annika) if one.target is not None), None)
    assert target is not None
    assert target.target is not None
    target = store.change_target(
        target.id, target.revision, target.target.model_copy(update={"name": f"{MARK} cloud"})
    )
    store.keep_needs(annika, f"{MARK} wish", Needs())
    needs = next(one for one in store.kept_needs(annika) if one.name.startswith(MARK))
    share = store.add_share(entry.id, "sharedsharedsharedsharedsharedsh", datetime.now(UTC))
    mine = [part for part in store.shelf(annika) if store.part(part).entered_by == annika]
    return {
        "rig_id": rig.id,
        "other_rig_id": next(line.id for line in store.rigs(annika) if line.id != rig.id),
        "version": store.rig(rig.id).version,
        "measured_id": measured[0].id,
        "other_measured_id": measured[-1].id,
        "entry_id": entry.id,
        "other_entry_id": next(one.id for one in store.entry_names(annika) if one.id != entry.id),
        "share_id": share.id,
        "share_token": share.token,
        "site_id": site.id,
        "site_revision": store.site(site.id).revision,
        "target_id": target.id,
        "target_revision": target.revision,
        "needs_id": needs.id,
        "part_id": mine[0],
        "key": "NGC7000",
        "code": "spacing",
        "rest:path": "nothing",
    }


@dataclass
class Club3:
    """The club in a folder of its own, for one test."""

    app: FastAPI
    world: World
    database: Path

    def browser(self, name: str) -> Browser:
        return (
            Browser(self.app, self.world.tokens[name], self.world.numbers[name])
            if name
            else Browser(self.app)
        )

    def rows_of_annika(self) -> str:
        """All that the database holds of Annika's own, but for her sessions and the log."""
        annika = self.world.numbers["annika"]
        of = "observer_id = ?"
        entries = f"entry_id IN (SELECT id FROM entry WHERE {of})"
        rigs = f"rig_id IN (SELECT id FROM rig WHERE {of})"
        where = {
            "observer": "id = ?", "part": "entered_by = ?", "share": entries, "rig_state": rigs,
            "rig_site": rigs, "holding": of, "rig": of, "entry": of, "site": of, "target": of, "needs": of,
            "measured": of, "account": of,
        }  # fmt: skip
        with closing(sqlite3.connect(self.database)) as opened:
            return json.dumps(
                {
                    table: opened.execute(f"SELECT * FROM {table} WHERE {clause}", (annika,)).fetchall()
                    for table, clause in where.items()
                }
            )


@pytest.fixture
def three(world: World, tmp_path: Path) -> Iterator[Club3]:
    shutil.copytree(world.folder, tmp_path / "here")
    database = tmp_path / "here" / "club.sqlite3"
    settings = HostedSettings(data=tmp_path / "here", place=str(database), public=ADDRESS, door="open")
    stores = HostedStores(open_stores(database))
    yield Club3(create_hosted_app(settings, stores), world, database)
    stores.close()


def routes_of(app: FastAPI) -> set[str]:
    """Every method and path that the app answers, from its own table."""

    def walked(routes: Any) -> Iterator[str]:
        for route in routes:
            if hasattr(route, "effective_candidates"):
                yield from walked(route.effective_candidates())
            elif hasattr(route, "methods"):
                yield from (f"{method} {route.path}" for method in route.methods if method != "HEAD")
            else:
                assert route.path.startswith("/static/"), route

    return set(walked(app.routes))


def filled(text: str, world: World, path: str, observer: int) -> str:
    values = {**world.filled, "observer_id": observer}
    for beginning, token in (("/invitation", "invitation"), ("/password", "password")):
        if path.startswith(beginning):
            values["token"] = values[f"{token}_token"]
    values.setdefault("token", values["set_token"] if "frames" in path else values["share_token"])
    for name, value in values.items():
        text = text.replace(f"{{{name}}}", str(value))
    return text


def numbered(value: Any, world: World, path: str, observer: int) -> Any:
    """What is sent, with the texts in braces filled in; in JSON a number stays one."""
    if isinstance(value, dict):
        return {name: numbered(one, world, path, observer) for name, one in value.items()}
    if isinstance(value, str) and value.startswith("{"):
        text = filled(value, world, path, observer)
        return int(text) if text.isdigit() and path.startswith("/api/") else text
    return value


def ask(three: Club3, browser: Browser, key: str, observer: int, token: str | None = None) -> Response:
    """Ask a route. `token` is what stands in for that of the session."""
    method, path = key.split(" ")
    line = LINES[key]
    url = filled(path, three.world, path, observer)
    assert "{" not in url, url
    if line.query:
        url += "?" + filled(line.query, three.world, path, observer)
    sent = numbered(line.sent, three.world, path, observer)
    if token is None:
        token = form_token(browser.token) if browser.token else ""
    if method in SAFE_METHODS:
        return browser.client.request(method, url)
    if path.startswith("/api/"):
        more: dict[str, Any] = {"data": sent} if "hand-in" in path else {"json": sent}
        if method == "DELETE":
            more = {}
        return browser.client.request(method, url, headers={"Trainwright-Token": token}, **more)
    return browser.client.request(method, url, data={**sent, "form_token": token})


def test_every_route_has_its_line_and_every_line_its_route(three: Club3):
    assert routes_of(three.app) == set(LINES)


@pytest.mark.parametrize("key", LINES)
def test_who_is_not_signed_in_is_sent_to_sign_in(three: Club3, key: str):
    answer = ask(three, three.browser(""), key, three.world.numbers["annika"])
    if LINES[key].who == "anyone":
        assert answer.status_code in LINES[key].fine, answer.text
    elif " /api/" in key:
        assert answer.status_code == 401
        assert answer.json()["error"]["code"] == "sign_in_first"
    else:
        assert answer.status_code == (302 if key.startswith("GET") else 303)
        assert answer.headers["location"].startswith("/sign-in")
    if LINES[key].who != "anyone":
        assert MARK not in answer.text


@pytest.mark.parametrize("key", [key for key in LINES if LINES[key].who != "anyone"])
@pytest.mark.parametrize("name", ["declan", "ruta"])
def test_nobody_sees_or_changes_what_is_anothers(three: Club3, key: str, name: str):
    line, annika = LINES[key], three.world.numbers["annika"]
    if line.who == "steward":
        answer = ask(three, three.browser(name), key, annika)
        assert answer.status_code in (line.fine if name == "ruta" else {404}), answer.text
        assert (MARK in answer.text) is False
        return
    before = three.rows_of_annika()
    answer = ask(three, three.browser(name), key, annika)
    if line.who == "owner":
        assert answer.status_code in line.refused, answer.text
    else:
        # Members that stay answer for themselves: the last steward may not leave.
        assert answer.status_code in line.fine or (name == "ruta" and "delete" in key), answer.text
    if key not in SHOWS_WHAT_IS_SHARED:
        assert MARK not in answer.text
    assert three.rows_of_annika() == before


@pytest.mark.parametrize(
    "key", [key for key in LINES if f" {ME}/" in key and "}/" in key.partition(ME)[2] + "/"]
)
def test_nothing_of_anothers_is_reached_in_ones_own_name(three: Club3, key: str):
    before = three.rows_of_annika()
    answer = ask(three, three.browser("declan"), key, three.world.numbers["declan"])
    if "{part_id}" in key or "{key}" in key:
        # The catalogue is everybody's; only who entered a part changes it.
        assert answer.status_code in {200, 201, 403, 422}
    else:
        assert answer.status_code == 404, answer.text
    assert MARK not in answer.text
    assert three.rows_of_annika() == before


@pytest.mark.parametrize("key", [key for key in LINES if LINES[key].who != "anyone"])
def test_who_may_is_let_in(three: Club3, key: str):
    line = LINES[key]
    answer = ask(
        three,
        three.browser("ruta" if line.who == "steward" else "annika"),
        key,
        three.world.numbers["annika"],
    )
    assert answer.status_code in line.fine, answer.text


@pytest.mark.parametrize(
    "key", [key for key in LINES if not key.startswith("GET") and LINES[key].who != "anyone"]
)
def test_a_change_without_the_sessions_token_or_with_another_is_refused(three: Club3, key: str):
    line, annika = LINES[key], three.world.numbers["annika"]
    name = "ruta" if line.who == "steward" else "annika"
    before = three.rows_of_annika()
    others = form_token(three.world.tokens["declan"])
    for token in ("", "0" * len(others), others, others[:16]):
        answer = ask(three, three.browser(name), key, annika, token)
        assert answer.status_code == 403, (token, answer.text)
    assert three.rows_of_annika() == before
    assert ask(three, three.browser(name), "GET /account", annika).status_code == 200


def test_secrets_are_kept_as_hashes_alone(world: World):
    held = (world.folder / "club.sqlite3").read_bytes()
    for secret in (*world.tokens.values(), world.filled["invitation_token"], world.filled["password_token"]):
        assert str(secret).encode() not in held
    assert PASSWORD.encode() not in held
    assert digest(world.tokens["annika"]).encode() in held


def test_a_part_that_anothers_rig_holds_stays_without_telling_which_rig(three: Club3):
    declan = three.world.numbers["declan"]
    with closing(sqlite3.connect(three.database)) as opened:
        part = opened.execute(
            "SELECT min(part_id) FROM rig_state_part WHERE rig_id = ?", (three.world.filled["rig_id"],)
        ).fetchone()[0]
        opened.execute("UPDATE part SET entered_by = ? WHERE id = ?", (declan, part))
        opened.commit()
    browser = three.browser("declan")
    answers = [browser.get(f"/shelf/{part}"), browser.post(f"/shelf/{part}/remove")]
    answers.append(
        browser.client.delete(
            f"/api/observers/{declan}/parts/{part}", headers={"Trainwright-Token": form_token(browser.token)}
        )
    )
    assert [answer.status_code for answer in answers] == [200, 409, 409]
    for answer in answers:
        assert "a rig of another member" in answer.text
        assert MARK not in answer.text
