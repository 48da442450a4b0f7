"""What is usual of a tube of a kind, where nobody has said: never a hidden guess, always a range."""

from __future__ import annotations

from dataclasses import dataclass

from server.domain.measure import nominal
from server.domain.parts import OpticalTube
from server.domain.sky.reckoning import Span

OBSTRUCTION: dict[str, Span] = {
    "achromat": Span(0.0, 0.0, 0.0),
    "apochromat": Span(0.0, 0.0, 0.0),
    "camera_lens": Span(0.0, 0.0, 0.0),
    "newtonian": Span(0.30, 0.22, 0.38),
    "schmidt_cassegrain": Span(0.35, 0.31, 0.42),
    "maksutov": Span(0.33, 0.28, 0.38),
    "ritchey_chretien": Span(0.45, 0.38, 0.50),
    "classical_cassegrain": Span(0.33, 0.28, 0.40),
    "dall_kirkham": Span(0.42, 0.36, 0.48),
    "astrograph": Span(0.42, 0.30, 0.55),
}
"""Linear central obstruction by design (common practice, no source)."""
KG_AT_100_MM: dict[str, Span] = {
    "achromat": Span(3.5, 2.2, 5.5),
    "apochromat": Span(5.0, 3.2, 8.0),
    "camera_lens": Span(2.5, 1.5, 5.0),
    "newtonian": Span(2.2, 1.5, 3.3),
    "schmidt_cassegrain": Span(1.45, 1.1, 2.0),
    "maksutov": Span(1.9, 1.4, 2.6),
    "ritchey_chretien": Span(2.0, 1.5, 2.8),
    "classical_cassegrain": Span(1.9, 1.4, 2.6),
    "dall_kirkham": Span(2.2, 1.6, 3.0),
    "astrograph": Span(2.4, 1.6, 3.6),
}
"""Mass of a tube of 100 mm by design; it grows as the aperture's area (common practice, no source)."""
THICKNESS_MM: dict[str, Span] = {
    "off_axis_guider": Span(17.0, 10.0, 30.0),
    "filter_wheel": Span(20.0, 12.0, 30.0),
}
"""What a part takes of the light's path by its kind (common practice, no source)."""
_ANY_OBSTRUCTION, _ANY_KG = Span(0.3, 0.0, 0.5), Span(2.5, 1.1, 8.0)
COLLIMATED_IN_THE_FIELD = (
    "newtonian",
    "schmidt_cassegrain",
    "ritchey_chretien",
    "classical_cassegrain",
    "dall_kirkham",
)
"""Designs whose owner collimates them now and then (common practice, no source)."""
WITHOUT_SPIDER = ("achromat", "apochromat", "camera_lens", "schmidt_cassegrain", "maksutov")
WITH_SPIDER = ("newtonian", "ritchey_chretien", "classical_cassegrain", "dall_kirkham")
"""Designs whose secondary hangs on vanes, where nobody has said (common practice, no source)."""


@dataclass(frozen=True)
class TubeFigures:
    """A tube's figures as the Scout takes them: what is entered as it is, the rest as a range.

    Attributes:
        obstruction: linear share. mass_kg: on the saddle, with its rings where it comes with them.
        assumed: the fields that are ranges.
    """

    obstruction: Span
    mass_kg: Span
    assumed: tuple[str, ...]


def exactly(value: float) -> Span:
    """A figure that is entered."""
    return Span(value, value, value)


def figures_of(tube: OpticalTube, obstruction: float | None) -> TubeFigures:
    """Take a tube's figures; obstruction: as the bench has it, None where it is not known."""
    design, assumed = tube.design or "", []
    if obstruction is None:
        assumed.append("obstruction_mm")
        share = OBSTRUCTION.get(design, _ANY_OBSTRUCTION)
    else:
        share = exactly(obstruction)
    entered = nominal(tube.on_saddle[0])
    if entered is None:
        assumed.append("mass_kg")
        at_100 = KG_AT_100_MM.get(design, _ANY_KG)
        times = ((nominal(tube.aperture_mm) or 100.0) / 100.0) ** 2
        mass = Span(at_100.value * times, at_100.low * times, at_100.high * times)
    else:
        mass = exactly(entered)
    return TubeFigures(share, mass, tuple(assumed))
