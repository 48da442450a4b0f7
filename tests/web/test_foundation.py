"""The wiring: what is served, how errors are told, how a page and its blocks are shown."""

from __future__ import annotations

import logging
from collections.abc import Callable
from dataclasses import dataclass
from typing import ClassVar

import pytest
from bs4 import BeautifulSoup
from fastapi import FastAPI, Request
from fastapi.responses import Response
from fastapi.testclient import TestClient
from jinja2 import DictLoader, StrictUndefined

from server import paths
from server.app import create_app, create_share_app
from server.domain.errors import (
    FieldErrors,
    NotFoundError,
    NotYoursError,
    PartInUseError,
    RefusedError,
    StaleVersionError,
)
from server.handed import WritingStore
from server.handed.routing import pages, put_on
from server.settings import Settings
from server.store import Stores
from server.web import rendering
from server.web.deps import ReadingBench, WritingBench
from server.web.rendering import render_block, render_page, wants_block
from server.web.urls import Urls, with_query
from tests.places import Place

HTMX = {"HX-Request": "true"}
TROUBLES = {
    "absent": (NotFoundError("No such rig here."), 404, "not_found"),
    "not-yours": (NotYoursError("Bert entered it."), 403, "not_yours"),
    "refused": (RefusedError("A train holds one tube."), 422, "refused"),
    "in-use": (PartInUseError("Two rigs hold it.", ("Garden", "Travel")), 409, "part_in_use"),
    "stale": (StaleVersionError("Changed elsewhere.", 7), 409, "stale_version"),
    "fields": (FieldErrors({"mass_kg": "A mass is above zero."}), 422, "field_errors"),
}


@pytest.fixture
def troubled(app: FastAPI) -> TestClient:
    """The app with routes that fail, as a page and below /api."""

    def fail(name: str) -> Response:
        if name == "crash":
            raise RuntimeError("secret: /home/ann/notes")
        raise TROUBLES[name][0]

    def numbered(number: int, amount: int) -> Response:
        return Response(f"{number} {amount}")

    app.add_api_route("/fail/{name}", fail, methods=["GET", "POST"], include_in_schema=False)
    app.add_api_route("/api/fail/{name}", fail)
    app.add_api_route("/numbered/{number}", numbered, methods=["GET"], include_in_schema=False)
    return TestClient(app, base_url="http://127.0.0.1:8321")


def add(app: FastAPI, path: str, route: Callable[..., Response], *, methods: list[str]) -> None:
    """Add a page as the house's are made."""
    router = pages()
    router.add_api_route(path, route, methods=methods)
    put_on(app, (router,))


# -- What is served


def test_only_the_folders_meant_for_browsers_are_served(client: TestClient):
    assert client.get("/static/css/base.css").status_code == 200
    for path in (
        "/static/package.json",
        "/static/package-lock.json",
        "/static/",
        "/static/css/",
        "/static/css",
    ):
        assert client.get(path).status_code == 404
    assert client.get("/static/css/..%2f..%2fpyproject.toml").status_code == 404


def test_every_style_sheet_and_script_of_a_page_is_there_and_may_be_kept_for_ever(client: TestClient):
    page = BeautifulSoup(client.get("/").text, "html.parser")
    sheets = [str(link["href"]) for link in page.select("link[href]")]
    assert len(sheets) >= 7
    for sheet in sheets:
        answer = client.get(sheet)
        assert answer.status_code == 200, sheet
        assert "immutable" in answer.headers["cache-control"]


def test_a_files_address_changes_with_its_content(tmp_path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(paths, "STATIC", tmp_path)
    (tmp_path / "css").mkdir()
    file = tmp_path / "css" / "a.css"
    file.write_text("a{}")
    first = Urls().static("css/a.css")
    file.write_text("b{color:red}")
    second = Urls().static("css/a.css")
    assert first != second
    assert first.startswith("/static/css/a.css?v=")
    assert Urls().static("css/none.css") == "/static/css/none.css"


def test_there_are_no_pages_that_load_scripts_from_elsewhere(client: TestClient):
    for path in ("/docs", "/redoc", "/openapi.json"):
        assert client.get(path).status_code == 404


def test_the_api_describes_itself_and_no_pages(client: TestClient):
    described = client.get("/api/openapi.json").json()
    assert all(path.startswith("/api/") for path in described.get("paths", {}))


def test_pages_hold_no_inline_script_style_or_handler(client: TestClient):
    client.post("/observers", data={"name": "Ann"})
    for path in ("/", "/observers", "/cautions", "/about", "/nowhere"):
        page = BeautifulSoup(client.get(path).text, "html.parser")
        assert not page.select("style, [style], script:not([src])"), path
        assert not [name for tag in page.find_all(True) for name in tag.attrs if name.startswith("on")], path


def test_the_network_gets_neither_the_first_page_nor_the_api(settings: Settings, stores: Stores):
    lan = settings.model_copy(update={"lan": True, "lan_address": "192.0.2.7", "lan_port": 8322})
    client = TestClient(create_share_app(lan, stores), base_url="http://192.0.2.7:8322")
    for path in ("/", "/observers", "/shelf", "/bench", "/logbook", "/api/openapi.json"):
        assert client.get(path).status_code == 404, path
    for path in ("/demo", "/observers", "/theme"):
        assert client.post(path, data={"name": "Ann", "theme": "red"}).status_code == 404, path
    assert client.get("/static/css/base.css").status_code == 200
    page = BeautifulSoup(client.get("/").text, "html.parser")
    assert not page.select("form, a[href^='/']")


def test_no_template_holds_an_address_of_its_own():
    for template in paths.TEMPLATES.rglob("*.html"):
        page = BeautifulSoup(template.read_text(encoding="utf-8"), "html.parser")
        for tag in page.find_all(True):
            for attribute in ("href", "action", "src", "data-hx-get", "data-hx-post"):
                value = str(tag.get(attribute, ""))
                assert not value.startswith("/"), f"{template.name}: {value}"


def test_a_query_leaves_out_what_is_empty_and_keeps_zero():
    query = {"at": 0, "kind": "", "swap": None, "all": True, "none": False, "text": "a b&c"}
    assert with_query("/x", query) == "/x?at=0&all=1&text=a+b%26c"


# -- Errors


@pytest.mark.parametrize("name", TROUBLES)
def test_an_error_becomes_a_page_with_its_sentence(troubled: TestClient, name: str):
    error, status, _ = TROUBLES[name]
    answer = troubled.get(f"/fail/{name}")
    page = BeautifulSoup(answer.text, "html.parser")
    assert answer.status_code == status
    assert page.h1 is not None
    sentences = list(error.errors.values()) if isinstance(error, FieldErrors) else [str(error)]
    for sentence in sentences:
        assert sentence in page.get_text()


@pytest.mark.parametrize("name", TROUBLES)
def test_htmx_gets_the_sentence_for_the_notice_line_and_no_whole_page(troubled: TestClient, name: str):
    answer = troubled.post(f"/fail/{name}", headers=HTMX)
    assert answer.status_code == TROUBLES[name][1]
    assert answer.headers["hx-retarget"] == "#notice"
    assert "<html" not in answer.text
    assert "<p>" in answer.text


@pytest.mark.parametrize("name", TROUBLES)
def test_the_api_gets_a_code_and_the_sentence(troubled: TestClient, name: str):
    error, status, code = TROUBLES[name]
    answer = troubled.get(f"/api/fail/{name}")
    assert answer.status_code == status
    told = answer.json()["error"]
    assert told["code"] == code
    if not isinstance(error, FieldErrors):
        assert told["message"] == error.message


def test_the_api_tells_the_newest_version_and_the_fields(troubled: TestClient):
    assert troubled.get("/api/fail/stale").json()["error"]["current_version"] == 7
    assert troubled.get("/api/fail/in-use").json()["error"]["rigs"] == ["Garden", "Travel"]
    assert troubled.get("/api/fail/fields").json()["error"]["fields"] == {"mass_kg": "A mass is above zero."}


@pytest.mark.parametrize("path", ["/fail/crash", "/api/fail/crash"])
def test_what_nobody_foresaw_is_logged_and_the_page_shows_no_trace_of_it(
    troubled: TestClient, path: str, caplog: pytest.LogCaptureFixture
):
    with caplog.at_level(logging.ERROR):
        answer = troubled.get(path)
    assert answer.status_code == 500
    for inside in ("secret", "RuntimeError", "Traceback", "/home"):
        assert inside not in answer.text
    assert answer.headers["content-security-policy"]
    number = caplog.records[-1].getMessage().split()[2]
    assert number in answer.text
    assert "secret" in str(caplog.records[-1].exc_info)


def test_an_address_that_is_not_there_says_so_and_still_names_the_observer(ann: TestClient):
    answer = ann.get("/nowhere")
    page = BeautifulSoup(answer.text, "html.parser")
    assert answer.status_code == 404
    assert [name.get_text() for name in page.select(".me-name")] == ["Ann"]
    assert page.select_one('a[href="/"]') is not None


def test_a_number_in_an_address_that_is_none_is_an_address_that_is_not_there(troubled: TestClient):
    assert troubled.get("/numbered/abc?amount=1").status_code == 404
    assert troubled.get("/numbered/1?amount=abc").status_code == 422
    assert troubled.get("/numbered/1?amount=2").text == "1 2"


def test_a_form_that_lacks_a_field_is_refused_in_words(client: TestClient):
    answer = client.post("/theme", data={})
    assert answer.status_code == 422
    assert "Not understood" in answer.text


def test_a_wrong_method_is_refused_in_words(client: TestClient):
    answer = client.put("/about")
    assert answer.status_code == 405
    assert "<h1>" in answer.text
    assert "GET" in answer.headers["allow"]


# -- What routes are handed


def test_whoever_has_not_chosen_an_observer_is_sent_to_the_first_page(app: FastAPI):
    def page(bench: ReadingBench) -> Response:
        return Response(bench.observer.name)

    add(app, "/mine", page, methods=["GET"])
    client = TestClient(app, base_url="http://127.0.0.1:8321", follow_redirects=False)
    answer = client.get("/mine")
    assert (answer.status_code, answer.headers["location"]) == (303, "/")
    by_htmx = client.get("/mine", headers=HTMX)
    assert by_htmx.headers["hx-redirect"] == "/"
    client.post("/observers", data={"name": "Ann"})
    assert client.get("/mine").text == "Ann"


def test_what_a_route_wrote_is_stored_before_its_answer_begins(app: FastAPI, stores: Stores):
    seen: list[int] = []

    class Watching(Response):
        async def __call__(self, scope, receive, send):
            with stores.reading() as store:
                seen.append(len(store.rigs(1)))
            await super().__call__(scope, receive, send)

    def write(bench: WritingBench) -> Response:
        bench.new_rig("Garden")
        return Watching("done")

    add(app, "/write", write, methods=["POST"])
    client = TestClient(app, base_url="http://127.0.0.1:8321")
    client.post("/observers", data={"name": "Ann"})
    assert client.post("/write").text == "done"
    assert seen == [1]


def test_a_route_that_fails_leaves_nothing_behind(app: FastAPI, stores: Stores):
    def half(store: WritingStore) -> Response:
        store.add_observer("Half", "metric")
        raise RefusedError("No further.")

    add(app, "/half", half, methods=["POST"])
    client = TestClient(app, base_url="http://127.0.0.1:8321")
    assert client.post("/half").status_code == 422
    with stores.reading() as store:
        assert store.observers() == ()


# -- Pages and blocks


@dataclass(frozen=True)
class LittlePage:
    template: ClassVar[str] = "little.html"

    name: str


LITTLE = {
    "frame.html": (
        "<!doctype html><title>{% block title %}{% endblock %}</title>{% block main %}{% endblock %}"
    ),
    "words.html": "{% macro greet(name) %}Hello {{ name }}, in {{ reading.units }} units{% endmacro %}",
    "little.html": (
        '{% extends "frame.html" %}{% from "words.html" import greet with context %}'
        "{% block title %}Little{% endblock %}"
        "{% block main %}<main>{% block part %}<p>{{ greet(page.name) }}</p>{% endblock %}</main>"
        "{% endblock %}"
        "{% block broken %}{{ page.surname }}{% endblock %}"
    ),
}


@pytest.fixture
def little(monkeypatch: pytest.MonkeyPatch) -> None:
    environment = rendering.environment().overlay(loader=DictLoader(LITTLE))
    monkeypatch.setattr(rendering, "environment", lambda: environment)


def asking(app: FastAPI, **headers: str) -> Request:
    raw = [(name.replace("_", "-").lower().encode(), value.encode()) for name, value in headers.items()]
    return Request(
        {"type": "http", "app": app, "headers": raw, "path": "/", "query_string": b"", "state": {}}
    )


def test_a_block_comes_without_its_page_and_with_the_pages_macros(app: FastAPI, little: None):
    block = render_block(asking(app), LittlePage("<Ann>"), "part")
    assert bytes(block.body).decode() == "<p>Hello &lt;Ann&gt;, in metric units</p>"
    page = render_page(asking(app), LittlePage("<Ann>"))
    assert bytes(page.body).decode().count(bytes(block.body).decode()) == 1
    assert "<title>Little</title>" in bytes(page.body).decode()


def test_a_value_that_a_page_does_not_have_is_an_error_and_not_an_empty_place(app: FastAPI, little: None):
    with pytest.raises(AttributeError):
        render_block(asking(app), LittlePage("Ann"), "broken")
    assert rendering.environment().undefined is StrictUndefined


def test_the_back_button_gets_a_whole_page(app: FastAPI):
    assert wants_block(asking(app, HX_Request="true"))
    assert not wants_block(asking(app, HX_Request="true", HX_History_Restore_Request="true"))
    assert not wants_block(asking(app))


def test_pages_tell_caches_that_htmx_and_people_get_different_answers(client: TestClient):
    assert "HX-Request" in client.get("/").headers["vary"]


@pytest.mark.file_alone(reason="the local form's own file")
def test_without_stores_of_its_own_the_app_opens_the_settings_database_and_closes_it(
    settings: Settings, place: Place
):
    with TestClient(create_app(settings), base_url="http://127.0.0.1:8321") as client:
        client.post("/observers", data={"name": "Ann"})
        assert "Ann" in client.get("/").text
    assert not settings.database.with_name(settings.database.name + "-wal").exists()
