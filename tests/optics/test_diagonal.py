import numpy as np
import pytest

from server.optics.beam import Tube, trace
from server.optics.diagonal import circle_of_share_mm, diagonal_opening, fully_lit_mm
from server.optics.light_map import light_at

#: Aperture, focal length, diagonal to focus, minor axis; fully lit diameter with the best offset and
#: without, and the circles of 70 % light of both, as traced through an exact paraboloid and flat,
#: independently of the project (mm).
TRACED = (
    (205.0, 820.0, 232.0, 68.0, 12.20, 1.82, 55.3, 55.7),
    (158.0, 790.0, 195.0, 52.0, 16.48, 10.61, 45.3, 45.4),
    (260.0, 1040.0, 275.0, 86.0, 21.34, 8.83, 72.6, 73.0),
    (180.0, 720.0, 205.0, 58.0, 7.91, 0.0, 45.4, 45.8),
)
#: What the paraboloid's depth, left out, makes of the small circles.
LIT_TOLERANCE_MM = 0.25
CIRCLE_TOLERANCE = 0.012


def best_offset(aperture, focal, minor, lit):
    """a g / 2, g the slope of the edge ray to the rim of the lit circle (by hand)."""
    return minor / 2.0 * (aperture - lit) / 2.0 / (focal - aperture**2 / 16.0 / focal)


@pytest.mark.parametrize(("d", "f", "far", "minor", "lit", "plain", "seventy", "seventy_plain"), TRACED)
def test_the_lit_circles_are_the_traced_ones(d, f, far, minor, lit, plain, seventy, seventy_plain):
    offset = best_offset(d, f, minor, lit)
    assert fully_lit_mm(d, f, minor, far, offset) == pytest.approx(lit, abs=LIT_TOLERANCE_MM)
    assert fully_lit_mm(d, f, minor, far) == pytest.approx(plain, abs=LIT_TOLERANCE_MM)
    beam = trace(Tube(f, d, 0.0, 1.0 / f))
    for out, traced in ((offset, seventy), (0.0, seventy_plain)):
        found = circle_of_share_mm(beam, diagonal_opening(far, minor, out, 1.0), 0.7, 200.0)
        assert found == pytest.approx(traced, rel=CIRCLE_TOLERANCE)


def test_a_diagonal_that_is_too_small_lights_no_circle_and_a_large_one_as_much_as_is_looked_at():
    beam = trace(Tube(820.0, 205.0, 0.0, 1.0 / 820.0))
    # 232 mm before the focus the beam is 58 mm wide: a mirror of 40 mm takes in 48 % of it at best.
    assert circle_of_share_mm(beam, diagonal_opening(232.0, 40.0, 0.0, 1.0), 0.7, 200.0) == 0.0
    assert circle_of_share_mm(beam, diagonal_opening(232.0, 150.0, 0.0, 1.0), 0.7, 40.0) == 40.0


def test_a_corner_is_darker_on_one_side_than_on_the_other_by_what_rays_count():
    # First row above, 21.6 mm out: 74.9 to 82.7 % over all directions with the best offset, 75.6 to 85.6
    # without.
    d, f, far, minor, lit = TRACED[0][:5]
    beam = trace(Tube(f, d, 0.0, 1.0 / f))
    turn = np.linspace(0.0, 2.0 * np.pi, 72, endpoint=False)
    for offset, least, most in ((best_offset(d, f, minor, lit), 0.749, 0.827), (0.0, 0.756, 0.856)):
        opening = diagonal_opening(far, minor, offset, 1.0)
        found = light_at(beam, [opening], 21.6 * np.cos(turn), 21.6 * np.sin(turn)).through
        assert (found.min(), found.max()) == pytest.approx((least, most), abs=0.01)


def test_the_other_side_of_the_sensor_sees_the_mirror_image():
    beam = trace(Tube(820.0, 205.0, 0.0, 1.0 / 820.0))
    x, y = np.array([18.0, -18.0]), np.array([12.0, 12.0])
    right, left = (
        light_at(beam, [diagonal_opening(232.0, 68.0, 4.0, side)], x, y).through for side in (1.0, -1.0)
    )
    assert right == pytest.approx(left[::-1])
    assert abs(right[0] - right[1]) > 0.01


def test_a_diagonal_behind_the_focus_is_refused():
    with pytest.raises(ValueError, match="way from diagonal to focus is 900 mm; .*at most 820"):
        fully_lit_mm(205.0, 820.0, 68.0, 900.0)
