"""An invented club: its members, and whether the database has what they were told that it has."""

from __future__ import annotations

import json
import random
from dataclasses import dataclass, field
from datetime import UTC, datetime

from sqlalchemy import create_engine

from server.domain.measure import Measure
from server.domain.observer import Holding
from server.domain.rig import PlacePlan, RigPlan
from server.flow.passwords import hashed
from server.store import open_stores, prepare_database
from server.store.accounts import HostedStores
from tests.bench.data import some_part, train_parts

PASSWORD = "lantern orchid gravel teapot"
RING = 4
"""The key of the ring whose length is set."""
PARTS = 2000


@dataclass
class Member:
    """One of the club, what they have changed, and what the answers said of it."""

    number: int
    observer: int
    rig: int
    version: int
    token: str = ""
    tried: int = 0
    acknowledged: list[float] = field(default_factory=list)
    unsure: set[float] = field(default_factory=set)
    sure: bool = True

    def filled(self, path: str) -> str:
        return path.format(rig=self.rig, observer=self.observer)


def made_club(address: str, count: int) -> list[Member]:
    """Members with a rig each, over a catalogue that they share."""
    prepare_database(address)
    stores = HostedStores(open_stores(address))
    dice, kept, now = random.Random(20261130), hashed(PASSWORD), datetime.now(UTC)
    train = train_parts()
    ring = train[RING - 1]
    # A ring that can be set to any length, so that no two changes are alike.
    train[RING - 1] = ring.model_copy(update={"longest_mm": Measure(nominal=400.0)})
    members = []
    with stores.writing() as store:
        steward = store.add_observer("Steward", "metric")
        own = store.add_parts(train, steward.id)
        store.add_parts([some_part(dice) for _ in range(PARTS - len(own))], steward.id)
        plan = RigPlan(places=tuple(PlacePlan(key=at, part_id=one) for at, one in enumerate(own, start=1)))
        for number in range(count):
            name = f"Member {number}"
            observer = store.add_observer(name, "metric")
            store.add_account(observer.id, name, "member", kept, now)
            for part in own:
                store.set_holding(observer.id, part, Holding(owned=1))
            rig = store.add_rig(observer.id, f"Rig {number}", plan)
            members.append(Member(number, observer.id, rig.id, rig.version))
    stores.close()
    return members


def what_was_kept(address: str, members: list[Member]) -> list[str]:
    """What does not agree with what was acknowledged, by the database's own rows."""
    engine = create_engine(address)
    wrong = []
    with engine.connect() as connection:
        for member in members:
            rows = connection.exec_driver_sql(
                "SELECT number, plan FROM rig_state WHERE rig_id = %s ORDER BY number", (member.rig,)
            ).all()
            lengths = [
                next(one.get("set_length_mm") for one in json.loads(plan)["places"] if one["key"] == RING)
                for number, plan in rows
                if number > 1
            ]
            version = connection.exec_driver_sql(
                "SELECT version FROM rig WHERE id = %s", (member.rig,)
            ).scalar_one()
            sure = [one for one in lengths if one not in member.unsure]
            if sure != member.acknowledged:
                wrong.append(f"member {member.number}: {member.acknowledged} acknowledged, {lengths} kept")
            if len(set(lengths)) != len(lengths) or version != 1 + len(lengths):
                wrong.append(f"member {member.number}: {len(lengths)} changes kept, version {version}")
    engine.dispose()
    return wrong
