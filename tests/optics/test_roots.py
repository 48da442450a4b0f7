import math

import pytest

from server.optics.roots import bisect


def test_it_finds_where_the_cosine_vanishes_whichever_way_it_runs():
    # Half of pi, from the standard library.
    assert bisect(math.cos, 0.0, 3.0, 1e-12) == pytest.approx(math.pi / 2.0, abs=1e-12)
    assert bisect(lambda x: -math.cos(x), 0.0, 3.0, 1e-12) == pytest.approx(math.pi / 2.0, abs=1e-12)


def test_it_stops_where_floating_point_cannot_split_the_interval():
    # A tolerance of zero can never be met.
    assert bisect(lambda x: x * x - 2.0, 0.0, 2.0, 0.0) == pytest.approx(math.sqrt(2.0), rel=1e-15)


def test_ends_of_one_sign_are_refused():
    with pytest.raises(ValueError, match="opposite signs"):
        bisect(lambda x: x * x + 1.0, -1.0, 1.0, 1e-6)
