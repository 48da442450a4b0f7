"""The loan cupboard under a suburban garden's sky."""

from __future__ import annotations

from typing import Any

import pytest
from fastapi.testclient import TestClient

from server.flow.workbench import Workbench
from server.rim.phrasebook.tell import tell
from server.store import Stores
from tests.places import Place
from tests.web.club import observer_named, sit_down

GARDEN = {
    "name": "Behind the house",
    "latitude_deg": "50 N",
    "longitude_deg": "8° 36' E",
    "height_m": "110",
    "zone": "Europe/Berlin",
    "brightness_by": "magnitude",
    "brightness": "19.8",
    "seeing_arcsec": "3",
    "horizon": "90: 35\n180: 20\n270: 45",
}


@pytest.fixture
def place(club_place: Place) -> Place:
    return club_place


class Garden:
    """A keeper of five loan rigs, with a site of theirs."""

    def __init__(self, client: TestClient, stores: Stores) -> None:
        self.client, self.stores = client, stores
        self.keeper = observer_named(stores, "Isolde Wrackham")
        sit_down(client, self.keeper)
        with stores.writing() as store:
            # The demo club may have sites and targets of its own: here one begins with none.
            for site in store.sites(self.keeper.id):
                store.remove_site(site.id)
            for target in store.targets(self.keeper.id):
                store.remove_target(target.id)
        self.rigs = {line.name: line.id for line in self.bench().rigs()}
        client.post("/sky/sites/new", data=GARDEN)
        self.site = self.bench().sites()[0].id

    def bench(self) -> Workbench:
        with self.stores.reading() as store:
            kept = Workbench(store, self.keeper, tell)
            sites, targets, rigs = kept.sites(), kept.targets(), kept.rigs()
        kept.sites, kept.targets, kept.rigs = lambda: sites, lambda: targets, lambda: rigs  # type: ignore[method-assign]
        return kept

    def rig(self, name: str) -> int:
        return next(number for full, number in self.rigs.items() if name in full)

    def get(self, path: str, **query: Any) -> Any:
        return self.client.get(path, params=query)


@pytest.fixture
def garden(client: TestClient, stores: Stores) -> Garden:
    return Garden(client, stores)
