"""The fields of the load page's form: what each asks, what it is for, and what happens while it is empty."""

from __future__ import annotations

from server.domain.fields import FieldSpec

BALANCE = "Balance"
LIFTING = "Lifting"
NIGHT = "The night and its power"


def _length(name: str, label: str, help: str, low: float = 0.0, high: float = 20_000.0) -> FieldSpec:
    return FieldSpec(name, label, "measure", "length", low, high, help=help, group=BALANCE)


PURPOSE_SPECS: tuple[FieldSpec, ...] = (
    FieldSpec(
        "sun",
        "The Sun is the target",
        "flag",
        help="Asks for a certified solar filter, and puts the Sun's caution first on every sheet.",
    ),
    FieldSpec(
        "solar_filter",
        "A certified filter that is none of the rig's parts is fixed before the whole aperture",
        "flag",
        help="Otherwise none is.",
    ),
)
"""What the rig is for: asked with the rig and not with its load."""

LOAD_SPECS: tuple[FieldSpec, ...] = (
    _length(
        "balance_mm",
        "Measured balance point",
        "From the front of the whole loaded tube, level on a round bar, held by two: it wins over all else.",
    ),
    _length(
        "clamp_mm",
        "Middle of the saddle's clamp",
        "From the front of the tube. Empty: where to clamp it is said.",
    ),
    _length(
        "tube_above_saddle_mm",
        "Tube's axis above the saddle",
        "With rings and plate. Empty: half the tube's width is taken, and something for rings and plate.",
        high=2000.0,
    ),
    _length(
        "drawtube_out_mm",
        "Drawtube racked out by",
        "From where you usually have it. Empty: it is there.",
        -500.0,
        500.0,
    ),
    _length(
        "focuser_at_mm",
        "Focuser at the tube's side",
        "From the front of the tube, for a train that stands across it. Empty: the train hangs behind the "
        "tube, a Newtonian's at its front part.",
    ),
    FieldSpec(
        "change_kg",
        "Mass changed at the camera",
        "measure",
        "mass",
        -100.0,
        100.0,
        help="For how far the balance moves with another camera: its mass less that of the present one, "
        "below 0 for a lighter one. Empty: nothing is worked out for it.",
        group=BALANCE,
    ),
    FieldSpec(
        "lift_limit_kg",
        "The most that you lift alone",
        "measure",
        "mass",
        0.0,
        200.0,
        above=True,
        help="Many keep a tube below 20 lb, 9.07 kg (common practice, no source). Empty: loads above "
        "that are remarked on, and above 23 kg, 50.7 lb, nobody lifts alone.",
        group=LIFTING,
    ),
    FieldSpec(
        "latitude_deg",
        "Latitude of the site",
        "measure",
        "angle",
        -90.0,
        90.0,
        help="Below 0 in the south; with the date it gives the night's length. One decimal is enough: saved "
        "entries hold it.",
        group=NIGHT,
    ),
    FieldSpec(
        "longitude_deg",
        "Longitude of the site",
        "measure",
        "angle",
        -180.0,
        180.0,
        help="East positive, below 0 in the west. Empty: Greenwich's, which may be some minutes off.",
        group=NIGHT,
    ),
    FieldSpec(
        "night",
        "Date of the evening",
        "text",
        maximum=10,
        help="As 2026-11-26. With the site it gives the night's length.",
        group=NIGHT,
    ),
    FieldSpec(
        "night_hours",
        "Length of the night",
        "measure",
        "plain",
        0.0,
        24.0,
        above=True,
        help="In hours, where you say it yourself. Empty: from the site and the date.",
        group=NIGHT,
    ),
    FieldSpec(
        "low_c",
        "Lowest temperature",
        "measure",
        "temperature",
        -60.0,
        50.0,
        help="Of the air, like -5 °C: a cold battery gives less. Empty: the battery is taken to be warm.",
        group=NIGHT,
    ),
    FieldSpec(
        "cooling_k",
        "Camera cooled below the air by",
        "measure",
        "temperature_difference",
        0.0,
        100.0,
        help="Empty: it is taken to cool fully all night.",
        group=NIGHT,
    ),
    FieldSpec(
        "supply_share",
        "Efficiency of a converter",
        "measure",
        "fraction",
        0.0,
        1.0,
        above=True,
        help="For what the battery does not feed straight, like 90\u00a0%. Empty: there is none.",
        group=NIGHT,
    ),
)

COUPLINGS = (
    ("good", "good: handles that fit"),
    ("fair", "fair: fingers under an edge"),
    ("poor", "poor: smooth, bulky or sagging"),
)
EQUATION = "Empty: the lifting equation is not worked out."

LIFT_SPECS: tuple[FieldSpec, ...] = (
    FieldSpec("name", "What you lift", "text", maximum=80, help="Like: tube onto the saddle."),
    FieldSpec(
        "from_height_mm",
        "Hands' height where it is taken up",
        "measure",
        "length",
        0.0,
        3000.0,
        help=f"Above the floor, like 75 cm. {EQUATION}",
    ),
    FieldSpec(
        "to_height_mm",
        "Hands' height where it is set down",
        "measure",
        "length",
        0.0,
        3000.0,
        help=f"Above the floor, like 110 cm. {EQUATION}",
    ),
    FieldSpec(
        "reach_mm",
        "Hands before your ankles",
        "measure",
        "length",
        0.0,
        2000.0,
        help=f"Level, from between the ankles to between the hands, like 40 cm. {EQUATION}",
    ),
    FieldSpec(
        "to_reach_mm",
        "The same where it is set down",
        "measure",
        "length",
        0.0,
        2000.0,
        help="Empty: as at the start.",
    ),
    FieldSpec(
        "twist_deg",
        "Turned aside by",
        "measure",
        "angle",
        0.0,
        180.0,
        help="From straight ahead. Empty: not at all.",
    ),
    FieldSpec("coupling", "How the hands hold it", "choice", choices=COUPLINGS, help=EQUATION),
    FieldSpec(
        "per_minute",
        "Lifts in a minute",
        "measure",
        "plain",
        0.0,
        60.0,
        help="Empty: one in five minutes or fewer.",
    ),
    FieldSpec(
        "hours",
        "Hours of lifting like this",
        "measure",
        "plain",
        0.0,
        8.0,
        above=True,
        help="How long it goes on, with its like. Empty: one hour.",
    ),
    FieldSpec(
        "carry_mm",
        "Carried over",
        "measure",
        "length",
        0.0,
        10_000_000.0,
        help="From the car, like 40 m, each time. Empty: it counts in no total.",
    ),
    FieldSpec("trips", "Trips", "count", minimum=1, maximum=99, help="Empty: one."),
    FieldSpec(
        "people", "People who lift it together", "count", minimum=1, maximum=8, help="Empty: you alone."
    ),
)

LEAD_SPECS: tuple[FieldSpec, ...] = (
    FieldSpec("wire", "Wire", "text", maximum=20, help="Like 18 AWG, or 1.5 mm2 of copper."),
    FieldSpec(
        "length_mm", "Length, one way", "measure", "length", 0.0, 100_000.0, above=True, help="Like 3 m."
    ),
    FieldSpec(
        "shared",
        "One lead feeds all pieces of it",
        "flag",
        help="Where the rig has several of the device. Not known: each has a lead like this one.",
    ),
)

FEED_SPEC = FieldSpec(
    "by",
    "fed",
    "choice",
    choices=(("straight", "straight from the battery"), ("converter", "through the converter")),
    help="Not known: straight where the battery has a like voltage, otherwise through the converter.",
)

SPOT_SPECS: tuple[FieldSpec, ...] = (
    FieldSpec(
        "along_mm",
        "middle, from the front of the tube",
        "measure",
        "length",
        -10_000.0,
        20_000.0,
        help="Towards the camera; below 0 before the tube. Empty: anywhere along the tube.",
    ),
    FieldSpec(
        "above_mm",
        "middle, above the saddle",
        "measure",
        "length",
        -2000.0,
        5000.0,
        help="Below 0 under the saddle's face. Empty: anywhere from the saddle to above the tube.",
    ),
)

BAR_SPOT_SPECS: tuple[FieldSpec, ...] = (
    FieldSpec(
        "along_mm",
        "middle, along the counterweight bar from the polar axis",
        "measure",
        "length",
        0.0,
        20_000.0,
        help="Empty: it does not count in the balance about the polar axis.",
    ),
)

WRITE_UNIT = frozenset(
    {"from_height_mm", "to_height_mm", "reach_mm", "to_reach_mm", "carry_mm", "length_mm", "lift_limit_kg"}
)
"""Fields whose numbers people say in centimetres, metres or feet, in kilograms or pounds: a bare one is asked
about, never taken for millimetres or kilograms. The lifting equation raises a reach below 25 cm to 25 cm
(NIOSH 94-110, 1994), so that a reach of 45 taken for millimetres would look safe.
"""
