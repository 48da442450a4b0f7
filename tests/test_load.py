"""The load run still runs, and sees what was lost or doubled. How long anything takes is not asked here."""

from __future__ import annotations

import pytest

from server.store import open_stores
from server.store.accounts import HostedStores
from tests.load import __main__ as load
from tests.load.club import RING, Member, made_club, what_was_kept
from tests.postgres import new_database


@pytest.fixture
def club(postgres: str) -> tuple[str, Member]:
    """A club of one, who has made two changes."""
    address = new_database(postgres, "club_at_once")
    (member,) = made_club(address, 1)
    stores = HostedStores(open_stores(address))
    for length in (11.0, 12.0):
        set_to(stores, member, length)
    stores.close()
    return address, member


def set_to(stores: HostedStores, member: Member, length: float) -> None:
    with stores.writing() as store:
        plan = store.rig(member.rig).plan
        places = tuple(
            one.model_copy(update={"set_length_mm": length}) if one.key == RING else one
            for one in plan.places
        )
        store.change_rig(member.rig, member.version, plan.model_copy(update={"places": places}), "set")
    member.version += 1


def test_what_was_acknowledged_and_is_there_once_is_well(club: tuple[str, Member]):
    address, member = club
    member.acknowledged = [11.0, 12.0]
    assert what_was_kept(address, [member]) == []
    # What nobody could answer for may be there or not.
    member.acknowledged, member.unsure = [11.0], {12.0, 13.0}
    assert what_was_kept(address, [member]) == []


@pytest.mark.parametrize("acknowledged", [[11.0, 12.0, 13.0], [11.0], [12.0, 11.0], []])
def test_what_was_lost_or_was_never_acknowledged_is_told(club: tuple[str, Member], acknowledged: list[float]):
    address, member = club
    member.acknowledged = acknowledged
    assert len(what_was_kept(address, [member])) == 1


def test_what_was_made_twice_is_told(club: tuple[str, Member]):
    address, member = club
    stores = HostedStores(open_stores(address))
    set_to(stores, member, 12.0)
    stores.close()
    member.acknowledged = [11.0, 12.0, 12.0]
    assert len(what_was_kept(address, [member])) == 1


def test_a_small_club_works_through_all_faults_and_nothing_is_lost(
    postgres: str,
    capsys: pytest.CaptureFixture[str],
):
    load.main(["--members", "6", "--minutes", "0.2", "--workers", "2", "--pause", "0.5", "--faults"])
    printed = capsys.readouterr().out
    assert "errors 1 0 none met" in " ".join(printed.split()), printed
    assert "lost or doubled" in printed
    assert printed.count("Fault: ") >= 4
