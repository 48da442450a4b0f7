"""Frames as their templates see them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar

from markupsafe import Markup

from server.domain.fields import FieldSpec
from server.domain.findings import Finding
from server.domain.frames.measured import Measured, StoredMeasured
from server.domain.frames.plan import FramePlan
from server.domain.observer import UnitSystem
from server.domain.said import said
from server.flow.frame_sets import FileTold, SetDraft, SetFailed, Stage
from server.flow.keep_frames import FramesView
from server.flow.protocols import EntryName
from server.rim.frame_forms import SCREW_SPECS, SET_SPECS, TURN_SPECS, binning_of
from server.rim.phrasebook.tell import plain, tell
from server.rim.star_wishes import wish_texts
from server.rim.wording import write_amount
from server.web.frames.cuts import Pair, pairs_of
from server.web.frames.figure import left_over, level_lines, level_step, whiskers
from server.web.rendering import URLS
from server.web.stars.page import USUAL


@dataclass(frozen=True)
class FramesPage:
    """A rig's frames: which to take, where to hand them in, what was measured before.

    Attributes:
        plan: which frames to take. lacking: what to enter first, each with its address.
        kept: measurements, newest first. allowed: the folder that may be named, "" for none.
        megabytes: how large a file may be. begun: sets that are neither kept nor dropped, by token and words.
        typed, errors: of the form.
    """

    template: ClassVar[str] = "frames/frames.html"

    rig_id: int
    name: str
    plan: FramePlan
    lacking: tuple[tuple[str, str], ...]
    kept: tuple[StoredMeasured, ...]
    allowed: str
    megabytes: int
    begun: tuple[tuple[str, str], ...]
    typed: Mapping[str, str]
    errors: Mapping[str, str]


@dataclass(frozen=True)
class SetPage:
    """A set of frames on its way.

    Attributes:
        token: of the set. files: with what each says of itself. stage, share: how far it is.
        failed: why it could not be measured. typed, errors: of the form. binning: by the frames' size.
        says: whether any file says where the focuser stood, or its step.
    """

    template: ClassVar[str] = "frames/set.html"

    rig_id: int
    name: str
    token: str
    files: tuple[FileTold, ...]
    plan: FramePlan
    stage: Stage
    share: float
    failed: SetFailed | None
    typed: Mapping[str, str]
    errors: Mapping[str, str]

    @property
    def specs(self) -> tuple[FieldSpec, ...]:
        """The fields for the whole set; on which side of focus it stood is asked of one frame alone."""
        alone = sum(not one.trouble for one in self.files) == 1
        return tuple(spec for spec in SET_SPECS if alone or spec.name != "side")

    @property
    def binning(self) -> int:
        """How the frames are binned."""
        return binning_of(self.plan, self.files)

    @property
    def says(self) -> bool:
        """Whether a file says something of the focuser."""
        return any(one.focuser is not None or one.step_um is not None for one in self.files)

    @property
    def says_step(self) -> bool:
        """Whether a file says how large the focuser's step is."""
        return any(one.step_um is not None for one in self.files)

    @property
    def running(self) -> bool:
        """Whether it is waited for."""
        return self.stage in ("waiting", "measuring")


def set_page(
    rig_id: int,
    name: str,
    token: str,
    draft: SetDraft,
    plan: FramePlan,
    stage: tuple[Stage, float],
    failed: SetFailed | None,
    typed: Mapping[str, str],
    errors: Mapping[str, str],
) -> SetPage:
    """Build the page."""
    return SetPage(rig_id, name, token, draft.files, plan, *stage, failed, typed, errors)


@dataclass(frozen=True)
class MeasuredPage:
    """What a set says.

    Attributes:
        id: of a kept measurement; None for one that is not kept yet, then `token` names its set.
        findings: what it says. levels, shapes, left: the pictures, each shape with its frame's name.
        pairs: cut-outs beside the rig's own stars. stars_url: these on their page, with what was measured put
            in.
        seeing: the air that the stars' width asks for, to put it into the rig's rules; "" where it is not
            told.
        entries: of the rig's logbook, to keep it with. entry: the one that it belongs to.
        earlier: other measurements of the rig, to compare with, and to say which screw was turned since.
        typed, errors: of the forms.
    """

    template: ClassVar[str] = "frames/measured.html"

    rig_id: int
    rig: str
    id: int | None
    token: str
    name: str
    measured: Measured
    findings: tuple[Finding, ...]
    levels: Markup | None
    shapes: tuple[tuple[str, Markup], ...]
    left: Markup | None
    pairs: tuple[Pair, ...]
    stars_url: str
    seeing: str
    earlier: tuple[StoredMeasured, ...]
    entries: tuple[EntryName, ...]
    entry: EntryName | None
    typed: Mapping[str, str]
    errors: Mapping[str, str]
    screws: tuple[FieldSpec, ...] = SCREW_SPECS
    turn: tuple[FieldSpec, ...] = TURN_SPECS

    @property
    def lies(self) -> str:
        """How the picture lies, once a turn of a screw has told; "" before."""
        lies = self.measured.lies
        return "" if lies is None else plain(said("frames.lies", lies=lies.replace(" ", "_")))

    @property
    def before(self) -> tuple[StoredMeasured, ...]:
        """The measurements that were kept before this one."""
        return tuple(one for one in self.earlier if self.id is not None and one.id < self.id)

    @property
    def made_at(self) -> datetime:
        """When it was measured."""
        return self.measured.made_at


def measured_page(
    rig_id: int,
    rig: str,
    view: FramesView,
    kept: Sequence[StoredMeasured],
    entries: Sequence[EntryName],
    *,
    stored: StoredMeasured | None = None,
    token: str = "",
    typed: Mapping[str, str] | None = None,
    errors: Mapping[str, str] | None = None,
) -> MeasuredPage:
    """Build the page."""
    measured = view.measured
    own = None if stored is None else stored.id
    drawn = (0,) if len(measured.frames) == 1 else (0, len(measured.frames) - 1)
    enough = len(measured.stars.x) >= 30
    return MeasuredPage(
        rig_id=rig_id,
        rig=rig,
        id=own,
        token=token,
        name="" if stored is None else stored.name,
        measured=measured,
        findings=tuple(tell(one) for one in view.findings),
        levels=None if measured.surface is None else level_lines(measured),
        shapes=tuple((measured.frames[n].name, whiskers(measured, n)) for n in drawn) if enough else (),
        left=left_over(measured),
        pairs=pairs_of(measured, view.drawn),
        stars_url=""
        if view.drawn is None
        else URLS.stars(rig_id, **{k: v for k, v in wish_texts(view.drawn.wishes).items() if v != USUAL[k]}),
        seeing=f"{view.air.seeing_arcsec:.1f}" if view.air is not None and view.air.contradicts else "",
        earlier=tuple(one for one in kept if one.id != own),
        entries=tuple(entries),
        entry=next((one for one in entries if stored is not None and one.id == stored.entry_id), None),
        typed=typed or {},
        errors=errors or {},
    )


@dataclass(frozen=True)
class Gained:
    """One figure of two measurements: what it is, before and after with their errors, written."""

    label: str
    before: str
    after: str


@dataclass(frozen=True)
class ComparePage:
    """Two measurements of one rig: what a correction gained."""

    template: ClassVar[str] = "frames/compare.html"

    rig_id: int
    rig: str
    before: StoredMeasured
    after: StoredMeasured
    rows: tuple[Gained, ...]
    said: str
    pictures: tuple[tuple[str, Markup], ...]


def compare_page(
    rig_id: int, rig: str, before: StoredMeasured, after: StoredMeasured, units: UnitSystem
) -> ComparePage:
    """Build the page."""
    rows = tuple(_gained(before.measured, after.measured, units))
    shown = [one for one in (before, after) if one.measured.surface is not None]
    step = max((level_step(one.measured) for one in shown), default=None)
    return ComparePage(
        rig_id,
        rig,
        before,
        after,
        rows,
        rows[0].label + f": {rows[0].before} before, {rows[0].after} after." if rows else "",
        tuple((one.name, level_lines(one.measured, f"fr-levels-{one.id}", step)) for one in shown),
    )


def _gained(before: Measured, after: Measured, units: UnitSystem) -> list[Gained]:
    from server.domain.frames.findings import drift_px

    rows = []
    one, two = before.surface, after.surface
    if one is not None and two is not None:
        for label, values in (
            ("Tilt over the diagonal", [(2.0 * abs(s.tilt), 2.0 * s.tilt_error) for s in (one, two)]),
            ("Field curvature", [(s.curvature.value, s.curvature.error) for s in (one, two)]),
            ("Astigmatism in the corner", [(s.astigmatism.value, s.astigmatism.error) for s in (one, two)]),
        ):
            was, now = (f"{round(value) + 0} µm (within {error:.0f})" for value, error in values)
            rows.append(Gained(label, was, now))
    lines = [drift_px(m) for m in (before, after)]
    if lines[0] is not None and lines[1] is not None:
        rows.append(Gained("Line that all stars share", *(f"{line or 0.0:.1f} px" for line in lines)))
    if one is not None and two is not None and one.in_focus_px and two.in_focus_px:
        rows.append(
            Gained("Half-flux diameter in focus", f"{one.in_focus_px:.1f} px", f"{two.in_focus_px:.1f} px")
        )
    spacings = [m.spacing for m in (before, after)]
    if spacings[0] is not None and spacings[1] is not None and spacings[0] != spacings[1]:
        rows.append(Gained("Spacing", *(write_amount(s, units) for s in spacings if s is not None)))
    return rows
