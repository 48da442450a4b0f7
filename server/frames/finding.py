"""Stars of one frame: strips of it are looked through in turn, and the best of each part are cut out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Pixels = npt.NDArray[np.float32]

STRIP_ROWS = 512
#: Half the width of a cut-out: a star, a gap and a ring of sky round it.
HALF = 20
#: A star has no other within this, px: the light of a neighbour bends what is measured.
CLEAR_PX = 12.0
_MARGIN = 32
_CELLS_ACROSS = 8
#: Of each part of a strip; more do not make the surface sharper than the way it is modelled.
_BEST = 12
_SIGMAS = 5.0
#: Beyond this share of the fullest pixel a star's top may be cut off.
_TOP = 0.84
#: Of a stretched picture nearly all stars are that bright: then only what is white at the top is left out.
_STRETCHED_TOP, _FEW = 0.985, 40
#: The four neighbours of a star's peak together hold more than this of it; those of a hot pixel hold none.
_LEAST_ROUND = 0.5


@dataclass(frozen=True, eq=False)
class Stars:
    """What was found on one frame, n clean stars of all that were seen.

    Attributes:
        width_px, height_px: the frame's.
        x, y: centres, px, shape (n,).
        flux: above the sky, in the frame's own units, shape (n,).
        width: full width at half maximum as the finder has it, px: for choosing a radius, not for measuring.
        stamps: cut-outs with the coarse sky off, shape (n, 2 HALF + 1, 2 HALF + 1).
        corner: the whole pixel at the middle of each cut-out, x and y, shape (n, 2).
        seen: how many sources were found, clean or not.
        cut_off: how many were too bright, their top may be cut off.
        crowded: how many had a neighbour.
        sky: the sky's level; noise: its scatter; fullest: the fullest pixel; all in the frame's units.
        stretched: whether most stars are nearly as bright as a pixel can be: a picture made to be looked at.
    """

    width_px: int
    height_px: int
    x: Array
    y: Array
    flux: Array
    width: Array
    stamps: Pixels
    corner: npt.NDArray[np.int64]
    seen: int
    cut_off: int
    crowded: int
    sky: float
    noise: float
    fullest: float
    stretched: bool = False

    def __len__(self) -> int:
        """Return how many clean stars there are."""
        return len(self.x)


def untold(share: float) -> None:
    """Take what is told of progress, for who does not ask."""


def find_stars(
    rows: Callable[[int, int], Pixels],
    width_px: int,
    height_px: int,
    *,
    told: Callable[[float], None] = untold,
    windows: bool = False,
) -> Stars:
    """Return the stars of a frame.

    rows: gives the pixels of rows from a to below b, float32, shape (b - a, width); what it gives as an array
    of its own is written over. told: is told the share
    that is done, 0 to 1. windows: looks only at some 25 windows spread over the frame, some ten times as
    quick.
    Finder: sep (Barbary 2016, J. Open Source Softw. 1, 58), after Bertin & Arnouts 1996.
    """
    looks = _windows(width_px, height_px) if windows else _strips(width_px, height_px)
    found = []
    for number, look in enumerate(looks):
        found.append(_look(rows, look, width_px, height_px))
        told((number + 1) / len(looks))
    return _gathered([one for one in found if one is not None], width_px, height_px)


@dataclass(frozen=True)
class _Window:
    """Columns and rows whose stars count; a margin round them is read as well."""

    left: int
    right: int
    low: int
    high: int
    cells: int


@dataclass(frozen=True, eq=False)
class _Looked:
    """What a window held: of the candidates x, y, flux, width, peak (sky on) and cut-outs."""

    table: Array
    stamps: Pixels
    seen: int
    crowded: int
    sky: float
    noise: float
    fullest: float


def _strips(width: int, height: int) -> list[_Window]:
    return [
        _Window(0, width, low, min(low + STRIP_ROWS, height), _CELLS_ACROSS)
        for low in range(0, height, STRIP_ROWS)
    ]


def _windows(width: int, height: int, across: int = 5, size: int = 256) -> list[_Window]:
    side_x, side_y = min(size, width // across), min(size, height // across)
    lefts = np.linspace(0, width - side_x, across).astype(int)
    lows = np.linspace(0, height - side_y, across).astype(int)
    return [
        _Window(int(left), int(left) + side_x, int(low), int(low) + side_y, 1)
        for low in lows
        for left in lefts
    ]


def _look(rows: Callable[[int, int], Pixels], window: _Window, width: int, height: int) -> _Looked | None:
    import sep

    first, last = max(0, window.low - _MARGIN), min(height, window.high + _MARGIN)
    left, right = max(0, window.left - _MARGIN), min(width, window.right + _MARGIN)
    pixels = _own(rows(first, last), left, right)
    fullest, bad = float(pixels.max()), None
    # Either end tells of a pixel without a number, in less time than a look at each.
    if not np.isfinite(fullest) or not np.isfinite(pixels.min()):
        bad = ~np.isfinite(pixels)
        if bad.all():
            return None
        pixels[bad] = np.median(pixels[~bad])
        fullest = float(pixels.max())
    sky = sep.Background(pixels, mask=bad)
    noise = float(sky.globalrms)
    if not noise > 0.0:
        # All one value: nothing stands out of it.
        return _Looked(np.empty((0, 5)), _no_stamps(), 0, 0, float(sky.globalback), 0.0, fullest)
    level = float(sky.globalback)
    sky.subfrom(pixels)
    sources = _extracted(pixels, noise, bad)
    x, y = sources["x"] + left, sources["y"] + first
    crowded = _crowded(x, y)
    inside = (
        (x >= window.left - 0.5)
        & (x < window.right - 0.5)
        & (y >= window.low - 0.5)
        & (y < window.high - 0.5)
    )
    good = inside & ~crowded & (sources["flag"] == 0) & _roundish(pixels, sources)
    good &= (x >= HALF + 1) & (x < width - HALF - 1) & (y >= HALF + 1) & (y < height - HALF - 1)
    chosen = _best(x, sources["flux"], good, window)
    stamps = _cut(
        pixels, np.rint(sources["x"][chosen]).astype(int), np.rint(sources["y"][chosen]).astype(int)
    )
    one = sources[chosen]
    table = np.column_stack(
        [
            one["x"] + left,
            one["y"] + first,
            one["flux"],
            2.3548 * np.sqrt(one["a"] * one["b"]),
            one["peak"] + level,
        ]
    )
    return _Looked(table, stamps, int(inside.sum()), int((inside & crowded).sum()), level, noise, fullest)


def _own(pixels: Pixels, left: int, right: int) -> Pixels:
    """Return these columns as an array that may be written to: a copy unless all of them are one already."""
    if right - left == pixels.shape[1] and pixels.base is None and pixels.flags.c_contiguous:
        return pixels
    return np.array(pixels[:, left:right], dtype=np.float32, order="C")


def _extracted(pixels: Pixels, noise: float, mask: Any) -> Any:
    import sep

    threshold = _SIGMAS
    while True:
        try:
            return sep.extract(pixels, threshold, err=noise, mask=mask)
        except Exception as failed:
            if threshold > 500.0 or ("buffer" not in str(failed) and "limit" not in str(failed)):
                raise
            threshold *= 4.0


def _crowded(x: Array, y: Array) -> npt.NDArray[np.bool_]:
    order = np.argsort(x)
    xs, ys = x[order], y[order]
    near = np.zeros(len(x), dtype=bool)
    for lag in range(1, len(x)):
        close = xs[lag:] - xs[:-lag] <= CLEAR_PX
        if not close.any():
            break
        close &= (xs[lag:] - xs[:-lag]) ** 2 + (ys[lag:] - ys[:-lag]) ** 2 <= CLEAR_PX**2
        near[lag:] |= close
        near[:-lag] |= close
    back = np.empty_like(near)
    back[order] = near
    return back


def _roundish(pixels: Pixels, sources: Any) -> npt.NDArray[np.bool_]:
    high, wide = pixels.shape
    column = np.clip(sources["xpeak"], 1, wide - 2)
    row = np.clip(sources["ypeak"], 1, high - 2)
    round_it = (
        pixels[row - 1, column] + pixels[row + 1, column] + pixels[row, column - 1] + pixels[row, column + 1]
    )
    found: npt.NDArray[np.bool_] = round_it > _LEAST_ROUND * pixels[row, column]
    return found


def _best(x: Array, flux: Array, good: npt.NDArray[np.bool_], window: _Window) -> npt.NDArray[np.int64]:
    """Return the numbers of the brightest of each part of the window, a third more than are used in the
    end.
    """
    cell = np.clip(
        (x - window.left) * window.cells / (window.right - window.left), 0, window.cells - 1
    ).astype(int)
    keep: list[int] = []
    for number in range(window.cells):
        here = np.flatnonzero(good & (cell == number))
        keep.extend(here[np.argsort(-flux[here])][: _BEST + _BEST // 3])
    return np.array(keep, dtype=np.int64)


def _no_stamps() -> Pixels:
    return np.empty((0, 2 * HALF + 1, 2 * HALF + 1), dtype=np.float32)


def _cut(pixels: Pixels, column: npt.NDArray[np.int64], row: npt.NDArray[np.int64]) -> Pixels:
    if not len(column):
        return _no_stamps()
    steps = np.arange(-HALF, HALF + 1)
    # A margin of a strip is wider than a cut-out, but not at the edge of a window in the frame's own corner.
    rows = np.clip(row[:, None, None] + steps[None, :, None], 0, pixels.shape[0] - 1)
    columns = np.clip(column[:, None, None] + steps[None, None, :], 0, pixels.shape[1] - 1)
    stamps: Pixels = pixels[rows, columns]
    return stamps


def _gathered(found: list[_Looked], width: int, height: int) -> Stars:
    table = np.concatenate([one.table for one in found]) if found else np.empty((0, 5))
    stamps = np.concatenate([one.stamps for one in found]) if found else _no_stamps()
    fullest = max((one.fullest for one in found), default=0.0)
    whole = table[:, 4] < _TOP * fullest
    stretched = int(whole.sum()) < _FEW < int((~whole).sum())
    if stretched:
        whole = table[:, 4] < _STRETCHED_TOP * fullest
    kept = table[whole]
    return Stars(
        width_px=width,
        height_px=height,
        x=kept[:, 0],
        y=kept[:, 1],
        flux=kept[:, 2],
        width=kept[:, 3],
        stamps=stamps[whole],
        corner=np.rint(kept[:, :2]).astype(np.int64),
        seen=sum(one.seen for one in found),
        cut_off=int((~whole).sum()),
        crowded=sum(one.crowded for one in found),
        sky=float(np.median([one.sky for one in found])) if found else 0.0,
        noise=float(np.median([one.noise for one in found])) if found else 0.0,
        fullest=fullest,
        stretched=stretched,
    )
