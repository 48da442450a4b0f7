"""Every route of the hosted form, from its own table, asked by everybody for their own and for another's.

`LINES` (who_may.py) says of each route who may ask for it. A new route without a line fails, and so does a
line without a route. What is another's answers as if it were not there, shows nothing of it, and changes
nothing of it.
"""

from __future__ import annotations

import itertools
import json
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from httpx2 import Response
from sqlalchemy import text

from server.domain.account import OneTimeLink, Passkey, Role
from server.domain.scout.needs import Needs
from server.flow.accounts import Club, digest, form_token
from server.flow.frame_sets import FrameSets
from server.flow.workbench import Workbench
from server.hosted import create_hosted_app
from server.rim.phrasebook.tell import tell
from server.settings import HostedSettings
from server.store import open_stores
from server.store.accounts import HostedStore, HostedStores
from server.store.tables import Row
from server.web.safety import SAFE_METHODS
from tests.loop import run_to_its_end
from tests.places import Place, Places, demo_club
from tests.web.hosted import ADDRESS, OTHER, PASSWORD, Browser, kept
from tests.web.who_may import LINES, ME, SHOWS_WHAT_IS_SHARED

MARK = "quillfeather"
"""Stands in the names of what is Annika's own, and nowhere else."""


@dataclass(frozen=True)
class World:
    """A club of three, as it is before a test."""

    folder: Path
    numbers: dict[str, int]
    tokens: dict[str, str]
    filled: dict[str, object]
    lent: Callable[[Path], Place] = Path
    """Lends its database, a file in the folder."""


def made_up(place: Place, folder: Path) -> World:
    """Makes a club of three of the demo club in the database; frames on their way lie in the folder."""
    stores = HostedStores(open_stores(place))
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
    tokens = {name: verbs.begun(number, "signed in", "a test") for name, number in numbers.items()}
    with stores.writing() as store:
        held = Passkey(0, numbers["annika"], "credential", "key", "handle", 0, MARK, datetime.now(UTC))
        assert store.add_passkey(held)
        filled["passkey_id"] = store.passkeys(numbers["annika"])[0].id
        now, address = datetime.now(UTC), f"{MARK}@other.example"
        later = now + timedelta(days=1)
        link = OneTimeLink(0, "mail", "member", numbers["annika"], now, later, address)
        store.add_link(digest("mailed"), link)
        store.set_mail(numbers["annika"], f"{MARK}@club.example")
        filled["mail_token"] = "mailed"
        filled["session_id"] = store.sessions(numbers["annika"])[0].id
        ruta = verbs.who(tokens["ruta"])
    assert ruta is not None
    filled["password_token"] = verbs.password_link(ruta, numbers["annika"])
    filled["set_token"] = FrameSets(folder / "frames").begin(numbers["annika"], int(str(filled["rig_id"])))
    stores.close()
    return World(folder, numbers, tokens, filled)


worlds = itertools.count()


@pytest.fixture(scope="module")
def world(places: Places, tmp_path_factory: pytest.TempPathFactory) -> World:
    folder = tmp_path_factory.mktemp("world")
    made: list[World] = []

    def fill(place: Place) -> None:
        demo_club(place)
        made.append(made_up(place, folder))

    name = f"world_{next(worlds)}"
    places.lent(name, fill, folder / "first")
    return replace(made[0], lent=lambda other: places.lent(name, fill, other))


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
        "other_part_id": next(
            item.id
            for item in (store.part(part) for part in store.shelf(annika))
            if item.kind == store.part(mine[0]).kind and item.id != mine[0]
        ),
        "key": "NGC7000",
        "code": "spacing",
        "rest:path": "nothing",
    }


@dataclass
class Club3:
    """The club in a folder of its own, for one test."""

    app: FastAPI
    world: World
    stores: HostedStores

    def browser(self, name: str) -> Browser:
        return (
            Browser(self.app, self.world.tokens[name], self.world.numbers[name])
            if name
            else Browser(self.app)
        )

    def rows_of_annika(self) -> str:
        """All that the database holds of Annika's own, but for her sessions and the log."""
        annika = self.world.numbers["annika"]
        of = "observer_id = :annika"
        entries = f"entry_id IN (SELECT id FROM entry WHERE {of})"
        rigs = f"rig_id IN (SELECT id FROM rig WHERE {of})"
        where = {
            "observer": "id = :annika", "part": "entered_by = :annika", "share": entries, "rig_state": rigs,
            "rig_site": rigs, "holding": of, "rig": of, "entry": of, "site": of, "target": of, "needs": of,
            "measured": of, "account": of, "account_passkey": of,
        }  # fmt: skip
        return json.dumps(
            {
                table: rows(self.stores, f"SELECT * FROM {table} WHERE {clause} ORDER BY 1, 2", annika=annika)
                for table, clause in where.items()
            },
            default=str,
        )


def rows(stores: HostedStores, question: str, **values: object) -> list[list[Any]]:
    with stores.reading() as store:
        return [list(row) for row in store._connection.execute(text(question), values)]


@pytest.fixture
def three(world: World, tmp_path: Path) -> Iterator[Club3]:
    shutil.copytree(world.folder / "frames", tmp_path / "frames")
    place = world.lent(tmp_path)
    settings = HostedSettings(
        data=tmp_path,
        place=str(place),
        public=ADDRESS,
        door="open",
        # Nobody takes mail there, and who asks is not told.
        mail="smtp://127.0.0.1:9",
        mail_from="club@rigs.example",
    )
    stores = HostedStores(open_stores(place))
    app = create_hosted_app(settings, stores)
    yield Club3(app, world, stores)
    # Who is to be sent mail is looked up after the answer.
    run_to_its_end(app.state.at_end())
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


def filled(raw: str, world: World, path: str, observer: int) -> str:
    values = {**world.filled, "observer_id": observer}
    for beginning, token in (
        ("/invitation", "invitation"),
        ("/password", "password"),
        ("/account/mail", "mail"),
    ):
        if path.startswith(beginning):
            values["token"] = values[f"{token}_token"]
    values.setdefault("token", values["set_token"] if "frames" in path else values["share_token"])
    for name, value in values.items():
        raw = raw.replace(f"{{{name}}}", str(value))
    return raw


def numbered(value: Any, world: World, path: str, observer: int) -> Any:
    """What is sent, with the texts in braces filled in; in JSON a number stays one."""
    if isinstance(value, dict):
        return {name: numbered(one, world, path, observer) for name, one in value.items()}
    if isinstance(value, str) and value.startswith("{"):
        known = filled(value, world, path, observer)
        return int(known) if known.isdigit() and path.startswith("/api/") else known
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


refused_alike = pytest.mark.file_alone(
    reason="Refusals are by the same code on both; what is let in or named by a number asks either."
)


@refused_alike
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


@refused_alike
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
    if line.corrected and name == "ruta":
        assert answer.status_code in line.fine, answer.text
        assert MARK not in answer.text
        return
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


@refused_alike
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


def test_secrets_are_kept_as_hashes_alone(three: Club3):
    world = three.world
    held = str([rows(three.stores, f"SELECT * FROM {table}") for table in Row.metadata.tables]).encode()
    for secret in (*world.tokens.values(), world.filled["invitation_token"], world.filled["password_token"]):
        assert str(secret).encode() not in held
    assert PASSWORD.encode() not in held
    assert digest(world.tokens["annika"]).encode() in held


def test_a_part_that_anothers_rig_holds_stays_without_telling_which_rig(three: Club3):
    declan = three.world.numbers["declan"]
    rig = three.world.filled["rig_id"]
    ((part,),) = rows(three.stores, "SELECT min(part_id) FROM rig_state_part WHERE rig_id = :rig", rig=rig)
    with three.stores.writing() as store:
        entered = text("UPDATE part SET entered_by = :declan WHERE id = :part")
        store._connection.execute(entered, {"declan": declan, "part": part})
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
