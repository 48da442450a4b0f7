"""Whatever a body holds, the answer is never a fault of the program.

Drawn by hypothesis: the forms of every page with hostile texts in their fields, files with hostile cells and
values, and bytes that are no body at all. What the API takes is drawn by schemathesis from its own OpenAPI
document (tests/api/test_schema.py).
"""

from __future__ import annotations

import copy
import json
import re
from collections.abc import Iterator
from typing import Any

import pytest
from bs4 import BeautifulSoup
from fastapi import FastAPI
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from server.app import create_app
from server.domain.parts import KINDS
from server.settings import Settings
from server.store import open_stores
from tests.places import Places, demo_club
from tests.web.conftest import ADDRESS
from tests.web.test_attacks import every_route

EXAMPLES = 150
"""Of each kind of body; all kinds together take some twenty seconds."""
quickly = settings(
    max_examples=EXAMPLES, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)

NASTY = st.one_of(
    st.sampled_from(
        [
            "",
            "-1",
            "0",
            "1e308",
            "1e999",
            "NaN",
            "10 mm +- 1e308",
            "10 mm +- 2e6",
            "10 +1e308 -0.1",
            "1e-320",
            "9" * 400,
            str(2**63),
            "\N{ARABIC-INDIC DIGIT THREE}",
            "\0",
            "a\r\nb",
            "<a " * 200,
            "\N{RIGHT-TO-LEFT OVERRIDE}",
            "M42x1e308 male",
            "M999999999999999999999x0.75",
            "1" + "0" * 50 + " EUR",
            "x" * 30_000,
        ]
    ),
    st.text(max_size=30),
)
VALUES: st.SearchStrategy[Any] = st.one_of(
    st.sampled_from([1e308, -1e308, 1e-320, 10**30, -1, 0, True, None, [], {}, "\ud800", "a\0", "x" * 5000]),
    st.text(max_size=10),
)


@pytest.fixture(scope="module")
def install(places: Places, tmp_path_factory: pytest.TempPathFactory) -> Iterator[FastAPI]:
    made = Settings(data=tmp_path_factory.mktemp("fuzz"))
    stores = open_stores(places.lent("fuzz", demo_club, made.data))
    yield create_app(made, stores)
    stores.close()


@pytest.fixture(scope="module")
def browser(install: FastAPI) -> TestClient:
    client = TestClient(install, base_url=ADDRESS, raise_server_exceptions=False)
    client.cookies.set("observer", "1")
    return client


@pytest.fixture(scope="module")
def entry(browser: TestClient) -> dict[str, Any]:
    first = browser.get("/api/observers/1/entries").json()[0]["id"]
    document: dict[str, Any] = browser.get(f"/api/observers/1/entries/{first}").json()["document"]
    return document


def pattern(address: str) -> str:
    return re.sub(r"\d+", "1", address.partition("?")[0].partition("#")[0])


@pytest.fixture(scope="module")
def forms(browser: TestClient) -> list[tuple[str, str, dict[str, str]]]:
    """Method, address and fields of one form of each sort, from one page of each sort."""
    found: dict[tuple[str, str], tuple[str, str, dict[str, str]]] = {}
    seen, waiting = {"/"}, ["/"]
    while waiting:
        answer = browser.get(waiting.pop())
        if "html" not in answer.headers.get("content-type", ""):
            continue
        page = BeautifulSoup(answer.text, "html.parser")
        for form in page.select("form"):
            method, action = str(form.get("method", "get")), str(form.get("action") or answer.url.path)
            fields = {str(one["name"]): str(one.get("value") or "") for one in form.select("[name]")}
            found.setdefault((method, pattern(action)), (method.upper(), action, fields))
        for link in page.select("a[href^='/']"):
            if pattern(str(link["href"])) not in seen:
                seen.add(pattern(str(link["href"])))
                waiting.append(str(link["href"]))
    return [form for form in found.values() if "/remove" not in form[1]]


def test_the_forms_of_every_station_are_among_those_that_are_drawn(forms: list[tuple[str, str, Any]]):
    posted = {pattern(address) for method, address, _ in forms if method == "POST"}
    assert {"/observers", "/shelf/import", "/bench", "/bench/1/load", "/logbook/take-in"} <= posted
    assert len(posted) > 15


@quickly
@given(data=st.data())
def test_no_form_fails_whatever_its_fields_hold(
    data: st.DataObject, browser: TestClient, forms: list[tuple[str, str, dict[str, str]]]
):
    method, address, fields = data.draw(st.sampled_from(forms))
    names = st.sampled_from([*sorted(fields), "stranger"])
    typed = fields | data.draw(st.dictionaries(names, NASTY, min_size=1, max_size=4))
    # An address is refused by its length before the app hears of it.
    short = {name: text[:200] for name, text in typed.items()}
    sent = {"params": short} if method == "GET" else {"data": typed}
    answer = browser.request(method, address, follow_redirects=False, **sent)  # type: ignore[arg-type]
    assert answer.status_code < 500


@quickly
@given(kind=st.sampled_from(sorted(KINDS)), data=st.data())
def test_no_table_of_parts_fails_whatever_its_cells_hold(kind: str, data: st.DataObject, browser: TestClient):
    names = [spec.name for spec in KINDS[kind].specs()]
    cells = data.draw(st.dictionaries(st.sampled_from(names), NASTY, min_size=1, max_size=5))
    row = {"kind": kind, "maker": "A", "model": "B"} | cells
    quoted = ('"' + cell.replace('"', '""') + '"' for cell in row.values())
    text = ",".join(row) + "\n" + ",".join(quoted) + "\n"
    answer = browser.post("/shelf/import", files={"file": ("x.csv", text.encode("utf-8", "surrogatepass"))})
    assert answer.status_code < 500


def steps_to_values(node: Any, steps: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """The way to each value of a document that holds no others."""
    inner = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
    for key, value in inner:
        yield from steps_to_values(value, (*steps, key))
    if not inner:
        yield steps


@quickly
@given(data=st.data())
def test_no_entrys_file_fails_whatever_its_values_are(
    data: st.DataObject, browser: TestClient, entry: dict[str, Any]
):
    changed = copy.deepcopy(entry)
    station = data.draw(st.sampled_from([name for name in entry if isinstance(entry[name], list | dict)]))
    way: tuple[Any, ...] = data.draw(st.sampled_from(list(steps_to_values(entry[station]))))
    *steps, last = (station, *way)
    place = changed
    for step in steps:
        place = place[step]
    place[last] = data.draw(VALUES)
    text = json.dumps(changed)
    for address, sent in (
        ("/logbook/take-in", {"files": {"file": ("x.json", text.encode())}}),
        (
            "/api/observers/1/take-in",
            {"content": text.encode(), "headers": {"content-type": "application/json"}},
        ),
    ):
        answer = browser.post(address, **sent)
        assert answer.status_code < 500, way


@pytest.mark.parametrize(
    ("station", "steps", "value", "said"),
    [
        ("parts", (0, "entered_by"), "\ud800", "holds what no entry has"),
        ("findings", (0, "title"), "\udfff", "holds what no entry has"),
        ("findings", (2, "figure", "amount", "digits"), 10**19, "damaged at"),
        ("findings", (2, "figure", "amount", "digits"), -1, "damaged at"),
    ],
)
def test_what_no_entry_can_hold_is_refused_in_words(
    browser: TestClient, entry: dict[str, Any], station: str, steps: tuple[Any, ...], value: Any, said: str
):
    changed = copy.deepcopy(entry)
    *before, last = steps
    place = changed[station]
    for step in before:
        place = place[step]
    place[last] = value
    answer = browser.post("/logbook/take-in", files={"file": ("x.json", json.dumps(changed).encode())})
    assert answer.status_code == 422
    assert said in BeautifulSoup(answer.text, "html.parser").select_one("#f-file-error").get_text()


@pytest.mark.parametrize("length", ["10 mm +- 1e308", "10 mm +- 2e6", "10 +1e308 -0.1"])
def test_a_tolerance_above_a_million_is_refused_beside_its_field(browser: TestClient, length: str):
    files = {"file": ("x.csv", f"kind,maker,model,length_mm\nspacer_ring,A,B,{length}\n".encode())}
    table = browser.post("/shelf/import", files=files)
    form = browser.post("/shelf/new?kind=spacer_ring", data={"model": "B", "length_mm": length})
    for answer in (table, form):
        assert answer.status_code == 422
        assert "is no tolerance: check the figure" in answer.text


@pytest.mark.parametrize("number", [2**63, 2**53 + 1, int("9" * 30)])
def test_a_number_beyond_all_rows_leads_nowhere(browser: TestClient, number: int):
    for station in ("bench/1", "bench/1/load", "bench/1/bridge", "bench/1/stars", "logbook/1", "shelf/1"):
        address = f"/{station.replace('1', str(number))}"
        assert browser.get(address).status_code == 404, address
    assert browser.post("/observers/choose", data={"observer": str(number)}).status_code == 404


BYTES = (b"", b"\xff\xfe\0", b"{", b"[]", b"null", b'"\\ud800"', b'{"name": "\\ud800"}', b'{"a":' * 50_000)
TYPES = ("application/json", "application/x-www-form-urlencoded", "multipart/form-data", "text/plain", "")


@pytest.mark.parametrize("kind", TYPES)
def test_no_route_fails_for_bytes_that_are_no_body(install: FastAPI, browser: TestClient, kind: str):
    for method, address in sorted(every_route(install)):
        if method in ("GET", "HEAD"):
            continue
        for body in BYTES:
            headers = {"content-type": kind} if kind else {}
            answer = browser.request(method, address, content=body, headers=headers, follow_redirects=False)
            assert answer.status_code < 500, (method, address, body[:20])
