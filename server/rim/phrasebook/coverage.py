"""Words of the image circles of tube and corrector."""

from __future__ import annotations

from server.rim.phrasebook.working import COMMON_PRACTICE, Working

_CIRCLE = "The {circle_of} of {part}, {behind?{reduced?reduced|enlarged} by {behind} to }{circle}, "
_COVERS = _CIRCLE + "covers the sensor's diagonal of {diagonal}."
_SMALLER = _CIRCLE + "is smaller than the sensor's diagonal of {diagonal}: the corners lie {over} outside"

WORDS = {
    "coverage.sensor": "Not known yet: enter the {missing}.",
    "coverage.unknown": "Whether the sensor is covered is not known yet: enter {missing}.",
    "coverage.sound": _COVERS,
    "coverage.part_unknown": _COVERS,
    "coverage.corners": _SMALLER + ".",
    "coverage.edges": _SMALLER + ", and the ends of its long side are outside too.",
    "coverage.crop": "Crop to a diagonal of {circle}, or choose a tube and corrector with a larger circle.",
}
TITLES = {"coverage": "Circle"}
WORKINGS = {
    "coverage": Working(
        "diagonal = sqrt(width^2 + height^2); the bare tube's circle is multiplied by the factor at which the correctors behind it work",
        f"Plane geometry; Gaussian optics for the factor. That the circle should reach the diagonal: {COMMON_PRACTICE}",
    )
}
