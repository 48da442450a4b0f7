"""The Bridge: the stacks of rings and adapters that close a gap of a rig."""

from __future__ import annotations

import time
from typing import Annotated, Literal, Self

from pydantic import BaseModel, Field

from server.api.bench import RigNumber
from server.api.deps import HeavyBench
from server.api.errors import CHANGING
from server.api.findings import FindingAnswer, write_findings
from server.api.naming import operations
from server.api.reading import Body, ChangeDocument
from server.api.shelf import PartBrief
from server.domain.errors import RefusedError
from server.domain.measure import Money
from server.domain.observer import UnitSystem
from server.flow.bridge_offers import Offer, offer_of, offers_of, search_pairs, search_stacks
from server.flow.bridge_pose import Posed, connection_words
from server.flow.bridge_wishes import Gap, Wishes
from server.handed import LARGEST_NUMBER
from server.rim.phrasebook.tell import plain, tell, write_words
from server.search.pairs import NoPair, PairOutcome
from server.search.problem import Nearest, Outcome

router = operations("bridge", "/observers/{observer_id}/rigs")

LONGEST_S = 20.0
"""A request ends after this with what it has found, not proven."""

Key = Annotated[int, Field(ge=0, le=LARGEST_NUMBER)]
PartNumber = Annotated[int, Field(ge=1, le=LARGEST_NUMBER)]
Millimetres = Annotated[float, Field(ge=0, le=500)]


class BridgeRequest(Body):
    """What is asked of a stack; null leaves a figure to what the rig itself asks for."""

    joint: Key | None = Field(default=None, description="The key of the place below the joint that is meant.")
    sky: Key | None = Field(default=None, description="The key of the end towards the sky.")
    camera: Key | None = Field(default=None, description="The key of the end towards the camera.")
    distance_mm: Millimetres | None = None
    short_mm: Millimetres | None = Field(default=None, description="How much it may be short.")
    long_mm: Millimetres | None = None
    source: Literal["owned", "wished", "catalogue"] = "catalogue"
    clear_mm: Millimetres | None = Field(default=None, description="Smallest clear aperture; 0: none.")
    most_kg: float | None = Field(default=None, gt=0, le=50)
    most_joints: int = Field(default=9, ge=1, le=14)
    push_fit: bool | None = Field(default=None, description="null: only where an end is push-fit.")
    free_order: bool = False
    leave: list[Key] = Field(default=[], max_length=40, description="Keys of places that need not stay.")
    without: list[PartNumber] = Field(default=[], max_length=100, description="Parts that are not wanted.")
    glued: list[Annotated[list[PartNumber], Field(min_length=2, max_length=2)]] = Field(
        default=[], max_length=10, description="Pairs of parts that are one piece."
    )
    lead: Literal["fit", "money", "joints", "error"] = Field(
        default="fit", description="fit: money, then error, then joints."
    )
    guide: bool = Field(default=False, description="Focus the guide camera of the off-axis guider too.")
    guide_mm: Annotated[float, Field(ge=0, le=20)] | None = Field(
        default=None, description="How much the guide path may differ from the main one."
    )

    def wishes(self) -> Wishes:
        """The same as the flow takes it."""
        given = self.model_dump()
        pairs = tuple((pair[0], pair[1]) for pair in self.glued)
        lists = {"leave": tuple(self.leave), "without": tuple(self.without), "glued": pairs}
        return Wishes(**{**given, **lists})


class GapAnswer(BaseModel):
    """Where the stack goes, and what is asked of it."""

    sky: int
    camera: int
    distance_mm: float
    short_mm: float
    long_mm: float
    asked_for_by: str = Field(description="corrector, rules, focuser, typed or nobody.")
    asked_mm: float | None = Field(description="The back focus with glass allowed for.")
    outside_mm: float | None = Field(description="What of it lies outside the gap.")
    clear_mm: float
    to_enter: tuple[str, ...]

    @classmethod
    def of(cls, gap: Gap, units: UnitSystem) -> Self:
        """The answer for a gap."""
        return cls(
            sky=gap.sky.key,
            camera=gap.camera.key,
            distance_mm=gap.distance_mm,
            short_mm=gap.short_mm,
            long_mm=gap.long_mm,
            asked_for_by=gap.whose,
            asked_mm=gap.asked_mm,
            outside_mm=gap.outside_mm,
            clear_mm=gap.clear_mm,
            to_enter=tuple(write_words(note, units) for note in gap.notes),
        )


class BoughtAnswer(BaseModel):
    """A part that must be bought, and how many of it."""

    part: PartBrief
    quantity: int


class GuideAnswer(BaseModel):
    """The guide chain of a stack, from the off-axis guider's side port; the paths count from the prism."""

    parts: tuple[PartBrief, ...]
    main_mm: float = Field(description="To the main sensor, the shift by glass taken off.")
    guide_mm: float = Field(description="To the guide sensor.")


class StackAnswer(BaseModel):
    """One stack, sky first, with what the checks say of the rig that has it in."""

    parts: tuple[PartBrief, ...]
    money: Money | None = Field(description="What is to be spent; null where nothing is priced.")
    bought: tuple[BoughtAnswer, ...]
    joints: int
    length_mm: float
    error_mm: float = Field(description="Positive: the sensor sits too far from its place.")
    mass_kg: float
    unweighed: int = Field(description="How many of its parts have no known mass.")
    narrowest_mm: float | None
    guide: GuideAnswer | None
    change: ChangeDocument = Field(description="What puts it in, for /changes.")
    findings: tuple[FindingAnswer, ...]

    @classmethod
    def of(cls, offer: Offer, units: UnitSystem) -> Self:
        """The answer for a stack."""
        return cls(
            parts=tuple(PartBrief.of(place.item) for place in offer.places),
            money=offer.money,
            bought=tuple(BoughtAnswer(part=PartBrief.of(i), quantity=n) for i, n in offer.bought),
            joints=offer.joints,
            length_mm=offer.length_mm,
            error_mm=offer.error_mm,
            mass_kg=offer.mass_kg,
            unweighed=offer.unweighed,
            narrowest_mm=None if offer.narrowest is None else offer.narrowest[1],
            guide=None
            if offer.guide is None
            else GuideAnswer(
                parts=tuple(PartBrief.of(place.item) for place in offer.guide.places),
                main_mm=offer.guide.main_mm,
                guide_mm=offer.guide.guide_mm,
            ),
            change=offer.change,
            findings=write_findings(map(tell, offer.findings), units),
        )


class ClosingAnswer(BaseModel):
    """A single ring that would close the gap."""

    length_mm: float
    at: tuple[str, ...] = Field(description="The connections at which it can sit.")


class NearestAnswer(BaseModel):
    """Why no stack lies within the tolerance, and how near the nearest comes."""

    why: str = Field(description="unreachable, length, mass or quantity.")
    proven: bool
    stack: StackAnswer | None
    closings: tuple[ClosingAnswer, ...]

    @classmethod
    def of(cls, posed: Posed, nearest: Nearest, units: UnitSystem) -> Self:
        """The answer for a miss."""
        words = connection_words(posed)
        stack = None if nearest.stack is None else StackAnswer.of(offer_of(posed, nearest.stack), units)
        closings = tuple(
            ClosingAnswer(
                length_mm=one.length / 100.0, at=tuple(words[node] for node in one.nodes if node in words)
            )
            for one in nearest.closings
        )
        return cls(why=nearest.why, proven=nearest.proven, stack=stack, closings=closings)


class LeftOutAnswer(BaseModel):
    """Parts that were not searched, for one reason."""

    reason: str
    parts: tuple[int, ...]


class BridgeAnswer(BaseModel):
    """The stacks that close a gap, best first."""

    gap: GapAnswer
    stacks: tuple[StackAnswer, ...]
    proven: bool = Field(description="Nothing better exists with the parts that were searched.")
    all_there_are: bool = Field(description="Fewer stacks exist than would be shown.")
    nearest: NearestAnswer | None
    searched: int = Field(description="How many parts were searched.")
    left_out: tuple[LeftOutAnswer, ...]


@router.post("/{rig_id}/bridge", responses=CHANGING)
def bridge_rig(bench: HeavyBench, rig_id: RigNumber, body: BridgeRequest) -> BridgeAnswer:
    """Look for the stacks that close a gap; nothing is changed. `change` of a stack puts it in."""
    view = bench.bridge(rig_id, body.wishes())
    if view.posed is None:
        raise RefusedError(view.trouble)
    posed, units = view.posed, bench.observer.units
    until = time.monotonic() + LONGEST_S
    outcome: Outcome | PairOutcome
    if posed.side is None:
        outcome = search_stacks(posed, lambda _: time.monotonic() < until)
    else:
        outcome = search_pairs(posed, lambda _: time.monotonic() < until)
    missed = outcome.nearest
    # Of a pair that cannot be built the main chain's miss is told, where that is the one that fails.
    missed = missed.main if isinstance(missed, NoPair) else missed
    nearest = None if missed is None else NearestAnswer.of(posed, missed, units)
    return BridgeAnswer(
        gap=GapAnswer.of(posed.gap, units),
        stacks=tuple(StackAnswer.of(offer, units) for offer in offers_of(posed, outcome)),
        proven=outcome.proven,
        all_there_are=outcome.exhausted,
        nearest=nearest,
        searched=len(posed.pieces.pieces),
        left_out=tuple(
            LeftOutAnswer(reason=plain(one.reason), parts=tuple(item.id for item in one.items))
            for one in posed.left_out
        ),
    )
