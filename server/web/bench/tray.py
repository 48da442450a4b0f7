"""The tray: parts of the shelf or the catalogue, those first that fit the joint or place that is meant."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from server.domain.parts import KINDS, CataloguedPart, OffAxisGuider
from server.domain.train import BRANCH_KINDS
from server.flow.protocols import PartPage, PartQuery
from server.flow.views import BenchView
from server.flow.workbench import Workbench

TRAY_LINES = 30
FITTING_LINES = 8
ENDS = ("optical_tube", "camera")


@dataclass(frozen=True)
class Tray:
    """Parts to put into the train.

    Attributes:
        text, kind, whole: what is looked for; `whole` looks in the whole catalogue, not on the shelf alone.
        at: the joint that is meant, None for none.
        swap: key of the place that is to be swapped, None for none.
        wheel: key of the place whose filters are meant, None for none.
        guide: the parts before the guide camera are meant.
        open: whether it is shown at all.
        meant: words for what the parts are wanted for, "" for the plain tray.
        fitting: parts that mate at the joint; `fitting_words` says in what way.
        aside: that none of the kind that is asked for was found, and others are shown.
        others: the other parts found.
        lent: of which of these parts the club lends how many.
        total: how many there are in all, `more` whether the list is cut.
    """

    text: str = ""
    kind: str = ""
    whole: bool = False
    at: int | None = None
    swap: int | None = None
    wheel: int | None = None
    guide: bool = False
    open: bool = False
    meant: str = ""
    fitting: tuple[CataloguedPart, ...] = ()
    fitting_words: str = ""
    aside: str = ""
    others: tuple[CataloguedPart, ...] = ()
    lent: Mapping[int, int] = field(default_factory=dict)
    total: int = 0
    more: bool = False

    @property
    def query(self) -> dict[str, object]:
        """The tray's state for an address."""
        return {
            "q": self.text,
            "kind": self.kind,
            "whole": self.whole,
            "at": self.at,
            "swap": self.swap,
            "wheel": self.wheel,
            "guide": self.guide,
            "tray": self.open,
        }


def fill_tray(bench: Workbench, view: BenchView, tray: Tray) -> Tray:
    """Look up the tray's parts; where a joint or a place is meant, what fits there comes first."""
    query = PartQuery(
        bench.observer.id,
        text=tray.text,
        kind=tray.kind,
        holding="catalogue" if tray.whole else "at_hand",
        limit=TRAY_LINES,
    )
    if tray.wheel is not None:
        query = replace(query, kind="filter")
    meant_for = tray.guide or any(one is not None for one in (tray.at, tray.swap, tray.wheel))
    if not (tray.open or meant_for or view.rig.train.tube is None or view.rig.train.camera is None):
        return tray
    swapped = next((place.item for place in view.rig.train if place.key == tray.swap), None)
    if swapped is not None and swapped.kind in ENDS:
        query = replace(query, kind=swapped.kind)
    found = bench.find_parts(query)
    fitting, words, meant = _fitting(bench, view, tray, query)
    aside = ""
    if not (found.lines or fitting) and tray.kind and tray.text:
        # Of a kind that was asked for before; what is looked for now may be of another.
        found = bench.find_parts(replace(query, kind=""))
        aside = f"No {KINDS[tray.kind].kind_words} matches. Of other kinds:" if found.lines else ""
    known = {item.id for item in fitting}
    others = tuple(item for item in tray_parts(found) if item.id not in known)
    if swapped is not None:
        # The part itself is no other one, and what is of its kind comes first.
        fitting = tuple(item for item in fitting if item.id != swapped.id)
        others = tuple(
            sorted((i for i in others if i.id != swapped.id), key=lambda item: item.kind != swapped.kind)
        )
    if tray.guide:
        others = tuple(item for item in others if item.kind in BRANCH_KINDS)
    shown = [item.id for item in (*fitting, *others)]
    return replace(
        tray,
        open=True,
        meant=meant,
        fitting=fitting,
        fitting_words=words,
        aside=aside,
        others=others,
        lent={number: held.lent for number, held in bench.holdings(shown).items() if held.lent},
        total=found.total,
        more=found.total > len(found.lines),
    )


def _fitting(
    bench: Workbench, view: BenchView, tray: Tray, query: PartQuery
) -> tuple[tuple[CataloguedPart, ...], str, str]:
    """(parts that fit, in what way, what they are wanted for) at the joint or place that is meant."""
    train = view.rig.train
    if tray.guide:
        return _before_guide_camera(bench, view, query)
    place = next((p for p in train if p.key in (tray.swap, tray.wheel)), None)
    if place is not None and tray.wheel is not None:
        return (), "", f"A filter for {place.name}"
    if place is not None:
        index = train.index_of(place)
        meant = f"In place of {place.name}"
    elif tray.at is not None and len(train):
        index = min(tray.at, len(train))
        meant = f"After {train.places[index - 1].name}" if index else f"Before {train.places[0].name}"
    else:
        return (), "", ""
    upper = train.places[index - 1].camera_connection if index else None
    lower_at = index + 1 if place is not None else index
    lower = train.places[lower_at].sky_connection if lower_at < len(train) else None
    sides = [side for side in (upper, lower) if side is not None]
    lists = [tray_parts(bench.find_parts(replace(query, mates_with=side))) for side in sides]
    if not lists:
        return (), "", meant
    both = [item for item in lists[0] if all(item in other for other in lists[1:])]
    some = [item for found in lists for item in found if item not in both]
    fitting = tuple(dict.fromkeys([*both, *some]))[:FITTING_LINES]
    return fitting, "Mate at this joint", meant


def _before_guide_camera(
    bench: Workbench, view: BenchView, query: PartQuery
) -> tuple[tuple[CataloguedPart, ...], str, str]:
    """What mates at the end of the guide camera's branch as it stands, as `_fitting` says it."""
    rig = view.rig
    side = None if rig.guider is None else rig.guider.part
    upper = side.side_port if isinstance(side, OffAxisGuider) else None
    for place in rig.branch:
        if place.item.kind != "shim":
            upper = place.camera_connection
    meant = "Before the guide camera"
    if upper is None:
        return (), "", meant
    found = tray_parts(bench.find_parts(replace(query, mates_with=upper)))
    fitting = tuple(item for item in found if item.kind in BRANCH_KINDS)[:FITTING_LINES]
    return fitting, "Mate at the end of the guide chain", meant


def tray_parts(page: PartPage) -> tuple[CataloguedPart, ...]:
    """The parts of a page of lines."""
    return tuple(line.item for line in page.lines)
