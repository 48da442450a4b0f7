"""The load sheet: all that is worked out of a rig's load, for its page and its packing list.

Every number is in the fixed unit of its name; None is not known, and a `missing` beside it says what to
enter. Masses of sums are lower bounds while something is missing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from server.domain.said import Missing, Said
from server.frozen import frozen

PlaceName = Literal["saddle", "bar", "stand", "ground", "unplaced"]


def two_digits(value: float) -> int:
    """How many digits after the point leave two of a figure that comes from places known to a centimetre.

    No more than an amount is written with: what is next to nothing is written as nothing.
    """
    return min(15, max(0, 1 - math.floor(math.log10(abs(value))))) if value else 0


@frozen
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
    pieces: tuple[Piece, ...]
    known_kg: float
    missing: tuple[Missing, ...]


@frozen
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
        radius_mm: half its width, for its own inertia; 0 where none is counted.
        aside_mm: how far its middle lies off the tube's axis, at the tube's side; None: not known. It is not
            counted in `above_mm`, for nobody says how the tube is turned in its rings.
        between_mm: between which ends its middle lies where it is assumed; None where that is not asked.
    """

    name: str
    mass_kg: float
    along_mm: float
    above_mm: float | None
    length_mm: float
    basis: str
    key: int | None = None
    radius_mm: float = 0.0
    aside_mm: float | None = 0.0
    between_mm: tuple[float, float] | None = None


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
        outcome: what becomes of it, None while it is not known; notes: what else is to be said.
        short_kg: what is missing at the very end of the bar, kg, thickness not counted; None: nothing.
        longer_mm: the least by which a longer bar would do instead, its own mass not counted; None: none.
        over_kg_mm: what the lightest weight does too much next to the axis, kg mm; 0 where it does not.
        single_kg: the least and the most mass of one weight that would balance it alone, as thick as the
            thinnest at hand (`single_thick_mm`, 0 where none is); None where none would or it is not asked.
        asked_kg_mm: what the weights must balance, kg mm; None: not known.
        shorter_mm: how long at most a bar of the same rod may be for the weight that does least;
            lighter_bar_kg: its mass at most at this length; None where no bar helps, or it is not asked.
        owned: names of weights on the shelf, not beside the rig, with which it would balance.
        riders: what else rides on the bar with its place, counted.
        bar_over_kg_mm: by how much the bare bar outweighs the load, kg mm; None where it does not.
        complete: False where there were too many ways to hang them to look at all of them: see
            server.mechanics.counterweights.BarBalance.
        narrow, loose: names of weights whose bore is narrower than the bar, which are left out, and of those
            hung here whose bore is a good deal wider.
        uncounted: names of what else rides on the bar, nobody having said where.
        fits: what to enter before it is known that the weights slide on: they were taken to.
        missing: what to enter before it can be worked out.
    """

    weights: tuple[WeightAt, ...] = ()
    load_moment_nm: float | None = None
    bar_start_mm: float | None = None
    bar_end_mm: float | None = None
    outcome: Said | None = None
    notes: tuple[Said, ...] = ()
    short_kg: float | None = None
    longer_mm: float | None = None
    over_kg_mm: float = 0.0
    single_kg: tuple[float, float] | None = None
    single_thick_mm: float = 0.0
    asked_kg_mm: float | None = None
    shorter_mm: float | None = None
    lighter_bar_kg: float | None = None
    owned: tuple[str, ...] = ()
    riders: tuple[WeightAt, ...] = ()
    bar_over_kg_mm: float | None = None
    complete: bool = True
    narrow: tuple[str, ...] = ()
    loose: tuple[str, ...] = ()
    uncounted: tuple[str, ...] = ()
    fits: tuple[Missing, ...] = ()
    missing: tuple[Missing, ...] = ()


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
        inertia_declination, inertia_polar: moments of inertia about both axes, kg m^2, clamped at the
            balance point: of the load; about the polar axis with the bar and the weights that balance it, and
            with the tube across that axis, where it is largest. The mount's own moving parts are not
            counted. None while not known.
        inertia_assumes: what of it was taken for granted; empty while not known.
        moment_arm_mm: the load's centre of gravity from the polar axis.
        aside_kg, aside_mm: what hangs at the tube's side, kg, and how far the whole load's centre lies off
            the tube's axis by it; aside_nm: its torque about that axis, N m, when it lies level; None where
            nothing does or it is not known. aside_by: by what the tube's half width goes.
        sag_arcmin: tilt of the drawtube under what hangs on it, tube level.
        bar: the counterweights; None for a mount that is not balanced by a bar.
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
    inertia_declination: float | None = None
    inertia_polar: float | None = None
    inertia_assumes: tuple[Said, ...] = ()
    aside_kg: float | None = None
    aside_mm: float | None = None
    aside_nm: float | None = None
    aside_by: Said | None = None
    sag_arcmin: float | None = None
    bar: BarAnswer | None = None
    missing: tuple[Missing, ...] = ()


@dataclass(frozen=True)
class LiftEnd:
    """What the lifting equation says of one end of a lift.

    Attributes:
        at: which end. limit_kg, index: the recommended limit and the load over it, which is a lower bound
            while a mass of the load is missing; None outside the equation's range, and `refusal` then says
            so; too_often: in how often it is made.
    """

    at: Literal["taken_up", "set_down"]
    limit_kg: float | None
    index: float | None
    refusal: str = ""
    too_often: bool = False


@dataclass(frozen=True)
class LiftLine:
    """One load that somebody lifts.

    Attributes:
        name: what to call it: the owner's name for it, or what it is.
        planned: index in the plan's `lifts`; None for a load that nobody has planned a lift for.
        pieces: what goes together.
        mass_kg: their sum, a lower bound while `missing` names a mass.
        over_personal_kg: by how much the mass, of a load that several lift each one's even share of it, is
            above the lifter's own limit; None: not above, or none is set.
        carry_kg_m: mass times distance of all trips; None: no distance given.
        ends: where it is taken up and where it is set down, by the lifting equation; empty while a figure of
            the plan is missing, which `to_plan` names. Of a load that several lift only those ends that are
            outside the equation's range: the rest of it is for one person.
        at_best: both ends with the best value of each figure that is missing: no real lift has a higher
            limit; empty where none is missing.
        people: how many lift it together.
        count: how many such loads there are, lifted one after another.
        missing: what to enter.
    """

    name: Said
    planned: int | None
    pieces: tuple[Piece, ...]
    mass_kg: float
    over_personal_kg: float | None = None
    carry_kg_m: float | None = None
    missing: tuple[Missing, ...] = ()
    ends: tuple[LiftEnd, ...] = ()
    to_plan: tuple[Missing, ...] = ()
    at_best: tuple[LiftEnd, ...] = ()
    people: int = 1
    count: int = 1

    @property
    def share_kg(self) -> float:
        """What each lifter carries if it is shared evenly, kg; a lower bound as the mass is."""
        return self.mass_kg / self.people


@dataclass(frozen=True)
class Trips:
    """All that is carried over a distance.

    Attributes:
        kg_m: mass times distance, kg m, of every planned lift that says how far, all its trips; the way back
            with empty hands is not counted.
        missing: what to enter of these loads; unsaid: names of the loads for which nobody said how far.
    """

    kg_m: float
    missing: tuple[Missing, ...] = ()
    unsaid: tuple[Said, ...] = ()

    @property
    def at_least(self) -> bool:
        """True while a mass or a distance is missing, so that it can only be more."""
        return bool(self.missing or self.unsaid)


@dataclass(frozen=True)
class Consumer:
    """What one device takes: mean and peak current (A) at a voltage (V), and its energy over the night (Wh).

    The figures are those of all `quantity` pieces. `assumed` says what of it was taken for granted;
    `peak_unknown` the field of its peak that is missing, so that the peak is a lower bound, "" for none.
    `basis` and `peak_basis` say where the mean's and the peak's figures are from. `converted` says whether
    it is fed through the converter, whose loss its energy then counts; `port_of` from whose port it is fed,
    by catalogue number, None where it is not; `fed` how it is fed, None where it is fed straight.
    """

    part_id: int
    name: str
    voltage_v: float
    mean_a: float
    peak_a: float
    energy_wh: float | None
    assumed: tuple[Said, ...] = ()
    peak_unknown: str = ""
    quantity: int = 1
    basis: str = "typed"
    peak_basis: str = "typed"
    converted: bool = False
    port_of: int | None = None
    fed: Said | None = None


@dataclass(frozen=True)
class Lead:
    """One device's lead: what it loses at the peak (V), what arrives, what the device bears, the fuse to ask
    about.

    Attributes:
        wire: its copper, and how many pieces of the device it is for.
        arrives_v: what arrives while the source has its nominal voltage, `source_v`; at_end_v: what arrives
            once the battery's usable share is drawn and it gives `end_v`, as `end_by` says; both as with a
            full one where no battery is known to feed it. end_missing: what to enter before that is known.
        least_v: what the device must have, None where nobody gave it; least_basis: where that is from.
        device_v: what the device is made for.
        fuse_a: the fuse to ask about; None where none guards this wire at this peak.
        better_awg: the thinnest usual gauge that would do; None where the lead does, or no gauge would.
        longest_mm: how long, one way, this wire may be and lose no more than `allowed_v`; None: any length.
        lost_w: what it turns into heat at the peak, W.
        peak_a: the peak current, A; length_mm: one way; area_mm2: of the copper.
        borne_a: what such a wire is taken to bear, A; density_a_mm2: what the peak is, A/mm^2.
        assumed: what of the device was taken for granted.
        pieces: how many of the device the lead feeds; peak_basis: where the peak is from.
    """

    part_id: int
    name: str
    wire: Said
    drop_v: float
    arrives_v: float
    least_v: float | None
    fuse_a: float | None
    better_awg: int | None = None
    longest_mm: float | None = None
    lost_w: float = 0.0
    allowed_v: float = 0.0
    peak_a: float = 0.0
    length_mm: float = 0.0
    area_mm2: float = 0.0
    assumed: tuple[Said, ...] = ()
    source_v: float = 0.0
    device_v: float = 0.0
    end_v: float = 0.0
    end_by: Said | None = None
    end_missing: Missing | None = None
    at_end_v: float = 0.0
    least_basis: str = ""
    borne_a: float = 0.0
    density_a_mm2: float = 0.0
    pieces: int = 1
    peak_basis: str = "typed"


@dataclass(frozen=True)
class OpenLead:
    """A planned lead that cannot be judged yet: whose it is ("" for what has left the rig), what to enter."""

    part_id: int
    name: str
    missing: Missing


@dataclass(frozen=True)
class PowerSheet:
    """The night's energy.

    Attributes:
        source: the batteries and supplies; empty for none; the devices' figures are there all the same.
        batteries: the batteries alone; mains: the mains supplies, which are not counted.
        peak_a: what all devices take at once at the source's `peak_at_v`, A, a lower bound where
            `peak_at_least`; None where nothing takes current.
        hours: the night's length, hours_by where it is from.
        mean_w: what all known devices take on the mean, with what a converter loses, W; None for none.
        given_by: how the source's energy comes about; given_assumed: whether any was taken for granted.
        more_ah: nominal charge of the same kind that is missing, Ah; None where none is or it is not known.
        need_wh, usable_wh: what the devices take and what the source gives; None while unknown or on mains.
            The need is a lower bound while `uncounted` names anything.
        lasts_h: how long it lasts at the mean of the known devices.
        taken_none: names of what may draw current or not, nobody having said; taken to draw none.
        missing: what to enter; uncounted: those of it that a device lacks, which is not counted.
        open_leads: the planned leads that cannot be judged yet.
    """

    source: tuple[Said, ...] = ()
    batteries: tuple[Said, ...] = ()
    mains: tuple[Said, ...] = ()
    peak_a: float | None = None
    peak_at_v: float = 0.0
    peak_at_least: bool = False
    mean_w: float | None = None
    hours: float | None = None
    hours_by: Said | None = None
    consumers: tuple[Consumer, ...] = ()
    need_wh: float | None = None
    usable_wh: float | None = None
    given_by: Said | None = None
    given_assumed: bool = False
    more_ah: float | None = None
    lasts_h: float | None = None
    leads: tuple[Lead, ...] = ()
    taken_none: tuple[str, ...] = ()
    missing: tuple[Missing, ...] = ()
    uncounted: tuple[Missing, ...] = ()
    open_leads: tuple[OpenLead, ...] = ()


@dataclass(frozen=True)
class Packed:
    """What travels in one case (or loose, name ""), with its sum."""

    name: str
    pieces: tuple[Piece, ...]
    known_kg: float
    missing: tuple[Missing, ...]
