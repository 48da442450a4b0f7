"""The Scout: rigs worth considering for what one wants, and why."""

from __future__ import annotations

from itertools import zip_longest
from typing import Annotated, Self

from fastapi import Query
from pydantic import BaseModel, Field

from server.api.deps import HeavyBench, ReadingBench, WritingBench
from server.api.errors import CHANGING, LOOKING
from server.api.naming import operations
from server.api.reading import Body, NeedsDocument
from server.domain.scout.candidates import NO_CORRECTOR, read_key
from server.domain.scout.measures import ENDS
from server.domain.scout.needs import MeasureName, Needs, StoredNeeds
from server.flow.open_figures import figures_that_matter
from server.flow.scout import Answer, ask, choice_of, gains_of, others_of
from server.flow.scout_stops import MOST_LOOKED_AT, Looked, as_time_does_for, look_at
from server.flow.take_candidate import parts_named
from server.handed import Number
from server.rim.answer import stop_of
from server.rim.phrasebook.tell import plain
from server.rim.scout_words import against_words, beside_words, gain_words, said_of, whole_name, why_not_words
from server.rim.wording import write_phrase

router = operations("scout", "/observers/{observer_id}/scout")
Name = Annotated[str, Field(min_length=1, max_length=80)]
Key = Annotated[
    str,
    Field(
        max_length=80,
        description="Tube, corrector, camera, mount (0: none), then what they carry.",
    ),
]


class FigureAnswer(BaseModel):
    """A measure, and its honest ends where nobody has said a figure of the tube; null is not known."""

    value: float | None
    low: float | None
    high: float | None


class CandidateAnswer(BaseModel):
    """A combination. Cost in the needs' currency, masses in kg, hours in h, stars in arcsec (corner_px in
    pixels), room in mm, power in W, shares of 1.
    """

    key: str
    name: str
    tube_id: int
    corrector_id: int | None
    camera_id: int
    mount_id: int | None
    beside_ids: tuple[int, ...] = Field(description="What it carries for guiding and filters.")
    meets_needs: bool
    on_front: bool
    measures: dict[MeasureName, FigureAnswer]
    fills: tuple[float | None, ...] = Field(description="How much of the frame each target takes.")
    hours: tuple[float | None, ...] = Field(description="For each target.")

    @classmethod
    def of(cls, answer: Answer, number: int) -> Self:
        """The answer for one combination."""
        table, candidate = answer.table, answer.table.candidate(number)
        names = table.measures["value"]
        return cls(
            key=candidate.key,
            name=whole_name(answer, number),
            tube_id=candidate.tube,
            corrector_id=None if candidate.corrector == NO_CORRECTOR else candidate.corrector,
            camera_id=candidate.camera,
            mount_id=candidate.mount or None,
            beside_ids=candidate.beside,
            meets_needs=bool(answer.judged.passes[number]),
            on_front=bool((answer.front == number).any()),
            measures={
                name: FigureAnswer(**{end: _known(float(table.measures[end][name][number])) for end in ENDS})
                for name in names
            },
            fills=tuple(_known(float(one)) for one in table.fills[:, number]),
            hours=tuple(_known(float(one)) for one in table.hours[:, number]),
        )


class WhyAnswer(BaseModel):
    """A combination that is not on the front, and why."""

    key: str
    name: str
    why: str


class MattersAnswer(BaseModel):
    """A figure that could change the answer."""

    words: str
    part_id: int | None
    field: str


class ScoutAnswer(BaseModel):
    """What meets the needs, what of that no other beats, and why not the others."""

    words: str
    combinations: int = 0
    passing: int = 0
    unmeasured: int = Field(
        0, description="Of the passing, those of which a measure of the front is unknown."
    )
    targets: tuple[str, ...] = ()
    front: tuple[CandidateAnswer, ...] = ()
    others: tuple[WhyAnswer, ...] = Field(
        (), description="One combination of each tube that is not on the front."
    )
    beside: str = Field("", description="What each combination carries for guiding and filters.")
    gains: tuple[str, ...] = Field((), description="What each need costs.")
    against: str = Field(
        "", description="Needs that nothing meets together; empty where something meets all."
    )
    matters: tuple[MattersAnswer, ...] = Field((), description="Figures to find out first.")


class TableAnswer(BaseModel):
    """One page of all combinations."""

    candidates: tuple[CandidateAnswer, ...]
    offset: int
    total: int


class KeptAnswer(BaseModel):
    """Needs that were kept."""

    id: int
    name: str
    needs: Needs

    @classmethod
    def of(cls, kept: StoredNeeds) -> Self:
        """The answer for kept needs."""
        return cls(id=kept.id, name=kept.name, needs=kept.needs)


class NewKept(Body):
    """Needs to be kept by a name, in place of those that have it."""

    name: Name
    needs: NeedsDocument


class ScoutRequest(Body):
    """What one wants; null and empty leave open."""

    needs: NeedsDocument = Field(default=Needs(), examples=[{"budget": 2000, "lift_kg": 10}])


class StopsRequest(ScoutRequest):
    """Combinations of what these needs choose from that are to be looked at on the bench."""

    keys: Annotated[list[Key], Field(max_length=MOST_LOOKED_AT)]


class StopAnswer(BaseModel):
    """What stops a combination on the bench."""

    key: str
    looked_at: bool = Field(description="False where the time did not do: ask again with fewer.")
    stop: str = Field(description="The first that stops it as it is put on the bench; empty for nothing.")


class Taken(Body):
    """A combination that is to stand on the bench."""

    key: Key


class TakenAnswer(BaseModel):
    """The rig that it has become."""

    rig_id: int


def _known(value: float) -> float | None:
    return value if abs(value) < float("inf") else None


@router.post("", responses=CHANGING)
def ask_scout(bench: HeavyBench, body: ScoutRequest) -> ScoutAnswer:
    """Ask for the rigs that meet needs and that no other beats."""
    _, answer = ask(bench.store, bench.observer.id, body.needs)
    units = bench.observer.units
    if answer is None:
        return ScoutAnswer(words="There is nothing to choose from: enter a tube and a camera first.")

    def why(number: int) -> WhyAnswer:
        words = why_not_words(answer, number, units)
        key = answer.table.candidate(number).key
        return WhyAnswer(key=key, name=whole_name(answer, number), why=words)

    return ScoutAnswer(
        words=said_of(answer),
        combinations=answer.table.count,
        passing=len(answer.passing),
        unmeasured=len(answer.unmeasured),
        targets=tuple(one.name for one in answer.targets),
        front=tuple(CandidateAnswer.of(answer, number) for number in map(int, answer.front)),
        others=tuple(map(why, others_of(answer))),
        beside=beside_words(answer, units),
        gains=tuple(gain_words(line, gains, body.needs.currency, units) for line, gains in gains_of(answer)),
        against=against_words(answer),
        matters=tuple(
            MattersAnswer(words=plain(one.says), part_id=one.part_id, field=one.field)
            for one in figures_that_matter(answer)
        ),
    )


@router.post("/table", responses=CHANGING)
def list_combinations(
    bench: HeavyBench,
    body: ScoutRequest,
    offset: Annotated[int, Query(ge=0, le=5_000_000)] = 0,
    limit: Annotated[int, Query(ge=1, le=1_000)] = 200,
) -> TableAnswer:
    """One page of all combinations, whether they meet the needs or not."""
    _, answer = ask(bench.store, bench.observer.id, body.needs)
    if answer is None:
        return TableAnswer(candidates=(), offset=offset, total=0)
    numbers = range(offset, min(offset + limit, answer.table.count))
    found = tuple(CandidateAnswer.of(answer, number) for number in numbers)
    return TableAnswer(candidates=found, offset=offset, total=answer.table.count)


@router.post("/stops", responses=CHANGING)
def look_at_combinations(bench: HeavyBench, body: StopsRequest) -> tuple[StopAnswer, ...]:
    """What stops combinations once they are put on the bench; those that are not among the parts chosen from
    are left out.
    """
    choice = choice_of(bench.store, bench.observer.id, body.needs)
    some = {one.key: parts for one in map(read_key, body.keys) if one and (parts := choice.parts_of(one))}

    def told(key: str, looked: Looked | None) -> StopAnswer:
        first = None if looked is None else stop_of(looked.findings)
        words = "" if first is None else write_phrase(first.phrase, bench.observer.units)
        return StopAnswer(key=key, looked_at=looked is not None, stop=words)

    looked = [look_at(bench, parts) for parts in as_time_does_for(some.values())]
    return tuple(told(key, one) for key, one in zip_longest(some, looked))


@router.post("/rigs", status_code=201, responses=CHANGING)
def take_combination(bench: WritingBench, body: Taken) -> TakenAnswer:
    """Put a combination on the bench: its rings by the Bridge, what is not owned on the wish list."""
    parts = parts_named(bench.store, bench.observer.id, body.key)
    return TakenAnswer(rig_id=bench.take_candidate(parts).id)


@router.get("/needs", responses=LOOKING)
def list_needs(bench: ReadingBench) -> tuple[KeptAnswer, ...]:
    """Needs that were kept, by name."""
    return tuple(map(KeptAnswer.of, bench.kept_needs()))


@router.post("/needs", status_code=204, responses=CHANGING)
def keep_needs(bench: WritingBench, body: NewKept) -> None:
    """Keep needs by a name, in place of those that have it."""
    bench.keep_needs(body.name, body.needs)


@router.delete("/needs/{needs_id}", status_code=204, responses=CHANGING)
def forget_needs(bench: WritingBench, needs_id: Number) -> None:
    """Forget needs."""
    bench.forget_needs(needs_id)
