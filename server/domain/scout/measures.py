"""What each combination gives, worked out on all at once by the functions that the bench calls.

What tube, corrector and camera decide among them is worked out once for these three, as the bench does for
the rig that they make; mounts are a further axis.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, partial
from typing import TYPE_CHECKING, Literal, TypeAlias

from server.domain.checks.corners import USUAL
from server.domain.guarded import worked_or_none
from server.domain.load.power import work_power
from server.domain.measure import nominal
from server.domain.much import much_is_made
from server.domain.parts import CataloguedPart, Mount, OpticalTube
from server.domain.rig import Rig, Rules
from server.domain.said import Missing, said
from server.domain.scout.candidates import Candidate, Choice, bare_rig, closed, suits, with_beside
from server.domain.scout.needs import MeasureName
from server.domain.scout.usual import THICKNESS_MM, TubeFigures, figures_of
from server.domain.sky.collector import Collector, practical_sub_s
from server.domain.sky.depth import collector_of
from server.domain.sky.frame import Frame, frame_of, panels_over
from server.domain.sky.reckoning import DepthWishes, Reckoning, Unsure, reckon, surface_of
from server.domain.sky.site import Site
from server.domain.sky.target import Target
from server.domain.stars.field import corner_spot_um, standing_of
from server.domain.stars.telescope import Telescope, telescope_of
from server.domain.workings.case import Case
from server.domain.workings.lit import corner_lights
from server.mechanics.payload import load_fraction
from server.optics.seeing import expected_fwhms_arcsec

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Floats: TypeAlias = "npt.NDArray[np.float64]"
    Ints: TypeAlias = "npt.NDArray[np.int64]"

End = Literal["value", "low", "high"]
ENDS: tuple[End, ...] = ("value", "low", "high")
ALTITUDE_DEG = 50.0
"""Of every target: how high a usual one stands while it is photographed (a choice of ours). The Sky reckons
with each target's own."""
WISHES = DepthWishes()
RULES = Rules()
WORK = said("work.scout")
Close: TypeAlias = Callable[[Rig], tuple[Rig, float | None]]
"""A combination's rig with its rings in, and the room that there was for them, mm."""


@dataclass(frozen=True)
class Three:
    """A tube, a corrector or none, and a camera, by their places among the choice's.

    Attributes:
        case, telescope, frame: as the bench has them; None while something is missing.
        figures: of the tube, ranges where nobody has said.
        corner_arcsec: diameter of the corner's star, RMS, by optics alone; None while unknown, and where a
            part is taken as perfect, since nobody has said what it draws.
        behind_kg: what the tube carries weighs, each; None while one is unknown.
        room_mm: between corrector and camera, or in the focuser, for what is not in yet; None while unknown.
    """

    tube: int
    corrector: int
    camera: int
    case: Case
    telescope: Telescope | None
    frame: Frame | None
    figures: TubeFigures
    corner_arcsec: float | None = None
    behind_kg: tuple[float, ...] | None = None
    room_mm: float | None = None


@dataclass(frozen=True, eq=False)
class Pass:
    """All combinations that suit one another, and what each gives: arrays of (n,), nan where not known.

    Attributes:
        of: which three a combination has; mount: which mount of the choice's.
        measures: by name and end, at the value taken and at the honest ends of what nobody has said.
        fills, hours: (targets, n); hours are of all panels that take a target in.
        lacking: of each three, what its hours are a range for want of.
    """

    choice: Choice
    threes: tuple[Three, ...]
    of: Ints
    mount: Ints
    measures: Mapping[End, Mapping[MeasureName, Floats]]
    fills: Floats
    hours: Floats
    lacking: tuple[tuple[Missing, ...], ...]

    @property
    def count(self) -> int:
        """How many combinations there are."""
        return int(self.of.size)

    @cached_property
    def tubes(self) -> Ints:
        """The catalogue number of each combination's tube."""
        import numpy as np

        return np.array([self.choice.tubes[one.tube].id for one in self.threes], dtype=np.int64)[self.of]

    def candidate(self, number: int) -> Candidate:
        """One combination."""
        three = self.threes[int(self.of[number])]
        corrector, mount = (
            self.choice.correctors[three.corrector],
            self.choice.mounts[int(self.mount[number])],
        )
        return Candidate(
            self.choice.tubes[three.tube].id,
            0 if corrector is None else corrector.id,
            self.choice.cameras[three.camera].id,
            0 if mount is None else mount.id,
            tuple(item.id for item in self.choice.beside),
        )

    def number_of(self, candidate: Candidate) -> int | None:
        """Which combination a candidate is, None for one that is not among these."""
        choice = self.choice
        numbers = (candidate.tube, candidate.corrector, candidate.camera, candidate.mount)
        at = [
            next((k for k, item in enumerate(some) if (0 if item is None else item.id) == number), None)
            for some, number in zip(
                (choice.tubes, choice.correctors, choice.cameras, choice.mounts), numbers, strict=True
            )
        ]
        three = self._places.get(tuple(at[:3]))
        return None if three is None or at[3] is None else three * len(choice.mounts) + at[3]

    @cached_property
    def _places(self) -> Mapping[tuple[int | None, ...], int]:
        return {(one.tube, one.corrector, one.camera): k for k, one in enumerate(self.threes)}


def work_pass(
    choice: Choice, targets: Sequence[Target], site: Site | None, currency: str, close: Close = closed
) -> Pass:
    """Work out all measures of all combinations. close: how a combination's back focus is closed."""
    with much_is_made():
        return _pass(choice, targets, site, currency, close)


def work_built(
    table: Pass, number: int, built: Rig, targets: Sequence[Target], site: Site | None, currency: str
) -> Pass:
    """One combination's measures as it is built, its rings with it; cost is without these."""
    choice, three, mount = table.choice, table.threes[int(table.of[number])], int(table.mount[number])
    alone = replace(
        choice,
        tubes=(choice.tubes[three.tube],),
        correctors=(choice.correctors[three.corrector],),
        cameras=(choice.cameras[three.camera],),
        mounts=(choice.mounts[mount],),
    )
    carried = replace(built, gear=tuple(one for one in built.gear if not isinstance(one.item.part, Mount)))
    return work_pass(alone, targets, site, currency, lambda _: (carried, None))


def _pass(choice: Choice, targets: Sequence[Target], site: Site | None, currency: str, close: Close) -> Pass:
    import numpy as np

    threes = tuple(_threes(choice, close))
    mounts = len(choice.mounts)
    of, mount = np.repeat(np.arange(len(threes)), mounts), np.tile(np.arange(mounts), len(threes))
    fills = _fills(threes, targets)
    reckoned = _reckoned(threes, targets, site)
    star, (_, light) = _stars(threes, site), corner_lights([one.case for one in threes])
    panels = _panels(threes, targets, fills)
    hours = _hours_of_ends(threes, reckoned, targets, site, panels)
    cost = {end: _costs(choice, threes, of, mount, currency, end) for end in ENDS}
    rated, heaviest = _of_mounts(choice)
    corner, room = _column(threes, lambda one: one.corner_arcsec), _column(threes, lambda one: one.room_mm)
    without_range: dict[MeasureName, Floats] = {
        "star": star[of],
        "corner": corner[of],
        "corner_px": (corner / _column(threes, _scale_arcsec))[of],
        "light": light[of],
        "fill_least": _over(fills, np.min)[of],
        "fill_most": _over(fills, np.max)[of],
        "power": _watts(choice, threes, of, mount),
    }
    measures: dict[End, dict[MeasureName, Floats]] = {}
    for end in ENDS:
        tube = _column(threes, _tube_kg(end))
        load = _column(threes, _load_kg(end))[of]
        # A mount that nobody has weighed still leaves the tube to be lifted.
        lift = (np.fmax if end == "low" else np.maximum)(tube[of], heaviest[mount])
        share = load_fraction(load, rated[mount])
        measures[end] = {
            "cost": cost[end],
            "load": load,
            "share": share,
            "lift": lift,
            "hours": _over(hours[end], np.sum)[of],
            "room": (room - _taken_mm(choice, end))[of],
            **without_range,
        }
    lacking = tuple(() if one is None else tuple(one.missing) for one in reckoned)
    return Pass(choice, threes, of, mount, measures, fills[:, of], hours["value"][:, of], lacking)


def _threes(choice: Choice, close: Close) -> Iterator[Three]:
    """Every tube with each corrector that suits it and each camera."""
    for t, tube in enumerate(choice.tubes):
        for c, corrector in enumerate(choice.correctors):
            if not suits(tube.part, None if corrector is None else corrector.part):
                continue
            for k, camera in enumerate(choice.cameras):
                between: list[CataloguedPart] = [] if corrector is None else [corrector]
                parts = with_beside([tube, *between, camera], choice.beside)
                done = worked_or_none(WORK, partial(_three, tube, (t, c, k), parts, close))
                yield done or _without_figures(tube, (t, c, k), parts)


def _without_figures(
    tube: CataloguedPart[OpticalTube], at: tuple[int, int, int], parts: Sequence[CataloguedPart]
) -> Three:
    """What no formula holds for: it is among the others, with what cannot be worked out unknown."""
    figures = figures_of(tube.part, tube.part.linear_obstruction)
    return Three(*at, Case(bare_rig(parts)), None, None, figures, behind_kg=_masses(parts[1:]))


def _masses(behind: Sequence[CataloguedPart]) -> tuple[float, ...] | None:
    known = [mass for item in behind if (mass := nominal(item.part.mass_kg)) is not None]
    return tuple(known) if len(known) == len(behind) else None


def _three(
    tube: CataloguedPart[OpticalTube],
    at: tuple[int, int, int],
    parts: Sequence[CataloguedPart],
    close: Close,
) -> Three:
    rig, room = close(bare_rig(parts))
    case = Case(rig)
    figures = figures_of(tube.part, case.optics.obstruction)
    frame, telescope = frame_of(case), telescope_of(case)
    within = (place.item for place in rig.train if place.item.id != tube.id)
    behind = _masses([*within, *(one.item for one in rig.gear)])
    framed = frame if isinstance(frame, Frame) else None
    if telescope is None:
        return Three(*at, case, None, framed, figures, behind_kg=behind, room_mm=room)
    corner = worked_or_none(WORK, partial(_corner_arcsec, telescope))
    return Three(*at, case, telescope, framed, figures, corner, behind, room)


def _corner_arcsec(telescope: Telescope) -> float | None:
    if telescope.perfect or telescope.missing:
        return None
    terms = telescope.spaced(None)
    standing, _ = standing_of(telescope, terms, USUAL)
    return 2.0 * corner_spot_um(telescope, terms, standing) / telescope.um_per_arcsec


def _tube_kg(end: End) -> Callable[[Three], float]:
    return lambda one: float(getattr(one.figures.mass_kg, end))


def _load_kg(end: End) -> Callable[[Three], float | None]:
    # Summed as the bench does, or the last digit differs.
    tube = _tube_kg(end)
    return lambda one: None if one.behind_kg is None else math.fsum((tube(one), *one.behind_kg))


def _scale_arcsec(one: Three) -> float | None:
    return None if one.telescope is None else one.telescope.pixel_um / one.telescope.um_per_arcsec


def _taken_mm(choice: Choice, end: End) -> float:
    """What those parts take of the room as a rule that are to be in it, and that nobody has entered."""
    thick = {"value": "value", "low": "high", "high": "low"}[end]
    return math.fsum(getattr(THICKNESS_MM[kind], thick) for kind in choice.lacking if kind in THICKNESS_MM)


def _watts(choice: Choice, threes: tuple[Three, ...], of: Ints, mount: Ints) -> Floats:
    """What all of a combination takes on average, as the power check counts it."""
    import numpy as np

    def taken(items: Sequence[CataloguedPart | None]) -> Floats:
        sheets = [None if item is None else work_power(bare_rig((item,))) for item in items]
        found = [0.0 if one is None else math.nan if one.uncounted else one.mean_w or 0.0 for one in sheets]
        return np.array(found, dtype=np.float64)

    # Summed from the sky to the mount as the bench does, or the last digit differs.
    cameras = taken(choice.beside).sum() + taken(choice.cameras)
    each = cameras[np.array([one.camera for one in threes], dtype=np.int64)]
    found: Floats = each[of] + taken(choice.mounts)[mount]
    return found


def _column(threes: tuple[Three, ...], read: Callable[[Three], float | None]) -> Floats:
    import numpy as np

    found = (read(one) for one in threes)
    return np.array([math.nan if one is None else one for one in found], dtype=np.float64)


def _fills(threes: tuple[Three, ...], targets: Sequence[Target]) -> Floats:
    """What each target fills of each frame at its best angle: (targets, threes); nan for unknown sizes."""
    import numpy as np

    from server.sky.framing import best_angle

    wide = _column(threes, lambda one: None if one.frame is None else one.frame.sides_arcmin[0])
    high = _column(threes, lambda one: None if one.frame is None else one.frame.sides_arcmin[1])
    found = np.full((len(targets), len(threes)), math.nan)
    seen = np.flatnonzero(~np.isnan(wide))
    for k, target in enumerate(targets):
        if target.ellipse_arcmin is not None and seen.size:
            found[k, seen] = best_angle(wide[seen], high[seen], *target.ellipse_arcmin, 0.0).share
    return found


def _panels(threes: tuple[Three, ...], targets: Sequence[Target], fills: Floats) -> Floats:
    """How many panels take in each target: one where it fits the frame, or nobody knows how large it is."""
    import numpy as np

    found = np.ones(fills.shape)
    seen: dict[tuple[int, float, float], int] = {}
    for k, at in np.argwhere(fills > 1.0).tolist():
        frame, ellipse = threes[at].frame, targets[k].ellipse_arcmin
        if frame is not None and ellipse is not None:
            alike = k, frame.width_deg, frame.height_deg
            if alike not in seen:
                (columns, rows), _ = panels_over(frame, ellipse)
                seen[alike] = columns * rows
            found[k, at] = seen[alike]
    return found


def _over(figures: Floats, how: Callable[..., Floats]) -> Floats:
    """Over the targets of which anything is known: one without a brightness takes hours from nobody."""
    import numpy as np

    known = figures[~np.isnan(figures).all(axis=1)]
    return how(known, axis=0) if len(known) else np.full(figures.shape[1], math.nan)


_OPEN: dict[str, Unsure] = {
    "quantum_efficiency": "sensor",
    "colour": "sensor",
    "gains": "read",
    "dark_current": "dark",
    "design": "optics",
}
"""What goes into the depth as a usual range while a field is empty."""
_LIGHT: tuple[Unsure, ...] = ("sensor", "optics")


def _reckoned(
    threes: tuple[Three, ...], targets: Sequence[Target], site: Site | None
) -> list[Reckoning | None]:
    """What goes into the depth of each, but for the target; None while something is not known."""
    if site is None or site.sky is None or not targets:
        return [None for _ in threes]
    found: list[Reckoning | None] = []
    for one in threes:
        done = None if one.telescope is None else reckon(one.telescope, site, targets[0], WISHES)
        found.append(done if isinstance(done, Reckoning) else None)
    return found


def _at(reckoning: Reckoning, end: End) -> dict[Unsure, float]:
    """What is entered at its usual value; what nobody has said at its end: more light makes fewer hours."""
    values = {name: span.value for name, span in reckoning.spans.items()}
    for one in reckoning.missing:
        name = _OPEN.get(one.field)
        if name is not None and end != "value":
            values[name] = getattr(
                reckoning.spans[name], "high" if (end == "low") == (name in _LIGHT) else "low"
            )
    return values


def _hours_of_ends(
    threes: tuple[Three, ...],
    reckoned: list[Reckoning | None],
    targets: Sequence[Target],
    site: Site | None,
    panels: Floats,
) -> dict[End, Floats]:
    """Hours at each end; where nothing is a range, the ends are the value."""
    import numpy as np

    value = panels * _hours(threes, reckoned, targets, site, "value")
    found: dict[End, Floats] = {"value": value}
    ranged = [
        k
        for k, (one, known) in enumerate(zip(threes, reckoned, strict=True))
        if known is not None and (known.missing or "obstruction_mm" in one.figures.assumed)
    ]
    some, known = tuple(threes[k] for k in ranged), [reckoned[k] for k in ranged]
    for end in ENDS[1:]:
        found[end] = np.array(value)
        found[end][:, ranged] = panels[:, ranged] * _hours(some, known, targets, site, end)
    return found


def _hours(
    threes: tuple[Three, ...],
    reckoned: list[Reckoning | None],
    targets: Sequence[Target],
    site: Site | None,
    end: End,
) -> Floats:
    """Hours for each target on each: (targets, threes); nan while something is not known."""
    import numpy as np

    found = np.full((len(targets), len(threes)), math.nan)
    seen = [k for k, one in enumerate(reckoned) if one is not None]
    if site is None or site.sky is None or not seen:
        return found
    # Less clear, and so longer, where the obstruction is at its high end.
    collector = Collector.stacked(
        [
            collector_of(one.telescope, _at(known, end), ALTITUDE_DEG, getattr(one.figures.obstruction, end))
            for one, known in zip(threes, reckoned, strict=True)
            if one.telescope is not None and known is not None
        ]
    )
    sub = practical_sub_s(collector.shortest_s(WISHES.read_share))
    for k, target in enumerate(targets):
        surface = surface_of(target)
        if surface is not None:
            found[k, seen] = collector.hours(collector.surface_e(surface.value), sub, WISHES.signal_to_noise)
    return found


def _costs(
    choice: Choice, threes: tuple[Three, ...], of: Ints, mount: Ints, currency: str, end: End
) -> Floats:
    """What is to be bought yet, in whole units of a currency; nan where a price is not known in it, but at
    the low end what is known of it.
    """
    import numpy as np

    unknown = 0.0 if end == "low" else math.nan

    def prices(items: Sequence[CataloguedPart | None]) -> Floats:
        found = []
        for item in items:
            price = choice.price_of(item)
            same = price is not None and (price.hundredths == 0 or price.currency == currency)
            # Whole hundredths add up without rounding: a sum that is the budget itself must meet it.
            found.append(price.hundredths if price is not None and same else unknown)
        return np.array(found, dtype=np.float64)

    tubes, correctors, cameras = map(prices, (choice.tubes, choice.correctors, choice.cameras))
    places = np.array([(one.tube, one.corrector, one.camera) for one in threes], dtype=np.int64)
    tube, corrector, camera = places.reshape(-1, 3).T
    each = tubes[tube] + correctors[corrector] + cameras[camera]
    mounts = prices(choice.mounts) + prices(choice.beside).sum()
    found: Floats = (each[of] + mounts[mount]) / 100.0
    return found


def _of_mounts(choice: Choice) -> tuple[Floats, Floats]:
    """Each mount's rating and its heaviest piece, kg."""
    import numpy as np

    def figure(*names: str) -> Floats:
        found = []
        for item in choice.mounts:
            if item is None and names != ("rated_kg",):
                found.append(0.0)  # No mount: nothing of it to lift.
                continue
            measures = [] if item is None else [getattr(item.part, name) for name in names]
            known = [one.nominal for one in measures if one is not None]
            found.append(known[0] if known else math.nan)
        return np.array(found, dtype=np.float64)

    return figure("rated_kg"), figure("heaviest_piece_kg", "mass_kg")


def _stars(threes: tuple[Three, ...], site: Site | None) -> Floats:
    """A star's full width all in, arcsec."""
    seeing = RULES.seeing_arcsec if site is None or site.seeing_arcsec is None else site.seeing_arcsec
    return expected_fwhms_arcsec(
        seeing,
        _column(threes, lambda one: None if one.telescope is None else one.telescope.aperture_mm),
        RULES.wavelength_nm,
        _column(threes, lambda one: None if one.frame is None else one.frame.scale_arcsec),
        _column(threes, lambda one: one.figures.obstruction.value),
        RULES.guiding_arcsec,
    )
