"""The dark hours of a whole catalogue through a year, against sampling by astropy, both in processor time;
and the sky's pages (`sky_pages`).
"""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Callable
from contextlib import closing
from datetime import date
from importlib.resources import files
from pathlib import Path

import astropy.units as u
import numpy as np
from astropy.coordinates import SkyCoord

from server.sky.darkness import HorizonLine, hours_above, moonless_hours_above, nights
from server.sky.ephemeris import Floats, Spot, moon_seen
from tests.bench import sky_pages
from tests.bench.measure import Line, Times
from tests.sky import by_astropy

SPOT = Spot(50.0, 10.0, 300.0)
FIRST = date(2026, 1, 1)
PLAIN = HorizonLine(((0.0, 30.0),))
TREES = HorizonLine(
    ((0, 20), (40, 35), (60, 15), (100, 10), (101, 40), (120, 40), (180, 8), (230, 15), (260, 45))
)
MINUTES = 10.0
"""Between the samples of astropy's nights, which makes them 2 minutes wrong on average, and up to 9."""

TIMES_FASTER = {"above 30 degrees": 500.0, "  with the Moon down": 300.0, "  above trees": 150.0}
MOST_MS = 2.0


def run(
    folder: Path,
    *,
    rounds: int = 5,
    objects: int = 20_000,
    count: int = 365,
    sampled: int = 3,
    asked: int = 24,
) -> list[Line]:
    """Times all of it. Astropy's nights are `sampled` ones, extrapolated to all; `asked`: later answers."""
    ra, dec = (one[:objects] for one in catalogue())
    theirs = [_by_astropy(ra, dec, count, sampled) for _ in range(min(2, rounds))]
    ours: dict[str, Callable[[], object]] = {
        "above 30 degrees": lambda: hours_above(nights(SPOT, FIRST, count), ra, dec, PLAIN),
        "  with the Moon down": lambda: moonless_hours_above(nights(SPOT, FIRST, count), ra, dec, PLAIN),
        "  above trees": lambda: hours_above(nights(SPOT, FIRST, count), ra, dec, TREES),
    }
    lines = [
        Line(
            f"{ra.size} objects, {count} nights: astropy each 10 min, from {sampled} nights, s",
            len(theirs),
            f"{min(theirs):.0f}",
        )
    ]
    for what, work in ours.items():
        taken = [_timed(work) for _ in range(rounds + 1)][1:]
        faster = min(theirs) / Times(tuple(taken)).median
        aim = TIMES_FASTER[what]
        lines += [
            Line(f"{what}, dusk and dawn in it, ms", rounds, Times(tuple(taken)).text),
            Line(
                "    times faster than astropy", rounds, f"{faster:.0f}", f"{aim:.0f} or more", faster >= aim
            ),
        ]
    one = Times(tuple(_timed(lambda: moon_seen(SPOT, 9700.3)) for _ in range(20 * rounds)))
    lines.append(
        Line(
            "one look at the Moon, ms",
            20 * rounds,
            one.text,
            f"under {MOST_MS:.0f}",
            one.median * 1e3 < MOST_MS,
        )
    )
    return lines + sky_pages.run(folder, rounds=rounds, asked=asked)


def catalogue() -> tuple[Floats, Floats]:
    """Right ascension and declination of what the catalogue of deep-sky objects holds, degrees."""
    path = files("pyongc").joinpath("ongc.db")
    with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as base:
        rows = base.execute(
            "SELECT ra, dec FROM objects WHERE type NOT IN ('Dup', 'NonEx') AND ra + dec IS NOT NULL"
        ).fetchall()
    ra, dec = np.degrees(np.array(rows)).T
    return ra, dec


def _by_astropy(ra: Floats, dec: Floats, count: int, sampled: int) -> float:
    """Seconds of the processor for all dark samples, from those of some nights over the year."""
    run = nights(SPOT, FIRST, count)
    dark = np.flatnonzero(run.hours > 0.0)
    chosen = dark[np.linspace(0, dark.size - 1, sampled + 2).astype(int)[1:-1]]
    looks = [np.arange(run.dusk_days[one], run.dawn_days[one], MINUTES / 1440.0) for one in chosen]
    things = SkyCoord(ra[:, None] * u.deg, dec[:, None] * u.deg)

    def sample() -> None:
        for days in looks:
            hours = np.zeros(ra.size)
            for start in range(
                0, days.size, 20
            ):  # Faster by a quarter than one at a time; more need much memory.
                seen = things.transform_to(by_astropy.frame(SPOT, days[start : start + 20]))
                hours += (seen.alt.deg > 30.0).sum(axis=1) * (MINUTES / 60.0)

    with by_astropy.offline():
        taken = _timed(sample)
    return taken * float(run.hours.sum()) * 60.0 / MINUTES / sum(one.size for one in looks)


def _timed(work: Callable[[], object]) -> float:
    begun = time.process_time()
    work()
    return time.process_time() - begun
