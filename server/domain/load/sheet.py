"""The load sheet: all that is worked out of a rig's load, for its page and its packing list.

Every number is in the fixed unit of its name; None is not known, and a `missing` beside it says what to
enter. Masses of sums are lower bounds while something is missing.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from server.domain.findings import Finding

PlaceName = Literal["saddle", "bar", "stand", "ground", "unplaced"]
PLACE_WORDS: dict[PlaceName, str] = {
    "saddle": "on the saddle",
    "bar": "on the bar",
    "stand": "carried on the tripod or pier",
    "ground": "on the ground",
    "unplaced": "nobody has said where",
}


@dataclass(frozen=True)
class Piece:
    """Something with a mass: its part, how many, the mass of all of them (kg, None: not known).

    `basis` says where the mass is from; `label` which figure it is ("mass", "mass with rings").
    """

    part_id: int
    name: str
    kind_words: str
    quantity: int
    mass_kg: float | None
    basis: str
    label: str = "mass"


@dataclass(frozen=True)
class PlaceSum:
    """What one place carries. `known_kg` is a lower bound while `missing` names anything."""

    place: PlaceName
    words: str
    pieces: tuple[Piece, ...]
    known_kg: float
    missing: tuple[str, ...]


@dataclass(frozen=True)
class Body:
    """One mass of the balance picture.

    Attributes:
        name, mass_kg: whose and how much.
        along_mm: its middle from the front of the tube, towards the camera.
        above_mm: its middle above the face of the saddle; None: not known.
        length_mm: how long it is along the tube, for the picture and its own inertia; 0 for a point.
        basis: "typed" for a place that somebody gave, "worked out" for one that follows from the train,
            "assumed" for the middle of a part whose own balance point nobody gave.
        key: of its place in the train, None for gear.
    """

    name: str
    mass_kg: float
    along_mm: float
    above_mm: float | None
    length_mm: float
    basis: str
    key: int | None = None


@dataclass(frozen=True)
class WeightAt:
    """A counterweight on the bar: its middle, from the polar axis."""

    part_id: int
    name: str
    mass_kg: float
    at_mm: float
    thickness_mm: float


@dataclass(frozen=True)
class BarAnswer:
    """How the weights at hand balance the load, or why they do not.

    Attributes:
        weights: one way to hang them, fewest first, then nearest to the axis; empty where none is known.
        load_moment_nm: torque of what is on the saddle about the polar axis, N m; None: not known.
        bar_start_mm, bar_end_mm: between which the weights may sit.
        sentence: what to do, in words.
        short_kg: what is missing at the bar's end, kg; None where nothing is missing or it is not known.
        longer_mm: by how much a longer bar would do instead; None as above.
        missing: what to enter before it can be worked out.
    """

    weights: tuple[WeightAt, ...] = ()
    load_moment_nm: float | None = None
    bar_start_mm: float | None = None
    bar_end_mm: float | None = None
    sentence: str = ""
    short_kg: float | None = None
    longer_mm: float | None = None
    missing: tuple[str, ...] = ()


@dataclass(frozen=True)
class BalanceSheet:
    """How the loaded tube balances along its dovetail and about the polar axis.

    Attributes:
        bodies: every mass whose place is known.
        centre_mm: centre of gravity from the front of the tube; the measured one where there is one.
        centre_basis: "measured" or "worked out"; "" while not known.
        worked_mm: what the geometry gives, for comparison with a measured one.
        clamp_mm: the plan's clamp; off_mm: centre less clamp, positive towards the camera.
        imbalance_nm: torque about the declination axis when clamped there, N m.
        with_change_mm: how far the centre moves when `change_kg` is added at the camera.
        per_racked_mm: how far the centre moves for each mm that the drawtube is racked out.
        moment_arm_mm: the load's centre of gravity from the polar axis.
        inertia_dec_kg_m2, inertia_ra_kg_m2: of the load about the two axes.
        sag_arcmin: tilt of the drawtube under what hangs on it, tube level.
        bar: the counterweights.
        missing: what to enter.
    """

    bodies: tuple[Body, ...] = ()
    centre_mm: float | None = None
    centre_basis: str = ""
    worked_mm: float | None = None
    clamp_mm: float | None = None
    off_mm: float | None = None
    imbalance_nm: float | None = None
    with_change_mm: float | None = None
    per_racked_mm: float | None = None
    moment_arm_mm: float | None = None
    inertia_dec_kg_m2: float | None = None
    inertia_ra_kg_m2: float | None = None
    sag_arcmin: float | None = None
    bar: BarAnswer = BarAnswer()
    missing: tuple[str, ...] = ()


@dataclass(frozen=True)
class LiftLine:
    """One load that somebody lifts.

    Attributes:
        name: the owner's name for it, or what it is.
        planned: index in the plan's `lifts`; None for a load that nobody has planned a lift for.
        pieces: what goes together.
        mass_kg: their sum, a lower bound while `missing` names a mass.
        limit_kg: the smaller recommended weight limit of both ends; index: mass over limit. None where
            the plan of the lift is not complete or outside the equation's range.
        limits_at_ends_kg: at origin and destination.
        refusal: why there is no number: "" or a sentence such as "outside the equation's range: do not lift
            so".
        over_personal_kg: by how much the mass is above the lifter's own limit; None: not above, or none
            is set.
        carry_kg_m: mass times distance of all trips; None: no distance given.
        missing: what to enter.
    """

    name: str
    planned: int | None
    pieces: tuple[Piece, ...]
    mass_kg: float
    limit_kg: float | None = None
    index: float | None = None
    limits_at_ends_kg: tuple[float, float] | None = None
    refusal: str = ""
    over_personal_kg: float | None = None
    carry_kg_m: float | None = None
    missing: tuple[str, ...] = ()


@dataclass(frozen=True)
class Consumer:
    """What draws current.

    Attributes:
        idle_a, peak_a: currents; on_share: share of the night at peak.
        mean_a: between the two by that share; None while one is unknown.
        volts: at which they are drawn; volts_basis: "assumed" where the source's voltage stands in.
        energy_wh: over the night.
        missing: what to enter.
    """

    part_id: int
    name: str
    quantity: int
    idle_a: float | None
    peak_a: float | None
    on_share: float | None
    mean_a: float | None
    volts: float | None
    volts_basis: str
    energy_wh: float | None
    missing: tuple[str, ...] = ()


@dataclass(frozen=True)
class CableLine:
    """One consumer's lead at peak current.

    Attributes:
        drop_v: two ways; arrives_v: what is left of the source's nominal voltage.
        least_v: what the device bears.
        thinnest_awg: the thinnest usual wire that would do; None: not known.
        fuse_a: usual fuse size above the peak, to ask an electrician or the maker about.
        missing: what to enter.
    """

    part_id: int
    name: str
    wire: str
    length_mm: float
    peak_a: float | None
    drop_v: float | None
    arrives_v: float | None
    least_v: float | None
    thinnest_awg: int | None
    fuse_a: float | None
    missing: tuple[str, ...] = ()


@dataclass(frozen=True)
class SourceLine:
    """One battery or supply: what it holds, what of that is usable, and after the cold."""

    part_id: int
    name: str
    chemistry: str
    quantity: int
    nominal_wh: float | None
    usable_share: float | None
    usable_share_basis: str
    cold_share: float | None
    usable_wh: float | None
    missing: tuple[str, ...] = ()


@dataclass(frozen=True)
class PowerSheet:
    """The night's energy against the batteries.

    Attributes:
        night_hours: length; night_words: where it comes from, or that the Sun does not set there.
        needed_wh: a lower bound while `missing` names anything; usable_wh: of all batteries, None: not known.
        hours: how long the batteries last; margin_share: (usable - needed) / needed.
        buy_ah: nominal capacity that the night asks for, at the source's voltage and chemistry.
    """

    night_hours: float | None = None
    night_words: str = ""
    consumers: tuple[Consumer, ...] = ()
    sources: tuple[SourceLine, ...] = ()
    cables: tuple[CableLine, ...] = ()
    needed_wh: float | None = None
    usable_wh: float | None = None
    hours: float | None = None
    margin_share: float | None = None
    buy_ah: float | None = None
    missing: tuple[str, ...] = ()


@dataclass(frozen=True)
class CaseSheet:
    """What travels in one case (or loose, name ""), with its sum."""

    name: str
    pieces: tuple[Piece, ...]
    known_kg: float
    missing: tuple[str, ...]


@dataclass(frozen=True)
class SafetyNote:
    """A caution that applies to this rig. `topic` is its heading on the page of cautions."""

    topic: str
    title: str
    sentence: str


@dataclass(frozen=True)
class LoadSheet:
    """Everything of a rig's load. `cautions` begin with the Sun's where it applies; never behind a fold."""

    places: tuple[PlaceSum, ...]
    balance: BalanceSheet
    lifts: tuple[LiftLine, ...]
    power: PowerSheet
    cases: tuple[CaseSheet, ...]
    cautions: tuple[SafetyNote, ...]
    findings: tuple[Finding, ...]
