"""Which fields of a part the checks use: the form asks for them first, and the part's page misses them."""

from __future__ import annotations

from server.domain.checks.mirrors import TWO_MIRRORS
from server.domain.parts import KINDS, OpticalTube, Part, PathPart

MASS = {"mass_kg": "the load on the mount"}
JOINTS = {"sky_side": "the joint towards the sky", "camera_side": "the joint towards the camera"}
PATH = {**JOINTS, "length_mm": "the spacing", "clear_aperture_mm": "light in the corners"}
USED: dict[str, dict[str, str]] = {
    "optical_tube": {
        "aperture_mm": "focal ratio and resolution",
        "focal_length_mm": "field of view and sampling",
        "image_circle_mm": "coverage of the sensor",
        "camera_side": "the joint towards the camera",
        "back_focus_mm": "reaching focus",
        "focuser_in_mm": "reaching focus",
        "focuser_out_mm": "reaching focus",
        "drawtube_bore_mm": "light in the corners",
        "design": "whether a corrector is meant for it",
        "focuser_capacity_kg": "what hangs on the focuser",
    },
    "corrector": {
        "factor": "focal length and focal ratio",
        "back_focus_mm": "the spacing",
        "corrected_circle_mm": "coverage of the sensor",
    },
    "shim": {"length_mm": "the spacing"},
    "filter": {"thickness_mm": "the spacing", "clear_aperture_mm": "light in the corners"},
    "filter_wheel": {"filter_at_mm": "light in the corners"},
    "focuser": {"travel_mm": "reaching focus", "capacity_kg": "what hangs on it"},
    "rotator": {"capacity_kg": "what hangs on it"},
    "tilt_adjuster": {"capacity_kg": "what hangs on it"},
    "camera": {
        "sky_side": "the joint towards the sky",
        "flange_mm": "the spacing",
        "flange_quoted": "the spacing: whether the window is allowed for",
        "window_thickness_mm": "the spacing",
        "width_px": "field of view and coverage",
        "height_px": "field of view and coverage",
        "pixel_um": "sampling",
        "clear_aperture_mm": "light in the corners",
    },
    "mount": {"rated_kg": "the load on the mount"},
    "accessory": {"place": "the load on the mount"},
}
"""What the checks of this version take from each kind, beside what all parts of the path have."""

ALSO_USED: dict[str, tuple[str, ...]] = {
    "optical_tube": (
        "obstruction_mm",
        "obstruction_share",
        "mass_with_rings_kg",
        "balance_point_mm",
        "tube_length_mm",
    ),
    "corrector": (
        "corrector_type",
        "free_distance",
        "back_focus_table",
        "reference_mm",
        "for_designs",
        "fastest_ratio",
        "slowest_ratio",
    ),
    "spacer_ring": ("longest_mm", "step_mm"),
    "adapter": ("longest_mm", "step_mm"),
    "shim": ("fits_from_mm", "fits_to_mm"),
    "filter": (
        *("refractive_index", "solar", "format", "broadband", "band_centre_nm", "band_width_nm"),
        *(*PATH, "aperture_at_mm", "reversible"),
    ),
    "filter_wheel": ("positions", "format"),
    "off_axis_guider": (
        "prism_mm",
        "prism_at_mm",
        "reach_from_mm",
        "reach_to_mm",
        "side_port",
        "side_path_mm",
    ),
    "camera": ("colour", "tilt_plate"),
    "guide_scope": ("aperture_mm", "focal_length_mm"),
    "guide_camera": (
        "sky_side",
        "flange_mm",
        "flange_quoted",
        "window_thickness_mm",
        "clear_aperture_mm",
        "width_px",
        "height_px",
        "pixel_um",
        "colour",
        "quantum_efficiency",
        "gains",
        "dark_current",
    ),
    "mount": (
        "mount_type",
        "rated_with",
        "saddle",
        "heaviest_piece_kg",
        "bar_diameter_mm",
        "bar_length_mm",
        "bar_mass_kg",
        "bar_start_mm",
        "saddle_height_mm",
    ),
    "power_source": ("chemistry", "voltage_v", "capacity_ah", "usable_share"),
    "support": ("capacity_kg",),
    "counterweight": ("bore_mm", "thickness_mm"),
    "plate_rings": ("dovetail", "plate_length_mm"),
}
"""Fields that a check uses where they are there and does without where they are not, and the few by which one
tells parts of a kind apart. Beside them stand the fields of USED, and of PATH for what lies in the light.
"""

POWER = ("current_a", "voltage_v", "voltage_least_v")
COOLED = ("cooling_k", "current_idle_a", "current_cooling_a", "voltage_v", "voltage_least_v")
INSIDE = (
    "secondary_mm",
    "diagonal_to_focus_mm",
    "diagonal_offset_mm",
    "baffle_mm",
    "baffle_to_focus_mm",
    "exit_pupil_mm",
    "circle_behind_corrector",
)
ALSO_READ: dict[str, tuple[str, ...]] = {
    "optical_tube": (
        "spider_vanes",
        "spider_thickness_mm",
        "spider_angle_deg",
        "spider_curved",
        "clip_count",
        "clip_width_mm",
        "clip_reach_mm",
        "mask_mm",
        "strehl",
        "glass_pair",
        "colour_shift_mm",
        "field_radius_mm",
        "spot_sizes",
        "drawtube_sag_arcmin",
        "focuser_step_um",
        "primary_focal_ratio",
        "mirror_separation_mm",
        "outer_diameter_mm",
        "tube_material",
        *INSIDE,
    ),
    "corrector": ("spot_sizes", "principal_mm", "principal_front_mm", "in_travel_mm", "glass_length_mm"),
    "filter": ("effective_index", "made_for_ratio"),
    "filter_wheel": ("current_a",),
    "focuser": ("step_um", "current_a"),
    "rotator": ("current_a",),
    "tilt_adjuster": ("current_a",),
    "camera": ("bits", "quantum_efficiency", "gains", "dark_current", *COOLED),
    "guide_camera": ("bits", "tilt_plate", *COOLED),
    "mount": ("current_peak_a", *POWER),
    "accessory": (*POWER, "current_idle_a", "duty_share"),
}
"""What a check, the stars or the load reads besides, where somebody asks that much of a rig. The form folds
it away.
"""

STARS: dict[str, dict[str, str]] = {
    "optical_tube": {"tube_material": "when to refocus"},
    "corrector": {
        "corrector_type": "the stars in the corners",
        "spot_sizes": "the stars in the corners: what it does to them by itself",
    },
}
"""What the stars' page and the bench's corners ask for beside USED: a part's page misses it, its form does
not lead with it.
"""
OF_TWO_MIRRORS = {
    "primary_focal_ratio": "the stars in the corners, and when to refocus",
    "mirror_separation_mm": "the stars in the corners, and when to refocus",
}
"""The same of a tube with two mirrors."""

NAMES = ("maker", "model", "owned", "wished", "considered", "mass_kg")


def for_the_stars(part: Part) -> dict[str, str]:
    """What the stars ask of a part, and what for."""
    found = STARS.get(part.kind, {})
    if isinstance(part, OpticalTube) and part.design in TWO_MIRRORS:
        found = found | OF_TWO_MIRRORS
    return found


def leading(kind: str) -> frozenset[str]:
    """The fields that the form of a kind asks for first."""
    names = {*NAMES, *USED.get(kind, ()), *ALSO_USED.get(kind, ())}
    if issubclass(KINDS[kind], PathPart):
        names |= {*PATH, "aperture_at_mm", "reversible"}
    return frozenset(names)


def is_read(kind: str, name: str) -> bool:
    """Whether any check, the stars or the load reads a field of a kind."""
    return name in leading(kind) or name in ALSO_READ.get(kind, ())
