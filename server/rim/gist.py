"""A part in one line: what tells it from the others of its kind, as much as is known."""

from __future__ import annotations

from server.domain.findings import Amount
from server.domain.observer import UnitSystem
from server.domain.parts import BaseCamera, OpticalTube, Part, specs_of
from server.rim.wording import write_amount, write_field

_SAID: dict[str, tuple[tuple[str, str], ...]] = {
    "optical_tube": (
        ("design", "{}"),
        ("aperture_mm", "{} aperture"),
        ("focal_length_mm", "{} focal length"),
    ),
    "corrector": (("corrector_type", "{}"), ("factor", "{}×"), ("back_focus_mm", "back focus {}")),
    "spacer_ring": (("longest_mm", "adjustable to {}"),),
    "shim": (("fits_from_mm", "inner {}"), ("fits_to_mm", "outer {}")),
    "adapter": (("longest_mm", "adjustable to {}"),),
    "filter": (
        ("format", "{}"),
        ("thickness_mm", "{} thick"),
        ("band_centre_nm", "{}"),
        ("band_width_nm", "{} wide"),
    ),
    "filter_wheel": (("positions", "{} positions"), ("format", "for filters {}")),
    "off_axis_guider": (("prism_mm", "{} prism"), ("side_port", "side port {}")),
    "rotator": (("range_deg", "{} range"), ("step_deg", "{} steps")),
    "tilt_adjuster": (("range_deg", "{} range"),),
    "focuser": (("travel_mm", "{} travel"), ("capacity_kg", "carries {}")),
    "camera": (("colour", "{}"), ("pixel_um", "{} pixels")),
    "guide_scope": (("aperture_mm", "{} aperture"), ("focal_length_mm", "{} focal length")),
    "guide_camera": (("colour", "{}"), ("pixel_um", "{} pixels")),
    "mount": (("mount_type", "{}"), ("rated_kg", "rated {}"), ("rated_with", "{}")),
    "support": (("capacity_kg", "carries {}"), ("height_to_mm", "up to {} high")),
    "counterweight": (("bore_mm", "{} bore"), ("thickness_mm", "{} thick")),
    "plate_rings": (("plate_length_mm", "{} long"),),
    "power_source": (("chemistry", "{}"), ("voltage_v", "{}"), ("capacity_ah", "{}")),
    "accessory": (("place", "{}"), ("current_a", "draws {}")),
}


def write_gist(part: Part, units: UnitSystem) -> str:
    """Return the line ("Newtonian, 200 mm aperture, 800 mm focal length, f/4"); "" where nothing is known."""
    specs = {spec.name: spec for spec in specs_of(part.kind)}
    found: list[str] = []
    for name, words in _SAID[part.kind]:
        value = getattr(part, name)
        text = write_field(specs[name], value, units)
        if text and value != "other":
            found.append(words.format(text))
    if isinstance(part, OpticalTube) and part.focal_ratio is not None:
        found.append(write_amount(Amount(value=part.focal_ratio, dimension="ratio"), units))
    if isinstance(part, BaseCamera) and part.width_px is not None and part.height_px is not None:
        found.append(f"{part.width_px} × {part.height_px} px")
    return ", ".join(found)
