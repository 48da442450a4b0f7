"""The Bridge as its template sees it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import ClassVar

from markupsafe import Markup

from server.domain.findings import Finding
from server.domain.parts import CataloguedPart
from server.domain.train import Place
from server.flow.bridge_offers import Offer
from server.flow.bridge_stock import Source
from server.flow.bridge_wishes import Gap, Lead
from server.web.bridge.query import LEAD_WORDS, PUSH_WORDS, SOURCES, BridgeQuery


@dataclass(frozen=True)
class PartLine:
    """One part of a stack.

    Attributes:
        number: 1 for the first, as in the drawing.
        place: its place.
        length: written.
        stays: it must be there; `bought`: it would have to be bought, for `price`.
        without: the address of the same search without it, "" for what stays.
        borrowed: it is the club's.
    """

    number: int
    place: Place
    length: str
    stays: bool
    here: bool
    bought: bool
    price: str
    without: str
    borrowed: bool


@dataclass(frozen=True)
class GuideCard:
    """The guide chain of a stack.

    Attributes:
        drawing: to the page's common scale; parts: in order, from the side port.
        ends: "from the side port of X to Y".
        main, guide, off: the two paths from the prism, and how they differ, written.
        uses: what puts it in.
    """

    drawing: Markup
    parts: tuple[PartLine, ...]
    ends: str
    main: str
    guide: str
    off: str
    uses: str


@dataclass(frozen=True)
class Alike:
    """A stack that is alike to the one of a line: how it differs by name, its price, what puts it in."""

    words: str
    price: str
    uses: str
    branch: str | None


@dataclass(frozen=True)
class Card:
    """One stack, drawn.

    Attributes:
        rank: 1 for the best.
        drawing: to the page's common scale.
        parts: in order, sky first.
        price: what is to be spent, "nothing to buy" where that is nothing.
        error: "0.02 mm too far", written; `exact` where it is nothing.
        uses: what puts it in.
        judged: what the checks say against it; empty where they are content.
        guide: the guide chain that goes with it, None where none was asked for.
        alike: those that differ only by which of equal parts is taken.
    """

    rank: int
    offer: Offer
    drawing: Markup
    parts: tuple[PartLine, ...]
    price: str
    joints: int
    length: str
    error: str
    mass: str
    narrowest: str
    uses: str
    judged: tuple[Finding, ...]
    guide: GuideCard | None = None
    alike: tuple[Alike, ...] = ()


@dataclass(frozen=True)
class Line:
    """A line of the table of stacks.

    Attributes:
        number: 1 for the best.
        words: how it differs from the best; `count` how many stacks it stands for.
        error, price, parts, mass, chance: written; the chance that the finished train fits.
        unbeaten: no other stack beats it in everything at once.
        judged: what the checks say against it and not against the best.
        toggle: the address at which it is drawn, or no longer is; `card` where it is drawn.
    """

    number: int
    words: str
    count: int
    error: str
    price: str
    parts: int
    mass: str
    chance: str
    unbeaten: bool
    judged: tuple[Finding, ...]
    toggle: str
    card: Card | None


@dataclass(frozen=True)
class Ring:
    """A ring that would close the gap: in words, how long it is best, and the connections it can go onto."""

    words: str
    length: str
    seats: tuple[str, ...]


@dataclass(frozen=True)
class Miss:
    """Why no stack exists: a sentence, the single rings that would close the gap, and the nearest miss."""

    sentence: str
    closings: tuple[Ring, ...]
    card: Card | None


@dataclass(frozen=True)
class LeftOutLine:
    """Parts that were not searched, for one reason: the first of them, and how many more there are."""

    reason: str
    items: tuple[CataloguedPart, ...]
    more: int


@dataclass(frozen=True)
class RefusedRing:
    """A ring that could not be wished for: onto what, the length that was typed, and why."""

    seat: str
    typed: str
    why: str


@dataclass(frozen=True)
class BridgePage:
    """A gap with the stacks that close it.

    Attributes:
        rig_id, name, version: the rig; putting a stack in names the version.
        query: what the form says; `errors` a sentence for each field that could not be taken.
        trouble: why nothing can be searched, "" where something can.
        places: the rig's places, for choosing the ends; `gap` what was found.
        guidable: whether the rig has an off-axis guider and a guide camera.
        movable: places that could stay or go.
        glueable: parts that can be named as glued.
        unwanted: parts that are not wanted.
        asked: what is asked for, in one line; `facts` (words, figure) of the gap, and how it came about.
        running: whether the search goes on; `stopped` whether it was stopped; `seconds` how long it has run;
            `before` how many others come before it, None where it has begun.
        verdict: what is proven, in a sentence; `proven` whether it is.
        best: the best stack; `lines` all of them, alike ones on one line; `found` how many that are.
        miss: why there is none; `wished` the ring that was just wished for, `refused` one that
            could not be.
        front_drawing, front_words: the unbeaten stacks as a plot, and whether these are all.
        left_out: parts that are not searched.
        searched: how many kinds of part are.
        wish, poll, stop, again: addresses of this state.
    """

    template: ClassVar[str] = "bridge/bridge.html"

    rig_id: int
    name: str
    version: int
    query: BridgeQuery
    errors: dict[str, str]
    trouble: str
    places: tuple[Place, ...]
    sky: int | None = None
    camera: int | None = None
    gap: Gap | None = None
    guidable: bool = False
    movable: tuple[Place, ...] = ()
    glueable: tuple[CataloguedPart, ...] = ()
    glued: tuple[tuple[str, str], ...] = ()
    unwanted: tuple[tuple[int, str], ...] = ()
    title: str = ""
    asked: str = ""
    facts: tuple[tuple[str, str], ...] = ()
    hints: tuple[tuple[str, str], ...] = ()
    running: bool = False
    stopped: bool = False
    seconds: int = 0
    before: int | None = None
    verdict: str = ""
    proven: bool = False
    best: Card | None = None
    lines: tuple[Line, ...] = ()
    found: int = 0
    miss: Miss | None = None
    wished: CataloguedPart | None = None
    refused: RefusedRing | None = None
    front_drawing: Markup | None = None
    front_words: str = ""
    left_out: tuple[LeftOutLine, ...] = ()
    searched: int = 0
    wish: str = ""
    patient: str = ""
    poll: str = ""
    stop: str = ""
    again: str = ""

    @property
    def chances(self) -> bool:
        """Whether the chance of any stack is known."""
        return any(line.chance for line in self.lines)

    @property
    def hint(self) -> dict[str, str]:
        """What an empty field of the form stands for."""
        return dict(self.hints)

    sources: ClassVar[Mapping[Source, str]] = SOURCES
    leads: ClassVar[Mapping[Lead, str]] = LEAD_WORDS
    pushes: ClassVar[dict[str, str]] = PUSH_WORDS
