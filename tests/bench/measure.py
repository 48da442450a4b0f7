"""What the benchmarks have in common: percentiles, the state of the machine, the table."""

from __future__ import annotations

import os
import platform
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

import psutil


@dataclass(frozen=True)
class Times:
    """Times of one thing in seconds, in the order they were taken."""

    seconds: tuple[float, ...]

    @property
    def median(self) -> float:
        """The median."""
        return median(self.seconds)

    @property
    def p95(self) -> float:
        """The 95th percentile: the smallest time that at least 95 of 100 do not exceed (nearest rank)."""
        ordered = sorted(self.seconds)
        return ordered[-(-95 * len(ordered) // 100) - 1]

    @property
    def text(self) -> str:
        """Median and 95th percentile in milliseconds."""
        return f"{self.median * 1000:.2f} / {self.p95 * 1000:.2f}"


@dataclass(frozen=True)
class Line:
    """One line of the table.

    Attributes:
        what: what was measured, or what it is measured against.
        rounds: how often.
        figure: the measured figure, written.
        aim: what it should be, "" for a reference.
        met: whether it is; None for a reference.
    """

    what: str
    rounds: int
    figure: str
    aim: str = ""
    met: bool | None = None

    @property
    def verdict(self) -> str:
        """The last column."""
        return "" if self.met is None else "met" if self.met else "MISSED"


def machine() -> str:
    """The machine and how busy it is, in one line."""
    load = ", ".join(f"{one:.1f}" for one in psutil.getloadavg())
    return (
        f"{platform.python_implementation()} {platform.python_version()}, {os.cpu_count()} cores, "
        f"load {load} (1, 5, 15 minutes)"
    )


def table(lines: Sequence[Line]) -> str:
    """The lines in columns."""
    head = ("what", "rounds", "measured", "aim", "")
    rows = [head, *((one.what, str(one.rounds), one.figure, one.aim, one.verdict) for one in lines)]
    widths = [max(len(row[at]) for row in rows) for at in range(len(head))]
    written = ["  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)) for row in rows]
    written.insert(1, "  ".join("-" * width for width in widths))
    return "\n".join(line.rstrip() for line in written)
