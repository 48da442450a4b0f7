"""`trainwright frames`: a folder of a rig's own star frames measured, and what they say."""

from __future__ import annotations

import tempfile
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from server.cli.terminal import DataFolder, open_data, refuse

if TYPE_CHECKING:
    from server.domain.findings import Finding
    from server.domain.frames.asked import SetAsked
    from server.domain.frames.measured import Measured
    from server.domain.frames.plan import FramePlan
    from server.domain.observer import UnitSystem
    from server.flow.frame_sets import FileTold, FrameSets
    from server.flow.workbench import Workbench

LOOK_AGAIN_S = 0.1
OPTIONS = {"step_um": "--step", "spacing_mm": "--spacing", "wave_nm": "--light"}


def measure_frames(
    folder: Annotated[
        Path, typer.Argument(help="The folder of the frames, all of one spacing.", show_default=False)
    ],
    rig: Annotated[
        int,
        typer.Option(
            "--rig", min=1, help="The rig's number, as its page's address shows it.", show_default=False
        ),
    ],
    step: Annotated[
        str, typer.Option("--step", help="What one step of the focuser moves the focus: 0.2um.")
    ] = "",
    inwards: Annotated[
        bool, typer.Option("--in", help="The focuser's numbers rise as the camera moves in.")
    ] = False,
    spacing: Annotated[
        str, typer.Option("--spacing", help="From the corrector's shoulder to the sensor: 55.7mm.")
    ] = "",
    light: Annotated[
        str, typer.Option("--light", help="The filter's middle: 656nm. 0: made by rays, without waves.")
    ] = "",
    at: Annotated[
        list[str] | None,
        typer.Option(
            "--at", metavar="FILE=POSITION", help="Where the focuser stood, in steps; once for each frame."
        ),
    ] = None,
    from_headers: Annotated[
        bool, typer.Option("--from-headers", help="Take positions and step from the files where not given.")
    ] = False,
    quick: Annotated[bool, typer.Option("--quick", help="A rougher look, some ten times as quick.")] = False,
    keep: Annotated[str, typer.Option("--keep", metavar="NAME", help="Keep the measurement.")] = "",
    csv: Annotated[
        Path | None, typer.Option("--csv", metavar="FILE", help="Write the stars.", show_default=False)
    ] = None,
    data: DataFolder = None,
) -> None:
    """Measure a folder of a rig's star frames: tilt, field, spacing, drift, and what to do about them."""
    if not folder.is_dir():
        refuse(f"There is no folder {folder}.")
    if csv is not None and csv.exists():
        refuse(f"{csv} is there already. Name another file.")
    typed = {"quick": "yes" if quick else ""}
    typed |= {name: text for name, text in zip(OPTIONS, (step, spacing, light), strict=True) if text}
    typed |= {"outward": "in"} if inwards else {}
    with _plainly():
        with _at_bench(rig, data, writing=False) as bench:
            plan = _plan(bench, rig)
        with _own_set(folder) as sets:
            # A place of this command alone: nobody else asks for the set, so it needs no owner.
            token = sets.begin(0, rig)
            sets.add_named(token, sets.draft(token, 0), ".")
            draft = sets.look(token)
            texts = _texts(draft.files, plan, at or [], from_headers) | typed
            sets.start(token, draft, _asked(texts, draft.files, plan))
            measured = _ended(sets, token)
        with _at_bench(rig, data, writing=bool(keep)) as bench:
            findings = _findings(bench, rig, measured, " ".join(keep.split())[:80])
            _say(measured, findings, bench.observer.units)
    if csv is not None:
        _write_stars(csv, measured)


@contextmanager
def _plainly() -> Iterator[None]:
    """What is refused ends the command in one line."""
    from server.domain.errors import FieldErrors, TrainwrightError
    from server.rim.phrasebook.tell import write_words

    try:
        yield
    except FieldErrors as error:
        refuse(" ".join(error.errors.values()))
    except TrainwrightError as error:
        refuse(write_words(error.message))


@contextmanager
def _at_bench(rig: int, data: Path | None, *, writing: bool) -> Iterator[Workbench]:
    """The workbench of a rig's owner. Not held while stars are measured: others may want to write."""
    from server.flow.workbench import Workbench
    from server.rim.phrasebook.tell import tell

    stores = open_data(data)
    try:
        with stores.writing() if writing else stores.reading() as store:
            yield Workbench(store, store.observer(store.rig(rig).observer_id), tell)
    finally:
        stores.close()


@contextmanager
def _own_set(folder: Path) -> Iterator[FrameSets]:
    """Sets of frames in a place of their own, which is gone afterwards; only `folder` may be named."""
    from server.flow.frame_sets import FrameSets

    with tempfile.TemporaryDirectory(prefix="trainwright-frames-") as place:
        sets = FrameSets(Path(place), folder.absolute())
        try:
            yield sets
        except KeyboardInterrupt:
            # Who measures hears of it by the set's folder, which is gone.
            refuse("Stopped.")


def _plan(bench: Workbench, rig: int) -> FramePlan:
    from server.flow.keep_frames import frame_plan

    return frame_plan(bench.rigs_in_hand((rig,))[0][1])


def _texts(files: tuple[FileTold, ...], plan: FramePlan, at: list[str], from_headers: bool) -> dict[str, str]:
    """What the page's form would hold: the rig's figures, the files' where asked for, then what was typed."""
    from server.rim.frame_forms import header_texts, usual_texts

    texts = usual_texts(plan, files) | (header_texts(files) if from_headers else {})
    numbers = {one.name: number for number, one in enumerate(files)}
    for placed in at:
        name, sign, position = placed.rpartition("=")
        if not sign:
            refuse(f"--at {placed}: write it as FILE=POSITION, such as --at out.fits=10180.")
        if name not in numbers:
            refuse(f"--at {placed}: there is no such frame here. There is: {', '.join(numbers)}.")
        texts[f"focuser-{numbers[name]}"] = position
    for one in files:
        if one.trouble:
            typer.echo(f"{one.name} is left out. {one.trouble}", err=True)
    return texts


def _asked(texts: Mapping[str, str], files: tuple[FileTold, ...], plan: FramePlan) -> SetAsked:
    from server.rim.frame_forms import read_set

    read = read_set(texts, files, plan)
    if read.asked is None:
        names = {f"focuser-{number}": f"--at {one.name}" for number, one in enumerate(files)} | OPTIONS
        refuse(
            " ".join(
                f"{names[name]}: {sentence}" if name in names else sentence
                for name, sentence in read.errors.items()
            )
        )
    return read.asked


def _ended(sets: FrameSets, token: str) -> Measured:
    """What was measured, when it is; told on the error stream meanwhile."""
    told = 0
    while (done := sets.done(token)) is None:
        failed = sets.failed(token)
        if failed is not None:
            refuse(f"{failed.name}: {failed.sentence}" if failed.name else failed.sentence)
        percent = int(100.0 * sets.stage(token)[1])
        if percent >= told + 10:
            told = percent // 10 * 10
            typer.echo(f"Measured {told} %", err=True)
        time.sleep(LOOK_AGAIN_S)
    return done


def _findings(bench: Workbench, rig: int, measured: Measured, name: str) -> tuple[Finding, ...]:
    """What the frames say; they are kept first where `name` is given."""
    from server.flow import keep_frames

    own = None
    if name:
        stored = keep_frames.keep_measured(bench.store, bench.observer, rig, name, measured, None)
        own, measured = stored.id, stored.measured
        typer.echo(f"Kept as “{name}”, measurement {own}.")
    kept = keep_frames.measured_of_rig(bench.store, bench.observer, rig)
    view = keep_frames.view_frames(bench.rigs_in_hand((rig,))[0][1], measured, kept, own)
    return tuple(map(bench.tell, view.findings))


def _say(measured: Measured, findings: tuple[Finding, ...], units: UnitSystem) -> None:
    from server.domain.findings import WEIGHT_WORDS
    from server.rim.wording import write_amount, write_phrase

    at = "" if measured.spacing is None else f", at a spacing of {write_amount(measured.spacing, units)}"
    typer.echo(
        f"{len(measured.frames)} frames of {measured.width_px} x {measured.height_px} pixels{at}; "
        f"{measured.matched} clean stars on all of them."
    )
    for one in findings:
        typer.echo(f"{WEIGHT_WORDS[one.weight]}. {one.title}: {write_phrase(one.phrase, units)}")
        for remedy in one.remedies:
            typer.echo(f"  - {write_phrase(remedy.phrase, units)}")


def _write_stars(file: Path, measured: Measured) -> None:
    from server.rim.frame_table import star_csv

    try:
        file.write_text(star_csv(measured), encoding="utf-8", newline="")
    except OSError as error:
        refuse(f"{file} cannot be written: {error.strerror}.")
    typer.echo(f"Wrote {len(measured.stars.x)} stars to {file}.")
