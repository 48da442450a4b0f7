"""An entry goes from one install to another and on again, over two real stores."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from server.domain.entry import Entry, EntryDocument, read_entry
from server.domain.errors import NotFoundError
from server.domain.observer import Holding
from server.domain.parts import SpacerRing
from server.flow.assemble_train import RemovePart
from server.flow.protocols import PartQuery
from server.flow.workbench import Workbench
from server.rim.entry_file import entry_json, read_entry_file
from server.rim.phrasebook.tell import tell
from server.store import Stores, open_stores
from tests.places import Place, Places

DAY = datetime(2026, 6, 1, 12, 0, tzinfo=UTC)


class Install:
    """One install with an observer at its bench."""

    def __init__(self, database: Place, name: str) -> None:
        self.stores: Stores = open_stores(database)
        self.name = name

    @contextmanager
    def bench(self, name: str = "") -> Iterator[Workbench]:
        with self.stores.writing() as store:
            here = {observer.name: observer for observer in store.observers()}
            yield Workbench(store, here[name or self.name], tell, now=lambda: DAY)


def seven_rings(place: Place) -> None:
    """An install with parts of its own, so that no number comes out right by chance."""
    stores = open_stores(place)
    with stores.writing() as store:
        observer = store.add_observer("Bo", "imperial")
        store.add_parts([SpacerRing(maker="Halden", model=f"Ring {n}") for n in range(7)], observer.id)
    stores.close()


@pytest.fixture
def sender(club_place: Place) -> Iterator[Install]:
    install = Install(club_place, "Ruta Ommerli")
    yield install
    install.stores.close()


@pytest.fixture
def receiver(places: Places, tmp_path: Path) -> Iterator[Install]:
    install = Install(places.lent("receiver", seven_rings, tmp_path / "receiver"), "Bo")
    yield install
    install.stores.close()


def without_numbers(document: EntryDocument) -> Any:
    """A document with its parts numbered in the order of the train, so that two installs' can be compared."""
    raw = json.loads(document.model_dump_json())
    plan = raw["plan"]
    met = [n for place in plan["places"] for n in (place["part_id"], *place["inside"])]
    met += [gear["part_id"] for gear in plan["gear"]]
    number = {old: new for new, old in enumerate(dict.fromkeys(met))}
    for place in plan["places"]:
        place["part_id"] = number[place["part_id"]]
        place["inside"] = [number[n] for n in place["inside"]]
    for gear in plan["gear"]:
        gear["part_id"] = number[gear["part_id"]]
    for line in (line for name in ("cables", "spots", "cases") for line in plan["load"][name]):
        line["part_id"] = number[line["part_id"]]
    for lift in plan["load"]["lifts"]:
        lift["parts"] = [number[n] for n in lift["parts"]]
    for part in raw["parts"]:
        part["id"] = number[part["id"]]
        # The revision counts the changes of the catalogue that the part stands in.
        del part["revision"]
    raw["parts"].sort(key=lambda part: part["id"])
    return raw


def all_entries(install: Install) -> list[Entry]:
    with install.stores.reading() as store:
        return [entry for observer in store.observers() for entry in store.entries(observer.id)]


def test_every_entry_of_the_demo_club_survives_the_journey_there_and_on(
    sender: Install, receiver: Install
) -> None:
    entries = all_entries(sender)
    assert entries
    for entry in entries:
        first = read_entry_file(entry_json(entry.document).encode())
        with receiver.bench() as bench:
            taken = bench.take_in(read_entry(first)).entry
        assert without_numbers(taken.document) == without_numbers(entry.document)
        with sender.bench() as bench:
            back = bench.take_in(read_entry(read_entry_file(entry_json(taken.document).encode()))).entry
        assert without_numbers(back.document) == without_numbers(entry.document)


def test_an_entry_keeps_its_day_its_words_and_who_saved_it(sender: Install, receiver: Install) -> None:
    entry = all_entries(sender)[0]
    with receiver.bench() as bench:
        taken = bench.take_in(read_entry(json.loads(entry_json(entry.document)))).entry
        document = taken.document
        opened = bench.entry(taken.id)
    for field in ("saved_at", "title", "note", "observer", "rig", "rules_version", "findings"):
        assert getattr(document, field) == getattr(entry.document, field)
    assert not opened.revised
    assert not opened.gone


def test_parts_that_the_catalogue_has_word_for_word_are_not_entered_twice(
    sender: Install, receiver: Install
) -> None:
    document = json.loads(entry_json(all_entries(sender)[0].document))
    with receiver.bench() as bench:
        before = bench.find_parts(PartQuery(bench.observer.id)).total
        first = bench.take_in(read_entry(document))
        once = bench.find_parts(PartQuery(bench.observer.id)).total
        # Another title makes it another entry, of the same parts.
        second = bench.take_in(read_entry(document | {"title": "The same parts again"}))
        twice = bench.find_parts(PartQuery(bench.observer.id)).total
    assert once == before + len(document["parts"])
    assert twice == once
    assert (first.parts, first.new) == (len(document["parts"]), len(document["parts"]))
    assert (second.parts, second.new, second.known) == (len(document["parts"]), 0, False)


def test_the_same_entry_is_not_taken_in_twice_whatever_its_parts_are_numbered(
    sender: Install, receiver: Install
) -> None:
    for entry in all_entries(sender):
        with receiver.bench() as bench:
            first = bench.take_in(read_entry(entry.document.model_dump(mode="json")))
            second = bench.take_in(read_entry(entry.document.model_dump(mode="json")))
            # What the receiver sends on carries the receiver's numbers.
            third = bench.take_in(read_entry(json.loads(entry_json(first.entry.document))))
        assert [first.known, second.known, third.known] == [False, True, True]
        assert first.entry == second.entry == third.entry
    with receiver.bench() as bench:
        assert len(bench.entries()) == len(bench.rigs()) == len(all_entries(sender))


def test_an_entry_that_differs_in_one_figure_of_one_part_is_another_entry(
    sender: Install, receiver: Install
) -> None:
    document = all_entries(sender)[0].document.model_dump(mode="json")
    with receiver.bench() as bench:
        bench.take_in(read_entry(document))
        document["parts"][0]["part"]["note"] = "Weighed again"
        assert not bench.take_in(read_entry(document)).known
        assert len(bench.entries()) == 2


def test_new_parts_come_onto_the_shelf_as_under_consideration_and_owned_ones_stay_owned(
    sender: Install, receiver: Install
) -> None:
    document = all_entries(sender)[0].document
    owned = document.parts[0].part
    with receiver.bench() as bench:
        own = bench.add_part(owned, Holding(owned=2))
        taken = bench.take_in(read_entry(json.loads(entry_json(document)))).entry
        holdings = {part.id: bench.holding(part.id) for part in taken.document.parts}
    assert holdings.pop(own.id) == Holding(owned=2)
    assert set(holdings.values()) == {Holding(considered=1)}


def test_the_rig_that_was_taken_in_can_be_worked_on(sender: Install, receiver: Install) -> None:
    document = all_entries(sender)[0].document
    with receiver.bench() as bench:
        taken = bench.take_in(read_entry(json.loads(entry_json(document)))).entry
        view = bench.bench(taken.rig_id)
        assert view.stored.name == document.rig
        changed = bench.change_rig(
            taken.rig_id, view.stored.version, RemovePart(place=view.stored.plan.places[1].key)
        )
    assert len(changed.rig.train) == len(document.plan.places) - 1


def test_a_damaged_file_leaves_nothing_behind(sender: Install, receiver: Install) -> None:
    document = json.loads(entry_json(all_entries(sender)[0].document))
    document["plan"]["places"][-1]["part_id"] = 999_999

    def try_it() -> None:
        with receiver.bench() as bench:
            # What the doors' reading would have refused: it fails when its parts are entered already.
            bench.take_in(EntryDocument.model_validate(document))

    with pytest.raises(KeyError, match="999999"):
        try_it()
    with receiver.bench() as bench:
        assert bench.find_parts(PartQuery(bench.observer.id)).total == 7
        assert not bench.rigs()
        assert not bench.entries()


@pytest.fixture
def other(sender: Install) -> Callable[[], Any]:
    with sender.stores.writing() as store:
        store.add_observer("Newcomer", "metric")
    return lambda: sender.bench("Newcomer")


def test_a_member_puts_what_a_link_shows_on_their_own_shelf(
    sender: Install, other: Callable[[], Any]
) -> None:
    with sender.bench() as bench:
        entry = bench.entries()[0]
        token = bench.share(entry.id).token
        catalogue = bench.find_parts(PartQuery(bench.observer.id)).total
    with other() as bench:
        copy = bench.put_on_shelf(token).entry
        assert copy.observer_id == bench.observer.id
        assert [rig.name for rig in bench.rigs()] == [entry.document.rig]
        revised = len(bench.entry(copy.id).revised)
        assert bench.find_parts(PartQuery(bench.observer.id)).total >= catalogue
    assert not revised
    assert without_numbers(copy.document) == without_numbers(entry.document)


def test_a_withdrawn_link_puts_nothing_on_anyones_shelf(sender: Install, other: Callable[[], Any]) -> None:
    with sender.bench() as bench:
        entry = bench.entries()[0]
        share = bench.share(entry.id)
        bench.withdraw(entry.id, share.id)

    def try_it() -> None:
        with other() as bench:
            bench.put_on_shelf(share.token)

    with pytest.raises(NotFoundError):
        try_it()


def test_a_token_carries_at_least_128_random_bits_and_never_comes_twice(sender: Install) -> None:
    with sender.bench() as bench:
        entry = bench.entries()[0]
        tokens = [bench.share(entry.id).token for _ in range(50)]
    assert len(set(tokens)) == 50
    # URL-safe base 64 carries 6 bits a character (RFC 4648, section 5).
    assert all(len(token) * 6 >= 128 for token in tokens)
