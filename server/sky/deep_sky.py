"""The deep-sky catalogue: OpenNGC's objects, their places, sizes, brightness and names.

The data are another's, under a licence of its own that asks to be named (`attribution`). They are read from
the database that lies in its package, and nothing of them is kept here.
"""

from __future__ import annotations

import math
import re
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Any, overload

import numpy as np
import numpy.typing as npt

from server.out_of_range import OutOfRangeError
from server.sky.directions import directions, sine_of_half
from server.sky.installed import folder_of

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

_COLUMNS = (
    "name, messier, type, ra, dec, const, majax, minax, pa, bmag, vmag, sbrightn, hubble, commonnames, ngc, "
    "ic, identifiers"
)
_NAME, _MESSIER, _RA, _DEC, _MAJOR, _MINOR, _ANGLE, _B, _V, _SURFACE, _COMMON = (
    0,
    1,
    3,
    4,
    6,
    7,
    8,
    9,
    10,
    11,
    13,
)

#: Blanks, apostrophes and leading zeros.
_NOT_COUNTED = re.compile(r"[^\S\n]+|['’]|(?<!\d)0+(?=\d)")

#: People write some catalogues in full.
_IN_FULL = re.compile(r"^(messier|caldwell|melotte|barnard|hickson|collinder|cr)(?=\d)")
_SHORT = {
    "messier": "m",
    "caldwell": "c",
    "melotte": "mel",
    "barnard": "b",
    "hickson": "hcg",
    "collinder": "cl",
    "cr": "cl",
}


@dataclass(frozen=True)
class DeepSkyObject:
    """One object, as the catalogue has it; what it does not have is None or empty.

    name: as a person writes it ("NGC 224"). messier: "M 31" or "". kind: the catalogue's code, such as "G".
    ra_deg, dec_deg: J2000. constellation: its code (both parts of Serpens are "Ser").
    major_arcmin, minor_arcmin: full axes; a minor axis of None means as the major one (round) only of PN, GCl
    and OCl (common practice; the catalogue does not say), else it is unknown. angle_deg: position angle of
    the major axis, from north through east, 0 to 180. b_mag, v_mag: of the whole object. surface_b_mag: mean
    within the isophote of 25 mag, B, mag in a square arcsec; of galaxies, their pairs and groups. hubble: a
    galaxy's type.
    common_names: as people call it. other_names: its second numbers, and those in other catalogues.

    Sizes of nebulae are unreliable, by a factor of 2 to 10 in places: IC 1396 has that of its cluster alone.
    """

    name: str
    messier: str
    kind: str
    ra_deg: float
    dec_deg: float
    constellation: str
    major_arcmin: float | None
    minor_arcmin: float | None
    angle_deg: float | None
    b_mag: float | None
    v_mag: float | None
    surface_b_mag: float | None
    hubble: str
    common_names: tuple[str, ...]
    other_names: tuple[str, ...]


class _Objects(Sequence[DeepSkyObject]):
    """The objects, each made when it is asked for: all at once would take longer than to read them."""

    def __init__(self, rows: list[tuple[Any, ...]]) -> None:
        self._rows = rows

    def __len__(self) -> int:
        return len(self._rows)

    @overload
    def __getitem__(self, at: int) -> DeepSkyObject: ...
    @overload
    def __getitem__(self, at: slice) -> Sequence[DeepSkyObject]: ...
    def __getitem__(self, at: int | slice) -> DeepSkyObject | Sequence[DeepSkyObject]:
        return _Objects(self._rows[at]) if isinstance(at, slice) else _made(self._rows[at])

    def __iter__(self) -> Iterator[DeepSkyObject]:
        return map(_made, self._rows)


@dataclass(frozen=True, eq=False)
class DeepSky:
    """The whole catalogue, by columns: what is unknown is nan. The arrays are (n,) and cannot be written to.

    objects: the n objects, each made when it is asked for. The other columns have the unit and meaning of
    `DeepSkyObject`'s attributes.
    """

    objects: Sequence[DeepSkyObject]
    ra_deg: Floats
    dec_deg: Floats
    major_arcmin: Floats
    minor_arcmin: Floats
    angle_deg: Floats
    b_mag: Floats
    v_mag: Floats
    surface_b_mag: Floats
    _rows: list[tuple[Any, ...]]
    _doubles: list[tuple[str, str]]

    def number_of(self, name: str) -> int | None:
        """Return which object bears a name or a number in a catalogue, None where none does.

        name: "M31", "ngc 0224", "Andromeda Galaxy", "UGC 454"; letter case, blanks, apostrophes and leading
        zeros do not count. Of several that share a name it is the Messier object, else the catalogue's first.
        """
        return self._numbers.get(_key(name))

    def find(self, text: str) -> Ints:
        """Return the objects in whose names each word of a text begins a word: (m,), in the order of names.

        text: of the name, Messier number and common names, with or without the blank before a number. What
        bears the whole text as a name, in any catalogue, comes first. Without a word none is found.
        """
        words = _words(text)
        if not words:
            return np.empty(0, dtype=np.int64)
        found = [at for at, names in enumerate(self._texts) if all(f" {word}" in names for word in words)]
        first = self.number_of(text)
        if first is not None:
            found = [first, *(at for at in found if at != first)]
        return np.array(found, dtype=np.int64)

    def near(self, ra_deg: float, dec_deg: float, radius_deg: float) -> Ints:
        """Return the objects whose middle lies within a radius, (m,), the nearest first.

        dec_deg: -90 to 90. radius_deg: 0 to 180. Raises ValueError outside.
        """
        if not 0.0 <= radius_deg <= 180.0:
            raise OutOfRangeError(
                f"The radius is {radius_deg:g} degrees; it must be 0 to 180. Give half the circle's width."
            )
        half_sine = sine_of_half(self._towards, directions(ra_deg, dec_deg))
        inside = np.flatnonzero(half_sine <= math.sin(math.radians(radius_deg) / 2.0))
        return inside[np.argsort(half_sine[inside], kind="stable")].astype(np.int64)

    @cached_property
    def kinds(self) -> npt.NDArray[np.str_]:
        """The objects' kinds."""
        return np.array([row[2] for row in self._rows])

    @cached_property
    def constellations(self) -> npt.NDArray[np.str_]:
        """The objects' constellations."""
        return np.array([_constellation(row[5]) for row in self._rows])

    @cached_property
    def _towards(self) -> Floats:
        return directions(self.ra_deg, self.dec_deg)

    @cached_property
    def _numbers(self) -> dict[str, int]:
        """Which object bears a key: own names first, then common ones, those of other catalogues last."""
        found = {_key(row[_NAME]): at for at, row in enumerate(self._rows)}
        messier = [at for at, row in enumerate(self._rows) if row[_MESSIER]]
        found.update((_key(f"M{self._rows[at][_MESSIER]}"), at) for at in messier)
        for at in (*messier, *range(len(self._rows))):
            for name in _parts(self._rows[at][_COMMON]):
                found.setdefault(_key(name), at)
        # All other names at once: one by one would take eight times as long.
        others = [(at, name) for at, row in enumerate(self._rows) for name in _elsewhere(row)]
        for (at, _), key in zip(
            others, _plain("\n".join(name for _, name in others)).split("\n"), strict=True
        ):
            found.setdefault(key, at)
        for double, original in self._doubles:
            if (at_original := found.get(_key(original))) is not None:
                found.setdefault(_key(double), at_original)
        return found

    @cached_property
    def _texts(self) -> list[str]:
        """The words of each object's names, a blank before each."""
        texts = []
        for row in self._rows:
            name, messier = row[_NAME], _messier(row)
            names = (_written(name), name, messier, messier.replace(" ", ""), row[_COMMON])
            texts.append(" " + " ".join(_words(" ".join(names))))
        return texts


@lru_cache(maxsize=1)
def deep_sky() -> DeepSky:
    """Return the catalogue, read once: without doubles, what turned out not to exist, and what has no place.

    Source: OpenNGC, the database in its package; see `attribution`.
    """
    path = folder_of("pyongc") / "ongc.db"
    with closing(sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True)) as base:
        rows = base.execute(
            f"SELECT {_COLUMNS} FROM objects WHERE type NOT IN ('Dup', 'NonEx') "
            "AND ra IS NOT NULL AND dec IS NOT NULL ORDER BY name"
        ).fetchall()
        doubles = base.execute(
            "SELECT name, CASE WHEN ngc <> '' THEN 'NGC' || ngc WHEN ic <> '' THEN 'IC' || ic "
            "ELSE 'M' || messier END FROM objects WHERE type = 'Dup'"
        ).fetchall()
    # The catalogue has places in radians.
    return DeepSky(
        objects=_Objects(rows),
        ra_deg=_column(rows, _RA, 180.0 / math.pi),
        dec_deg=_column(rows, _DEC, 180.0 / math.pi),
        major_arcmin=_column(rows, _MAJOR),
        minor_arcmin=_column(rows, _MINOR),
        angle_deg=_column(rows, _ANGLE),
        b_mag=_column(rows, _B),
        v_mag=_column(rows, _V),
        surface_b_mag=_column(rows, _SURFACE),
        _rows=rows,
        _doubles=doubles,
    )


def attribution() -> str:
    """Return whose the catalogue is and under which licence, as the note beside it says them.

    Parted by commas: OpenNGC, its year and holder (without their mail address), the licence's short name.
    Source: `ongc.db.license` beside the data.
    """
    note = (folder_of("pyongc") / "ongc.db.license").read_text(encoding="utf-8")
    said = dict(line.split(": ", 1) for line in note.splitlines() if line.startswith("SPDX-"))
    holder = re.sub(r"\s*<[^>]*>", "", said["SPDX-FileCopyrightText"])
    return f"OpenNGC, {holder.strip()}, {said['SPDX-License-Identifier'].strip()}"


def _column(rows: list[tuple[Any, ...]], at: int, factor: float = 1.0) -> Floats:
    column = np.array([row[at] for row in rows], dtype=np.float64) * factor
    column.flags.writeable = False
    return column


def _made(row: tuple[Any, ...]) -> DeepSkyObject:
    _, _, kind, ra, dec, code, major, minor, angle, b_mag, v_mag, surface, hubble, common, _, _, _ = row
    return DeepSkyObject(
        name=_written(row[_NAME]),
        messier=_messier(row),
        kind=kind,
        ra_deg=math.degrees(ra),
        dec_deg=math.degrees(dec),
        constellation=_constellation(code),
        major_arcmin=major,
        minor_arcmin=minor,
        angle_deg=None if angle is None else float(angle),
        b_mag=b_mag,
        v_mag=v_mag,
        surface_b_mag=surface,
        hubble=hubble,
        common_names=_parts(common),
        other_names=_elsewhere(row),
    )


def _constellation(code: str) -> str:
    """The constellation's code; the Serpent's two halves are one."""
    return "Ser" if code in ("Se1", "Se2") else code


def _written(name: str) -> str:
    """Return a name of the catalogue as a person writes it: "NGC0224" is "NGC 224"."""
    return re.sub(r"^([A-Za-z]+)0*(?=\d)", r"\1 ", name)


def _messier(row: tuple[Any, ...]) -> str:
    return f"M {int(row[_MESSIER])}" if row[_MESSIER] else ""


def _parts(listed: str) -> tuple[str, ...]:
    return tuple(part for name in listed.split(",") if (part := name.strip()))


def _elsewhere(row: tuple[Any, ...]) -> tuple[str, ...]:
    """Return an object's second numbers in its own catalogues, then those in others."""
    ngc, ic, identifiers = row[-3:]
    return (
        *(_written(f"NGC{number}") for number in _parts(ngc)),
        *(_written(f"IC{number}") for number in _parts(ic)),
        *_parts(identifiers),
    )


def _plain(names: str) -> str:
    """Return names, one a line, without what does not count."""
    return _NOT_COUNTED.sub("", names.casefold())


def _key(name: str) -> str:
    plain = _plain(" ".join(name.split())).removeprefix("the")
    return _IN_FULL.sub(lambda full: _SHORT[full[1]], plain)


def _words(text: str) -> list[str]:
    plain = re.sub(r"['’]|(?<!\d)0+(?=\d)", "", text.casefold())
    return re.findall(r"[^\W_]+", plain)
