"""Sets of frames on their way: files in a folder of their own, measured by a process of its own.

All that is known of a set stands in its folder, so that whoever serves the page can tell of it. Nothing stays
of it
but what its owner keeps: folders are removed when they are done with, and after a day.
"""

from __future__ import annotations

import contextlib
import os
import secrets
import shutil
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path
from threading import BoundedSemaphore, RLock, Thread
from typing import IO, Literal

from pydantic import Field

from server.domain.errors import FieldErrors, NotFoundError, RefusedError
from server.domain.frames.asked import SetAsked
from server.domain.frames.measured import MOST_FRAMES, Measured
from server.domain.measure import Frozen

MEGABYTE = 1_000_000
MOST_SETS = 8
"""How many sets of one observer are kept that nobody has kept or dropped."""
KEPT_S = 24 * 3600.0
AT_ONCE = 1
"""How many sets are measured at once; others wait for their turn."""
MOST_WAITING = 3
"""How many of one observer's sets are measured or wait for it."""
LOOK_S, MEASURE_S = 60.0, 900.0
"""How long the process may take."""
_SILENT_S = 90.0
"""A set of which nothing was heard for so long is not measured any more: the app was closed meanwhile."""
_WAIT_S = 5.0
_SPARE_BYTES = 1_000_000_000
"""So much of the disk is left free."""
_COPIED = 1 << 20
_turns = BoundedSemaphore(AT_ONCE)
_changing = RLock()
"""A set is changed by one at a time."""
_ENDINGS = (".fits", ".fit", ".fts", ".fz", ".tif", ".tiff", ".png", ".jpg", ".jpeg")


class FileTold(Frozen):
    """A file of a set, and what it says of itself; `trouble` where it cannot be read.

    Attributes:
        stored: its path. What it says is offered to its owner, and never used unasked.
    """

    stored: str
    name: str = Field(max_length=200)
    kind: str = ""
    width_px: int = 0
    height_px: int = 0
    bits: int = 0
    focuser: float | None = None
    step_um: float | None = None
    exposure_s: float | None = None
    temperature_c: float | None = None
    binning: int | None = None
    pixel_um: float | None = None
    mosaic: str = ""
    stacked: int | None = None
    filter: str = ""
    taken: str = ""
    scale_arcsec: float | None = None
    trouble: str = ""
    looked: bool = False


class SetDraft(Frozen):
    """A set as it lies in its folder."""

    observer_id: int
    rig_id: int
    files: tuple[FileTold, ...] = ()
    asked: SetAsked | None = None
    typed: dict[str, str] = Field(default_factory=dict)
    """What its owner typed, so that nothing is lost when it fails."""


class SetFailed(Frozen):
    """Why a set could not be measured: which file, and a sentence."""

    name: str = ""
    sentence: str


Stage = Literal["draft", "waiting", "measuring", "done", "failed"]
GOING: tuple[Stage, ...] = ("waiting", "measuring")


class FrameSets:
    """The sets below one folder."""

    def __init__(self, root: Path, allowed: Path | None = None, megabytes: int = 300) -> None:
        """`root` need not exist yet. `allowed`: the folder whose files may be named, None for none.
        `megabytes`: how large one file may be.
        """
        self.root = root
        self.allowed = allowed
        self.megabytes = megabytes

    def begin(self, observer_id: int, rig_id: int) -> str:
        """Begin a set; its token. The oldest of too many is dropped."""
        self._sweep()
        for token, _ in self.begun(observer_id)[MOST_SETS - 1 :]:
            if self.stage(token)[0] not in GOING:
                self.drop(token)
        token = secrets.token_urlsafe(12)
        (self.root / token).mkdir(parents=True, mode=0o700)
        self._write(token, "set.json", SetDraft(observer_id=observer_id, rig_id=rig_id))
        return token

    def begun(self, observer_id: int) -> list[tuple[str, SetDraft]]:
        """An observer's sets that are neither kept nor dropped, the newest first, by their tokens."""
        self._sweep()
        found = []
        for folder in self._folders():
            text = self._read(folder.name, "set.json")
            draft = None if text is None else SetDraft.model_validate_json(text)
            if draft is not None and draft.observer_id == observer_id:
                found.append((folder.stat().st_mtime, folder.name, draft))
        found.sort(key=lambda one: one[0], reverse=True)
        return [(token, draft) for _, token, draft in found]

    def draft(self, token: str, observer_id: int) -> SetDraft:
        """A set of this observer's. Raises NotFoundError."""
        text = self._read(token, "set.json")
        draft = None if text is None else SetDraft.model_validate_json(text)
        if draft is None or draft.observer_id != observer_id:
            raise NotFoundError(
                "These frames are not here any more: they were kept, dropped, or came more than a day ago. "
                "What was kept stands under the frames of its rig."
            )
        return draft

    def add_file(self, token: str, draft: SetDraft, name: str, file: IO[bytes]) -> SetDraft:
        """Copy a file into a set, bounded. Raises FieldErrors("files")."""
        self._demand_room(draft)
        if shutil.disk_usage(self.root).free < self.megabytes * MEGABYTE + _SPARE_BYTES:
            raise FieldErrors({"files": "The disk is nearly full. Make room, or name a folder instead."})
        clean = _shown(Path(name.replace("\\", "/")).name) or "frame"
        stored = self.root / token / f"frame-{secrets.token_hex(8)}"
        copied = 0
        with stored.open("wb") as out:
            while piece := file.read(_COPIED):
                copied += len(piece)
                if copied > self.megabytes * MEGABYTE:
                    break
                out.write(piece)
        if copied > self.megabytes * MEGABYTE:
            stored.unlink()
            raise FieldErrors({"files": f"{clean} is larger than {self.megabytes} MB. Send single frames."})
        return self._with(token, draft, FileTold(stored=str(stored), name=clean))

    def add_named(self, token: str, draft: SetDraft, folder: str) -> SetDraft:
        """Take the frames of a folder on this machine, which must lie in the allowed one. Raises
        FieldErrors("folder").
        """
        if self.allowed is None:
            raise FieldErrors({"folder": "No folder is allowed: start with --frames FOLDER, or upload."})
        root = self.allowed.resolve()
        try:
            place = (root / folder).resolve()
            place.is_dir()
        except (OSError, ValueError) as error:
            raise FieldErrors({"folder": "This is no folder's name."}) from error
        if place != root and root not in place.parents:
            raise FieldErrors({"folder": f"Only folders below {root} may be named."})
        if not place.is_dir():
            raise FieldErrors({"folder": f"There is no folder {place}."})
        found = sorted(one for one in place.iterdir() if one.suffix.lower() in _ENDINGS and one.is_file())
        found = [one for one in found if root in one.resolve().parents and str(one).isprintable()]
        if not found:
            raise FieldErrors({"folder": f"No FITS, TIFF, PNG or JPEG files lie in {place}."})
        if len(draft.files) + len(found) > MOST_FRAMES:
            raise FieldErrors({"folder": f"{len(found)} frames lie there; {MOST_FRAMES} at most make a set."})
        for one in found:
            draft = self._with(token, draft, FileTold(stored=str(one), name=_shown(one.name)))
        return draft

    def look(self, token: str) -> SetDraft:
        """Let the files that nobody has looked at say what they are, in a process of its own."""
        self._run(token, "look")
        told = self._read(token, "looked.json")
        looked = {} if told is None else {one.stored: one for one in SetDraft.model_validate_json(told).files}
        with _changing:
            draft = self._draft(token)
            files = tuple(looked.get(one.stored, one) for one in draft.files)
            draft = draft.model_copy(update={"files": files})
            self._write(token, "set.json", draft)
        return draft

    def start(self, token: str, draft: SetDraft, asked: SetAsked) -> None:
        """Begin to measure, in the background. Raises RefusedError while too many of the observer's are."""
        going = [one for one, _ in self.begun(draft.observer_id) if self.stage(one)[0] in GOING]
        if len(going) >= MOST_WAITING:
            raise RefusedError(
                f"{len(going)} sets of yours are being measured: wait for one of them, or stop it."
            )
        for name in ("stop", "done.json", "failed.json", "progress"):
            (self.root / token / name).unlink(missing_ok=True)
        self._write(token, "set.json", draft.model_copy(update={"asked": asked}))
        (self.root / token / "progress").write_text("-1")
        Thread(target=self._measure, args=(token,), daemon=True).start()

    def stage(self, token: str) -> tuple[Stage, float]:
        """How far a set is, and the share that is measured."""
        if self._read(token, "done.json") is not None:
            return "done", 1.0
        if self._read(token, "failed.json") is not None:
            return "failed", 0.0
        text = self._read(token, "progress")
        if text is None:
            return "draft", 0.0
        if time.time() - (self.root / token / "progress").stat().st_mtime > _SILENT_S:
            self._write(
                token, "failed.json", SetFailed(sentence="The measuring broke off. Measure once more.")
            )
            return "failed", 0.0
        try:
            share = float(text)
        except ValueError:  # Just being written.
            share = 0.0
        return ("waiting", 0.0) if share < 0.0 else ("measuring", share)

    def done(self, token: str) -> Measured | None:
        """What was measured, None before the end."""
        text = self._read(token, "done.json")
        return None if text is None else Measured.model_validate_json(text)

    def failed(self, token: str) -> SetFailed | None:
        """Why it failed, None where it did not."""
        text = self._read(token, "failed.json")
        return None if text is None else SetFailed.model_validate_json(text)

    def stop(self, token: str) -> None:
        """Let the measuring end; the files stay."""
        with contextlib.suppress(OSError):
            (self.root / token / "stop").touch()

    def drop(self, token: str) -> None:
        """Remove a set with its files; those in the user's own folder stay."""
        self.stop(token)
        shutil.rmtree(self.root / token, ignore_errors=True)

    def _demand_room(self, draft: SetDraft) -> None:
        if len(draft.files) >= MOST_FRAMES:
            raise FieldErrors({"files": f"A set holds {MOST_FRAMES} frames at most."})

    def _with(self, token: str, draft: SetDraft, file: FileTold) -> SetDraft:
        with _changing:
            # Another tab may have added one meanwhile.
            draft = self._draft(token)
            self._demand_room(draft)
            if self.stage(token)[0] in GOING:
                raise FieldErrors({"files": "These frames are being measured: add others afterwards."})
            more = draft.model_copy(update={"files": (*draft.files, file)})
            self._write(token, "set.json", more)
        return more

    def _draft(self, token: str) -> SetDraft:
        text = self._read(token, "set.json")
        if text is None:
            raise NotFoundError("These frames are not here any more.")
        return SetDraft.model_validate_json(text)

    def _measure(self, token: str) -> None:
        while not _turns.acquire(timeout=_WAIT_S):
            with contextlib.suppress(OSError):
                (self.root / token / "progress").touch(exist_ok=True)
        try:
            if (self.root / token / "stop").exists():
                self._write(token, "failed.json", SetFailed(sentence="Stopped before it began."))
                return
            self._run(token, "measure")
        finally:
            _turns.release()

    def _run(self, token: str, what: Literal["look", "measure"]) -> None:
        folder = self.root / token
        # One thread for the sums: the bench goes on meanwhile.
        environment = {**os.environ, "OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}
        command = [sys.executable, "-m", "server.flow.frame_process", what, str(folder)]
        limit = LOOK_S if what == "look" else MEASURE_S
        why = b""
        try:
            why = subprocess.run(
                command,
                env=environment,
                stdin=subprocess.DEVNULL,
                capture_output=True,
                check=False,
                timeout=limit,
            ).stderr
        except subprocess.TimeoutExpired:
            why = b"Timeout"
        if what == "measure" and self.stage(token)[0] not in ("done", "failed") and folder.is_dir():
            known = {b"MemoryError": "It took more memory than it is given.", b"Timeout": "It took too long."}
            told = next((words for key, words in known.items() if key in why), "The measuring broke off.")
            self._write(token, "failed.json", SetFailed(sentence=f"{told} Try fewer or smaller frames."))

    def _folders(self) -> Sequence[Path]:
        return [one for one in self.root.iterdir() if one.is_dir()] if self.root.is_dir() else []

    def _sweep(self) -> None:
        for folder in self._folders():
            with contextlib.suppress(OSError):
                if time.time() - folder.stat().st_mtime > KEPT_S:
                    shutil.rmtree(folder, ignore_errors=True)

    def _read(self, token: str, name: str) -> str | None:
        if not token.replace("-", "").replace("_", "").isalnum() or len(token) > 40:
            return None
        try:
            return (self.root / token / name).read_text(encoding="utf-8")
        except OSError:
            return None

    def _write(self, token: str, name: str, value: Frozen) -> None:
        write_whole(self.root / token / name, value.model_dump_json())


def _shown(name: str) -> str:
    """A file's name as a page can show it."""
    return name.encode("utf-8", "replace").decode("utf-8")[:200]


def write_whole(path: Path, text: str) -> None:
    """Write a file so that who reads it sees all of it, or what was there before."""
    beside = path.with_name(f"{path.name}.{secrets.token_hex(4)}.new")
    beside.write_text(text, encoding="utf-8")
    beside.replace(path)
