"""A member of the demo club who looks for one telescope."""

from __future__ import annotations

from typing import Any

import pytest
from fastapi.testclient import TestClient

from server.domain.observer import Observer
from server.flow.protocols import PartQuery
from server.store import Stores
from server.web.scout import stops_page
from tests.places import Place
from tests.web.club import observer_named, page_of, sit_down

KEPT = "One telescope for the garden"


@pytest.fixture
def place(club_place: Place) -> Place:
    return club_place


class Member:
    """A browser in which a member of the club has sat down."""

    def __init__(self, client: TestClient, stores: Stores, name: str) -> None:
        self.client, self.stores = client, stores
        self.sit(name)

    def sit(self, name: str) -> None:
        self.observer: Observer = observer_named(self.stores, name)
        sit_down(self.client, self.observer)

    def get(self, path: str = "/scout", **query: Any) -> Any:
        return self.client.get(path, params=query or None)

    def post(self, path: str, **data: Any) -> Any:
        return self.client.post(path, data=data)

    def kept(self, name: str = KEPT) -> str:
        """The address of the needs that were kept by a name."""
        return str(page_of(self.get()).find("a", string=name)["href"])

    def numbers(self, kind: str, holding: Any = "catalogue") -> dict[str, int]:
        """The catalogue numbers of a kind by name."""
        with self.stores.reading() as store:
            asked = PartQuery(self.observer.id, kind=kind, holding=holding, limit=100)
            return {line.item.name: line.item.id for line in store.find_parts(asked).lines}


@pytest.fixture
def member(client: TestClient, stores: Stores) -> Member:
    """Annika, who reads metric units and has kept what she wants."""
    return Member(client, stores, "Annika Thornquist")


@pytest.fixture(autouse=True)
def patience(monkeypatch: pytest.MonkeyPatch) -> None:
    """However busy the machine is, a page looks at all."""
    monkeypatch.setattr(stops_page, "LONGEST_S", 1e6)
