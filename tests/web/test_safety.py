"""Who may ask, how much may be sent, and what a browser is told; with a tiny app behind the guards."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator

import pytest
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Route, WebSocketRoute
from starlette.testclient import TestClient
from starlette.types import Message
from starlette.websockets import WebSocket, WebSocketDisconnect

from server.web.safety import CONTENT_SECURITY_POLICY, Safety, WholeBody, without_port
from tests.loop import run_to_its_end

LIMIT = 1000
CSV_LIMIT = 5000


class Behind:
    """The app behind the guards, and what reached it."""

    def __init__(self) -> None:
        self.reached: list[str] = []
        self.bytes_read = 0
        self.app = Starlette(
            routes=[
                Route("/", self.page, methods=["GET", "POST", "DELETE"]),
                Route("/careless", self.careless, methods=["POST"]),
                Route("/shelf/import/csv", self.page, methods=["POST"]),
                Route("/static/app.css", self.page),
                Route("/api/rigs", self.page, methods=["GET", "POST"]),
                Route("/own-headers", self.own_headers),
                WebSocketRoute("/socket", self.socket),
            ]
        )

    async def page(self, request: Request) -> Response:
        self.reached.append(request.method)
        self.bytes_read = len(await request.body())
        return PlainTextResponse("reached")

    async def careless(self, request: Request) -> Response:
        try:
            await request.body()
        except Exception:  # noqa: BLE001 - stands for a form reader that takes every failure for a bad form
            return PlainTextResponse("bad form", status_code=400)
        return PlainTextResponse("reached")

    async def own_headers(self, request: Request) -> Response:
        return PlainTextResponse("mine", headers={"Cache-Control": "private, max-age=5"})

    async def socket(self, socket: WebSocket) -> None:
        self.reached.append("socket")
        await socket.accept()


@pytest.fixture
def behind() -> Behind:
    return Behind()


def guarded(behind: Behind, **options) -> TestClient:
    app = Safety(WholeBody(behind.app, limits={"/shelf/import": CSV_LIMIT}, default=LIMIT), **options)
    return TestClient(app, base_url="http://127.0.0.1:8321")


@pytest.fixture
def client(behind: Behind) -> TestClient:
    return guarded(behind)


# -- Who may ask


@pytest.mark.parametrize(
    "host", ["127.0.0.1:8321", "127.0.0.1", "localhost:9000", "LOCALHOST", "[::1]:8321", "[::1]"]
)
def test_this_machines_own_names_are_answered_at_any_port(client: TestClient, host: str):
    assert client.get("/", headers={"Host": host}).text == "reached"


@pytest.mark.parametrize(
    "host",
    [
        "evil.example",
        "evil.example:8321",
        "127.0.0.1.evil.example",
        "localhost.evil.example:8321",
        "evil.example@127.0.0.1",
        "127.0.0.1@evil.example",
        "127.0.0.1:port",
        "127.0.0.1/",
        "[::1",
        "192.168.1.5:8321",
        "",
    ],
)
def test_any_other_host_name_is_refused_before_the_app_hears_of_it(
    client: TestClient, behind: Behind, host: str
):
    answer = client.get("/", headers={"Host": host})
    assert answer.status_code == 421
    assert "does not answer to the address" in answer.text
    assert behind.reached == []


def test_a_host_name_with_markup_is_escaped_in_the_refusal(client: TestClient):
    answer = client.get("/", headers={"Host": "<script>alert(1)</script>", "Accept": "text/html"})
    assert "<script>" not in answer.text
    assert "&lt;script&gt;" in answer.text


def test_the_network_listener_answers_to_its_own_address_and_port_only(behind: Behind):
    client = guarded(behind, hosts=["192.0.2.7:8322"])
    assert client.get("/", headers={"Host": "192.0.2.7:8322"}).status_code == 200
    assert client.get("/", headers={"Host": "192.0.2.7:80"}).status_code == 421
    assert client.get("/", headers={"Host": "127.0.0.1:8322"}).status_code == 421


@pytest.mark.parametrize("site", ["cross-site", "same-site"])
def test_a_change_that_another_sites_page_asks_for_is_refused(client: TestClient, behind: Behind, site: str):
    answer = client.post("/", headers={"Sec-Fetch-Site": site, "Origin": "http://127.0.0.1:8321"})
    assert answer.status_code == 403
    assert "another site" in answer.text
    assert behind.reached == []


@pytest.mark.parametrize("site", ["same-origin", "none"])
def test_a_change_from_our_own_page_or_a_bookmark_passes(client: TestClient, site: str):
    assert client.post("/", headers={"Sec-Fetch-Site": site}).text == "reached"


@pytest.mark.parametrize(
    "origin",
    [
        "null",
        "http://evil.example",
        "http://127.0.0.1:9999",
        "https://127.0.0.1:8321",
        "http://localhost:8321",
    ],
)
def test_where_the_browser_tells_no_site_a_foreign_origin_is_refused(
    client: TestClient, behind: Behind, origin: str
):
    assert client.delete("/", headers={"Origin": origin}).status_code == 403
    assert behind.reached == []


def test_where_the_browser_tells_no_site_our_own_origin_passes(client: TestClient):
    assert client.post("/", headers={"Origin": "http://127.0.0.1:8321"}).text == "reached"


def test_a_program_that_is_no_browser_may_change_things(client: TestClient):
    assert client.post("/").text == "reached"


def test_a_link_from_another_site_opens_the_page(client: TestClient):
    assert client.get("/", headers={"Sec-Fetch-Site": "cross-site"}).text == "reached"


def test_a_web_socket_is_refused(client: TestClient, behind: Behind):
    with pytest.raises(WebSocketDisconnect), client.websocket_connect("/socket"):
        pass
    assert behind.reached == []


def test_the_api_and_whoever_asks_for_json_are_refused_in_json(client: TestClient):
    by_path = client.post("/api/rigs", headers={"Sec-Fetch-Site": "cross-site"})
    by_accept = client.post("/", headers={"Sec-Fetch-Site": "cross-site", "Accept": "application/json"})
    for answer in (by_path, by_accept):
        assert "another site" in answer.json()["error"]["message"]


# -- What a browser is told


@pytest.mark.parametrize("path", ["/", "/api/rigs", "/static/app.css", "/nowhere"])
def test_every_answer_carries_the_policy(client: TestClient, path: str):
    headers = client.get(path).headers
    assert headers["content-security-policy"] == CONTENT_SECURITY_POLICY
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "same-origin"
    assert headers["cross-origin-resource-policy"] == "same-origin"
    assert headers["cross-origin-opener-policy"] == "same-origin"


def test_a_refusal_carries_the_policy_too(client: TestClient):
    assert client.get("/", headers={"Host": "evil.example"}).headers["content-security-policy"]


def test_the_policy_allows_no_inline_script_and_nothing_from_elsewhere():
    assert "unsafe" not in CONTENT_SECURITY_POLICY
    assert "http" not in CONTENT_SECURITY_POLICY


def test_pages_are_not_kept_and_assets_are(client: TestClient):
    assert client.get("/").headers["cache-control"] == "no-store"
    assert client.get("/static/app.css").headers["cache-control"] == "no-cache"
    assert "immutable" in client.get("/static/app.css?v=1a2b").headers["cache-control"]
    assert client.get("/static/missing.css?v=1a2b").headers["cache-control"] == "no-store"


def test_a_route_may_say_itself_how_long_its_answer_is_kept(client: TestClient):
    assert client.get("/own-headers").headers["cache-control"] == "private, max-age=5"


def test_over_plain_http_from_another_machine_the_opener_policy_is_left_out(behind: Behind):
    client = guarded(behind, hosts=["192.0.2.7:8322"])
    headers = client.get("/", headers={"Host": "192.0.2.7:8322"}).headers
    assert "cross-origin-opener-policy" not in headers
    assert headers["content-security-policy"] == CONTENT_SECURITY_POLICY


# -- How much may be sent


def in_pieces(size: int, piece: int = 100) -> Iterator[bytes]:
    for start in range(0, size, piece):
        yield b"x" * min(piece, size - start)


def test_a_body_of_the_greatest_length_passes(client: TestClient, behind: Behind):
    assert client.post("/", content=b"x" * LIMIT).status_code == 200
    assert behind.bytes_read == LIMIT


def test_a_body_that_says_it_is_too_long_never_reaches_the_app(client: TestClient, behind: Behind):
    answer = client.post("/", content=b"x" * (LIMIT + 1))
    assert answer.status_code == 413
    assert "longer than the 0.001 MB" in answer.text
    assert behind.reached == []


def test_a_body_that_does_not_say_its_length_is_counted(client: TestClient):
    assert client.post("/", content=in_pieces(LIMIT)).status_code == 200
    answer = client.post("/", content=in_pieces(LIMIT + 1))
    assert answer.status_code == 413
    assert "longer than" in answer.text


def test_an_app_that_takes_the_broken_body_for_a_bad_form_does_not_hide_the_reason(client: TestClient):
    assert client.post("/careless", content=in_pieces(LIMIT + 1)).status_code == 413


def test_a_body_that_does_not_come_whole_in_time_is_refused_before_the_app_hears_of_it(behind: Behind):
    sent: list[Message] = []

    async def half() -> Message:
        if sent:
            await asyncio.Event().wait()
        sent.append({})
        return {"type": "http.request", "body": b"half", "more_body": True}

    async def send(message: Message) -> None:
        sent.append(message)

    scope = {"type": "http", "method": "POST", "path": "/", "headers": []}
    run_to_its_end(WholeBody(behind.app, seconds=0.05)(scope, half, send))
    assert sent[1]["status"] == 408
    assert (b"connection", b"close") in sent[1]["headers"]
    assert b"did not arrive whole in time" in sent[2]["body"]
    assert behind.reached == []


def test_a_path_of_its_own_has_a_limit_of_its_own(client: TestClient):
    assert client.post("/shelf/import/csv", content=b"x" * CSV_LIMIT).status_code == 200
    assert client.post("/shelf/import/csv", content=b"x" * (CSV_LIMIT + 1)).status_code == 413


@pytest.mark.parametrize("length", ["-1", "1e3", "lots", "+5"])
def test_a_length_that_is_no_number_is_refused(client: TestClient, behind: Behind, length: str):
    assert client.post("/", content=b"", headers={"Content-Length": length}).status_code == 400
    assert behind.reached == []


@pytest.mark.parametrize(
    ("host", "name"),
    [("localhost:80", "localhost"), ("[::1]:80", "[::1]"), ("a@b", ""), ("a:b", ""), ("a/b", ""), ("", "")],
)
def test_the_name_is_read_from_a_host_header_or_nothing_is(host: str, name: str):
    assert without_port(host) == name
