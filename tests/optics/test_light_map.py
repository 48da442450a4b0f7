import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
import shapely.affinity
from hypothesis import given, settings
from hypothesis import strategies as st

from server.optics.beam import cone, share_through
from server.optics.light_map import light_at, lights_at, pupil_stop, smallest_diameters_mm
from server.optics.openings import Opening, Oval, Rectangle, Round, prism, prism_reach_mm
from tests.optics.drawn_light import STATED_ERROR, drawn_share, grid
from tests.optics.rays import even_pupil
from tests.references import illumination as reference

ROUNDING = 1e-9
#: A train of which seven parts cut: camera, filter, rings, guider, corrector.
TRAIN = [
    Round(distance, diameter)
    for distance, diameter in zip(
        (6, 15, 18, 22, 30, 40, 50, 55, 60, 75, 95, 110),
        (42, 40, 41, 41, 42, 42, 42, 41, 42, 43, 43, 44),
        strict=True,
    )
]

beams = st.builds(
    cone,
    focal_ratio=st.floats(2.0, 12.0),
    # Behind a reducer the exit pupil lies beyond infinity, on the other side.
    pupil_distance_mm=st.one_of(st.just(math.inf), st.floats(200.0, 3000.0), st.floats(-3000.0, -300.0)),
    obstruction=st.one_of(st.just(0.0), st.floats(0.1, 0.5)),
)
centred = st.builds(Round, distance_mm=st.floats(1.0, 150.0), diameter_mm=st.floats(8.0, 60.0))
off_axis = st.builds(
    Round,
    distance_mm=st.floats(1.0, 150.0),
    diameter_mm=st.floats(15.0, 60.0),
    x_mm=st.floats(-5.0, 5.0),
    y_mm=st.floats(-5.0, 5.0),
)
ovals = st.builds(
    Oval,
    distance_mm=st.floats(90.0, 250.0),
    width_mm=st.floats(15.0, 70.0),
    height_mm=st.floats(15.0, 70.0),
    x_mm=st.floats(-5.0, 5.0),
    y_mm=st.floats(-5.0, 5.0),
    lean_x=st.sampled_from([0.0, 1.0, -1.0, 0.5]),
    lean_y=st.sampled_from([0.0, 0.0, 1.0]),
)
rectangles = st.builds(
    Rectangle,
    distance_mm=st.floats(1.0, 150.0),
    width_mm=st.floats(5.0, 50.0),
    height_mm=st.floats(5.0, 50.0),
    x_mm=st.floats(-20.0, 20.0),
    y_mm=st.floats(-20.0, 20.0),
    angle_deg=st.floats(-90.0, 90.0),
    blocks=st.booleans(),
)
places = st.tuples(st.floats(-18.0, 18.0), st.floats(-12.0, 12.0))


def through(beam, openings, x, y):
    return float(light_at(beam, openings, np.array([x]), np.array([y])).through[0])


@pytest.mark.parametrize(("stop", "x", "n", "pupil", "height", "beam", "offset", "share"), reference.STOPS)
def test_one_opening_passes_the_tabulated_share_in_every_direction(
    stop, x, n, pupil, height, beam, offset, share
):
    for angle in (0.0, 0.7, 2.0, 4.0):
        at = (height * math.cos(angle), height * math.sin(angle))
        found = through(cone(n, pupil), [Round(x, stop)], *at)
        assert found == pytest.approx(share, abs=reference.STOP_TOLERANCE)


@given(beam=beams, openings=st.lists(centred, max_size=14), place=places)
@settings(max_examples=150, deadline=None)
def test_centred_openings_pass_what_polygons_pass(beam, openings, place):
    drawn = drawn_share(beam, openings, *place)
    assert through(beam, openings, *place) == pytest.approx(drawn, abs=STATED_ERROR)


@given(
    beam=beams,
    openings=st.lists(st.one_of(centred, off_axis), max_size=10),
    more=st.lists(rectangles, max_size=4),
    oval=st.lists(ovals, max_size=2),
    place=places,
)
@settings(max_examples=150, deadline=None)
def test_openings_of_all_kinds_anywhere_pass_what_polygons_pass(beam, openings, more, oval, place):
    if (
        oval
    ):  # Chords are as good as stated for what stands square to them or well askew, as filters and prisms do.
        more = [replace(one, angle_deg=45.0 * round(one.angle_deg / 45.0)) for one in more]
    everything = [*openings, *more, *oval]
    drawn = drawn_share(beam, everything, *place)
    assert through(beam, everything, *place) == pytest.approx(drawn, abs=STATED_ERROR)


@given(stop=centred, place=places, n=st.floats(2.0, 12.0))
def test_one_centred_opening_agrees_with_the_closed_form(stop, place, n):
    beam = cone(n, 700.0)
    closed = share_through(beam, stop.distance_mm, stop.diameter_mm, math.hypot(*place))
    assert through(beam, [stop], *place) == pytest.approx(closed, abs=ROUNDING)


@given(beam=beams, openings=st.lists(st.one_of(off_axis, rectangles), min_size=1, max_size=4), place=places)
def test_no_opening_passes_more_than_it_would_alone(beam, openings, place):
    found = light_at(beam, openings, np.array([place[0]]), np.array([place[1]]))
    assert 0.0 <= found.through[0] <= found.alone[:, 0].min() + ROUNDING
    # Whatever limits is the one that alone takes most.
    if found.limiting[0] >= 0:
        assert found.alone[found.limiting[0], 0] == found.alone[:, 0].min()
    else:
        assert found.through[0] == pytest.approx(1.0, abs=ROUNDING)


@pytest.mark.parametrize(
    "openings",
    [
        TRAIN,
        [*TRAIN, Rectangle(20.0, 34.0, 30.0)],
        [*TRAIN, Rectangle(20.0, 34.0, 30.0, x_mm=1.0)],
        [*TRAIN, prism(60.0, 90.0, 13.0, 12.0, 12.0)],
        [Round(40.0, 30.0, x_mm=2.0), Round(20.0, 36.0)],
    ],
)
def test_over_the_whole_sensor_each_point_gets_what_polygons_pass(openings):
    beam = cone(5.0, 600.0, 0.3)
    x, y = grid(36.0, 24.0, 9, 7)
    found = light_at(beam, openings, x, y)
    drawn = [drawn_share(beam, openings, *place) for place in zip(x, y, strict=True)]
    np.testing.assert_allclose(found.through, drawn, atol=STATED_ERROR)
    for number, one in enumerate(openings):
        alone = [drawn_share(beam, [one], *place) for place in zip(x, y, strict=True)]
        np.testing.assert_allclose(found.alone[number], alone, atol=STATED_ERROR)


def test_a_prism_limits_the_light_of_its_own_side_and_not_of_the_other():
    openings: list[Opening] = [*TRAIN, prism(60.0, 90.0, 13.0, 12.0, 12.0)]
    found = light_at(cone(5.0, 600.0), openings, np.zeros(2), np.array([12.0, -12.0]))
    assert found.limiting[0] == 12
    assert found.limiting[1] != 12
    assert found.light[0] < found.light[1]


@pytest.mark.parametrize(("angle_deg", "share"), reference.FALLOFF)
def test_the_fall_off_is_the_tabulated_one(angle_deg, share):
    height = 100.0 * math.tan(math.radians(angle_deg))
    found = light_at(cone(5.0, 100.0), [], np.array([height * 0.6]), np.array([height * 0.8]))
    assert found.falloff[0] == pytest.approx(share, abs=reference.FALLOFF_TOLERANCE)
    assert found.light[0] == found.falloff[0]


def test_a_sensor_without_openings_is_fully_lit_by_parallel_beams():
    found = light_at(cone(5.0), [], *grid(36.0, 24.0, 4, 3))
    assert np.all(found.light == 1.0)
    assert np.all(found.limiting == -1)


def test_an_opening_on_the_sensor_is_all_or_nothing():
    assert through(cone(4.0), [Round(0.0, 28.0)], 13.9, 0.0) == 1.0
    assert through(cone(4.0), [Round(0.0, 28.0)], 14.1, 0.0) == 0.0
    assert through(cone(4.0), [Rectangle(0.0, 28.0, 10.0)], 13.9, 4.9) == 1.0
    assert through(cone(4.0), [Rectangle(0.0, 28.0, 10.0)], 13.9, 5.1) == 0.0
    assert through(cone(4.0), [Rectangle(0.0, 28.0, 10.0, blocks=True)], 0.0, 0.0) == 0.0
    found = light_at(cone(4.0), [Round(0.0, 28.0)], np.array([14.1]), np.array([0.0]))
    assert (found.alone[0, 0], found.limiting[0]) == (0.0, 0)


def test_a_stop_half_as_wide_as_the_beam_passes_less_of_an_obstructed_one():
    # By hand: (1/4 - 0.09) / (1 - 0.09), areas going as the squares of diameters.
    assert through(cone(4.0, math.inf, 0.3), [Round(40.0, 5.0)], 0.0, 0.0) == pytest.approx(0.16 / 0.91)


# -- The smallest diameters


def test_the_smallest_diameter_of_a_lone_opening_is_the_one_of_the_closed_form():
    # The corner of 22.4 x 16.8 mm is 14 mm out; 31 mm pass 0.848163 of the light there (see the references).
    stop, x, n, _, _, _, _, share = reference.STOPS[0]
    (found,) = smallest_diameters_mm(cone(n), 22.4, 16.8, [Round(x, 60.0)], share)
    assert found == pytest.approx(stop, abs=2e-3)


@pytest.mark.parametrize(
    "extra", [(), (prism(60.0, 90.0, 15.0, 12.0, 12.0),), (Round(70.0, 50.0, 1.0, 0.5),)]
)
def test_the_smallest_diameters_just_keep_the_corner_with_all_the_others_in_place(extra):
    beam = cone(5.0, 600.0, 0.3)
    openings = [Round(18.0, 44.0), Round(40.0, 46.0), Round(75.0, 47.0), *extra]
    wanted = 0.7
    found = smallest_diameters_mm(beam, 36.0, 24.0, openings, wanted)
    for number, diameter in enumerate(found):
        one = openings[number]
        if isinstance(one, Rectangle):
            assert diameter is None
            continue
        assert diameter is not None
        for wider, kept in ((0.0, True), (-0.01, False)):
            changed = [*openings]
            changed[number] = Round(one.distance_mm, diameter + wider, one.x_mm, one.y_mm)
            corners = [
                drawn_share(beam, changed, x, y, quad_segs=2048) for x in (-18.0, 18.0) for y in (-12.0, 12.0)
            ]
            assert (min(corners) >= wanted - 1e-6) is kept


def test_no_diameter_helps_where_another_opening_takes_too_much():
    narrow = [Round(18.0, 30.0), Round(40.0, 60.0)]
    found = smallest_diameters_mm(cone(5.0), 36.0, 24.0, narrow, 0.9)
    assert found[1] is None
    assert found[0] is not None


# -- One star's pupil


@pytest.mark.parametrize(
    "opening",
    [
        Round(60.0, 14.0, 1.0, -2.0),
        Oval(120.0, 30.0, 26.0, 2.0, -1.0, lean_x=1.0),
        Oval(120.0, 30.0, 26.0, 0.0, 1.0, lean_x=0.5, lean_y=1.0),
    ],
)
@pytest.mark.parametrize("place", [(9.0, -4.0), (-3.0, 8.0)])
def test_of_a_stars_pupil_an_opening_leaves_what_polygons_leave(opening, place):
    beam = cone(5.0, 600.0)
    stop = pupil_stop(beam, opening, *place)
    assert stop is not None
    # The points are a hundredth of the radius apart, and the rim crosses some hundreds of 31 000.
    share = float((stop.depth(*even_pupil(200)) >= 0.0).mean())
    assert 0.1 < share < 0.95
    assert share == pytest.approx(drawn_share(beam, [opening], *place), abs=2e-3)


@pytest.mark.parametrize("place", [(9.0, -4.0), (-3.0, 8.0)])
def test_a_stop_tells_near_its_rim_how_far_the_rim_is(place):
    # The rim of a leaning oval: the unit circle led back to the pupil, drawn as a polygon.
    stop = pupil_stop(cone(5.0, 600.0), Oval(120.0, 30.0, 26.0, lean_x=1.0, lean_y=1.0), *place)
    assert stop is not None
    turn = np.linspace(0.0, 2.0 * np.pi, 2000, endpoint=False)
    x, y, w = np.linalg.inv(np.array(stop.rows)) @ (np.cos(turn), np.sin(turn), np.ones_like(turn))
    rim = shapely.Polygon(np.stack([x / w, y / w], axis=1))
    for inwards in (0.02, -0.02):
        near = shapely.get_coordinates(rim.buffer(-inwards).exterior)[::50]
        # To first order: a fiftieth of the pupil's radius is told within a twentieth of it.
        assert stop.depth(near[:, 0], near[:, 1]) == pytest.approx(inwards, rel=0.05)


def test_what_a_star_passes_whole_is_no_stop_of_its_pupil():
    beam = cone(5.0, 600.0)
    assert pupil_stop(beam, Round(60.0, 40.0), 9.0, -4.0) is None
    assert pupil_stop(beam, Rectangle(60.0, 10.0, 10.0), 9.0, -4.0) is None
    assert pupil_stop(beam, Round(0.0, 10.0), 9.0, -4.0) is None


# -- The prism


def footprint(beam, width, height, distance):
    """All beams of the sensor together at a distance, as a polygon."""
    shrink = 1.0 - distance * beam.per_pupil
    a, b = width / 2.0 * shrink, height / 2.0 * shrink
    return shapely.box(-a, -b, a, b).buffer(distance / (2.0 * beam.focal_ratio), quad_segs=256)


@given(
    beam=st.builds(cone, focal_ratio=st.floats(2.0, 10.0), pupil_distance_mm=st.floats(200.0, 2000.0)),
    distance=st.floats(5.0, 100.0),
    side=st.one_of(st.sampled_from([0.0, 90.0, 180.0, 270.0, -45.0]), st.floats(-180.0, 180.0)),
    wide=st.floats(2.0, 30.0),
)
def test_a_prism_at_its_reach_just_meets_the_light_of_the_whole_sensor(beam, distance, side, wide):
    reach = prism_reach_mm(beam, 36.0, 24.0, distance, side, wide)
    lit = footprint(beam, 36.0, 24.0, distance)
    turned = shapely.affinity.rotate(lit, -side, origin=(0.0, 0.0))
    strip = shapely.box(-200.0, -wide / 2.0, 200.0, wide / 2.0)
    assert reach == pytest.approx(turned.intersection(strip).bounds[2], abs=2e-3)


def test_a_prism_on_the_long_side_may_come_nearer_than_on_the_short_side():
    # By hand: half of 24 and of 36 mm, times 1 - 60/600, and a border of 60 / 10 mm.
    beam = cone(5.0, 600.0)
    assert prism_reach_mm(beam, 36.0, 24.0, 60.0, 90.0, 10.0) == pytest.approx(10.8 + 6.0)
    assert prism_reach_mm(beam, 36.0, 24.0, 60.0, 180.0, 10.0) == pytest.approx(16.2 + 6.0)


def test_a_prism_at_its_reach_takes_no_light_and_one_that_reaches_further_takes_some():
    beam = cone(5.0, 600.0)
    reach = prism_reach_mm(beam, 36.0, 24.0, 60.0, 90.0, 12.0)
    places = grid(36.0, 24.0, 41, 41)
    clear = light_at(beam, [prism(60.0, 90.0, reach, 12.0, 12.0)], *places)
    assert clear.through.min() == pytest.approx(1.0, abs=ROUNDING)
    shaded = light_at(beam, [prism(60.0, 90.0, reach - 0.5, 12.0, 12.0)], *places)
    assert shaded.through.min() < 0.99
    # It shades the side where it stands.
    assert places[1][shaded.through.argmin()] == 12.0


# -- What cannot be


def test_an_opening_of_no_diameter_is_refused():
    with pytest.raises(ValueError, match="clear diameter is 0 mm; it must be more than 0"):
        Round(20.0, 0.0)


def test_an_oval_leans_as_far_as_it_stays_before_the_sensor():
    assert Oval(25.0, 20.0, 30.0, lean_x=2.0).lean_x == 2.0
    assert Oval(46.0, 20.0, 30.0, lean_y=-2.0, lean_x=-2.0).lean_y == -2.0
    with pytest.raises(ValueError, match="lean is 2.1 mm per mm"):
        Oval(100.0, 20.0, 30.0, lean_x=2.1)
    # Half of 20 mm along x and of 30 mm along y, one and a half times: 15 and 22.5 mm, 27.04 together.
    with pytest.raises(ValueError, match="reach along the axis is 27.0"):
        Oval(27.0, 20.0, 30.0, lean_x=1.5, lean_y=1.5)
    assert Oval(27.1, 20.0, 30.0, lean_x=1.5, lean_y=1.5).width_mm == 20.0


def test_five_prisms_are_refused():
    with pytest.raises(ValueError, match="There are 5 things that stand in the beam"):
        light_at(cone(5.0), [prism(60.0, 90.0, 13.0, 12.0, 12.0)] * 5, np.zeros(1), np.zeros(1))


def some_way(rng):
    """A beam and openings of every sort, some on the sensor itself, some none at all."""
    pupil = rng.choice([math.inf, 300.0, 900.0, -600.0])
    kinds = [
        lambda: Round(rng.uniform(1.0, 150.0), rng.uniform(20.0, 60.0)),
        lambda: Round(rng.uniform(1.0, 150.0), rng.uniform(20.0, 60.0), rng.uniform(-3.0, 3.0), 1.0),
        lambda: Round(0.0, rng.uniform(30.0, 60.0)),
        lambda: Oval(rng.uniform(90.0, 250.0), rng.uniform(40.0, 70.0), 50.0, lean_x=1.0),
        lambda: Rectangle(rng.uniform(0.0, 60.0), 36.0, 36.0),
        lambda: prism(60.0, 90.0, rng.uniform(8.0, 15.0), 12.0, 12.0),
    ]
    chosen = rng.choice(len(kinds), rng.integers(0, 4), p=[0.6, 0.1, 0.1, 0.1, 0.05, 0.05])
    return cone(rng.uniform(2.0, 10.0), pupil, rng.choice([0.0, 0.35])), [kinds[one]() for one in chosen]


def test_the_light_of_many_trains_at_once_is_that_of_each():
    rng = np.random.default_rng(10)
    ways = [some_way(rng) for _ in range(300)]
    x, y = rng.uniform(-20.0, 20.0, (2, len(ways), 4))
    through, falloff = lights_at(ways, x, y)
    for at, (beam, openings) in enumerate(ways):
        each = light_at(beam, openings, x[at], y[at])
        assert through[at] == pytest.approx(each.through, abs=ROUNDING)
        assert falloff[at] == pytest.approx(each.falloff, abs=ROUNDING)
    assert 0.1 < (through < 1.0).mean() < 0.95


def test_a_place_that_is_not_known_has_no_light_and_leaves_the_others_theirs():
    way = (cone(5.0), [Round(30.0, 30.0)])
    through, falloff = lights_at([way, way], np.array([[0.0, math.nan], [18.0, 0.0]]), np.zeros((2, 2)))
    assert np.isnan(through).tolist() == np.isnan(falloff).tolist() == [[False, True], [False, False]]
    assert through[1, 0] == light_at(*way, np.array([18.0]), np.zeros(1)).through[0]


def test_no_trains_have_no_light():
    assert lights_at([], np.zeros((0, 3)), np.zeros((0, 3)))[0].shape == (0, 3)
