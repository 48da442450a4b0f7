"""Words of the filters of one wheel."""

from __future__ import annotations

from server.rim.phrasebook.working import Working

WORDS = {
    "parfocal.unknown": "Whether the filters in {wheel} are parfocal is not known yet: enter {missing}.",
    "parfocal.shift": "shift by {filter}",
    "parfocal.offset": "The filters in {wheel} are not parfocal: {thick} focuses {offset} further out than {thin}, and the depth of focus is {depth} to either side.",
    "parfocal.refocus": "Focus afresh at each change of filter, or set an offset of {offset}.",
    "parfocal.sound": "The filters in {wheel} are parfocal: {alike?all move the focus alike|they differ by {offset}, within the depth of focus of {depth} to either side}.",
    "parfocal.may_offset": "Their tolerances may add {unsure}: check the focus at each change once.",
}
TITLES = {"parfocal": "Filters"}
WORKINGS = {
    "parfocal": Working(
        "shift = t (1 - cos u / sqrt(n^2 - sin^2 u)), tan u = 1 / (2N); offset = largest shift - smallest; depth of focus = 2 lambda N^2 to either side",
        "Plane-parallel plate, the ray from the aperture's edge, exact by Snell's law: Smith, Modern Optical Engineering (from memory). "
        "Quarter-wave depth of focus: Born & Wolf, Principles of Optics, sec. 8.8 (from memory). One glass at one wavelength: that the tube focuses all colours alike is not looked at.",
    )
}
