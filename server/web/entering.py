"""Where to enter what a finding lacks: the form of the part, at its field, with the way back to the rig."""

from __future__ import annotations

from collections.abc import Iterable

from server.domain.parts import CataloguedPart, specs_of
from server.web.rendering import URLS

FIELDS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("whether the flange", ("flange_quoted",)),
    ("where the prism", ("prism_at_mm",)),
    ("prism to side port", ("side_path_mm",)),
    ("side port", ("side_port",)),
    ("front connection", ("sky_side",)),
    ("sky side", ("sky_side",)),
    ("camera side", ("camera_side",)),
    ("glass thickness", ("thickness_mm", "glass_length_mm")),
    ("window thickness", ("window_thickness_mm",)),
    ("inner diameter", ("fits_from_mm",)),
    ("rear principal plane", ("principal_mm",)),
    ("exit pupil", ("exit_pupil_mm",)),
    ("primary's focal ratio", ("primary_focal_ratio",)),
    ("mirror separation", ("mirror_separation_mm",)),
    ("back focus", ("back_focus_mm",)),
    ("travel inwards", ("focuser_in_mm",)),
    ("travel outwards", ("focuser_out_mm",)),
    ("travel", ("travel_mm",)),
    ("whether the image circle", ("circle_behind_corrector",)),
    ("corrected circle", ("corrected_circle_mm",)),
    ("image circle", ("image_circle_mm", "corrected_circle_mm")),
    ("optical length", ("length_mm",)),
    ("flange distance", ("flange_mm",)),
    ("focal length", ("focal_length_mm",)),
    ("factor", ("factor",)),
    ("drawtube", ("drawtube_bore_mm",)),
    ("design", ("design",)),
    ("clear aperture", ("clear_aperture_mm",)),
    ("aperture", ("aperture_mm", "clear_aperture_mm")),
    ("central obstruction", ("obstruction_mm",)),
    ("band centre", ("band_centre_nm",)),
    ("band width", ("band_width_nm",)),
    ("focus shift over the visible", ("colour_shift_mm",)),
    ("pixel size", ("pixel_um",)),
    ("width and height", ("width_px",)),
    ("rated capacity", ("rated_kg",)),
    ("balance point", ("balance_point_mm",)),
    ("tube length", ("tube_length_mm",)),
    ("how high the saddle", ("saddle_height_mm",)),
    ("bar's beginning", ("bar_start_mm",)),
    ("bar's length", ("bar_length_mm",)),
    ("bar's mass", ("bar_mass_kg",)),
    ("bar's diameter", ("bar_diameter_mm",)),
    ("thickness", ("thickness_mm",)),
    ("bore", ("bore_mm",)),
    ("chemistry", ("chemistry",)),
    ("nominal voltage", ("voltage_v",)),
    ("current while slewing", ("current_peak_a",)),
    ("current at full cooling", ("current_cooling_a",)),
    ("current", ("current_a", "current_idle_a")),
    ("capacity", ("capacity_ah", "capacity_kg")),
    ("mass", ("mass_kg",)),
)
"""What the checks call a field, and the fields that it may be; the first that fits, and that the part has."""


def form_for(words: str, items: Iterable[CataloguedPart], observer_id: int, rig_id: int) -> str:
    """The address at which "the focal length of Halden 80" is entered; "" where no part is named.

    A part of another observer's has no form here: its own page says what can be done.
    """
    named = [item for item in items if f" of {item.name}" in words]
    if not named:
        return ""
    # One name may begin another.
    item = max(named, key=lambda one: len(one.name))
    if item.entered_by != observer_id:
        return URLS.part(item.id)
    return URLS.edit_part(item.id, rig_id, field_named(words.replace(f" of {item.name}", ""), item.kind))


def field_named(words: str, kind: str) -> str:
    """The field of a kind that the words are about, "" where none is known."""
    there = {spec.name for spec in specs_of(kind)}
    found = (name for said, names in FIELDS if said in words for name in names if name in there)
    return next(found, "")
