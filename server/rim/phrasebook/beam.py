"""Words of the light over the sensor: openings, a guider's prism, a Newtonian's diagonal."""

from __future__ import annotations

from server.rim.phrasebook.working import Working

_FLATS = "make flat frames, and crop if that is too much."
_FORMULA = (
    "edge ray (y, u) and chief ray (Y, U) traced from the entrance pupil to the sensor; at a place x the light of image height h is y D / 2 wide to either side of h Y / F; "
    "light = area common to it and all openings / its own area, times cos^4 of the middle ray's angle h / L, L = distance of the exit pupil"
)
_SOURCE = (
    "Paraxial ray trace and plane geometry: areas common to discs, rectangles and ovals (stated error 0.01 %; against real rays 0.3 % at f/8, 0.7 % at f/4); "
    "two mirrors: Schroeder, Astronomical Optics; cosine fourth law: Smith, Modern Optical Engineering (both from memory)."
)
_PRISM = "Plane geometry of similar triangles. The prism is taken as a block as wide and as deep as its stated size, square to the sensor's sides; bevels are not looked at."

WORDS = {
    "opening.part": "{part}",
    "opening.drawtube": "the drawtube of {part}",
    "opening.secondary": "the secondary of {part}",
    "opening.diagonal": "the diagonal of {part}",
    "opening.baffle": "the baffle of {part}",
    "opening.prism": "the prism of {part}",
    "beam.exit_pupil": "exit pupil {behind?behind the sensor: the corner's rays converge|before the sensor}{end=one:, at one end of what is possible|other:, at the other|}",
    "beam.far_away": "far away: the beams are parallel",
    "beam.no_smallest": "{square?not worked out: this one is not round|none: the others alone take more}",
    "beam.unknown": "The light cone is not known yet: enter {missing}.",
    "beam.no_place": "{missing?No opening's place is known yet: enter {missing}|There is no opening to check}.",
    "beam.all": "The whole light cone reaches the extreme corners through every opening that is known.",
    "beam.lose": (
        "The extreme corners lose {open_range?{least} to {most}|{lost}} of their light; {cuts}{round?, {opening} wide and {at} before the sensor,} limits most. "
        "The middles of the short sides lose {end}, of the long sides {side}."
    ),
    "beam.stay_dark": "The corners stay dark.",
    "beam.flats": "More than {wanted} is lost: flat frames must make it good.",
    "beam.fall_off": "The natural fall-off takes {natural} more.",
    "beam.stops_down": "{cuts} even stops down the centre, by {centre} of the light.",
    "beam.pupil_unknown": "The extreme corners keep {least} to {most} of their light, {wanted} is asked for. What decides is {decides}.",
    "beam.besides": "Not known yet besides: enter {missing}.",
    "beam.wider": "In place of {cuts} an opening of {needed} or more there keeps {kept} of the corner's light.",
    "beam.all_wider": "No single one mends it: {rings} must all be wider.",
    "beam.fixed": "It is {fixed} that limits: " + _FLATS,
    "beam.some_wider": "Wider parts in place of {rings} leave the corner {kept} of its light; the rest is taken by {fixed}: "
    + _FLATS,
    "beam.nearer": "Or bring {filter} {by} nearer the sensor: {at} before it, it keeps {kept} alone.",
    "beam.prism": "The prism of {guider} shades the sensor: even drawn out to {out} from the axis it stands {by} inside the light of the long side, which needs {long}. The middle of that side loses {lost} of its light.",
    "beam.prism_clear": "The prism of {guider} shades nothing at the long side, however far in it is set.",
    "beam.prism_set": "The prism of {guider} shades nothing while its edge stays {long} or more from the axis at the sensor's long side, {short} at its short side.",
    "beam.prism_in": "It can be pushed in to {inwards}: set it by a flat frame.",
    "beam.prism_turn": "Turn it to the short side, where {short} is enough.",
    "beam.prism_out": "Use a guider whose prism draws out to {long} or more, or bring this one nearer the sensor, where the light is narrower.",
    "beam.prism_unknown": "Whether the prism shades the sensor is not known yet: enter {missing}.",
    "beam.diagonal": "The diagonal lights {lights?a circle of {full} fully|no point of the sensor fully} and keeps seven tenths of the light on a circle of {most}.",
}
TITLES = {
    "beam": "Light cone",
    "beam.prism": "Prism",
    "beam.prism_clear": "Prism",
    "beam.prism_set": "Prism",
    "beam.prism_unknown": "Prism",
    "beam.diagonal": "Diagonal",
}
WORKINGS = {
    "beam": Working(_FORMULA, _SOURCE),
    "beam.with_prism": Working(_FORMULA, f"{_SOURCE} {_PRISM}"),
    "beam.prism": Working(
        "the beams' footprint = the rectangle of their middles, h Y / F, with a border of half a beam, y D / 2, all round; the prism's edge keeps outside it at both of its faces",
        _PRISM,
    ),
    "beam.diagonal": Working(
        "a (1 - g^2) = 2 (r + g l) with the offset a g / 2, g = (D/2 - r) / f'; a minor axis, l diagonal to focus, r radius lit; the circle of 70 % by the light map's sums, the mean of all directions",
        "Plane geometry of the edge rays at a mirror of 45 degrees; within 2 % of a traced paraboloid.",
    ),
}
