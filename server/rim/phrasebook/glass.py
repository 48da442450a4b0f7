"""How glass in the beam lengthens the light's way: what several workings say of it."""

from __future__ import annotations

from server.rim.phrasebook.working import Working

FORMULA = "shift by a plate = t (1 - cos u / sqrt(n^2 - sin^2 u)), tan u = 1 / (2 N)"
SOURCE = "Plane-parallel plate, the ray from the aperture's edge, exact by Snell's law: Smith, Modern Optical Engineering (from memory)."

WORDS = {
    "glass.part": "{part}",
    "glass.window": "window of {part}",
    "glass.index": "glass, index {index}{assumed? (assumed)}",
    "glass.shift": "shift by {pane}, {ratio?edge ray at f/{ratio}|near the axis (the focal ratio is not known)}",
}
TITLES: dict[str, str] = {}
WORKINGS: dict[str, Working] = {}
