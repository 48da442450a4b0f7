"""One frame of 60 million pixels: read, its stars found and measured, against the finder's own background and
extraction of the same pixels, which lie in memory already.
"""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import sep
from astropy.io import fits

from server.domain.frames.asked import FrameAsked, SetAsked
from server.domain.frames.measuring import measure_set
from tests.bench.measure import Line, Times
from tests.frames.simulator import Field, Night, Optics, frame

TIMES_THE_FINDER, TIMES_FASTER, MOST_MB = 1.25, 8.0, 260.0
COLUMNS, ROWS, TILES = 2394, 1597, 4
"""Of the part that is simulated, and how often it stands beside and above itself: 61 million pixels."""

PEAK = """
import sys
from datetime import UTC, datetime
from pathlib import Path
from server.domain.frames.asked import FrameAsked, SetAsked
from server.flow.frame_process import measure_set
for one in sys.argv[1:]:
    measure_set(SetAsked(frames=(FrameAsked(file=one, name="frame"),)), datetime.now(UTC))
(line,) = (one for one in Path("/proc/self/status").read_text().splitlines() if one.startswith("VmHWM"))
print(int(line.split()[1]) / 1000.0)
"""
"""What Linux tells of a process's own peak; what `resource` tells is its parent's before it started."""

NOW = datetime(2026, 1, 1, tzinfo=UTC)


def run(folder: Path, *, rounds: int = 5, tiles: int = TILES, stars: int = 312) -> list[Line]:
    """Times in turn the finder alone, the whole measurement, and the quick look at windows."""
    path = folder / "frame.fits"
    optics = Optics(columns=COLUMNS, rows=ROWS, tilt=30 + 10j, curvature=-20)
    pixels = np.tile(frame(optics, Night(), Field(stars=stars), 60.0), (tiles, tiles))
    fits.PrimaryHDU(pixels).writeto(path)
    size = f"{pixels.size / 1e6:.0f} million pixels"
    taken = _in_turn(path, pixels.astype(np.float32), rounds)
    alone, whole, quick = (Times(tuple(one)) for one in taken)
    grown = _peak(path) - _peak(None)
    dearer, faster = whole.median / alone.median, alone.median / quick.median
    return [
        Line(f"a frame of {size}, read and measured, processor ms", rounds, whole.text),
        Line("  the finder's own background and extraction, ms", rounds, alone.text),
        Line(
            "  times that", rounds, f"{dearer:.2f}", f"{TIMES_THE_FINDER} or less", dearer <= TIMES_THE_FINDER
        ),
        Line("  by windows, processor ms", rounds, quick.text),
        Line(
            "  times faster than the finder",
            rounds,
            f"{faster:.1f}",
            f"{TIMES_FASTER:.0f} or more",
            faster >= TIMES_FASTER,
        ),
        Line(
            "  memory at the peak above a bare process, MB",
            1,
            f"{grown:.0f}",
            f"under {MOST_MB:.0f}",
            grown < MOST_MB,
        ),
    ]


def _in_turn(path: Path, pixels: np.ndarray, rounds: int) -> list[list[float]]:
    """Return the processor times of the three, s, after a warm-up."""
    works: tuple[Callable[[], object], ...] = (
        lambda: _alone(pixels),
        lambda: measure_set(asked(path, False), NOW),
        lambda: measure_set(asked(path, True), NOW),
    )
    taken: list[list[float]] = [[], [], []]
    for number in range(rounds + 1):
        for work, kept in zip(works, taken, strict=True):
            begun = time.process_time()
            work()
            if number:
                kept.append(time.process_time() - begun)
    return taken


def asked(path: Path, quick: bool) -> SetAsked:
    """What is asked of the frame: to be read and measured; what several say together costs no pixels."""
    return SetAsked(frames=(FrameAsked(file=str(path), name="frame"),), quick=quick)


def _alone(pixels: np.ndarray) -> None:
    sky = sep.Background(pixels)
    sep.extract(pixels - sky.back(), 5.0, err=sky.globalrms)


def _peak(path: Path | None) -> float:
    """Return the peak of a process that measures the file, or only stands ready to, MB."""
    command = [sys.executable, "-c", PEAK, *([] if path is None else [str(path)])]
    return float(subprocess.run(command, capture_output=True, text=True, check=True).stdout)
