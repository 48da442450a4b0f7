"""The demo club in a browser: what the tests of logbook and share have in common."""

from __future__ import annotations

from typing import Any

from bs4 import BeautifulSoup
from fastapi.testclient import TestClient

from server.domain.entry import Entry
from server.domain.frames.measured import Measured, StoredMeasured
from server.domain.observer import Observer
from server.flow.workbench import Workbench
from server.rim.phrasebook.tell import tell
from server.store import Stores


def page_of(answer: Any) -> BeautifulSoup:
    return BeautifulSoup(answer.text, "html.parser")


def words_of(answer: Any) -> str:
    return " ".join(page_of(answer).get_text(" ").split())


def observer_named(stores: Stores, name: str) -> Observer:
    with stores.reading() as store:
        return next(observer for observer in store.observers() if observer.name == name)


def sit_down(client: TestClient, observer: Observer) -> None:
    """Choose the observer in this browser."""
    client.cookies.set("observer", str(observer.id))


def entries_of(stores: Stores, observer: Observer) -> dict[str, Entry]:
    """An observer's entries by their titles."""
    with stores.reading() as store:
        return {entry.document.title: entry for entry in Workbench(store, observer, tell).entries()}


def measured_with(stores: Stores, entry: Entry, name: str, measured: Measured) -> StoredMeasured:
    """A measurement that belongs to an entry."""
    with stores.writing() as store:
        return store.add_measured(entry.observer_id, entry.rig_id, entry.id, name, measured)
