"""Drawings of a rig, made by the server as SVG: from a rig and a way to write lengths, a string.

svg         the writer: escapes everything, refuses what the content policy refuses
labels      labels that never cover each other
bodies      each part's size in mm as it is drawn
paint       each kind's own look
light       the beams to the sensor
overview    the whole rig in a strip
standing    the asked back focus, and where the finished trains' sensors stand
legend      what light, hatching and bar mean
describe    the drawing in sentences
section     the section along the axis; empty: the one for a train without parts
light_map   the light over the sensor
tolerance_bar  where the finished train's sensor will stand
"""

from __future__ import annotations

from server.web.drawing.light_map import light_map_svg
from server.web.drawing.light_map import sentences as light_words
from server.web.drawing.options import (
    DRAWING_CSS_FILE,
    LimitMark,
    PrismMark,
    SectionOptions,
    SpacingMark,
    millimetres,
)
from server.web.drawing.section import SIZES, Size, scale_bar, scale_of, section_figure, section_svg
from server.web.drawing.tolerance_bar import sentences as tolerance_words
from server.web.drawing.tolerance_bar import tolerance_bar_svg

__all__ = [
    "DRAWING_CSS_FILE",
    "SIZES",
    "LimitMark",
    "PrismMark",
    "SectionOptions",
    "Size",
    "SpacingMark",
    "light_map_svg",
    "light_words",
    "millimetres",
    "scale_bar",
    "scale_of",
    "section_figure",
    "section_svg",
    "tolerance_bar_svg",
    "tolerance_words",
]
