"""What each kind of tube asks of its owner: collimation, and the cautions. Common practice, no source."""

from __future__ import annotations

from dataclasses import dataclass

LASER = (
    "A collimation laser goes into no eye, straight or by a mirror, and towards no aircraft; local law may "
    "bind its use."
)
SUN = (
    "By day cap the tube, and let no optics see the Sun without a certified filter before the whole aperture."
)
OPEN_UP = "Taking a tube apart beyond its own screws ends warranties, and may end its alignment."


@dataclass(frozen=True)
class Upkeep:
    """For one design, in words.

    Attributes:
        what: what is collimated. delicate: how exact and how often. field: whether its owner can do it
        outside. cautions: what to mind.
    """

    what: str
    delicate: str
    field: str
    cautions: tuple[str, ...]


_REFRACTOR = Upkeep(
    "The maker squares and centres the lenses; there is nothing for the owner to set.",
    "It holds for years. A knock or a fall can end that, and is seen as coma in the middle of the field.",
    "No. A tube that was knocked out goes back to its maker.",
    (OPEN_UP, SUN),
)
_CATADIOPTRIC = Upkeep(
    "Three screws tilt the secondary; the primary and the plate are the maker's.",
    "It drifts a little with each journey. A star out of focus shows rings that must lie in the middle.",
    "Yes, under the stars: on a star near the zenith, a small turn at a time, the star brought back to the "
    "middle "
    "after each.",
    ("Never loosen all three screws at once: the secondary may fall.", OPEN_UP, SUN),
)
UPKEEP: dict[str, Upkeep] = {
    "achromat": _REFRACTOR,
    "apochromat": _REFRACTOR,
    "newtonian": Upkeep(
        "The secondary is turned and tilted under the focuser, then the primary tilted until its axis "
        "meets it.",
        "The faster, the more: see Collimation above for this tube. It is looked at before every night.",
        "The primary yes, in minutes. The secondary is better begun at home by day.",
        (LASER, "Work at the secondary with the tube level: a dropped tool then misses the mirror.", SUN),
    ),
    "schmidt_cassegrain": _CATADIOPTRIC,
    "maksutov": Upkeep(
        "Mostly nothing: many have a fixed secondary, and screws behind the primary for the maker.",
        "It holds well.",
        "Only where its maker says so.",
        (OPEN_UP, SUN),
    ),
    "ritchey_chretien": Upkeep(
        "Both mirrors: the secondary tilted and set at its distance, the primary tilted.",
        "The most delicate of these tubes: a tilt of the primary and one of the secondary hide each other, "
        "and the "
        "corners show it.",
        "Begun at home by day, ended on stars over the whole sensor. Not in the cold of the first night.",
        (
            LASER,
            "The mirrors' distance sets the spherical aberration: mark it before you turn anything.",
            SUN,
        ),
    ),
    "classical_cassegrain": Upkeep(
        "Both mirrors: the secondary tilted until a star in the middle is round, the primary rarely.",
        "Delicate: the secondary magnifies every error, and coma grows towards the edge in any case.",
        "The secondary yes, on a star near the zenith, a small turn at a time. The primary at home by day.",
        (
            LASER,
            "The mirrors' distance sets the spherical aberration: mark it before you turn anything.",
            SUN,
        ),
    ),
    "dall_kirkham": Upkeep(
        "The secondary is tilted; the primary and the corrector are mostly the maker's.",
        "Delicate, with a corrector that wants its own distance.",
        "Begun at home by day, ended on stars.",
        (LASER, OPEN_UP, SUN),
    ),
    "astrograph": Upkeep(
        "By its own design: see its maker's papers.",
        "Fast ones show a hundredth of a millimetre in the corners.",
        "As its maker says.",
        (OPEN_UP, SUN),
    ),
    "camera_lens": Upkeep(
        "Nothing by the owner.",
        "A knocked lens shows one soft side.",
        "No: a workshop does it.",
        (OPEN_UP, SUN),
    ),
}


def upkeep_of(design: str | None) -> Upkeep | None:
    """What a design asks for; None where the design is not known."""
    return None if design is None else UPKEEP.get(design)
