"""Observers of this install: who there is, a new one, and the units that one reads."""

from __future__ import annotations

from typing import Annotated, Self

from pydantic import BaseModel, Field

from server.api.deps import ReadingBench, WritingBench
from server.api.errors import CHANGING, LOOKING
from server.api.naming import operations
from server.api.reading import Body
from server.domain.observer import Observer, UnitSystem
from server.flow.keep_observers import new_observer
from server.handed import ReadingStore, WritingStore

router = operations("observers", "/observers")
everyone = operations("observers", "/observers")
"""What the hosted form has not: there nobody sees who else is there."""

Units = Annotated[UnitSystem, Field(description="The units that the observer reads; nothing stored changes.")]


class ObserverAnswer(BaseModel):
    """An observer."""

    id: int
    name: str = Field(examples=["Ana"])
    units: Units

    @classmethod
    def of(cls, observer: Observer) -> Self:
        """The answer for an observer."""
        return cls(id=observer.id, name=observer.name, units=observer.units)


class NewObserver(Body):
    """Someone who begins with an empty shelf."""

    name: str = Field(
        max_length=200,
        description="Not taken yet, letter case apart; at most 80 characters.",
        examples=["Ana"],
    )
    units: Units = "metric"


class ReadIn(Body):
    """A choice of units."""

    units: Units


@everyone.get("")
def list_observers(store: ReadingStore) -> tuple[ObserverAnswer, ...]:
    """Everyone of this install, by name. Not in the hosted form."""
    return tuple(ObserverAnswer.of(observer) for observer in store.observers())


@everyone.post("", status_code=201, responses=CHANGING)
def add_observer(store: WritingStore, body: NewObserver) -> ObserverAnswer:
    """Take in an observer with an empty shelf. Not in the hosted form."""
    return ObserverAnswer.of(new_observer(store, body.name, body.units))


@router.get("/{observer_id}", responses=LOOKING)
def show_observer(bench: ReadingBench) -> ObserverAnswer:
    """One observer."""
    return ObserverAnswer.of(bench.observer)


@router.put("/{observer_id}/units", responses=CHANGING)
def choose_units(bench: WritingBench, body: ReadIn) -> ObserverAnswer:
    """Choose the units in which sentences are written for this observer."""
    bench.read_in(body.units)
    return ObserverAnswer.of(bench.store.observer(bench.observer.id))
