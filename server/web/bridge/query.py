"""The Bridge's state as it stands in the address, and what of it could not be read."""

from __future__ import annotations

from dataclasses import replace
from typing import cast, get_args

from pydantic import BaseModel, Field

from server.domain.findings import ShortFinding
from server.domain.train import Train
from server.flow.bridge_stock import Source
from server.flow.bridge_wishes import Lead, Wishes
from server.units import Limits, QuantityError, read_quantity
from server.web.rendering import URLS

MOST_JOINTS = 14
Text = Field(default="", max_length=100)
Numbers = Field(default=(), max_length=100)

SOURCES: dict[Source, str] = {
    "owned": "what I own",
    "wished": "what I own, wish for or consider",
    "catalogue": "the whole catalogue",
}
LEAD_WORDS: dict[Lead, str] = {
    "fit": "money, then the fit",
    "money": "money, then joints, then error",
    "joints": "joints, then money, then error",
    "error": "error, then money, then joints",
}
MENDED = (
    "spacing.long",
    "spacing.short",
    "tolerances.may_leave",
    "reach.inwards",
    "reach.outwards",
    "joints.gender",
    "joints.size",
    "joints.kind",
    "guide_branch.open",
    "guide_branch.long",
    "guide_branch.short",
    "guide_branch.long_little",
    "guide_branch.short_little",
    "guide_branch.joint",
)
"""Findings that a stack may mend."""
PUSH_WORDS = {"": "only where an end is one", "yes": "allowed", "no": "none"}


def bridge_for(rig_id: int, finding: ShortFinding, train: Train) -> str:
    """The address at which the Bridge looks for what mends a finding of a train; "" where none does."""
    if finding.code not in MENDED:
        return ""
    if finding.code.startswith("guide_branch."):
        return URLS.bridge(rig_id, guide=True)
    if finding.weight not in ("stop", "watch"):
        return ""
    if finding.code.startswith("joints."):
        return URLS.bridge(rig_id, joint=finding.place)
    if finding.code.startswith("reach.") and train.tube is not None and train.corrector is not None:
        # The focus is mended before the corrector: behind it the distance is the back focus.
        at = train.index_of(train.corrector)
        if finding.code == "reach.inwards" and at == train.index_of(train.tube) + 1:
            return ""
        return URLS.bridge(rig_id, joint=train.corrector.key)
    return URLS.bridge(rig_id)


class BridgeQuery(BaseModel):
    """Everything that the Bridge's form says; an empty field is what the rig itself asks for."""

    joint: int | None = Field(default=None, ge=0, le=2**53)
    sky: int | None = Field(default=None, ge=0, le=2**53)
    camera: int | None = Field(default=None, ge=0, le=2**53)
    distance: str = Text
    short: str = Text
    long: str = Text
    source: str = Text
    clear: str = Text
    mass: str = Text
    joints: str = Text
    push: str = Text
    free: bool = False
    lead: str = Text
    guide: bool = False
    guide_off: str = Text
    leave: tuple[int, ...] = Numbers
    without: tuple[int, ...] = Numbers
    glued: tuple[str, ...] = Numbers
    glue_a: str = Text
    glue_b: str = Text
    open: tuple[int, ...] = Numbers
    wished: int | None = Field(default=None, ge=0, le=2**53)
    wait: bool = False
    again: bool = False

    @property
    def pairs(self) -> tuple[tuple[int, int], ...]:
        """The glued pairs, the one that was just chosen with them."""
        texts = [*self.glued, f"{self.glue_a}-{self.glue_b}"]
        found = []
        for text in texts:
            first, _, second = text.partition("-")
            if _whole(first) and _whole(second) and first != second:
                found.append((int(first), int(second)))
        return tuple(dict.fromkeys(found))

    def state(self, **more: object) -> dict[str, object]:
        """The state for an address, some of it changed; what is as usual is left out."""
        values: dict[str, object] = self.model_dump(exclude={"wait", "again", "wished", "glue_a", "glue_b"})
        values["glued"] = tuple(f"{a}-{b}" for a, b in self.pairs)
        values |= more
        usual = {"source": "catalogue", "lead": "fit", "joints": "9"}
        return {
            name: value
            for name, value in values.items()
            if value is not None and value not in ("", (), False) and usual.get(name) != value
        }


def _whole(text: str) -> bool:
    return text.isascii() and text.isdigit() and len(text) < 16


def read_wishes(query: BridgeQuery) -> tuple[Wishes, dict[str, str]]:
    """What the query asks for, and a sentence for each field that could not be taken."""
    errors: dict[str, str] = {}

    def length(name: str, text: str, highest: float, *, above: bool = False) -> float | None:
        if not text.strip():
            return None
        try:
            return read_quantity(text, "length", None, Limits(0.0, highest, above)).nominal
        except QuantityError as error:
            errors[name] = error.message
            return None

    mass = None
    if query.mass.strip():
        try:
            mass = read_quantity(query.mass, "mass", "g", Limits(0.0, 50.0, True)).nominal
        except QuantityError as error:
            errors["mass"] = error.message
    joints = Wishes().most_joints
    if query.joints.strip():
        if _whole(query.joints.strip()) and 1 <= int(query.joints) <= MOST_JOINTS:
            joints = int(query.joints)
        else:
            errors["joints"] = (
                f"{query.joints.strip()} is no number of joints: give a whole one, 1 to {MOST_JOINTS}."
            )
    wishes = Wishes(
        joint=query.joint if query.sky is None and query.camera is None else None,
        sky=query.sky,
        camera=query.camera,
        distance_mm=length("distance", query.distance, 500.0),
        short_mm=length("short", query.short, 100.0),
        long_mm=length("long", query.long, 100.0),
        clear_mm=length("clear", query.clear, 300.0),
        most_kg=mass,
        most_joints=joints,
        push_fit={"yes": True, "no": False}.get(query.push),
        free_order=query.free,
        leave=tuple(sorted(set(query.leave))),
        without=tuple(sorted(set(query.without))),
        glued=query.pairs,
        guide=query.guide,
        guide_mm=length("guide_off", query.guide_off, 20.0) if query.guide else None,
    )
    if query.source in get_args(Source):
        wishes = replace(wishes, source=cast(Source, query.source))
    if query.lead in get_args(Lead):
        wishes = replace(wishes, lead=cast(Lead, query.lead))
    return wishes, errors


def write_uses(uses: tuple[tuple[int, bool, int | None], ...]) -> str:
    """A stack as one text: part, `t` where it is turned round, `@` and the key of the place that it keeps."""
    return ",".join(
        f"{part}{'t' if flipped else ''}{'' if place is None else f'@{place}'}"
        for part, flipped, place in uses
    )


def read_uses(text: str) -> tuple[tuple[int, bool, int | None], ...] | None:
    """What `write_uses` wrote; None for what it never writes."""
    found: list[tuple[int, bool, int | None]] = []
    for one in text.split(",") if text else ():
        head, at, place = one.partition("@")
        number = head.removesuffix("t")
        if not _whole(number) or (at and not _whole(place)):
            return None
        found.append((int(number), head.endswith("t"), int(place) if at else None))
    return tuple(found)
