"""Databases moved into others and back: nothing is lost, and nothing comes twice.

Source: none needed: the database that was moved is the reference.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import select

from server.domain.errors import RefusedError
from server.domain.measure import Money
from server.domain.observer import Holding
from server.paths import SEED_DATA
from server.rim.demo_club import load_demo_club
from server.store import open_stores, prepare_database
from server.store.accounts import HostedStore, HostedStores
from server.store.dialects import database_at, numbers_given
from server.store.moving import move
from server.store.tables import Row
from tests.postgres import new_database
from tests.store.conftest import CAMERA, TUBE, document_of, plan_of, ring, ticking_clock

MEMBER = "Annika Thornquist"
LATER = datetime(2026, 5, 1, tzinfo=UTC)


def content(where: Path | str) -> dict[str, list[tuple[Any, ...]]]:
    """Every row of every table, and the last numbers given; but not the words, which each keeps its way."""
    engine = database_at(where).reading()
    found: dict[str, list[tuple[Any, ...]]] = {}
    with engine.connect() as connection:
        for table in Row.metadata.sorted_tables:
            columns = [column for column in table.c if column.name != "words" or table.name != "part"]
            rows = connection.execute(select(*columns).order_by(*table.primary_key.columns))
            found[table.name] = [tuple(row) for row in rows]
            if "id" in table.c:
                found[f"{table.name} given"] = [(numbers_given(connection, table.name),)]
    engine.dispose()
    return found


def words(where: Path) -> list[Any]:
    engine = database_at(where).reading()
    with engine.connect() as connection:
        found = list(connection.exec_driver_sql("SELECT words FROM part ORDER BY id").scalars())
    engine.dispose()
    return found


@pytest.fixture(scope="module")
def club(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo club, with a part that has left the catalogue but not an entry, a link, and a removed rig."""
    path = tmp_path_factory.mktemp("club") / "club.sqlite3"
    prepare_database(path)
    stores = open_stores(path, ticking_clock())
    with stores.writing() as store:
        load_demo_club(store, SEED_DATA)
        observer = next(one for one in store.observers() if one.name == MEMBER)
        tube, camera, gone, last = store.add_parts([TUBE, CAMERA, ring("Gone"), ring("Last")], observer.id)
        rig = store.add_rig(observer.id, "North", plan_of(tube, gone, camera))
        for title in ("First light", "Second night"):
            entry = store.add_entry(rig.id, document_of(store, rig.id, title))
        store.add_share(entry.id, "t" * 22, LATER)
        store.remove_rig(store.add_rig(observer.id, "Empty", plan_of()).id)
        other = store.add_rig(observer.id, "South", plan_of(tube))
        store.change_rig(other.id, 1, plan_of(tube, camera), "added Auge")
        store.set_holding(observer.id, camera, Holding(owned=2))
        store.remove_part(last)
    stores.close()
    hosted = HostedStores(open_stores(path, ticking_clock()))
    with hosted.writing() as store:
        lender = store.add_observer("The club", "metric")
        store.set_club(lender.id)
        store.set_holding(lender.id, tube, Holding(owned=1))
        store.keep_price(lender.id, tube, Money(hundredths=100, currency="EUR"))
        store.list_entry(entry.id, LATER)
    hosted.close()
    return path


def merged(store: HostedStore, observer: int) -> None:
    """A rig with an entry that holds a double, which was changed and is merged into another part since."""
    double, kept = store.add_parts([ring("Double"), ring("Kept")], observer)
    rig = store.add_rig(observer, "East", plan_of(double))
    store.add_entry(rig.id, document_of(store, rig.id, "Before the merger"))
    changed = store.change_part(double, ring("Double", note="worn"), observer)
    store.merge_part(changed, store.part(kept), observer)


@pytest.fixture
def occupied(tmp_path: Path) -> Path:
    """Another's database, in which all low numbers are given."""
    path = tmp_path / "occupied.sqlite3"
    prepare_database(path)
    stores = open_stores(path, ticking_clock())
    with stores.writing() as store:
        bo = store.add_observer("Bo Lind", "imperial")
        numbers = store.add_parts([ring(f"Ring {n}") for n in range(300)], bo.id)
        rig = store.add_rig(bo.id, "Pier", plan_of(*numbers[:3]))
        store.add_entry(rig.id, document_of(store, rig.id))
        store.remove_part(numbers[-1])
    stores.close()
    return path


def test_a_club_goes_to_postgresql_and_back_and_is_the_same_table_by_table(
    club: Path, postgres: str, tmp_path: Path
):
    before = content(club)
    address = new_database(postgres, "moved")
    first = move(club, address)
    assert first.new["rig"] == len(before["rig"]) > 3
    assert content(address) == before
    back = tmp_path / "back.sqlite3"
    move(address, back)
    assert content(back) == before
    assert words(back) == words(club)
    for source, target in ((club, address), (address, back), (back, club)):
        again = move(source, target)
        assert not any(again.new.values())
        assert again.known["part"] == len(before["part"])
    assert content(club) == content(address) == before


def kinds(postgres: str, tmp_path: Path) -> dict[str, Callable[[Path], Path | str]]:
    def on_postgres(path: Path) -> str:
        address = new_database(postgres, "occupied")
        move(path, address)
        return address

    return {"sqlite": lambda path: path, "postgresql": on_postgres}


@pytest.mark.parametrize("kind", ["sqlite", "postgresql"])
def test_numbers_that_are_given_there_are_new_ones_and_all_that_names_them_follows(
    club: Path, occupied: Path, postgres: str, tmp_path: Path, kind: str
):
    where = kinds(postgres, tmp_path)[kind](occupied)
    others = content(where)
    done = move(club, where)
    assert not any(move(club, where).new.values())
    now = content(where)
    for table, rows in others.items():
        if "given" not in table:
            assert set(rows) <= set(now[table]), table
    stores, own = open_stores(where), open_stores(club)
    with stores.reading() as store, own.reading() as before:
        people = {one.name: one.id for one in store.observers()}
        for one in before.observers():
            there = people[one.name]
            assert [kept.needs.model_copy(update={"site_id": None}) for kept in store.kept_needs(there)] == [
                kept.needs.model_copy(update={"site_id": None}) for kept in before.kept_needs(one.id)
            ]
            assert len(store.shelf(there)) == len(before.shelf(one.id))
            rigs = {line.name: store.rig(line.id) for line in store.rigs(there)}
            for line in before.rigs(one.id):
                was, is_now = before.rig(line.id), rigs[line.name]
                assert (was.version, str(was.undo_words)[:20]) == (
                    is_now.version,
                    str(is_now.undo_words)[:20],
                )
                parts, parts_now = before.parts(was.plan.part_ids), store.parts(is_now.plan.part_ids)
                assert [parts[p.part_id].part for p in was.plan.places] == [
                    parts_now[p.part_id].part for p in is_now.plan.places
                ]
            entries = zip(before.entries(one.id), store.entries(there), strict=True)
            for entry, moved in entries:
                assert [p.part for p in entry.document.parts] == [p.part for p in moved.document.parts]
                assert entry.document.findings == moved.document.findings
                known = store.known_parts([p.id for p in moved.document.parts])
                # What a number of an entry leads to is that very part, or nothing.
                for frozen in moved.document.parts:
                    if frozen.id in known:
                        assert known[frozen.id].part.kind == frozen.part.kind
                        assert known[frozen.id].name == frozen.part.name
    assert done.new["part"] == len(content(club)["part"])
    stores.close()
    own.close()


@pytest.mark.parametrize("member", [None, MEMBER])
def test_the_history_of_a_part_goes_along_and_a_doubles_number_leads_to_what_stayed(
    club: Path, occupied: Path, tmp_path: Path, member: str | None
):
    club = Path(shutil.copy(club, tmp_path / "merged.sqlite3"))
    stores = open_stores(club)
    with stores.writing() as store:
        annika = next(one.id for one in store.observers() if one.name == MEMBER)
        merged(HostedStore.over(store), annika)
    stores.close()
    move(club, occupied, member)
    assert not any(move(club, occupied, member).new.values())
    stores = open_stores(occupied)
    with stores.reading() as store:
        annika = next(one.id for one in store.observers() if one.name == MEMBER)
        (entry,) = [one for one in store.entries(annika) if one.document.title == "Before the merger"]
        (frozen,) = entry.document.parts
        kept = store.known_parts([frozen.id])[frozen.id]
        assert (frozen.part.name, kept.part.name) == ("Halden Double", "Halden Kept")
        told = [(one.act, one.of_id, one.by) for one in store.part_changes(kept.id, 10)]
        assert told == [("merged", frozen.id, MEMBER), ("changed", frozen.id, MEMBER)]
    stores.close()


def test_one_observer_is_moved_with_the_parts_that_this_one_needs(club: Path, occupied: Path):
    done = move(club, occupied, MEMBER.upper())
    assert done.new["observer"] == 1
    assert not any(move(club, occupied, MEMBER).new.values())
    stores, own = open_stores(occupied), open_stores(club)
    with stores.reading() as store, own.reading() as before:
        assert sorted(one.name for one in store.observers()) == [MEMBER, "Bo Lind"]
        was = next(one for one in before.observers() if one.name == MEMBER)
        now = next(one for one in store.observers() if one.name == MEMBER)
        assert [line.name for line in store.rigs(now.id)] == [line.name for line in before.rigs(was.id)]
        assert len(store.entries(now.id)) == len(before.entries(was.id))
        assert done.new["part"] < len(content(club)["part"])
    stores.close()
    own.close()
    # The others follow later, and nothing comes twice.
    rest = move(club, occupied)
    assert rest.known["part"] == done.new["part"]
    assert rest.known["rig"] == done.new["rig"]


def test_what_was_changed_there_stays_as_it_is_there(club: Path, tmp_path: Path):
    copy = Path(shutil.copy(club, tmp_path / "copy.sqlite3"))
    stores = open_stores(copy)
    with stores.writing() as store:
        member = next(one for one in store.observers() if one.name == MEMBER)
        line = next(line for line in store.rigs(member.id) if line.name == "South")
        store.rename_rig(line.id, line.version, "South pier")
        part = next(iter(store.rig(line.id).plan.part_ids))
        store.change_part(part, TUBE.model_copy(update={"note": "measured"}), member.id)
    stores.close()
    before = content(copy)
    assert not any(move(club, copy).new.values())
    assert content(copy) == before


def test_what_cannot_be_moved_is_refused(club: Path, tmp_path: Path):
    with pytest.raises(RefusedError, match="named twice"):
        move(club, club)
    with pytest.raises(RefusedError, match="There is no file"):
        move(tmp_path / "none.sqlite3", club)
    with pytest.raises(RefusedError, match="There is no observer “Nobody” there. There is: .*Annika"):
        move(club, tmp_path / "new.sqlite3", "Nobody")
    letter = tmp_path / "letter.sqlite3"
    letter.write_text("Dear Ana, " * 100)
    with pytest.raises(RefusedError, match="cannot be opened as a database"):
        move(club, letter)
