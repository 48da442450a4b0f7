"""Which fields of a part the checks use: the form asks for them first, and the part's page misses them."""

from __future__ import annotations

from server.domain.fields import Role
from server.domain.parts import KINDS, OpticalTube, Part, PathPart, specs_of
from server.domain.workings.mirrors import TWO_MIRRORS

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
    "focuser": {"travel_mm": "reaching focus"},
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
    "counterweight": ("bore_mm", "thickness_mm"),
    "plate_rings": ("dovetail", "plate_length_mm"),
}
"""Fields that a check uses where they are there and does without where they are not, and the few by which one
tells parts of a kind apart. Beside them stand the fields of USED, and of PATH for what lies in the light.
"""

COOLED = ("cooling_k", "current_idle_a", "current_cooling_a")
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
    "focuser": ("step_um",),
    "camera": ("bits", "quantum_efficiency", "gains", "dark_current", *COOLED),
    "guide_camera": ("bits", "tilt_plate", *COOLED),
    "mount": ("current_peak_a",),
    "accessory": ("current_idle_a", "duty_share"),
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

OF_ROLES: dict[Role, str] = {"carries": "what hangs on it", "glass": "the spacing"}
"""What figures with a role are for, of whatever kind; what USED says of a field goes before it."""
LEADING_ROLES: tuple[Role, ...] = ("carries", "bears", "longest", "step", "glass", "index")
"""The form leads with these roles; the rest is read where somebody asks for the night's power."""

NAMES = ("maker", "model", "owned", "wished", "considered", "mass_kg")


def used_of(kind: str) -> dict[str, str]:
    """What the checks take from a kind, beside what all parts of the path have, and what for."""
    roles = {spec.name: OF_ROLES[spec.role] for spec in specs_of(kind) if spec.role in OF_ROLES}
    used = USED.get(kind, {})
    return used | {name: words for name, words in roles.items() if name not in used}


def for_the_stars(part: Part) -> dict[str, str]:
    """What the stars ask of a part, and what for."""
    found = STARS.get(part.kind, {})
    if isinstance(part, OpticalTube) and part.design in TWO_MIRRORS:
        found = found | OF_TWO_MIRRORS
    return found


def leading(kind: str) -> frozenset[str]:
    """The fields that the form of a kind asks for first."""
    names = {*NAMES, *USED.get(kind, ()), *ALSO_USED.get(kind, ())}
    names |= {spec.name for spec in specs_of(kind) if spec.role in LEADING_ROLES}
    if issubclass(KINDS[kind], PathPart):
        names |= {*PATH, "aperture_at_mm", "reversible"}
    return frozenset(names)


def is_read(kind: str, name: str) -> bool:
    """Whether any check, the stars or the load reads a field of a kind."""
    by_role = any(spec.name == name and spec.role for spec in specs_of(kind))
    return by_role or name in leading(kind) or name in ALSO_READ.get(kind, ())
