"""Parts: every kind has the fields that the domain's table names, and documents go round without loss.

Source: the table of kinds in the project's own domain notes (FIELDS below copies its words). Back focus
between the lines of a table: linear interpolation, worked by hand.
"""

from __future__ import annotations

import json

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from server.domain.measure import Measure
from server.domain.parts import KINDS, PART, BaseCamera, Camera, Corrector, OpticalTube, PathPart, specs_of
from server.domain.parts.optical import BackFocusRow
from server.domain.train import TRAIN_KINDS
from tests.domain.rigs import tube
from tests.rim.strategies import parts

COMMON = {"maker", "model", "note", "mass_kg", "price", "document", "basis"}
ON_PATH = {"sky_side", "camera_side", "length_mm", "clear_aperture_mm", "aperture_at_mm", "reversible"}
CAMERA = {
    *("sky_side", "width_px", "height_px", "pixel_um", "colour", "flange_mm", "flange_quoted"),
    *(
        "window_thickness_mm",
        "tilt_plate",
        "quantum_efficiency",
        "gains",
        "dark_current",
        "cooling_k",
        "bits",
    ),
    *("current_idle_a", "current_cooling_a", "clear_aperture_mm", "voltage_v", "voltage_least_v"),
}
FIELDS: dict[str, set[str]] = {
    "optical_tube": {
        *("design", "aperture_mm", "focal_length_mm", "obstruction_mm", "obstruction_share", "spider_vanes"),
        *(
            "spider_thickness_mm",
            "spider_angle_deg",
            "image_circle_mm",
            "image_circle_light",
            "back_focus_mm",
        ),
        *(
            "focuser_in_mm",
            "focuser_out_mm",
            "focuser_capacity_kg",
            "drawtube_bore_mm",
            "primary_focal_ratio",
        ),
        *("mirror_separation_mm", "tube_length_mm", "outer_diameter_mm", "tube_material", "balance_point_mm"),
        *("spot_sizes", "collimation_adjustable", "mass_with_rings_kg", "camera_side"),
        *("spider_curved", "clip_count", "clip_width_mm", "clip_reach_mm", "mask_mm"),
        *("strehl", "field_radius_mm", "focuser_step_um", "drawtube_sag_arcmin"),
        *("circle_behind_corrector", "secondary_mm", "diagonal_to_focus_mm", "diagonal_offset_mm"),
        *("baffle_mm", "baffle_to_focus_mm", "exit_pupil_mm", "glass_pair", "colour_shift_mm"),
    },
    "corrector": {
        *("corrector_type", "factor", "back_focus_mm", "back_focus_table", "reference_mm"),
        *("corrected_circle_mm", "for_designs", "fastest_ratio", "slowest_ratio", "glass_length_mm"),
        *("spot_sizes", "free_distance", "principal_mm", "principal_front_mm", "in_travel_mm"),
    },
    "spacer_ring": {"longest_mm", "step_mm", "locking_ring"},
    "shim": {"length_mm", "fits_from_mm", "fits_to_mm"},
    "adapter": {"longest_mm", "step_mm", "locking_ring"},
    "filter": {
        *("thickness_mm", "refractive_index", "format", "broadband", "band_centre_nm", "band_width_nm"),
        *("peak_transmission", "solar", "effective_index", "made_for_ratio"),
    },
    "filter_wheel": {"positions", "format", "filter_at_mm", "current_a"},
    "off_axis_guider": {
        *("prism_mm", "prism_at_mm", "reach_from_mm", "reach_to_mm", "side_port", "side_path_mm"),
    },
    "rotator": {"range_deg", "step_deg", "capacity_kg", "current_a"},
    "tilt_adjuster": {"range_deg", "step_deg", "capacity_kg", "current_a"},
    "focuser": {"travel_mm", "step_um", "capacity_kg", "current_a"},
    "camera": CAMERA,
    "guide_camera": CAMERA,
    "guide_scope": {"aperture_mm", "focal_length_mm"},
    "mount": {
        *("mount_type", "rated_kg", "rated_with", "heaviest_piece_kg", "bar_diameter_mm", "bar_length_mm"),
        *("periodic_error_arcsec", "current_a", "saddle"),
        *("bar_mass_kg", "bar_start_mm", "saddle_height_mm"),
        *("current_peak_a", "voltage_v", "voltage_least_v"),
    },
    "support": {"capacity_kg", "height_from_mm", "height_to_mm"},
    "counterweight": {"bore_mm", "thickness_mm"},
    "plate_rings": {"dovetail", "plate_length_mm"},
    "power_source": {"chemistry", "voltage_v", "capacity_ah", "usable_share", "outputs"},
    "accessory": {
        *("place", "current_a", "current_idle_a", "duty_share", "voltage_v", "voltage_least_v"),
    },
}


def test_every_kind_of_the_table_is_there_and_no_other():
    assert set(KINDS) == set(FIELDS)
    assert set(TRAIN_KINDS) < set(KINDS)


@pytest.mark.parametrize("kind", sorted(FIELDS))
def test_a_kind_has_the_fields_of_the_table_and_no_more_on_its_form(kind):
    expected = COMMON | FIELDS[kind] | (ON_PATH if issubclass(KINDS[kind], PathPart) else set())
    assert {spec.name for spec in specs_of(kind)} == expected


@pytest.mark.parametrize("kind", sorted(FIELDS))
def test_nothing_is_guessed_for_a_part_of_which_nothing_is_known(kind):
    part = KINDS[kind]()
    for spec in part.specs():
        value = getattr(part, spec.name)
        assert value in (None, "", ()) or spec.name == "basis", spec.name
    assert part.basis_of(None) == "typed"


@pytest.mark.parametrize("kind", sorted(FIELDS))
def test_a_field_with_a_number_says_its_dimension_and_its_limits(kind):
    for spec in specs_of(kind):
        assert spec.label
        if spec.shape in ("measure", "count"):
            assert spec.dimension
            assert spec.maximum is not None


@pytest.mark.parametrize("kind", [k for k in sorted(FIELDS) if issubclass(KINDS[k], PathPart | BaseCamera)])
def test_what_stands_in_the_path_may_be_of_no_length_but_never_of_a_negative_one(kind):
    for spec in specs_of(kind):
        if spec.dimension == "length" and spec.shape == "measure":
            assert spec.minimum is not None
            assert spec.minimum >= 0


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(parts)
def test_a_document_comes_back_as_the_part_it_was(part):
    assert PART.validate_json(PART.dump_json(part)) == part
    assert PART.validate_python(json.loads(PART.dump_json(part))) == part


@pytest.mark.parametrize("kind", sorted(FIELDS))
def test_an_unknown_field_is_refused(kind):
    with pytest.raises(ValidationError, match="colour_of_the_box"):
        PART.validate_python({"kind": kind, "colour_of_the_box": "red"})


@pytest.mark.parametrize("document", [{}, {"kind": "teapot"}, {"model": "Ring"}])
def test_a_document_of_no_known_kind_is_refused(document):
    with pytest.raises(ValidationError):
        PART.validate_python(document)


@pytest.mark.parametrize("bad", [float("nan"), float("inf"), -float("inf")])
def test_a_figure_is_finite(bad):
    with pytest.raises(ValidationError):
        Measure(nominal=bad)


def test_a_tolerance_has_no_sign():
    with pytest.raises(ValidationError, match="without its sign"):
        Measure(nominal=55.0, plus=-0.2)


def test_a_part_cannot_be_changed():
    with pytest.raises(ValidationError):
        tube().aperture_mm = None  # type: ignore[misc]


# -- Obstruction and focal ratio


def test_an_obstruction_is_given_once_and_is_smaller_than_the_aperture():
    assert tube(obstruction_mm=70.0).linear_obstruction == pytest.approx(0.35)
    assert tube(obstruction_share=0.33).linear_obstruction == 0.33
    assert tube().linear_obstruction is None
    with pytest.raises(ValidationError, match="once"):
        tube(obstruction_mm=70.0, obstruction_share=0.35)


def test_an_obstruction_as_wide_as_the_aperture_is_refused():
    with pytest.raises(ValidationError, match="smaller than the aperture"):
        tube(obstruction_mm=200.0)


def test_the_focal_ratio_is_known_where_both_figures_are():
    assert tube().focal_ratio == 4.0
    assert tube(aperture_mm=None).focal_ratio is None
    assert OpticalTube().focal_ratio is None


# -- Back focus by a table

TABLE = tuple(
    BackFocusRow(tube_focal_length_mm=focal, back_focus_mm=back)
    for focal, back in ((400, 60.0), (600, 56.5), (900, 55.0))
)


@pytest.mark.parametrize(
    ("focal", "asked"),
    [
        (400.0, 60.0),
        (500.0, 58.25),  # Half way from 60 to 56.5.
        (600.0, 56.5),
        (700.0, 56.0),  # A third of the way from 56.5 to 55.
        (900.0, 55.0),
        (399.9, None),
        (900.1, None),
        (None, None),
    ],
)
def test_a_table_answers_inside_its_range_and_never_beyond(focal, asked):
    found = Corrector(back_focus_table=TABLE, back_focus_mm=Measure(nominal=70.0)).asked_back_focus_mm(focal)
    assert found == (None if asked is None else pytest.approx(asked))


@given(st.floats(400.0, 900.0))
def test_between_two_lines_the_answer_lies_between_theirs(focal):
    asked = Corrector(back_focus_table=TABLE).asked_back_focus_mm(focal)
    assert asked is not None
    assert 55.0 <= asked <= 60.0


def test_a_table_of_one_line_answers_for_that_focal_length_alone():
    one = Corrector(back_focus_table=TABLE[1:2])
    assert one.asked_back_focus_mm(600.0) == 56.5
    assert one.asked_back_focus_mm(601.0) is None


def test_without_a_table_the_single_value_holds_for_every_tube():
    single = Corrector(back_focus_mm=Measure(nominal=55.0))
    assert single.asked_back_focus_mm(None) == single.asked_back_focus_mm(700.0) == 55.0
    assert Corrector().asked_back_focus_mm(700.0) is None


@pytest.mark.parametrize("rows", [TABLE[::-1], (TABLE[0], TABLE[0])])
def test_a_table_rises_and_names_each_focal_length_once(rows):
    with pytest.raises(ValidationError, match="from short to long"):
        Corrector(back_focus_table=rows)


# -- The sensor


def test_a_sensor_is_as_large_as_its_pixels():
    cam = Camera(width_px=6248, height_px=4176, pixel_um=Measure(nominal=3.76))
    # 6248 x 3.76 um = 23.49248 mm, 4176 x 3.76 um = 15.70176 mm.
    assert cam.sensor_mm == pytest.approx((23.49248, 15.70176))
    assert Camera(width_px=6248).diagonal_mm is None


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_every_current_of_a_kind_changes_what_it_draws(kind: str):
    cls = KINDS[kind]
    # What flows while a device is off counts only where the rest of its current is known.
    rest = {"current_a": Measure(nominal=1.0), "duty_share": Measure(nominal=0.5)}
    for spec in specs_of(kind):
        if spec.dimension == "current":
            known = {n: value for n, value in rest.items() if n in cls.model_fields and n != spec.name}
            drawn = cls(**known, **{spec.name: Measure(nominal=3.0)}).draw(None)
            assert drawn != cls(**known).draw(None), spec.name


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_every_mass_of_a_kind_is_its_own_or_one_that_it_is_rated_for(kind: str):
    own = {"mass_kg", "mass_with_rings_kg", "heaviest_piece_kg", "bar_mass_kg"}
    for spec in specs_of(kind):
        if spec.dimension == "mass" and spec.name not in own:
            assert spec.role in ("carries", "bears") or (kind, spec.name) == ("mount", "rated_kg")
