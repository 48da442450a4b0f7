"""The hosted app over a real database, and browsers that are signed in to it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path

import pytest
from bs4 import BeautifulSoup
from fastapi import FastAPI
from fastapi.testclient import TestClient
from httpx2 import Response

from server.flow.accounts import Club, form_token
from server.flow.passwords import hashed
from server.hosted import create_hosted_app, open_hosted
from server.settings import HostedSettings
from server.store.accounts import HostedStores
from server.web.account.gate import SESSION_COOKIE
from tests.places import Place

ADDRESS = "https://rigs.example"
PASSWORD = "lantern orchid gravel teapot"
OTHER = "violin meadow bracket thunder"


@cache
def kept(password: str) -> str:
    """Its hash, made once for all tests: each takes a fifth of a second."""
    return hashed(password)


@pytest.fixture
def hosted_settings(place: Place, tmp_path: Path) -> HostedSettings:
    return HostedSettings(data=tmp_path, place=str(place), public=ADDRESS, door="open", port=8330)


@pytest.fixture
def hosted_stores(hosted_settings: HostedSettings) -> Iterator[HostedStores]:
    opened = open_hosted(hosted_settings.place)
    yield opened
    opened.close()


@pytest.fixture
def hosted(hosted_settings: HostedSettings, hosted_stores: HostedStores) -> FastAPI:
    return create_hosted_app(hosted_settings, hosted_stores)


@pytest.fixture
def club(hosted: FastAPI) -> Club:
    verbs: Club = hosted.state.club
    return verbs


class Browser:
    """A browser: who it is signed in as, and the token of its forms."""

    def __init__(self, app: FastAPI, token: str = "", observer_id: int = 0) -> None:
        # What follows a redirect is told by its test.
        self.client = TestClient(app, base_url=ADDRESS, follow_redirects=False)
        self.observer_id = observer_id
        if token:
            self.client.cookies.set(SESSION_COOKIE, token, domain="rigs.example", path="/")

    @property
    def token(self) -> str:
        return self.client.cookies.get(SESSION_COOKIE) or ""

    def get(self, path: str, **more) -> Response:
        return self.client.get(path, **more)

    def post(self, path: str, data: Mapping[str, object] | None = None, **more) -> Response:
        """A form that is sent as its page has it, with its token."""
        fields = {**(data or {}), **({"form_token": form_token(self.token)} if self.token else {})}
        return self.client.post(path, data=fields, **more)

    def page(self, path: str) -> BeautifulSoup:
        found = self.get(path)
        assert found.status_code == 200, (path, found.status_code)
        return BeautifulSoup(found.text, "html.parser")


def joined(app: FastAPI, name: str, role: str = "member", password: str = PASSWORD) -> Browser:
    """The browser of someone new to the club."""
    verbs: Club = app.state.club
    with app.state.stores.writing() as store:
        observer = store.add_observer(name, "metric")
        store.add_account(observer.id, name, role, kept(password), verbs._now())
    return Browser(app, verbs.begun(observer.id, "signed in", "a test"), observer.id)
