"""Kinds of target with the size and the brightness that are usual of them, worked out of the catalogue."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from server.domain.sky.reckoning import NEBULAE, surface_of
from server.domain.sky.target import Target, target_of

if TYPE_CHECKING:
    from server.sky.deep_sky import DeepSky

KEY = "kind-"
"""What the key of a kind begins with; no object's name does."""
FEWEST = 20
"""Of fewer than so many brighter ones all of the kind are taken."""
PLACE_DEG = 240.0, 50.0
"""Where a sketch of a kind takes its stars from: away from the Milky Way, and from large objects (a choice of
ours)."""


@dataclass(frozen=True)
class Kind:
    """A kind of target: its name, the catalogue's codes, and how long its objects are, arcminutes."""

    key: str
    name: str
    codes: tuple[str, ...]
    least_arcmin: float
    most_arcmin: float


KINDS: tuple[Kind, ...] = (
    Kind("kind-small-galaxies", "small galaxies", ("G",), 2.0, 5.0),
    Kind("kind-large-galaxies", "large galaxies", ("G",), 8.0, 60.0),
    Kind("kind-small-planetary-nebulae", "small planetary nebulae", ("PN",), 0.25, 2.0),
    Kind("kind-large-nebulae", "large nebulae", NEBULAE, 60.0, 180.0),
    Kind("kind-globular-clusters", "globular clusters", ("GCl",), 0.0, math.inf),
)
"""What people photograph; where a kind begins and ends is a choice of ours."""


@dataclass(frozen=True)
class UsualTarget:
    """A kind as a target.

    Attributes:
        target: of the median size, shape and surface brightness of the kind's brighter objects.
        low_arcmin, high_arcmin: between these lies the middle half of their long sides. count: how many.
    """

    key: str
    target: Target
    low_arcmin: float
    high_arcmin: float
    count: int


@lru_cache(1)
def usual_targets() -> tuple[UsualTarget, ...]:
    """All kinds, in their order."""
    # The catalogue brings numpy: only who asks for the sky waits for it.
    from server.sky.deep_sky import deep_sky

    return tuple(_usual(kind, deep_sky()) for kind in KINDS)


def _usual(kind: Kind, sky: DeepSky) -> UsualTarget:
    import numpy as np

    size, magnitude = sky.major_arcmin, np.where(np.isnan(sky.v_mag), sky.b_mag, sky.v_mag)
    some = np.flatnonzero(
        np.isin(sky.kinds, kind.codes) & (size >= kind.least_arcmin) & (size <= kind.most_arcmin)
    )
    known = some[~np.isnan(magnitude[some])]
    brighter = known[np.argsort(magnitude[known], kind="stable")][: known.size // 2]
    taken = [target_of(sky.objects[at]) for at in (brighter if brighter.size >= FEWEST else some).tolist()]
    ellipses = [one.ellipse_arcmin for one in taken if one.ellipse_arcmin is not None]
    low, middle, high = np.quantile([major for major, _ in ellipses], (0.25, 0.5, 0.75)).tolist()
    light = [span.value for one in taken if (span := surface_of(one)) is not None]
    code = taken[0].kind
    target = Target(
        name=kind.name,
        kind=code,
        ra_deg=PLACE_DEG[0],
        dec_deg=PLACE_DEG[1],
        major_arcmin=middle,
        minor_arcmin=middle * float(np.median([minor / major for major, minor in ellipses])),
        # Nobody has measured nebulae: their kind says what is usual, and how far off that may be.
        surface_v_mag=None if code in NEBULAE else float(np.median(light)),
    )
    return UsualTarget(kind.key, target, low, high, len(taken))
