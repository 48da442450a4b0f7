"""What a rig's owner says of its load beyond the parts: balance, lifts, the night, cables, cases, the Sun.

Everything is optional. A plan of which nothing is said reads as it did before there was one.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Literal, TypeVar

from pydantic import Field

from server.domain.measure import Frozen

Coupling = Literal["good", "fair", "poor"]
"""How well the hands hold a load: the three words of the revised NIOSH lifting equation."""

FedBy = Literal["straight", "converter", "port"]
"""How a device gets its current."""

MOST_LIFTS = 20
MOST_LIFTED = 60
MOST_LINES = 100
"""How many lifts a plan holds, how many parts one lift, how many cables, feeds, spots and cases a plan."""


class Lift(Frozen):
    """One lift as its owner means to make it.

    Attributes:
        name: what the owner calls it, such as "tube onto the saddle".
        parts: catalogue numbers of what goes together; one that is lifted twice over stands here twice.
        from_height_mm, to_height_mm: height of the hands above the floor where it is taken up and set down.
        reach_mm: from between the ankles to between the hands, level, where it is taken up.
        to_reach_mm: the same where it is set down; None: as at the start.
        twist_deg: how far the load is turned aside from straight ahead.
        per_minute: lifts a minute; 0.2 for one in five minutes or fewer.
        hours: how long the lifting goes on, with its like.
        coupling: how well the hands hold it.
        carry_mm: how far it is then carried; trips: how often.
        people: how many lift it together.
    """

    name: str = Field(min_length=1, max_length=80)
    parts: tuple[int, ...] = Field(min_length=1, max_length=MOST_LIFTED)
    from_height_mm: float | None = Field(default=None, ge=0, le=3000)
    to_height_mm: float | None = Field(default=None, ge=0, le=3000)
    reach_mm: float | None = Field(default=None, ge=0, le=2000)
    to_reach_mm: float | None = Field(default=None, ge=0, le=2000)
    twist_deg: float | None = Field(default=None, ge=0, le=180)
    per_minute: float = Field(default=0.2, ge=0, le=60)
    hours: float = Field(default=1.0, gt=0, le=8)
    coupling: Coupling | None = None
    carry_mm: float | None = Field(default=None, ge=0, le=10_000_000)
    trips: int = Field(default=1, ge=1, le=99)
    people: int = Field(default=1, ge=1, le=8)


class Cable(Frozen):
    """The lead of one consumer: its wire and how long it is, one way.

    `gauge_awg` by ASTM B258, or `area_mm2` of copper; one of the two. Of several pieces of one part each has
    a lead like this one, unless it is `shared` and carries the current of them all.
    """

    part_id: int
    length_mm: float = Field(gt=0, le=100_000)
    gauge_awg: int | None = Field(default=None, ge=0, le=40)
    area_mm2: float | None = Field(default=None, gt=0, le=200)
    shared: bool = False


class Feed(Frozen):
    """How a device gets its current, where the battery's voltage does not say it.

    `by`: straight from the battery, through the converter, or from the port of another device such as a
    computer, `port_of`, which draws its current then.
    """

    part_id: int
    by: FedBy
    port_of: int | None = None


class Spot(Frozen):
    """Where a piece of gear sits on the tube, or on the counterweight bar.

    Attributes:
        part_id: which gear.
        along_mm: its middle, from the front of the tube towards the camera; of gear that rides on the bar:
            from the polar axis along the bar.
        above_mm: its middle above the face of the saddle; None: not said, or on the bar.
    """

    part_id: int
    along_mm: float = Field(ge=-10_000, le=20_000)
    above_mm: float | None = Field(default=None, ge=-2000, le=5000)


class CaseUse(Frozen):
    """The case that a part travels in; a part that no line names travels loose."""

    part_id: int
    case: str = Field(min_length=1, max_length=60)


_Line = TypeVar("_Line", Cable, Feed, Spot, CaseUse)


class LoadPlan(Frozen):
    """All that a rig's owner says of its load.

    Attributes:
        balance_mm: measured balance point of the whole loaded tube, from the front of the tube; it wins over
            what is worked out.
        clamp_mm: middle of the saddle's clamp, from the front of the tube.
        drawtube_out_mm: how far the drawtube is racked out from where its owner usually has it.
        tube_above_saddle_mm: the tube's axis above the face of the saddle.
        change_kg: a mass put on or taken off (negative) the camera's end, for how far the balance then moves.
        latitude_deg, longitude_deg: of the site, north and east positive; without a longitude the night is
            reckoned at Greenwich's. night: its date (the evening's).
        night_hours: the length of the night where the owner says it instead.
        low_c: the lowest air temperature of the night, degrees Celsius.
        cooling_k: how far below the air the camera is asked to cool.
        supply_share: efficiency of the converter that feeds what the battery does not feed straight, 1 for
            none; feeds: what is fed otherwise than its voltage says.
        lift_limit_kg: the most that the lifter wants to lift; many keep a tube below about 9 kg (20 lb):
            common practice, no source.
        focuser_at_mm: for a tube whose focuser sits at its side: where, from the front of the tube; None: the
            train hangs behind the tube.
        sun: whether the Sun is the target.
        solar_filter: whether a certified full-aperture solar filter that is none of the rig's parts is fixed
            before the tube.
    """

    balance_mm: float | None = Field(default=None, ge=0, le=20_000)
    clamp_mm: float | None = Field(default=None, ge=0, le=20_000)
    drawtube_out_mm: float | None = Field(default=None, ge=-500, le=500)
    tube_above_saddle_mm: float | None = Field(default=None, ge=0, le=2000)
    change_kg: float | None = Field(default=None, ge=-100, le=100)
    latitude_deg: float | None = Field(default=None, ge=-90, le=90)
    longitude_deg: float | None = Field(default=None, ge=-180, le=180)
    night: date | None = None
    night_hours: float | None = Field(default=None, gt=0, le=24)
    low_c: float | None = Field(default=None, ge=-60, le=50)
    cooling_k: float | None = Field(default=None, ge=0, le=100)
    supply_share: float | None = Field(default=None, gt=0, le=1)
    lift_limit_kg: float | None = Field(default=None, gt=0, le=200)
    lifts: tuple[Lift, ...] = Field(default=(), max_length=MOST_LIFTS)
    cables: tuple[Cable, ...] = Field(default=(), max_length=MOST_LINES)
    feeds: tuple[Feed, ...] = Field(default=(), max_length=MOST_LINES)
    spots: tuple[Spot, ...] = Field(default=(), max_length=MOST_LINES)
    cases: tuple[CaseUse, ...] = Field(default=(), max_length=MOST_LINES)
    focuser_at_mm: float | None = Field(default=None, ge=0, le=20_000)
    sun: bool = False
    solar_filter: bool = False

    @property
    def part_ids(self) -> frozenset[int]:
        """Every catalogue number that is named here."""
        lines: tuple[Cable | Feed | Spot | CaseUse, ...] = (
            *self.cables,
            *self.feeds,
            *self.spots,
            *self.cases,
        )
        ports = [feed.port_of for feed in self.feeds if feed.port_of is not None]
        return frozenset(
            [*(line.part_id for line in lines), *ports, *(i for lift in self.lifts for i in lift.parts)]
        )

    def renumbered(self, numbers: Mapping[int, int]) -> LoadPlan:
        """The same plan with its parts under other catalogue numbers; what has no new number is left out."""

        def kept(lines: tuple[_Line, ...]) -> tuple[_Line, ...]:
            return tuple(
                line.model_copy(update={"part_id": numbers[line.part_id]})
                for line in lines
                if line.part_id in numbers
            )

        lifts = (
            lift.model_copy(update={"parts": tuple(numbers[i] for i in lift.parts if i in numbers)})
            for lift in self.lifts
        )
        return self.model_copy(
            update={
                "cables": kept(self.cables),
                "feeds": tuple(
                    feed
                    if feed.port_of is None
                    else feed.model_copy(update={"port_of": numbers[feed.port_of]})
                    for feed in kept(tuple(f for f in self.feeds if f.port_of in (None, *numbers)))
                ),
                "spots": kept(self.spots),
                "cases": kept(self.cases),
                "lifts": tuple(lift for lift in lifts if lift.parts),
            }
        )


LOAD_WORDS: dict[str, str] = {
    "balance_mm": "measured balance point",
    "clamp_mm": "where the saddle clamps",
    "drawtube_out_mm": "how far the drawtube is out",
    "tube_above_saddle_mm": "the tube's height above the saddle",
    "change_kg": "mass to be changed at the camera",
    "latitude_deg": "latitude of the site",
    "longitude_deg": "longitude of the site",
    "night": "date of the night",
    "night_hours": "length of the night",
    "low_c": "lowest temperature",
    "cooling_k": "cooling asked for",
    "supply_share": "efficiency of the converter",
    "lift_limit_kg": "the lifter's own limit",
    "lifts": "lifts",
    "cables": "cables",
    "feeds": "how devices are fed",
    "spots": "where gear sits on the tube",
    "cases": "cases",
    "focuser_at_mm": "where the focuser sits at the tube's side",
    "sun": "whether the Sun is the target",
    "solar_filter": "whether a solar filter is fixed before the tube",
}
"""What each field of a LoadPlan is called where a change of it is told."""
