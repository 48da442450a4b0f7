"""How glass in the beam lengthens the light's way: what several workings say of it."""

from __future__ import annotations

FORMULA = "shift by a plate = t (1 - cos u / sqrt(n^2 - sin^2 u)), tan u = 1 / (2 N)"
SOURCE = "Plane-parallel plate, the ray from the aperture's edge, exact by Snell's law: Smith, Modern Optical Engineering (from memory)."
