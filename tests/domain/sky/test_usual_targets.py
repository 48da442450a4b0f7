"""Kinds of target: their usual figures are those of the catalogue's own objects.

Source: none needed: the objects are counted anew, by sorting.
"""

from __future__ import annotations

import math

import pytest

from server.domain.sky.reckoning import NEBULAE, USUAL_NEBULA, surface_of
from server.domain.sky.usual_targets import KEY, KINDS, UsualTarget, usual_targets
from server.sky.deep_sky import deep_sky


def of(key: str) -> UsualTarget:
    return next(one for one in usual_targets() if one.key == key)


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.key)
def test_half_of_the_brighter_objects_lie_between_the_two_sizes_and_the_target_in_their_middle(kind):
    found = of(kind.key)
    some = [one for one in deep_sky().objects if one.kind in kind.codes and one.major_arcmin]
    some = [one for one in some if kind.least_arcmin <= one.major_arcmin <= kind.most_arcmin]
    known = [one for one in some if one.v_mag is not None or one.b_mag is not None]
    known.sort(key=lambda one: (one.b_mag if one.v_mag is None else one.v_mag) or 0.0)
    half = known[: len(known) // 2]
    taken = half if len(half) >= 20 else some
    assert found.count == len(taken)
    sizes = sorted(one.major_arcmin or 0.0 for one in taken)
    middle = found.target.major_arcmin
    assert middle is not None
    # A share of them is smaller and the rest larger, give or take the one between.
    for share, size in ((0.25, found.low_arcmin), (0.5, middle), (0.75, found.high_arcmin)):
        assert sum(one < size - 1e-9 for one in sizes) <= share * len(sizes) + 1
        assert sum(one > size + 1e-9 for one in sizes) <= (1.0 - share) * len(sizes) + 1


def test_every_kind_has_a_size_and_a_brightness_and_a_key_that_no_object_has():
    for one in usual_targets():
        assert one.key.startswith(KEY)
        assert deep_sky().number_of(one.key) is None
        assert one.target.ellipse_arcmin is not None
        assert surface_of(one.target) is not None


def test_large_nebulae_are_as_bright_as_is_usual_of_nebulae():
    found = of("kind-large-nebulae")
    assert found.target.kind in NEBULAE
    assert surface_of(found.target) is USUAL_NEBULA


def test_globular_clusters_are_brighter_to_the_square_arcsecond_than_galaxies():
    # 47 Tucanae to M 72: 18 to 21; galaxies' isophotes 22 to 23 (from memory).
    light = {one.key: one.target.surface_v_mag or math.inf for one in usual_targets()}
    assert light["kind-globular-clusters"] < light["kind-small-galaxies"] < 23.5
