"""What each combination gives, worked out on all at once by the functions that the bench calls.

Whatever tube, corrector and camera decide among them is worked out once for these three, as the bench works
it out for the rig that they make; mounts are a further axis.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from server.domain.guarded import worked_or_none
from server.domain.measure import nominal
from server.domain.parts import Camera, CataloguedPart, Mount
from server.domain.said import said
from server.domain.scout.candidates import Candidate, Choice, rig_of, suits
from server.domain.scout.needs import MeasureName
from server.domain.scout.usual import COLLIMATED_IN_THE_FIELD, TubeFigures, figures_of
from server.domain.sky.collector import Collector, practical_sub_s
from server.domain.sky.depth import DepthWishes, dark_at, gain_row, optics_span, sensor_span, surface_of
from server.domain.sky.depth import UNKNOWN_DARK_E_S, UNKNOWN_READ_E
from server.domain.sky.frame import Frame, frame_of
from server.domain.sky.site import Site
from server.domain.sky.target import Target
from server.domain.stars.field import corner_spot_um, pupil_of
from server.domain.stars.telescope import BROAD_NM, Telescope, telescope_of
from server.domain.workings.case import Case
from server.mechanics.payload import load_fraction

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]
    Ints = npt.NDArray[np.int64]

End = Literal["value", "low", "high"]
ALTITUDE_DEG = 50.0
"""Of the targets, where no site is chosen yet."""


@dataclass(frozen=True)
class Optics:
    """What tube, corrector and camera make of each other.

    Attributes:
        tube, corrector, camera: their places among the choice's.
        telescope, frame: as the bench has them; None while something is missing.
        figures: of the tube, ranges where nobody has said.
        clear_mm2: what of the opening is clear. corner_arcsec: diameter of the corner's star, RMS, by optics
            alone; None unknown.
    """

    tube: int
    corrector: int
    camera: int
    telescope: Telescope | None
    frame: Frame | None
    figures: TubeFigures
    clear_mm2: Mapping[End, float] = field(default_factory=dict)
    corner_arcsec: float | None = None


@dataclass(frozen=True, eq=False)
class Pass:
    """All combinations that suit one another, and what each gives; arrays of (n,), nan where not known.

    Attributes:
        choice: what is chosen from. optics: each three.
        of: which three a combination has; mount: which mount of the choice's.
        measures: by name, at the value taken; low, high: at the honest ends of what is not entered.
        fills: (targets, n). hours_of: (targets, n).
    """

    choice: Choice
    optics: tuple[Optics, ...]
    of: Ints
    mount: Ints
    measures: Mapping[MeasureName, Floats]
    low: Mapping[MeasureName, Floats]
    high: Mapping[MeasureName, Floats]
    fills: Floats
    hours_of: Floats

    @property
    def count(self) -> int:
        """How many combinations there are."""
        return int(self.of.size)

    def candidate(self, number: int) -> Candidate:
        """One combination."""
        three = self.optics[int(self.of[number])]
        corrector = self.choice.correctors[three.corrector]
        mount = self.choice.mounts[int(self.mount[number])]
        return Candidate(
            self.choice.tubes[three.tube].id,
            0 if corrector is None else corrector.id,
            self.choice.cameras[three.camera].id,
            0 if mount is None else mount.id,
        )

    def number_of(self, candidate: Candidate) -> int | None:
        """Which combination a candidate is, None for one that is not among these."""
        found = (k for k in range(self.count) if self.candidate(k) == candidate)
        return next(found, None)


def work_pass(choice: Choice, targets: Sequence[Target], site: Site | None, currency: str) -> Pass:
    """Work out all measures of all combinations."""
    import numpy as np

    optics = tuple(_optics(choice))
    rows = len(choice.mounts)
    of = np.repeat(np.arange(len(optics)), rows)
    mount = np.tile(np.arange(rows), len(optics))
    per_three = {end: _per_three(choice, optics, targets, site, end) for end in ("value", "low", "high")}
    ends = {end: _with_mounts(choice, optics, per_three[end], of, mount, currency, end) for end in per_three}
    value = per_three["value"]
    return Pass(
        choice, optics, of, mount, ends["value"], ends["low"], ends["high"], value.fills[:, of], value.hours[:, of]
    )


def _optics(choice: Choice):  # type: ignore[no-untyped-def]
    """Every tube with each corrector that suits it and each camera."""
    for t, tube in enumerate(choice.tubes):
        for c, corrector in enumerate(choice.correctors):
            if not suits(tube.part, None if corrector is None else corrector.part):
                continue
            for k, camera in enumerate(choice.cameras):
                chain: list[CataloguedPart] = [tube, camera] if corrector is None else [tube, corrector, camera]
                done = worked_or_none(said("work.depth"), lambda t=t, c=c, k=k, chain=chain: _three(t, c, k, chain))
                if done is not None:
                    yield done


def _three(t: int, c: int, k: int, chain: list[CataloguedPart]) -> Optics:
    case = Case(rig_of(chain, None))
    tube = chain[0].part
    figures = figures_of(tube, case.optics.obstruction)
    frame, telescope = frame_of(case), telescope_of(case)
    if telescope is None:
        return Optics(t, c, k, None, frame if isinstance(frame, Frame) else None, figures)
    pupil = pupil_of(telescope)
    clear: dict[End, float] = {}
    for end in ("value", "low", "high"):
        share = getattr(figures.obstruction, end)
        shut = share**2 - telescope.obstruction**2 if "obstruction_mm" in figures.assumed else 0.0
        clear[end] = (pupil.clear_area - math.pi * shut) * telescope.aperture_mm**2 / 4.0
    from server.domain.stars.wishes import StarWishes
    from server.domain.stars.field import standing_of

    terms = telescope.spaced(None)
    standing, _ = standing_of(telescope, terms, StarWishes(focus_at="compromise"))
    corner = 2.0 * corner_spot_um(telescope, terms, standing) / telescope.um_per_arcsec
    return Optics(t, c, k, telescope, frame if isinstance(frame, Frame) else None, figures, clear, corner)


@dataclass(frozen=True, eq=False)
class _Threes:
    """Of each three: light, star, corner, load without the mount, and for each target fill and hours."""

    star: Floats
    corner: Floats
    light: Floats
    load: Floats
    tube_kg: Floats
    fills: Floats
    hours: Floats


def _per_three(
    choice: Choice, optics: tuple[Optics, ...], targets: Sequence[Target], site: Site | None, end: End
) -> _Threes:
    import numpy as np

    def each(read) -> Floats:  # type: ignore[no-untyped-def]
        found = [read(one) for one in optics]
        return np.array([math.nan if one is None else one for one in found], dtype=np.float64)

    tube_kg = each(lambda one: getattr(one.figures.mass_kg, end))
    behind = each(lambda one: _behind_kg(choice, one))
    return _Threes(
        star=_stars(choice, optics, site),
        corner=each(lambda one: one.corner_arcsec),
        light=_lights(choice, optics),
        load=tube_kg + behind,
        tube_kg=tube_kg,
        fills=_fills(optics, targets),
        hours=_hours(choice, optics, targets, site, end),
    )


def _behind_kg(choice: Choice, one: Optics) -> float | None:
    """Corrector and camera; None while one of their masses is not known."""
    corrector, camera = choice.correctors[one.corrector], choice.cameras[one.camera]
    masses = [nominal(item.part.mass_kg) for item in (corrector, camera) if item is not None]
    return None if any(mass is None for mass in masses) else sum(mass or 0.0 for mass in masses)
