"""Who is let in, by which address, and what the browser is told."""

from __future__ import annotations

import pytest
from bs4 import BeautifulSoup
from fastapi import FastAPI
from fastapi.routing import APIRoute
from fastapi.testclient import TestClient

from server.flow.accounts import Club
from server.handed.routing import BEFORE
from server.hosted import create_hosted_app
from server.settings import HostedSettings
from server.store.accounts import HostedStores
from server.web.account.gate import SESSION_COOKIE, safe_next
from tests.web.hosted import ADDRESS, OTHER, PASSWORD, Browser, joined


def test_a_sign_in_leads_back_to_where_one_was_going(hosted: FastAPI):
    joined(hosted, "Ann")
    browser = Browser(hosted)
    sent = browser.get("/bench?sort=name")
    assert (sent.status_code, sent.headers["location"]) == (302, "/sign-in?next=%2Fbench%3Fsort%3Dname")
    page = browser.page(sent.headers["location"])
    after = page.select_one("input[name=next]")["value"]
    answer = browser.post("/sign-in", {"login": "ann", "password": PASSWORD, "next": after})
    assert (answer.status_code, answer.headers["location"]) == (303, "/bench?sort=name")
    assert browser.get("/bench").status_code == 200


@pytest.mark.parametrize(
    "wanted",
    [
        "https://elsewhere.example/",
        "//elsewhere.example",
        "/\\elsewhere.example",
        "javascript:1",
        "bench",
        "",
        "/\n/x",
    ],
)
def test_a_sign_in_leads_nowhere_else(wanted: str):
    assert safe_next(wanted) == "/"


def test_the_sessions_cookie_is_kept_from_scripts_other_sites_and_the_clear(hosted: FastAPI):
    joined(hosted, "Ann")
    browser = Browser(hosted)
    cookie = browser.post("/sign-in", {"login": "Ann", "password": PASSWORD}).headers["set-cookie"]
    name, _, rest = cookie.partition("=")
    assert name == "__Host-session" == SESSION_COOKIE
    assert {part.strip().lower() for part in rest.split(";")[1:]} == {
        "httponly", "secure", "samesite=lax", "path=/", "max-age=2592000",
    }  # fmt: skip


def test_every_other_cookie_is_secure_as_well(hosted: FastAPI):
    answer = joined(hosted, "Ann").post("/theme", {"theme": "dark"})
    assert "; secure" in answer.headers["set-cookie"].lower()
    assert "; httponly" in answer.headers["set-cookie"].lower()
    assert answer.headers["set-cookie"].startswith("__Host-theme=dark")


def test_a_cookie_that_another_host_may_have_set_gives_way_to_ours(hosted: FastAPI):
    ann = joined(hosted, "Ann")
    cookie = f"{SESSION_COOKIE}={ann.token}; __Host-theme=dark; theme=light"
    assert 'data-theme="dark"' in ann.get("/", headers={"cookie": cookie}).text


@pytest.mark.parametrize(
    "smuggled",
    [
        'theme="x\\073 __Host-session={eve}"',
        "\xa0__Host-session={eve}",
        "\x85__Host-session={eve}",
        '__Host-session="{eve}"',
        "theme=x\t; __Host-session ={eve}",
    ],
)
def test_no_cookie_holds_another_that_signs_somebody_else_in(hosted: FastAPI, smuggled: str):
    ann, eve = joined(hosted, "Ann"), joined(hosted, "Eve")
    planted = smuggled.format(eve=eve.token)
    stranger = Browser(hosted)
    assert stranger.get("/", headers={"cookie": planted.encode("latin-1")}).status_code == 302
    both = f"{planted}; {SESSION_COOKIE}={ann.token}".encode("latin-1")
    assert "Ann" in Browser(hosted).get("/account", headers={"cookie": both}).text


def test_a_new_sign_in_makes_a_new_session_and_ends_the_one_before(hosted: FastAPI, club: Club):
    ann = joined(hosted, "Ann")
    before = ann.token
    ann.client.post("/sign-in", data={"login": "Ann", "password": PASSWORD})
    assert ann.token != before
    assert club.who(before) is None
    assert club.who(ann.token) is not None


def test_signing_out_ends_the_session_and_drops_the_cookie(hosted: FastAPI, club: Club):
    joined(hosted, "Ann")
    ann = Browser(hosted)
    ann.post("/sign-in", {"login": "Ann", "password": PASSWORD})
    before = ann.token
    answer = ann.post("/sign-out")
    assert (answer.status_code, answer.headers["location"]) == (303, "/sign-in")
    assert answer.headers["clear-site-data"] == '"cache", "storage"'
    assert club.who(before) is None
    assert not ann.token


def test_the_local_forms_cookie_chooses_nobody(hosted: FastAPI):
    ann = joined(hosted, "Ann")
    stranger = Browser(hosted)
    stranger.client.cookies.set("observer", str(ann.observer_id))
    assert stranger.get("/bench").status_code == 302
    bob = joined(hosted, "Bob")
    bob.client.cookies.set("observer", str(ann.observer_id))
    assert "Bob" in bob.page("/").title.text


@pytest.mark.parametrize("path", ["/observers", "/api/observers"])
def test_nobody_chooses_an_observer_or_sees_who_else_is_here(hosted: FastAPI, path: str):
    assert joined(hosted, "Ann", "steward").get(path).status_code == 404
    for gone in ("/observers", "/observers/choose", "/demo"):
        assert joined(hosted, f"Ann {gone}").post(gone).status_code == 404


def test_htmx_is_led_to_the_sign_in_whole(hosted: FastAPI):
    answer = Browser(hosted).get("/shelf", headers={"HX-Request": "true"})
    assert answer.headers["HX-Redirect"].startswith("/sign-in")


def test_after_a_change_that_was_not_let_in_one_comes_back_to_its_page(hosted: FastAPI):
    answer = Browser(hosted).post("/bench", {"name": "x"}, headers={"Referer": f"{ADDRESS}/bench?a=1"})
    assert (answer.status_code, answer.headers["location"]) == (303, "/sign-in?next=%2Fbench%3Fa%3D1")


def test_every_form_that_posts_carries_the_token_and_htmx_has_it_as_a_header(hosted: FastAPI):
    ann = joined(hosted, "Ann", "steward")
    for path in (
        "/",
        "/account",
        "/members",
        "/shelf",
        "/shelf/new",
        "/shelf/drawer",
        "/bench",
        "/sky/sites/new",
    ):
        page = ann.page(path)
        forms = page.select("form[method=post]")
        assert forms
        for form in forms:
            assert len(form.select("input[name=form_token]")) == 1, form
        assert "Trainwright-Token" in page.body["data-hx-headers:inherited"]
        assert not page.select("form[method=get] input[name=form_token]")


def test_a_part_of_a_page_carries_it_as_well(hosted: FastAPI):
    ann = joined(hosted, "Ann")
    answer = ann.post("/shelf/drawer", headers={"HX-Request": "true"})
    assert 'name="form_token"' in answer.text


def test_the_tokens_check_stands_before_every_route(hosted: FastAPI):
    routes = [route for route in hosted.routes if isinstance(route, APIRoute)]
    assert len(routes) > 200
    assert all(route.dependencies[:1] == list(BEFORE) for route in routes)
    others = {str(vars(route)["path"]) for route in hosted.routes if not isinstance(route, APIRoute)}
    assert all(path.startswith("/static/") for path in others)


def test_the_token_is_taken_as_a_header_too(hosted: FastAPI):
    ann = joined(hosted, "Ann")
    token = ann.page("/").select_one("input[name=form_token]")["value"]
    for given, status in ((str(token), 303), ("x", 403)):
        headers = {"Trainwright-Token": given}
        assert ann.client.post("/bench", data={"name": "A"}, headers=headers).status_code == status


def test_another_sites_form_is_refused_by_its_origin_before_its_token(hosted: FastAPI):
    ann = joined(hosted, "Ann")
    for headers in ({"Origin": "https://elsewhere.example"}, {"Sec-Fetch-Site": "cross-site"}):
        assert ann.post("/bench", {"name": "A"}, headers=headers).status_code == 403
        assert Browser(hosted).post("/sign-in", {"login": "Ann"}, headers=headers).status_code == 403
    assert ann.post("/bench", {"name": "A"}, headers={"Origin": ADDRESS}).status_code == 303


def test_it_answers_to_its_own_address_alone_and_asks_browsers_for_https_from_then_on(hosted: FastAPI):
    assert TestClient(hosted, base_url="https://elsewhere.example").get("/sign-in").status_code == 421
    answer = Browser(hosted).get("/sign-in")
    assert answer.headers["strict-transport-security"] == "max-age=63072000; includeSubDomains"
    assert answer.headers["cache-control"] == "no-store"


@pytest.mark.parametrize(("trust", "slowed"), [((), True), (("testclient",), False)])
def test_a_forwarded_address_counts_from_a_trusted_proxy_alone(
    hosted_settings: HostedSettings, hosted_stores: HostedStores, trust: tuple[str, ...], slowed: bool
):
    app = create_hosted_app(hosted_settings.model_copy(update={"trust": trust}), hosted_stores)
    browser = Browser(app)
    wrong = {"login": "", "words": "", "password": OTHER, "again": OTHER}
    statuses = [
        browser.post(
            "/door", {**wrong, "login": f"Ann {n}"}, headers={"X-Forwarded-For": f"192.0.2.{n}"}
        ).status_code
        for n in range(1, 7)
    ]
    assert statuses[:5] == [200] * 5
    assert (statuses[5] == 429) is slowed


def test_too_many_tries_are_told_when_to_come_back(hosted: FastAPI):
    browser = Browser(hosted)
    for _ in range(5):
        assert browser.post("/sign-in", {"login": "Ann", "password": OTHER}).status_code == 422
    # On a busy machine a try may take longer than the first wait, never than the third.
    answers = (browser.post("/sign-in", {"login": "Ann", "password": OTHER}) for _ in range(4))
    answer = next(answer for answer in answers if answer.status_code == 429)
    assert 1 <= int(answer.headers["retry-after"]) <= 17
    alert = BeautifulSoup(answer.text, "html.parser").select_one(".notice.stop")
    assert "Too many tries in a row" in alert.text


def test_the_door_is_closed_where_the_club_has_it_so(
    hosted_settings: HostedSettings, hosted_stores: HostedStores
):
    app = create_hosted_app(hosted_settings.model_copy(update={"door": "closed"}), hosted_stores)
    browser = Browser(app)
    assert browser.get("/door").status_code == 404
    assert browser.post("/door", {"login": "Ann"}).status_code == 404
    assert "Ask to be let in" not in browser.get("/sign-in").text


def test_the_local_form_shows_nothing_of_accounts(app: FastAPI):
    client = TestClient(app, base_url="http://127.0.0.1:8321")
    for path in ("/sign-in", "/account", "/members", "/door", "/health", "/ready"):
        assert client.get(path).status_code == 404
    client.post("/observers", data={"name": "Ann"})
    page = client.get("/").text
    for word in ("form_token", "hx-headers", "Sign out", "My account", "/account"):
        assert word not in page
    assert SESSION_COOKIE not in client.cookies
