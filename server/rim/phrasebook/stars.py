"""Words of the stars that a rig draws: what is taken of its parts, and what the pictures say."""

from __future__ import annotations

from server.rim.phrasebook.working import COMMON_PRACTICE, Working

_OFF = "{off=sensor:the primary's axis off the sensor's middle|corrector:the primary's axis off the corrector's|the secondary off the axis}"
_TURNED = "{off=secondary:the secondary|the primary}"

WORDS = {
    "stars.at.top_left": "top left",
    "stars.at.top": "top",
    "stars.at.top_right": "top right",
    "stars.at.left": "left",
    "stars.at.centre": "centre",
    "stars.at.right": "right",
    "stars.at.bottom_left": "bottom left",
    "stars.at.bottom": "bottom",
    "stars.at.bottom_right": "bottom right",
    "stars.by.coma": "coma",
    "stars.by.curvature": "the curved field",
    "stars.by.astigmatism": "astigmatism",
    "stars.by.spacing": "the corrector's wrong distance",
    "stars.by.tilt": "the sensor's tilt",
    "stars.by.focus": "the focus",
    "stars.by.spots": "what the maker's spot sizes say",
    "stars.by.spherical": "spherical aberration",
    "stars.taken": "taken so",
    "stars.taken.strehl": "What its Strehl ratio leaves wanting in {tube} is spherical aberration.",
    "stars.taken.round": "The spots of {part} are round: a spot size says nothing of a shape.",
    "stars.taken.doublet": "{tube} is taken as a doublet of usual glasses, free of coma; an objective of groups that stand apart is flatter: enter the radius of its field.",
    "stars.taken.corrected": "{tube} is corrected by its maker over its whole circle: nobody has a formula for it. Enter spot sizes, and they win.",
    "stars.taken.back": "The focus of {tube} lies a quarter of its primary's focal length behind it; enter the mirrors' separation.",
    "stars.taken.spheres": "The mirrors of {tube} are spheres behind a thin plate: right in size, not in the last tenth.",
    "stars.taken.best": (
        "{corrector} takes {coma?coma, curvature and astigmatism|the curvature and astigmatism} of the tube wholly away at its own distance, and adds nothing: the best case. "
        "Enter its spot sizes, and they win."
    ),
    "stars.taken.seen": "Curvature and astigmatism are as this rig's own frames showed them, measured on {on}.",
    "stars.taken.seen_else": "What frames showed on {on} was of another spacing or beam, and is not taken.",
    "stars.taken.there": "{corrector} stands at its own distance: what stands behind it moves its focus, and no formula here knows both.",
    "stars.taken.no_filter": "The light is that of a camera without a filter: enter the band of {filter}, its centre and width.",
    "stars.taken.no_colour": "The colour that {tube} leaves is not known and not drawn.",
    "stars.taken.colours": "The colours of {tube} focus apart as those of {pair?its pair of glasses|a usual crown and flint (its pair is not known)} do, best focus for all.",
    "stars.taken.one": "either the shift or the tilt is there, not both",
    "stars.taken.even": "the corrector takes away what grows from its own axis, and leaves what is even",
    "stars.corners_lost": "The star at the {place} is so large that its picture does not hold four fifths of it: {cause} draws it out.",
    "stars.corners": "Four fifths of a star's light lie within {centre} pixels at the centre and {corner} at the {place}: {growth} more, by {cause}.",
    "stars.even": (
        "Four fifths of a star's light lie within {centre} pixels at the centre and {corner} at the {place}: "
        "the field is even to {seen?{growth} pixels|less than a tenth of a pixel}{perfect?, if the correction is perfect}."
    ),
    "stars.left_out": "What {perfect} does to the stars by itself is left out: there is no formula for it.",
    "stars.cause": "{cause} at the {place}, RMS radius",
    "stars.collimate": "Collimate: the coma is in every star, the middle ones too.",
    "stars.compromise": "A compromise focus takes {share} of the corner's blur away.",
    "stars.square": "Square the sensor: a tilt plate or adjuster, or a tighter joint.",
    "stars.refocus": "Focus: the sensor stands off the focus over the whole field.",
    "stars.obstruction": (
        "The obstruction ({share} of the aperture, linear), vanes and clips take {lost} of the light: a refractor of {equal} gathers as much, mirrors' and lenses' own losses aside. "
        "Of the contrast at a quarter of the finest detail {with} is left, and {without} without them."
    ),
    "stars.spikes_unknown": "How bright its spikes are is not known yet: enter {missing}.",
    "stars.spikes": (
        "Its {vanes} {count?vanes send {share} of every star's light into {count} spikes, which reach {length} before their first gap. Thinner vanes make them fainter and longer."
        "|curved vanes spread {share} of every star's light around it, out to some {length}: no spikes, and a glow.}"
    ),
    "stars.zone": (
        "The zone of focus is {zone} to either side, {by_wave?by the wave: this air's star of {star} grows by {growth} only at {air}"
        "|where this air's star of {star} has grown by {growth}; by the wave it would be {wave}}."
    ),
    "stars.no_motor": "No motor's step is entered, so none is judged.",
    "stars.motor": "{motor} makes {steps} steps from one end of it to the other.{coarse? That is coarse: two at least are wanted.}",
    "stars.no_cooling": "By the rig's rules the night does not cool: when to refocus is not judged.",
    "stars.odd": "How often to refocus cannot be judged: how its tube's material grows in the warmth is in no table here.",
    "stars.night": (
        "At the sensor the focus moves by {drift} for each K; in a night that cools evenly by {fall} K over {night} hours "
        "{holds=night:one focus holds|minutes:refocus every {minutes} minutes|hours:refocus every {hours} hours}."
    ),
    "stars.gear_down": "Gear the motor down, or drive it in smaller steps.",
    "stars.follow": "Let a motor follow a thermometer, or let the tube cool before it is focused: {kelvin} K are all that one focus bears.",
    "stars.note": "Through one night note focus and temperature: they tell its drift for each K.",
    "stars.step": "one step of {motor}",
    "stars.cold_glass": "none: of a refractor it can be as large as the tube's",
    "stars.collimation_unknown": "How exactly it must be collimated is not known yet: enter {missing}.",
    "stars.collimation": (
        "With {allowed?"
        + _OFF
        + " by {allowed}{tilt? or }}{tilt?"
        + _TURNED
        + " tilted by {tilt} arcminutes}, coma leaves {strehl} of a star's peak"
        "{tail?; each {step} draws a tail of {tail} pixels into every star}."
    ),
    "stars.collimation_out": "It is asked for out by {out}: more than that.",
    "stars.look_again": "Collimate, and look at it again before every night: on a star in the middle of the field, a little out of focus, whose rings must lie about one middle.",
}
TITLES = {
    **dict.fromkeys(("stars.corners", "stars.corners_lost", "stars.even", "stars.even_unknown"), "Corners"),
    "stars.obstruction": "Obstruction",
    **dict.fromkeys(("stars.spikes", "stars.spikes_unknown"), "Spikes"),
    **dict.fromkeys(
        (f"stars.focus{one}" for one in ("", "_coarse", "_short", "_unknown", "_unjudged")), "Focus"
    ),
    **dict.fromkeys((f"stars.collimation{one}" for one in ("", "_out", "_unknown")), "Collimation"),
}
_COLLIMATION = (
    "Coma balanced by tilt over a ring: Mahajan, J. Opt. Soc. Am. 71, 75 (1981); Marechal's criterion (Born & Wolf, Principles of Optics, sec. 9.3); "
    "third-order coma of the tube's kind (Schroeder, Astronomical Optics, ch. 6; all from memory)."
)
WORKINGS = {
    "stars.corners": Working(
        "star = |transform of pupil x exp(2 pi i W / lambda)|^2, folded with exp(-3.4419 (lambda nu / r0)^(5/3)) and the guiding's wander; "
        "W = defocus rho^2 + coma rho^2 (h rho) + astigmatism + curvature h^2 rho^2",
        "Fraunhofer diffraction by the pupil (Goodman, Introduction to Fourier Optics, from memory); "
        "third-order field of the tube's kind (Schroeder, Astronomical Optics; Welford, Aberrations of Optical Systems, from memory); "
        "long exposure through Kolmogorov's air (Fried, J. Opt. Soc. Am. 56, 1372, 1966).",
    ),
    "stars.obstruction": Working(
        "lost = obstruction^2 + area of vanes and clips over the whole; contrast = |transform of star|",
        f"Areas; O'Neill, J. Opt. Soc. Am. 46, 285 (1956). About 30 % is liked among reflectors: {COMMON_PRACTICE}",
    ),
    "stars.spikes": Working(
        "share = q / (1 - q), q the vanes' part of the clear ring; first gap at lambda / width",
        "Babinet's principle; diffraction at a slit (any text on Fourier optics, from memory).",
    ),
    "stars.spikes_unknown": Working(),
    "stars.focus": Working(
        "by the wave 2 lambda N^2; in this air N w sqrt(((1 + g)^2 - 1) / ((0.42 + 0.34 g)(1 + e^2))), w the star's width in focus, g the growth, e the obstruction; the zone is the smaller; "
        "steps = 2 x zone / (step x m^2), m the factor of the correctors that the motor carries; hours = night x zone / (fall x drift for each K x m^2)",
        "Quarter-wave depth of focus: Born & Wolf, Principles of Optics, sec. 8.8 (from memory); Kolmogorov's star (Fried, J. Opt. Soc. Am. 56, 1372 (1966), from memory) folded with the cone's disc; "
        "longitudinal magnification m^2 (any text on Gaussian optics). "
        f"A tenth more in width, two steps and the night's length: {COMMON_PRACTICE}",
    ),
    "stars.collimation": Working(
        "Strehl = exp(-(2 pi s)^2), s the RMS of coma W131 over the ring of the aperture, in waves; allowed = W131 / (W131 for each mm, or arcminute); tail = 6 N W131",
        _COLLIMATION,
    ),
    "stars.collimation_unknown": Working(source=_COLLIMATION),
}
