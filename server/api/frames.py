"""Frames: what a rig's own stars say of it. A set of files is handed in, measured in the background, kept.

Beyond the fixed units of the API, px are pixels of the frame as it lies in its file.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import Annotated, Any, Literal, Self

from fastapi import Depends, File, Form, Path, Query, Response, UploadFile
from pydantic import BaseModel, Field

from server.api.deps import HeavyBench, ReadingBench, WritingBench
from server.api.errors import CHANGING, LOOKING
from server.api.findings import FindingAnswer, write_findings
from server.api.naming import operations
from server.api.reading import Body
from server.domain.errors import FieldErrors, RefusedError
from server.domain.frames.measured import (
    Common,
    FrameLine,
    HintFound,
    Measured,
    PlateFound,
    Screws,
    StoredMeasured,
    SurfaceFound,
    Value,
)
from server.domain.frames.plan import FramePlan
from server.flow import keep_frames
from server.flow.frame_sets import FileTold, FrameSets, SetDraft, SetFailed, Stage
from server.flow.keep_frames import FramesView, frame_plan, view_frames
from server.flow.workbench import Workbench
from server.frames.shim import Lies
from server.handed import LARGEST_NUMBER, Number
from server.handed.frames import frame_sets_of
from server.rim.frame_forms import Wishes, ask_set, trouble_of_angles
from server.rim.frame_table import star_csv
from server.rim.phrasebook.tell import asked_of, tell

router = operations("frames")

_RIG = "/observers/{observer_id}/rigs/{rig_id}/frames"
_SET = "/observers/{observer_id}/frames/sets/{token}"
_MEASURED = "/observers/{observer_id}/frames/{measured_id}"
Sets = Annotated[FrameSets, Depends(frame_sets_of)]
Token = Annotated[str, Path(pattern=r"^[A-Za-z0-9_-]{1,40}$", description="Names a set on its way.")]
AskedNumber = Annotated[int, Query(ge=1, le=LARGEST_NUMBER)]


class PlanAnswer(BaseModel):
    """Which frames to take: two positions, to be visited out, in, in, out."""

    focal_ratio: float | None
    obstruction: float | None = Field(description="Of the aperture, as a share of its diameter.")
    pixel_um: float | None
    away_um: float | None = Field(description="From best focus to either side, at the sensor.")
    steps: int | None = Field(description="The same in steps of the rig's focus motor.")
    step_um: float | None = Field(description="What one step moves the focus at the sensor.")
    zone_um: float | None = Field(description="To either side of best focus, in which stars stay sharp.")
    spacing_mm: float | None = Field(description="From the corrector's shoulder to the sensor.")
    asked_mm: float | None = Field(description="The same, as the corrector's maker asks for it.")
    sensor_px: tuple[int, ...] | None = Field(description="Columns and rows.")
    lacking: tuple[str, ...] = Field(description="What to enter first.")

    @classmethod
    def of(cls, plan: FramePlan) -> Self:
        """The answer for a plan."""
        light = plan.light
        return cls(
            focal_ratio=None if light is None else light.focal_ratio,
            obstruction=None if light is None else light.obstruction,
            pixel_um=None if light is None else light.pixel_um,
            lacking=tuple(map(str, asked_of((*plan.missing, *plan.no_obstruction)))),
            **{name: getattr(plan, name) for name in cls.model_fields.keys() & vars(plan).keys()},
        )


class FramesAnswer(BaseModel):
    """What a set of frames says, in figures and in findings."""

    made_at: datetime
    spacing_mm: float | None
    width_px: int
    height_px: int
    frames: tuple[FrameLine, ...]
    matched: int = Field(description="Clean stars that are on all frames.")
    trouble: str = Field(description="A code where nothing could be fitted; empty where it could.")
    surface: SurfaceFound | None = Field(description="Best focus, um; from frames at two positions or more.")
    tilt_um: Value | None = Field(description="Over the diagonal.")
    hint: HintFound | None = Field(description="What one frame hints at.")
    drift: Common | None
    coma: Common | None
    plate: PlateFound | None
    screws: Screws | None
    lies: Lies | None = Field(description="How the picture lies on the sensor, once a turn has told.")
    findings: tuple[FindingAnswer, ...]


class MeasuredAnswer(FramesAnswer):
    """A measurement that is kept."""

    id: int
    rig_id: int
    entry_id: int | None
    name: str


class MeasuredLine(BaseModel):
    """A measurement in the list."""

    id: int
    entry_id: int | None
    name: str
    made_at: datetime
    spacing_mm: float | None
    tilt_um: Value | None

    @classmethod
    def of(cls, stored: StoredMeasured) -> Self:
        """The answer for a measurement."""
        measured = stored.measured
        return cls(
            id=stored.id,
            entry_id=stored.entry_id,
            name=stored.name,
            made_at=measured.made_at,
            spacing_mm=measured.spacing_mm,
            tilt_um=_tilt(measured),
        )


class FileAnswer(BaseModel):
    """A file of a set. What it says of itself is used only where the request that measures says it too."""

    number: int = Field(description="By which a request names it, from 1.")
    name: str
    trouble: str = Field(description="Why it cannot be read; empty where it can.")
    kind: str
    width_px: int
    height_px: int
    bits: int
    focuser: float | None = Field(description="Where the focuser stood, in its steps.")
    step_um: float | None
    exposure_s: float | None
    temperature_c: float | None
    binning: int | None
    pixel_um: float | None
    mosaic: str
    stacked: int | None
    filter: str
    taken: str
    scale_arcsec: float | None

    @classmethod
    def of(cls, number: int, file: FileTold) -> Self:
        """The answer for a file."""
        told = {name: getattr(file, name) for name in cls.model_fields if name != "number"}
        return cls(number=number, **told)


class SetAnswer(BaseModel):
    """A set on its way."""

    token: str
    rig_id: int
    stage: Stage
    share: float = Field(description="How much is measured, 0 to 1.")
    failed: SetFailed | None = Field(description="Which file it failed at, and why.")
    files: tuple[FileAnswer, ...]
    found: FramesAnswer | None = Field(description="What it says, when it is done.")


class FrameWanted(Body):
    """A file that is to be measured."""

    number: int = Field(ge=1, le=100)
    focuser: float | None = Field(default=None, ge=-1e7, le=1e7, description="Where it stood, in steps.")


class MeasureRequest(Body):
    """How a set is to be measured. Light and sensor are the rig's."""

    frames: list[FrameWanted] = Field(
        default=[],
        max_length=100,
        description="The files to measure, each once; empty: all of them, and no position is known.",
        examples=[[{"number": 1, "focuser": 10_180}, {"number": 2, "focuser": 9_820}]],
    )
    step_um: float | None = Field(
        default=None, gt=0, le=10_000, description="What one step moves the focus at the sensor."
    )
    outward: bool = Field(default=True, description="Whether the numbers rise as the camera moves out.")
    spacing_mm: float | None = Field(default=None, ge=0, le=2000)
    wave_nm: float | None = Field(
        default=None, ge=0, le=2500, description="Their light; null: the rig's band. 0: made by rays alone."
    )
    mosaic: bool = Field(default=False, description="Raw frames of a colour camera.")
    side: Literal["", "out", "in"] = Field(default="", description="Of focus, for one frame alone.")
    quick: bool = Field(default=False, description="Only windows spread over the frame.")


class KeepRequest(Body):
    """What a measurement is called, and the entry of the rig's logbook that it belongs to."""

    name: str = Field(default="", max_length=80)
    entry_id: int | None = Field(default=None, ge=1, le=LARGEST_NUMBER)


class ScrewsRequest(Body):
    """Where the screws stand, or places for shims."""

    radius_mm: float = Field(gt=0, le=500, description="From the axis.")
    angles_deg: list[float] = Field(
        min_length=3,
        max_length=4,
        description="From the picture's right, anticlockwise, seen from the sky.",
        examples=[[90, 210, 330]],
    )
    pitch_mm: float | None = Field(default=None, gt=0, le=5, description="Of their thread; null: shims.")


class TurnRequest(Body):
    """Which screw was moved since an earlier measurement, and by how much."""

    before: int = Field(ge=1, le=LARGEST_NUMBER, description="The measurement before it.")
    number: int = Field(ge=1, le=4, description="Of the screw, from 1.")
    out_um: float = Field(ge=-5000, le=5000, description="Away from the sky; below 0: in.")


class FigurePair(BaseModel):
    """A figure before and after; null where a set does not tell it."""

    figure: Literal["tilt_um", "curvature_um", "astigmatism_um"]
    before: Value | None
    after: Value | None


class ComparedAnswer(BaseModel):
    """Two measurements of one rig. The tilt is over the diagonal, the others in the corners."""

    before: MeasuredLine
    after: MeasuredLine
    figures: tuple[FigurePair, ...]


def _tilt(measured: Measured) -> Value | None:
    surface = measured.surface
    return None if surface is None else Value(value=surface.across_um, error=2.0 * surface.tilt_error)


def _figures(bench: Workbench, view: FramesView) -> dict[str, Any]:
    measured = view.measured
    alike = FramesAnswer.model_fields.keys() & Measured.model_fields.keys()
    found: dict[str, Any] = {name: getattr(measured, name) for name in alike}
    found["tilt_um"] = _tilt(measured)
    found["findings"] = write_findings(map(tell, view.findings), bench.observer.units)
    return found


def _measured(bench: Workbench, stored: StoredMeasured) -> MeasuredAnswer:
    rig = bench.rigs_in_hand((stored.rig_id,))[0][1]
    kept = keep_frames.measured_of_rig(bench.store, bench.observer, stored.rig_id)
    own = {name: getattr(stored, name) for name in ("id", "rig_id", "entry_id", "name")}
    return MeasuredAnswer(**own, **_figures(bench, view_frames(rig, stored.measured, kept, stored.id)))


def _set(bench: Workbench, sets: FrameSets, token: str, draft: SetDraft) -> SetAnswer:
    stage, share = sets.stage(token)
    done, found = sets.done(token), None
    if done is not None:
        rig = bench.rigs_in_hand((draft.rig_id,))[0][1]
        kept = keep_frames.measured_of_rig(bench.store, bench.observer, draft.rig_id)
        found = FramesAnswer(**_figures(bench, view_frames(rig, done, kept)))
    return SetAnswer(
        token=token,
        rig_id=draft.rig_id,
        stage=stage,
        share=share,
        failed=sets.failed(token),
        files=tuple(FileAnswer.of(number, one) for number, one in enumerate(draft.files, start=1)),
        found=found,
    )


@router.get(f"{_RIG}/plan", responses=LOOKING)
def plan_frames(bench: ReadingBench, rig_id: Number) -> PlanAnswer:
    """Which frames to take of a rig."""
    return PlanAnswer.of(frame_plan(bench.rigs_in_hand((rig_id,))[0][1]))


@router.get(_RIG, responses=LOOKING)
def list_measured(bench: ReadingBench, rig_id: Number) -> tuple[MeasuredLine, ...]:
    """A rig's measurements, newest first."""
    found = keep_frames.measured_of_rig(bench.store, bench.observer, rig_id)
    return tuple(map(MeasuredLine.of, found))


@router.post("/frames/hand-in/{observer_id}/{rig_id}", status_code=201, responses=CHANGING)
def hand_in_frames(
    bench: ReadingBench,
    sets: Sets,
    rig_id: Number,
    files: Annotated[list[UploadFile], File(description="FITS, TIFF, PNG or JPEG.")] = [],  # noqa: B006
    folder: Annotated[
        str, Form(max_length=1000, description="A folder of this machine, below the allowed one.")
    ] = "",
    token: Annotated[str, Form(max_length=40, description="A set that they join; empty: a new one.")] = "",
) -> SetAnswer:
    """Hand frames of one spacing in: as files, or by naming their folder. Each is looked at."""
    bench.rigs_in_hand((rig_id,))
    if not files and not folder.strip():
        raise FieldErrors({"files": "Send frames, or name their folder."})
    named = token or sets.begin(bench.observer.id, rig_id)
    try:
        draft = sets.draft(named, bench.observer.id)
        if draft.rig_id != rig_id:
            raise RefusedError("These frames were handed in for another rig.")
        for file in files:
            draft = sets.add_file(named, draft, file.filename or "", file.file)
        if folder.strip():
            draft = sets.add_named(named, draft, folder.strip())
    except FieldErrors:
        if not token:
            sets.drop(named)
        raise
    return _set(bench, sets, named, sets.look(named))


@router.get(_SET, responses=LOOKING)
def show_frame_set(bench: HeavyBench, sets: Sets, token: Token) -> SetAnswer:
    """How far a set is, and in the end what it says."""
    return _set(bench, sets, token, sets.draft(token, bench.observer.id))


@router.post(f"{_SET}/measure", status_code=202, responses=CHANGING)
def measure_frames(bench: ReadingBench, sets: Sets, token: Token, body: MeasureRequest) -> SetAnswer:
    """Measure a set, in the background: ask for it again until its stage is done or failed."""
    draft = sets.draft(token, bench.observer.id)
    if sets.stage(token)[0] in ("waiting", "measuring"):
        raise RefusedError("These frames are being measured already: wait for it, or stop it.")
    positions = {one.number - 1: one.focuser for one in body.frames}
    if len(positions) < len(body.frames) or any(at >= len(draft.files) for at in positions):
        raise FieldErrors({"frames": f"Name each of the {len(draft.files)} files once, by its number."})
    wishes = Wishes(**body.model_dump(exclude={"frames"}))
    plan = frame_plan(bench.rigs_in_hand((draft.rig_id,))[0][1])
    sets.start(token, draft, ask_set(draft.files, positions or _all(draft), wishes, plan))
    return _set(bench, sets, token, draft)


def _all(draft: SetDraft) -> dict[int, float | None]:
    return dict.fromkeys(range(len(draft.files)))


@router.post(f"{_SET}/stop", status_code=202, responses=CHANGING)
def stop_frames(bench: ReadingBench, sets: Sets, token: Token) -> SetAnswer:
    """Let the measuring of a set end. Its files stay."""
    draft = sets.draft(token, bench.observer.id)
    sets.stop(token)
    return _set(bench, sets, token, draft)


@router.delete(_SET, status_code=204, responses=CHANGING)
def drop_frames(bench: ReadingBench, sets: Sets, token: Token) -> None:
    """Drop a set. Files in a folder that was named stay."""
    sets.draft(token, bench.observer.id)
    sets.drop(token)


@router.post(f"{_SET}/keep", status_code=201, responses=CHANGING)
def keep_frame_set(bench: WritingBench, sets: Sets, token: Token, body: KeepRequest) -> MeasuredAnswer:
    """Keep what a set says. Its files are dropped; figures and small cut-outs of stars stay."""
    draft = sets.draft(token, bench.observer.id)
    done = sets.done(token)
    if done is None:
        raise RefusedError("These frames are not measured yet: nothing can be kept of them.")
    called = " ".join(body.name.split()) or f"{done.made_at:%Y-%m-%d %H:%M}"
    stored = keep_frames.keep_measured(bench.store, bench.observer, draft.rig_id, called, done, body.entry_id)
    answer = _measured(bench, stored)
    sets.drop(token)
    return answer


@router.get("/observers/{observer_id}/frames/compare", responses=LOOKING)
def compare_measured(bench: ReadingBench, before: AskedNumber, after: AskedNumber) -> ComparedAnswer:
    """Two measurements of one rig: what a correction gained."""
    one, two = (keep_frames.own_measured(bench.store, bench.observer, number) for number in (before, after))
    if one.rig_id != two.rig_id:
        raise RefusedError("These measurements are of two rigs: compare those of one.")
    return ComparedAnswer(
        before=MeasuredLine.of(one),
        after=MeasuredLine.of(two),
        figures=tuple(_pairs(one.measured, two.measured)),
    )


def _pairs(before: Measured, after: Measured) -> Iterator[FigurePair]:
    yield FigurePair(figure="tilt_um", before=_tilt(before), after=_tilt(after))
    one, two = before.surface, after.surface
    yield FigurePair(figure="curvature_um", before=one and one.curvature, after=two and two.curvature)
    yield FigurePair(figure="astigmatism_um", before=one and one.astigmatism, after=two and two.astigmatism)


@router.get(_MEASURED, responses=LOOKING)
def show_measured(bench: HeavyBench, measured_id: Number) -> MeasuredAnswer:
    """A measurement, and what it says of the rig as that stands now."""
    return _measured(bench, keep_frames.own_measured(bench.store, bench.observer, measured_id))


CSV: dict[int | str, dict[str, Any]] = {200: {"content": {"text/csv": {"schema": {"type": "string"}}}}}


@router.get(f"{_MEASURED}/stars.csv", responses={**CSV, **LOOKING}, response_class=Response)
def show_measured_stars(bench: ReadingBench, measured_id: Number) -> Response:
    """The stars of a measurement, as CSV: places, light, and by frame their sizes and moments, px."""
    stored = keep_frames.own_measured(bench.store, bench.observer, measured_id)
    return Response(star_csv(stored.measured), media_type="text/csv")


@router.put(f"{_MEASURED}/screws", responses=CHANGING)
def set_screws(bench: WritingBench, measured_id: Number, body: ScrewsRequest) -> MeasuredAnswer:
    """Say where the screws stand: the findings then tell what each of them needs."""
    if trouble := trouble_of_angles(body.angles_deg):
        raise FieldErrors({"angles_deg": trouble})
    screws = Screws.model_validate({**body.model_dump(), "angles_deg": tuple(body.angles_deg)})
    return _measured(bench, keep_frames.set_screws(bench.store, bench.observer, measured_id, screws))


@router.post(f"{_MEASURED}/turn", responses=CHANGING)
def tell_turn(bench: WritingBench, measured_id: Number, body: TurnRequest) -> MeasuredAnswer:
    """Say which screw was moved since an earlier measurement: how the picture lies follows from it."""
    stored = keep_frames.tell_turn(
        bench.store, bench.observer, measured_id, body.before, body.number, body.out_um
    )
    return _measured(bench, stored)


@router.delete(_MEASURED, status_code=204, responses=CHANGING)
def remove_measured(bench: WritingBench, measured_id: Number) -> None:
    """Remove a measurement."""
    keep_frames.remove_measured(bench.store, bench.observer, measured_id)
