"""A candidate of the Scout as a rig: looked at, its back focus closed by the Bridge, put on the bench."""

from __future__ import annotations

import time
from collections.abc import Mapping
from dataclasses import dataclass, replace

from server.domain.errors import NotFoundError, RefusedError
from server.domain.observer import Holding
from server.domain.parts import CataloguedPart
from server.domain.rig import Rig
from server.domain.said import Words
from server.domain.scout.candidates import BESIDE, bare_rig, read_key
from server.domain.scout.needs import Needs
from server.flow.assemble_train import AddPart, Change, SetGear
from server.flow.bridge_branch import pose_gap
from server.flow.bridge_gap import find_gap
from server.flow.bridge_offers import Offer, offers_of, search_stacks
from server.flow.bridge_wishes import Wishes
from server.flow.protocols import Stock, Store
from server.flow.scout import choice_of

PATIENT_S = 2.0
"""How long the Bridge looks for a candidate's rings; what it has then is taken."""
LONGEST_NAME = 100


@dataclass(frozen=True)
class Closing:
    """How a candidate's back focus is closed.

    Attributes:
        rig: what one press puts on the bench, with the rings that were found.
        offer: the best stack that was found, None for none. trouble: why nothing could be looked for.
    """

    rig: Rig
    offer: Offer | None = None
    trouble: Words = ""


def parts_named(store: Store, observer_id: int, key: str) -> tuple[CataloguedPart, ...]:
    """The parts of the combination that an address names, of the whole catalogue. Raises NotFoundError."""
    candidate = read_key(key)
    choice = choice_of(store, observer_id, Needs(considered=True))
    if candidate is not None:
        beside = store.known_parts(candidate.beside).values()
        choice = replace(choice, beside=tuple(item for item in beside if item.part.kind in BESIDE))
    parts = () if candidate is None else choice.parts_of(candidate)
    if not parts:
        raise NotFoundError("There is no combination of these parts here. Look with the Scout again.")
    return parts


def close_gap(rig: Rig, stock: Stock, shelf: Mapping[int, Holding]) -> Closing:
    """Look for the rings between a candidate's corrector and its camera, a little while."""
    wishes = Wishes()
    try:
        posed = pose_gap(find_gap(rig, wishes), wishes, stock, shelf)
    except RefusedError as error:
        return Closing(rig, None, error.message)
    began = time.monotonic()
    outcome = search_stacks(posed, lambda _: time.monotonic() - began < PATIENT_S)
    offers = offers_of(posed, outcome)
    return Closing(offers[0].rig, offers[0]) if offers else Closing(rig)


def name_of(parts: tuple[CataloguedPart, ...]) -> str:
    """What the rig of a candidate is called."""
    return " with ".join(item.name for item in parts[:2])[:LONGEST_NAME]


def steps_of(parts: tuple[CataloguedPart, ...]) -> list[Change]:
    """The changes that put a candidate's parts on an empty bench."""
    chain = [item for item in parts if item.part.on_path]
    gear = [item for item in parts if not item.part.on_path]
    steps: list[Change] = [AddPart(part_id=item.id, at=at) for at, item in enumerate(chain)]
    return [*steps, *(SetGear(part_id=item.id, quantity=1) for item in gear)]


def rig_to_close(parts: tuple[CataloguedPart, ...]) -> Rig:
    """A candidate's rig as it stands before its rings are in."""
    return bare_rig(parts)
