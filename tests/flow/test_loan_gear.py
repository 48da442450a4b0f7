"""What a club lends counts as there is where a member builds, and as nobody's own.

Source: sums worked by hand: a corrector asks for 55 mm, the camera has 17.5, so 37.5 mm of ring are lacking.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from server.domain.observer import Holding
from server.domain.parts import Part
from server.domain.scout.candidates import Candidate
from server.domain.scout.needs import Needs
from server.flow.loan_gear import loan_gear
from server.flow.protocols import PartQuery, Whose
from server.flow.scout import choice_of
from server.flow.workbench import Workbench
from server.rim.phrasebook.tell import tell
from server.store import open_stores
from server.store.accounts import HostedStore, HostedStores
from tests.domain.rigs import M48F, M48M, camera, corrector, mount, ring, tube

PARTS: dict[str, Part] = {
    "tube": tube(),
    "corrector": corrector(),
    "ring": ring(37.5),
    "camera": camera(width_px=4500, height_px=3000),
    "mount": mount(),
}


@dataclass
class Lending:
    store: HostedStore
    ann: Workbench
    club: int
    parts: dict[str, int]

    def find(self, holding: Whose) -> list[str]:
        lines = self.store.find_parts(PartQuery(self.ann.observer.id, holding=holding)).lines
        return [name for line in lines for name, number in self.parts.items() if number == line.item.id]


@pytest.fixture
def lending(place: Path | str) -> Iterator[Lending]:
    """A club that lends a ring and a corrector, and a member who owns the rest."""
    stores = HostedStores(open_stores(place))
    with stores.writing() as store:
        ann, club = (store.add_observer(name, "metric") for name in ("Ann", "The club"))
        store.set_club(club.id)
        ids = {name: store.add_part(part, club.id).id for name, part in PARTS.items()}
        lent = ("ring", "corrector")
        store.set_holdings(club.id, {ids[name]: Holding(owned=2) for name in lent})
        store.set_holdings(ann.id, {ids[n]: Holding(owned=1) for n in PARTS if n not in lent})
        store.read_by(ann.id)
        yield Lending(store, Workbench(store, ann, tell), club.id, ids)
    stores.close()


def test_it_is_found_beside_ones_own_and_not_among_it(lending: Lending):
    assert set(lending.find("lent")) == {"ring", "corrector"}
    assert set(lending.find("at_hand")) == set(PARTS)
    assert set(lending.find("shelf")) == set(lending.find("owned")) == {"tube", "camera", "mount"}
    ring_, tube_ = lending.parts["ring"], lending.parts["tube"]
    assert lending.ann.holdings([ring_, tube_]) == {ring_: Holding(lent=2), tube_: Holding(owned=1)}
    assert lending.store.shelf(lending.ann.observer.id)[ring_] == Holding(lent=2)
    assert [line.holding.owned for line in loan_gear(lending.store)[0]] == [2, 2]


def test_what_both_have_is_listed_once(lending: Lending):
    ring_ = lending.parts["ring"]
    lending.ann.set_holding(ring_, Holding(owned=1))
    assert lending.find("at_hand").count("ring") == 1
    assert lending.ann.holding(ring_) == Holding(owned=1, lent=2)
    lending.ann.set_holding(ring_, Holding())
    assert lending.ann.holding(ring_) == Holding(lent=2)


def test_a_ring_of_the_clubs_joins_two_parts(lending: Lending):
    (line,) = lending.store.joiners(M48F, M48M, lending.ann.observer.id)
    assert (line.item.id, line.holding) == (lending.parts["ring"], Holding(lent=2))


def test_the_club_borrows_nothing_of_itself(lending: Lending):
    query = PartQuery(lending.club, holding="lent")
    assert lending.store.find_parts(query).lines == ()
    assert lending.store.holdings(lending.club, [lending.parts["ring"]])[lending.parts["ring"]].lent == 0


def test_the_scout_counts_it_as_there_and_the_bridge_closes_with_it_unbought(lending: Lending):
    ann, ids = lending.ann, lending.parts
    choice = choice_of(lending.store, ann.observer.id, Needs(considered=False))
    assert choice.borrowed == {ids["ring"], ids["corrector"]}
    candidate = Candidate(ids["tube"], ids["corrector"], ids["camera"], ids["mount"])
    parts = choice.parts_of(candidate)
    offer = ann.closing_of(parts).offer
    assert offer is not None
    assert offer.bought == ()
    assert ids["ring"] in offer.posed.pieces.borrowed
    ann.take_candidate(parts)
    # Nothing of it is to be bought.
    assert ann.holding(ids["corrector"]) == ann.holding(ids["ring"]) == Holding(lent=2)
