"""The tube's opening: what is clear of it, and what no tube has. Areas by plane geometry, worked by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from server.optics.pupil import (
    Clips,
    Pupil,
    PupilStop,
    Vanes,
    coordinates,
    light_lost,
    pupil_mask,
    vane_pieces,
)

AREA = 1e-3
"""The mask's whole clear area is right to a part in a thousand."""

#: Aperture and secondary mm, vanes, their width mm; the share of the clear ring that they take. By hand:
#: 4 x 65 x 1.0 / (pi (100^2 - 35^2)) and 3 x 87.5 x 0.8 / (pi (125^2 - 37.5^2)).
SPIDERS = ((200.0, 70.0, 4, 1.0, 0.009431), (250.0, 75.0, 3, 0.8, 0.004701))


@pytest.mark.parametrize(("aperture", "secondary", "count", "width", "share"), SPIDERS)
def test_vanes_take_their_own_area_of_the_clear_ring(aperture, secondary, count, width, share):
    pupil = Pupil(aperture, secondary / aperture, Vanes(count, width))
    assert pupil.vane_share == pytest.approx(share, abs=1e-6)


@pytest.mark.parametrize("samples", [96, 160, 256])
@pytest.mark.parametrize(
    "pupil",
    [
        Pupil(200.0),
        Pupil(200.0, 0.35, Vanes(4, 1.0, 45.0)),
        Pupil(200.0, 0.35, Vanes(3, 0.4, 17.0)),
        Pupil(200.0, 0.35, Vanes(3, 1.0, 17.0, curved=True)),
        Pupil(200.0, 0.3, None, Clips(3, 12.0, 4.0)),
        Pupil(200.0, 0.3, mask_mm=180.0),
    ],
    ids=["open", "four vanes", "three thin vanes", "curved", "clips", "mask"],
)
def test_the_mask_has_the_clear_area_however_coarse_it_is(pupil, samples):
    area = pupil_mask(pupil, samples).sum() * (2.0 / samples) ** 2
    assert area == pytest.approx(pupil.clear_area, rel=AREA)


def test_a_stop_of_the_train_cuts_the_pupil_by_the_area_of_two_discs():
    # Two unit discs whose middles stand 1 apart share 1.228370 (2 pi / 3 - sqrt(3) / 2).
    mask = pupil_mask(Pupil(200.0, stops=(PupilStop.disc(1.0, 0.0, 1.0),)), 256)
    assert mask.sum() * (2.0 / 256) ** 2 == pytest.approx(2 * math.pi / 3 - math.sqrt(3) / 2, rel=AREA)
    # It is the right half that is left.
    assert mask[:, :96].sum() < 0.02 * mask.sum()


def test_a_stop_says_how_far_inside_its_rim_a_place_lies():
    # 0.3 from the middle of a disc of 0.5; an oval of half axes 2 and 1 about (0.1, 0.2), near its ends.
    disc = PupilStop.disc(0.3, -0.2, 0.5)
    assert disc.depth(np.array([0.48]), np.array([0.04])) == pytest.approx(0.2)
    oval = PupilStop(((0.5, 0.0, -0.05), (0.0, 1.0, -0.2), (0.0, 0.0, 1.0)))
    assert oval.depth(np.array([2.0, 0.1, 0.1]), np.array([0.2, 1.1, 1.3])) == pytest.approx([0.1, 0.1, -0.1])


def test_curved_vanes_join_hub_and_rim_and_face_all_ways_once():
    pieces = vane_pieces(Pupil(200.0, 0.3, Vanes(3, 1.0, 0.0, curved=True)))
    first = pieces[: len(pieces) // 3]
    assert math.hypot(*first[0][:2]) == pytest.approx(0.3, abs=1e-9)
    assert math.hypot(*first[-1][2:]) == pytest.approx(1.0, abs=1e-9)
    ways = [math.atan2(y1 - y0, x1 - x0) for x0, y0, x1, y1 in first]
    # Three vanes share a half turn: each turns by 60 degrees, less the half pieces at its ends.
    assert abs(ways[0] - ways[-1]) == pytest.approx(math.radians(60) * (1 - 1 / len(first)), rel=1e-6)


def test_the_light_lost_and_the_refractor_that_gathers_as_much():
    # 200 mm with 70 mm before it: 0.35^2 = 12.25 % lost; a lens of 200 sqrt(0.8775) = 187.35 mm gathers as
    # much.
    lost = light_lost(Pupil(200.0, 0.35))
    assert lost.obstruction == pytest.approx(0.1225)
    assert lost.equal_aperture_mm == pytest.approx(187.350, abs=1e-3)
    # Four vanes of 1 mm take 0.9431 % of the ring that is left.
    spider = light_lost(Pupil(200.0, 0.35, Vanes(4, 1.0)))
    assert spider.vanes == pytest.approx(0.8775 * 0.009431, rel=1e-3)
    assert spider.clear == pytest.approx(0.8775 * (1 - 0.009431), rel=1e-4)


@pytest.mark.parametrize(
    ("why", "given"),
    [
        ("obstruction", {"obstruction": 1.0}),
        ("obstruction", {"obstruction": 1.4}),
        ("vanes", {"obstruction": 0.3, "vanes": Vanes(4, 70.0)}),
        ("vanes", {"vanes": Vanes(4, 200.0)}),
        ("number of vanes", {"vanes": Vanes(40, 1.0)}),
        ("mask", {"obstruction": 0.3, "mask_mm": 50.0}),
        ("reach", {"obstruction": 0.3, "clips": Clips(3, 5.0, 80.0)}),
        ("width", {"clips": Clips(3, 150.0, 3.0)}),
    ],
)
def test_an_opening_that_no_tube_has_is_refused_in_words(why, given):
    with pytest.raises(ValueError, match=f"(?i){why}.* is .*must be"):
        Pupil(200.0, **given)


def test_a_train_that_shuts_out_all_light_is_said():
    with pytest.raises(ValueError, match="Nothing of the aperture is left clear"):
        pupil_mask(Pupil(200.0, 0.5, stops=(PupilStop.disc(0.0, 0.0, 0.4),)), 128)


def test_the_grid_lies_evenly_about_the_axis():
    assert coordinates(4).tolist() == [-0.75, -0.25, 0.25, 0.75]
