"""The Bridge's search: the best stack and 20 alternatives, fronts, the guider's branch and kits, and rivals.

`python -m tests.bench bridge` takes about a quarter of an hour on a machine that is not busy,
`python -m tests.bench bridge --quick` some minutes.
Catalogues and rigs are random, with fixed seeds (`tests/search/drawers.py`). All times are processor times of
one thread, those of the rivals too; what each line was measured on stands in it.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from dataclasses import asdict
from pathlib import Path
from statistics import median

from tests.bench.bridge_tasks import FOUR, Asked, Given
from tests.bench.measure import Line, Times, machine
from tests.running import ROOT

AIM_MB = 350
AIM_TAIL = 10.0  # 95th percentile to median.
AIM_SHAPE = 3.0  # 50,000 parts to 500, medians.
AIM_TIMES = 10.0  # The front of three measures, and the guider's branch, to the best 20.
AIM_RIVALS = {"cp-sat": 300.0, "cp-sat 20": 100.0, "highs": 100.0}
RIVALS = {
    "cp-sat": "CP-SAT, its single best",
    "cp-sat 20": "CP-SAT with the search's own bound and fixing, all 20",
    "highs": "HiGHS, its single best",
}
WANTED = 20


def task(name: str, asked: Asked) -> Given:
    """What a task gives, run in a process of its own."""
    print(f"    {name}: {asked}", file=sys.stderr, flush=True)
    one_thread = {f"{library}_NUM_THREADS": "1" for library in ("OMP", "OPENBLAS", "MKL")}
    done = subprocess.run(
        [sys.executable, "-m", "tests.bench.bridge_tasks", name],
        cwd=ROOT,
        input=json.dumps(asdict(asked)),
        stdout=subprocess.PIPE,
        text=True,
        check=True,
        env={**os.environ, **one_thread},
    )
    given = Given(**json.loads(done.stdout.splitlines()[-1]))
    print(f"      own: {spread(given.times.get('own', [0.0]))} ms", file=sys.stderr, flush=True)
    return given


def spread(seconds: list[float]) -> str:
    """Median / 90th / 95th percentile / greatest, in milliseconds."""
    ordered = sorted(seconds)
    p90 = ordered[-(-90 * len(ordered) // 100) - 1]
    values = (median(ordered), p90, Times(tuple(ordered)).p95, ordered[-1])
    return " / ".join(f"{1000 * value:.1f}" for value in values)


def run(
    _folder: Path,
    *,
    sizes: tuple[int, ...] = (500, 5000, 50_000),
    owned: int = 30,
    rigs: int = 24,
    few: int = 5,
    rounds: int = 3,
    drawers: int = 5,
    kits: int = 2,
    compared: int = 4,
    seconds: float = 150.0,
    kit_seconds: float = 20.0,
) -> list[Line]:
    """All of the table. `rigs` of each of the `drawers` for the best stacks, fronts and branches, `few` of
    each for the fronts with mass, `kits` of each for the kits; `compared` rigs are given to the rivals, which
    have about `seconds` for each answer; a kit's solver has `kit_seconds` by the clock.
    """
    head = (
        f"drawers 0 to {drawers - 1}, {rigs} rigs each, numbered from 1000 x drawer; rounds a rig: {rounds}"
    )
    lines = [Line("processor times, ms: median / 90th / 95th percentile / greatest", rounds, head)]
    lines += _best(sizes, Asked(sizes[0], owned, drawers, rigs, rounds))
    lines += _compared(Asked(sizes[1], owned, compared, 1, rounds, seconds))
    lines += _fronts(sizes, Asked(sizes[1], owned, drawers, rigs, rounds), few)
    for size in sizes:
        lines += _branch(Asked(size, owned, drawers, rigs, rounds))
    lines += _kits(Asked(sizes[0], owned, drawers, kits, 1, kit_seconds))
    return [*lines, Line("the machine at the end of this", 1, machine())]


def quick(folder: Path) -> list[Line]:
    """The same on fewer rigs."""
    return run(folder, rigs=5, few=1, rounds=1, kits=1, compared=1, seconds=60.0)


def _with(asked: Asked, **changes: object) -> Asked:
    return Asked(**{**asdict(asked), **changes})


def _best(sizes: tuple[int, ...], asked: Asked) -> list[Line]:
    lines: list[Line] = []
    medians: dict[tuple[int, int], float] = {}
    for size in sizes:
        for owned in (asked.owned, 0):
            given = task("best", _with(asked, parts=size, owned=owned))
            own, number = Times(tuple(given.times["own"])), len(given.times["own"])
            medians[size, owned] = own.median
            proven, full = given.numbers["proven"], given.numbers["all wanted"]
            tail = own.p95 / own.median
            lines += [
                Line(f"best 20, {size:,} parts, {owned} owned", number, spread(given.times["own"])),
                Line(
                    "  proven; 20 found; no stack at all",
                    number,
                    f"{proven:.0f}; {full:.0f}; {given.numbers['none']:.0f}",
                    "all proven",
                    proven == number,
                ),
                Line("  by the clock", number, spread(given.times["clock"])),
                Line(
                    "  95th percentile to median",
                    number,
                    f"{tail:.1f}",
                    f"at most {AIM_TAIL:g}",
                    tail <= AIM_TAIL,
                ),
                Line("  index, built once", asked.drawers, spread(given.times["index"])),
                Line(
                    "  peak of memory, MB",
                    1,
                    f"{given.peak_mb:.0f}",
                    f"under {AIM_MB}",
                    given.peak_mb < AIM_MB,
                ),
            ]
    for owned in (asked.owned, 0):
        shape = medians[sizes[-1], owned] / medians[sizes[0], owned]
        # The aim is for drawers with owned parts; without them it is told.
        aim = (f"at most {AIM_SHAPE:g}", shape <= AIM_SHAPE) if owned else ("", None)
        what = f"medians of {sizes[-1]:,} to {sizes[0]:,} parts, {owned} owned"
        lines.append(Line(what, asked.drawers * asked.rigs, f"{shape:.2f}", *aim))
    return lines


def _compared(asked: Asked) -> list[Line]:
    given = task("compared", asked)
    number = len(given.times["own"])
    lines = [Line(f"best 20, {asked.parts:,} parts, on the rivals' rigs", number, spread(given.times["own"]))]
    for name, what in RIVALS.items():
        ratios = sorted(given.times[f"{name} ratio"])
        solved = int(given.numbers[f"{name} solved"])
        least = "at least " if solved < number else ""
        aim = AIM_RIVALS[name]
        lines += [
            Line(f"  {what}, s", number, " / ".join(f"{one:.1f}" for one in given.times[name])),
            Line(
                f"    {solved} solved within about {asked.seconds:g} s, checked equal; ratio median (least)",
                number,
                f"{least}{median(ratios):,.0f} ({ratios[0]:,.0f})",
                f"at least {aim:g}",
                median(ratios) >= aim,
            ),
        ]
    return lines


def _fronts(sizes: tuple[int, ...], asked: Asked, few: int) -> list[Line]:
    given = task("fronts", asked)
    number = len(given.times["front"])
    ratio = median(given.times["front"]) / median(given.times["own"])
    complete = given.numbers["complete"]
    lines = [
        Line(f"front of error, money, joints, {asked.parts:,} parts", number, spread(given.times["front"])),
        Line(
            "  complete; to the best 20, medians",
            number,
            f"{complete:.0f}; {ratio:.1f}",
            f"all; at most {AIM_TIMES:g}",
            complete == number and ratio <= AIM_TIMES,
        ),
    ]
    for size, above in ((sizes[0], None), (sizes[1], 2000)):
        given = task("fronts", _with(asked, parts=size, rigs=few, rounds=1, measures=FOUR, above=above))
        number, complete = len(given.times["front"]), given.numbers["complete"]
        limit = "" if above is None else f", up to {above / 100:g} above the best"
        points = given.times["points"]
        lines += [
            Line(f"front with mass, {size:,} parts{limit}", number, spread(given.times["front"])),
            Line(
                f"  points: median {median(points):.0f}, most {max(points):.0f}; complete",
                number,
                f"{complete:.0f}",
                "all",
                complete == number,
            ),
        ]
    return lines


def _branch(asked: Asked) -> list[Line]:
    given = task("branch", asked)
    number = len(given.times["branch"])
    ratio = median(given.times["branch"]) / median(given.times["own"])
    proven = given.numbers["proven"]
    return [
        Line(
            f"with the guider's branch, best 20, {asked.parts:,} parts", number, spread(given.times["branch"])
        ),
        Line("  the main chain alone", number, spread(given.times["own"])),
        Line(
            "  proven; with 20; ratio of medians",
            number,
            f"{proven:.0f}; {given.numbers['all wanted']:.0f}; {ratio:.1f}",
            f"all; at most {AIM_TIMES:g}",
            proven == number and ratio <= AIM_TIMES,
        ),
    ]


def _kits(asked: Asked) -> list[Line]:
    given = task("kits", asked)
    number = len(given.times["kit"])
    gaps = given.times.get("gap", [])
    proven = given.numbers["money proven"]
    figure = f"{proven:.0f}; {given.numbers['joints proven']:.0f}"
    if gaps:
        figure += f"; gaps {', '.join(f'{gap:.1%}' for gap in gaps)}"
    return [
        Line(f"a kit for three rigs, {asked.parts:,} parts", number, spread(given.times["kit"])),
        Line(
            f"  solver within {asked.seconds:g} s: money proven; joints proven",
            number,
            figure,
            "all, or the gap told",
            proven + len(gaps) == number,
        ),
    ]
