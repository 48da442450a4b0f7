"""The blocks of a rig's load, each worked out by itself: one that fails hides no other, and no caution."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

from server.domain.cautions import HEAVY_ALONE_KG, SafetyNote
from server.domain.findings import Finding
from server.domain.guarded import Failed, worked
from server.domain.load.bodies import work_balance
from server.domain.load.lifts import work_lifts
from server.domain.load.places import pack, sum_places
from server.domain.load.power import work_power
from server.domain.load.rough import RoughBalance, work_rough
from server.domain.load.sheet import (
    BalanceSheet,
    LiftLine,
    Packed,
    PlaceSum,
    PowerSheet,
)
from server.domain.load.work import LOAD_CHECKS, work_cautions
from server.domain.said import said
from server.domain.workings.case import Case
from server.flow.views import BenchView
from server.rim.phrasebook.tell import plain

ORDER = ("stop", "watch", "unknown", "sound")
_Block = TypeVar("_Block")


@dataclass(frozen=True)
class LoadBlocks:
    """What a load sheet holds, block by block.

    Attributes:
        cautions: what applies to this rig, the Sun's first. Where the lifts cannot be worked out, lifting's
            stands as well.
        findings: of the bench's own findings those of the load, the Sun's first, then the heaviest.
        places, balance, rough, lifts, power, packed: empty where their block cannot be worked out.
        troubles: why not, in whole sentences, by the block's name.
        limit_kg: above which a piece is not for one alone, and whether the owner set it.
    """

    cautions: tuple[SafetyNote, ...]
    findings: tuple[Finding, ...]
    places: tuple[PlaceSum, ...]
    balance: BalanceSheet
    rough: RoughBalance
    lifts: tuple[LiftLine, ...]
    power: PowerSheet
    packed: tuple[Packed, ...]
    troubles: dict[str, str]
    limit_kg: float
    own_limit: bool


def work_blocks(view: BenchView) -> LoadBlocks:
    """Work out each block of the rig's load by itself."""
    rig, troubles = view.rig, dict[str, str]()

    def guarded(name: str, work: Callable[[], _Block], otherwise: _Block) -> _Block:
        done = worked(said(f"work.{name}"), work)
        if isinstance(done, Failed):
            troubles[name] = plain(done.why)
            return otherwise
        return done

    case = Case(rig)
    no_lifts: tuple[LiftLine, ...] = ()
    lifts = guarded("lifts", lambda: work_lifts(case), no_lifts)
    kept = (f for f in view.findings if f.code.partition(".")[0] in LOAD_CHECKS)
    limit_kg = rig.load.lift_limit_kg
    return LoadBlocks(
        cautions=work_cautions(rig),
        findings=tuple(sorted(kept, key=lambda f: (not f.code.startswith("sun."), ORDER.index(f.weight)))),
        places=guarded("places", lambda: sum_places(case), ()),
        balance=guarded("balance", lambda: work_balance(case), BalanceSheet()),
        rough=guarded("rough", lambda: work_rough(case), RoughBalance()),
        lifts=lifts,
        power=guarded("power", lambda: work_power(rig), PowerSheet()),
        packed=guarded("packed", lambda: pack(rig), ()),
        troubles=troubles,
        limit_kg=HEAVY_ALONE_KG if limit_kg is None else limit_kg,
        own_limit=limit_kg is not None,
    )
