"""The same stars on several frames."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from server.frames.finding import Stars

Numbers = npt.NDArray[np.int64]
Array = npt.NDArray[np.float64]

#: A star stands within this of where the frames' shift puts it, px.
_REACH_PX = 2.5
_BRIGHTEST = 200
_VOTE_PX = 4.0
_MOST_SHIFT_PX = 400.0
#: A star's light stays within this share from frame to frame, once the frames' own has been taken out.
_STEADY = 0.4
#: Of the usual width; what is sharper is no star.
_LEAST_WIDTH = 0.35


def match(frames: list[Stars]) -> Numbers:
    """Return which star of each frame is the same, shape (frames, stars); empty where they show another
    field.

    Frames may be shifted by a few hundred pixels and turned by a little. A star that is missing in one frame,
    whose light is not steady to 40 %, or that is sharper than a star can be, is left out: hot pixels, cosmic
    rays, trails and variables go so.
    """
    rows = [np.arange(len(frames[0])), *(_partner(frames[0], other) for other in frames[1:])]
    table = np.stack(rows)
    table = table[:, (table >= 0).all(axis=0)]
    if not table.shape[1]:
        return table
    light = np.log(np.stack([frame.flux[row] for frame, row in zip(frames, table, strict=True)]))
    light -= np.median(light, axis=1, keepdims=True)
    steady = np.ptp(light, axis=0) <= np.log1p(_STEADY)
    for frame, row in zip(frames, table, strict=True):
        steady &= frame.width[row] > _LEAST_WIDTH * np.median(frame.width)
    return table[:, steady]


def _partner(first: Stars, other: Stars) -> Numbers:
    """Return the number on the other frame of each star of the first, -1 for none."""
    shift = _voted_shift(first, other)
    if shift is None:
        return np.full(len(first), -1)
    where = np.column_stack([first.x, first.y])
    guess = where + shift
    found = _nearest(guess, np.column_stack([other.x, other.y]), 2.0 * _REACH_PX)
    for _ in range(2):
        pairs = np.flatnonzero(found >= 0)
        if len(pairs) < 12:
            break
        guess = _turned(where, pairs, other, found)
        found = _nearest(guess, np.column_stack([other.x, other.y]), _REACH_PX)
    return found


def _turned(where: Array, pairs: Numbers, other: Stars, found: Numbers) -> Array:
    """Return the first frame's places as the pairs say that they stand on the other: shifted, turned,
    scaled.
    """
    plain = np.column_stack([where, np.ones(len(where))])
    goal = np.column_stack([other.x, other.y])[found[pairs]]
    keep = np.ones(len(pairs), dtype=bool)
    for _ in range(3):
        by, *_ = np.linalg.lstsq(plain[pairs[keep]], goal[keep], rcond=None)
        off = np.hypot(*(goal - plain[pairs] @ by).T)
        keep = off <= max(1.0, 3.0 * float(np.median(off)))
    turned: Array = plain @ by
    return turned


def _voted_shift(first: Stars, other: Stars) -> Array | None:
    one, two = (np.argsort(-frame.flux)[:_BRIGHTEST] for frame in (first, other))
    if not len(one) or not len(two):
        return None
    across = (other.x[two][None, :] - first.x[one][:, None]).ravel()
    up = (other.y[two][None, :] - first.y[one][:, None]).ravel()
    near = (np.abs(across) < _MOST_SHIFT_PX) & (np.abs(up) < _MOST_SHIFT_PX)
    if not near.any():
        return None
    edges = np.arange(-_MOST_SHIFT_PX - _VOTE_PX, _MOST_SHIFT_PX + 2 * _VOTE_PX, _VOTE_PX)
    votes, _, _ = np.histogram2d(across[near], up[near], bins=[edges, edges])
    # A shift on the border of two cells has its votes in both.
    votes = votes[:-1, :-1] + votes[1:, :-1] + votes[:-1, 1:] + votes[1:, 1:]
    column, row = np.unravel_index(int(votes.argmax()), votes.shape)
    centre = np.array([edges[column + 1], edges[row + 1]])
    close = near & (np.abs(across - centre[0]) <= _VOTE_PX) & (np.abs(up - centre[1]) <= _VOTE_PX)
    return np.array([np.median(across[close]), np.median(up[close])])


def _nearest(guess: Array, there: Array, reach: float) -> Numbers:
    """Return the number of the place nearest to each guess, -1 where none is within reach or another has
    it.
    """
    found = np.full(len(guess), -1)
    if not len(there):
        return found
    order = np.argsort(there[:, 0])
    sorted_x = there[order, 0]
    start = np.searchsorted(sorted_x, guess[:, 0] - reach)
    end = np.searchsorted(sorted_x, guess[:, 0] + reach, side="right")
    best = np.full(len(guess), reach)
    for step in range(int((end - start).max(initial=0))):
        here = np.flatnonzero(start + step < end)
        numbers = order[start[here] + step]
        off = np.hypot(*(there[numbers] - guess[here]).T)
        closer = off < best[here]
        best[here[closer]] = off[closer]
        found[here[closer]] = numbers[closer]
    taken = found[found >= 0]
    twice = np.flatnonzero(np.bincount(taken, minlength=len(there)) > 1)
    found[np.isin(found, twice)] = -1
    return found
