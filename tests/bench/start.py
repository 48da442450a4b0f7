"""From the command to the first page, on a database that exists, as an installed program starts: compiled."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Mapping
from pathlib import Path
from urllib.request import urlopen

from tests.bench.data import make_workshop
from tests.bench.measure import Line, Times
from tests.running import OPEN_AT, ROOT, THE_SERVER, Running, compiled_in

AIM_S = 1.5
AIM = 1.8
"""How many times the frameworks' own import a start may take."""
FRAMEWORKS = "import fastapi, sqlmodel"


def run(folder: Path, *, parts: int = 1000, rounds: int = 7, warm_up: int = 1) -> list[Line]:
    """Starts the app and asks for its first page; in turn with Python alone, and the frameworks alone."""
    make_workshop(folder, parts)
    compiled = compiled_in(folder)  # The warm-up writes them.
    starts: list[float] = []
    worked: list[float] = []
    nothings: list[float] = []
    frameworks: list[float] = []
    for number in range(warm_up + rounds):
        times = (*_start(folder, compiled), _python("pass", compiled), _python(FRAMEWORKS, compiled))
        if number >= warm_up:
            for kept, one in zip((starts, worked, nothings, frameworks), times, strict=True):
                kept.append(one)
    start, nothing, framework = Times(tuple(starts)), Times(tuple(nothings)), Times(tuple(frameworks))
    ratio = start.median / framework.median
    return [
        Line(
            "from the command to the first page, ms",
            rounds,
            start.text,
            f"median under {AIM_S * 1000:.0f}",
            start.median < AIM_S,
        ),
        Line("  of that on a processor, to its end, ms", rounds, Times(tuple(worked)).text),
        Line("  python -c pass, ms", rounds, nothing.text),
        Line(f"  python -c '{FRAMEWORKS}', ms", rounds, framework.text),
        Line("  ratio to the frameworks alone", rounds, f"{ratio:.2f}", f"at most {AIM:g}", ratio <= AIM),
    ]


def _start(folder: Path, environment: Mapping[str, str]) -> tuple[float, float]:
    """The time to the last byte of the first page, and what the process used of a processor in all, s."""
    used = _used_by_children()
    begun = time.perf_counter()
    arguments = ("--no-browser", "--port", "0", "--data", str(folder))
    with Running("serve", *arguments, program=THE_SERVER, environment=environment) as running:
        address = running.wait_for(OPEN_AT)[1]
        with urlopen(f"{address}/") as answer:
            answer.read()
            status = answer.status
        took = time.perf_counter() - begun
        running.stop()
    if status != 200:
        raise RuntimeError(f"the first page answered {status}")
    return took, _used_by_children() - used


def _used_by_children() -> float:
    times = os.times()
    return times.children_user + times.children_system


def _python(code: str, environment: Mapping[str, str]) -> float:
    begun = time.perf_counter()
    subprocess.run([sys.executable, "-c", code], cwd=ROOT, env=os.environ | environment, check=True)
    return time.perf_counter() - begun
