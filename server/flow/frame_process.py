"""The process that reads frames: `python -m server.flow.frame_process look|measure FOLDER`.

What a strange file does to it, it does to nothing else.
"""

from __future__ import annotations

import contextlib
import os
import sys
from datetime import UTC, datetime
from pathlib import Path

from server.domain.frames.measuring import FrameTroubleError, measure_set
from server.flow.frame_sets import FileTold, SetDraft, SetFailed, write_whole
from server.frames.reading import FrameRefusedError, open_frame

MOST_MEMORY = 3_000_000_000
"""Bytes of address space."""


class _StoppedError(Exception):
    """The user stopped it."""


def look(folder: Path) -> None:
    """Let each file say what it is."""
    draft = SetDraft.model_validate_json((folder / "set.json").read_text(encoding="utf-8"))
    files = tuple(one if one.looked else _looked_at(one) for one in draft.files)
    write_whole(folder / "looked.json", draft.model_copy(update={"files": files}).model_dump_json())


def _looked_at(one: FileTold) -> FileTold:
    try:
        with open_frame(Path(one.stored)) as frame:
            header = frame.header
            told = {
                "kind": frame.kind,
                "width_px": frame.width_px,
                "height_px": frame.height_px,
                "bits": frame.bits,
                "focuser": header.focuser,
                "step_um": header.step_um,
                "exposure_s": header.exposure_s,
                "temperature_c": header.temperature_c,
                "binning": header.binning,
                "pixel_um": header.pixel_um,
                "mosaic": header.mosaic,
                "stacked": header.stacked,
                "filter": header.filter,
                "taken": header.taken,
                "scale_arcsec": None if header.plate is None else header.plate.scale_arcsec,
            }
    except FrameRefusedError as error:
        told = {"trouble": str(error)}
    except MemoryError:
        told = {"trouble": "Reading it takes more memory than it is given. Send single frames as FITS."}
    return one.model_copy(update={**told, "looked": True})


def measure(folder: Path) -> None:
    """Measure the set; its end is in done.json, or in failed.json."""
    draft = SetDraft.model_validate_json((folder / "set.json").read_text(encoding="utf-8"))
    assert draft.asked is not None
    parent = os.getppid()

    def told(share: float) -> None:
        # Nor does anybody wait for it when the app is gone.
        if (folder / "stop").exists() or not folder.is_dir() or os.getppid() != parent:
            raise _StoppedError
        (folder / "progress").write_text(f"{share:.3f}")

    try:
        told(0.0)
        found = measure_set(draft.asked, datetime.now(UTC), told)
        write_whole(folder / "done.json", found.model_dump_json())
    except _StoppedError:
        _fail(folder, "", "Stopped.")
    except FrameTroubleError as error:
        _fail(folder, error.name, str(error))
    except MemoryError:
        _fail(folder, "", "It took more memory than it is given. Try fewer or smaller frames.")


def _fail(folder: Path, name: str, sentence: str) -> None:
    if folder.is_dir():
        write_whole(folder / "failed.json", SetFailed(name=name, sentence=sentence).model_dump_json())


def bound_memory() -> None:
    """Bound what this process may take, where the system can."""
    with contextlib.suppress(ImportError, ValueError, OSError):
        import resource

        resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY))


if __name__ == "__main__":
    os.nice(10) if hasattr(os, "nice") else None
    bound_memory()
    {"look": look, "measure": measure}[sys.argv[1]](Path(sys.argv[2]))
