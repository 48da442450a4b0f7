"""Words of what a user's own frames say: the tilt and its screws, the field, the spacing, what all stars share."""

from __future__ import annotations

from server.rim.phrasebook.working import COMMON_PRACTICE, Working

WORDS = {
    "frames.whole": (
        "Tilt, curvature and astigmatism together: at the one focus that serves the whole sensor best, the {corner} is still out by {out} (within {error}), "
        "{beyond?more than|within} the {zone} to either side in which a star stays sharp."
    ),
    "frames.first": "{coma?Collimate first. }{spacing?Set the spacing{tilt?, then square the sensor}. |{tilt?Square the sensor. }}Measure again after each.",
    "frames.tilt": (
        "Best focus rises by {across} (within {error}) over the diagonal, towards the {to}"
        "{zone?: {beyond?more than the {zone} to either side within which a star stays sharp|by it alone a corner stays within the {zone} to either side in which a star stays sharp}}."
    ),
    "frames.square": "The sensor is square to the field within {error} over the diagonal.",
    "frames.enter_screws": "Enter where the screws stand, or where shims can go, to be told what each of them needs.",
    "frames.shims": "Bring the sensor further out {by_turns?by the screws|by shims}: {screws;}. Leave {stays} as {stays#it is|they are}.",
    "frames.screw": "{shim} (within {error}) at {turns?screw|place} {number}, at {deg}{turns?, {turns}}",
    "frames.lies_unknown": (
        "That holds for a picture that lies on the sensor as it is, seen from behind the camera, and a readout may be mirrored or turned: "
        "{telling?first move screw {telling} alone out by some 100 µm, measure again, and say below what was moved; the picture then tells how it lies"
        "|after the correction measure again, and if the tilt grew, turn it over}."
    ),
    "frames.lies": "The picture lies {lies=as_it_is:on the sensor as it is|left_and_right:mirrored left and right|up_and_down:mirrored up and down|turned by half}, as a turn of a screw has told.",
    "frames.curved": (
        "Apart from the tilt the corners focus {curvature} (within {error}) further {way} than the middle"
        "{zone?: {beyond?more than|by it alone within} the {zone} in which a star stays sharp}."
    ),
    "frames.flat": "The field is flat within {error} from the middle to a corner.",
    "frames.two_spacings": "Change the spacing by about {by}, measure again, and the two sets tell where it vanishes: one spacing alone does not.",
    "frames.astigmatism": (
        "Corner stars are astigmatic by {size} (within {error}), lines {lines=radial:towards the middle|around the middle} where the sensor stands too far out."
    ),
    "frames.no_astigmatism": "No astigmatism stands out in the corners (within {error}).",
    "frames.even_astigmatism": "All over the field {size} of it are the same: collimation, or a pinched or bent optical part.",
    "frames.focus": "The middle is sharpest at {focus}{steps?, {steps} of the focuser} (within {error}).",
    "frames.spacing": "By the stars the sensor belongs {best} (within {error}) behind the corrector's shoulder; it stood at {now}{asked?, and its maker asks for {asked}}.",
    "frames.spacing_right": "The spacing of {now} is right by the stars: they ask for {best} (within {error}).",
    "frames.spacing_far": "The right spacing lies well beyond those that were measured, near {best}{asked? (its maker asks for {asked})}: go there in steps. It stood at {now}.",
    "frames.respace": "{way=in:Put {by} of rings or shims in|Take {by} of rings or shims out}, behind the corrector, and measure again.",
    "frames.spacing_torn": "Curvature vanishes at {curved}, astigmatism at {drawn}: no spacing cures both. Settle between them by the corner stars.",
    "frames.spacing_blind": "Between these spacings neither curvature nor astigmatism changed enough to tell the right one. Measure at spacings further apart.",
    "frames.spacing_mixed": "The sets at {spacings} contradict one another: something else was changed between them. Measure two spacings one after the other.",
    "frames.at_spacing": "curvature, then astigmatism, at {spacing}",
    "frames.position": "focuser's position for {name}, at the sensor",
    "frames.hint": "{tilted?About {across} of tilt over the diagonal, best focus further out towards the {to}. }{curved?Corners focus about {curvature} further {way}. }One frame gives no more than this hint.",
    "frames.hint_either": (
        "{tilted?About {across} of tilt over the diagonal: best focus lies further out towards the {to} if the sensor stood too far out, towards the {other} if too far in. }"
        "{curved?Corners focus about {curvature} further {way} if it stood too far out, and the other way if too far in. }"
        "One frame cannot tell which; say on which side of focus it was taken."
    ),
    "frames.hint_none": "Over this one frame the stars are too even to say anything of tilt or curvature.",
    "frames.take_two": "Take the two frames at known positions, below: they tell the shim.",
    "frames.coma": "All stars have a tail towards the {to}, in the middle too: coma.",
    "frames.round": "No line that all stars share stands out above {least}.",
    "frames.drift": (
        "All stars are drawn out by {length} along {deg} from the right (within {hazy}): drift, wind, or the air's colours low in the sky, not the field."
        "{comatic? Part of it may be the coma.}"
    ),
    "frames.steady": "Look at guiding, polar alignment and cables in the wind, and take the frames high in the sky; what all stars share is left out of all else here.",
    "frames.no_beam": "Nothing is told in micrometres yet: enter {missing}.",
    "frames.no_places": "Where the focuser stood for each frame is not said yet: without it two frames tell no tilt. Enter the positions and measure again.",
    "frames.one_place": "All frames were taken at nearly the same position of the focuser. Take them further apart, as the plan says.",
    "frames.no_stars": "On one of the frames no star was found at all: clouds, a cap, or an exposure too short.",
    "frames.few_stars": "{stars} clean stars are on all frames; a surface takes {least}. {quick?The quick look saw but a part of them: measure the whole frames.|Expose longer, or point at a richer field.}",
    "frames.wrong_step": "The stars are far smaller than these positions would make them: is one step as large as was said, and are these the focuser's positions?",
    "frames.no_match": "The frames do not show the same stars: another field, or turned by a meridian flip between them.",
    "frames.again": "Take the frames again.",
    "frames.cropped": "These frames have {wide} x {high} pixels and the rig's camera {sensor_wide} x {sensor_high}: {smaller?they are cropped|they are not this camera's}, so the corners named here are not the sensor's.",
    "frames.stretched": "{names} {names#is|are} stretched to be looked at: sizes of stars mean nothing there, only the mean direction in which they are drawn out.",
    "frames.coarse": "{names} {names#has|have} 8 bits: faint stars are a few steps high. Save 16 bits.",
    "frames.stacked": "{names} {names#is|are} stacked of several exposures: what drifted or was refocused between them is in the stars.",
    "frames.resampled": "The pixels of {names} were resampled or coloured in: sizes are larger than the camera saw, and small differences are smoothed.",
    "frames.too_bright": "On {names} many stars are cut off at the top. Expose shorter: they are left out.",
    "frames.apart": "Two ways of measuring size disagree: nebulae, doubles or odd stars. The errors told here are widened for it.",
    "frames.plate": "By the solved picture a pixel covers {scale}: the focal length is {focal}{promised?, and the parts give {promised}}.{corner? In the widest corner the scale is {corner} larger: distortion.}{mirrored? The picture is mirrored.}",
    "frames.factor": "{corrector} works at {factor} of the tube's {tube}.",
    "frames.distance_alone": "That puts the sensor {distance} behind its shoulder, within {error} by the tube's focal length alone: too rough to space by.",
    "frames.distance_two": "By two spacings it stands {distance} behind its shoulder (within {error}).",
    "frames.seeing": (
        "In focus stars are {seen} wide, {more?more|less} than the {promised} that the rig's rules promise with {taken} of seeing: {seeing} of seeing{more?, or a tube not yet cool,} would do it."
    ),
    "frames.seeing_as_taken": "In focus stars are {seen} wide, as the rig's rules promise ({promised}).",
    "frames.not_perfect": "The stars that this rig draws take {parts} as perfect; these frames show that {parts#it is|they are} not.",
    "work.frames": "the frames",
}
TITLES = {
    "frames.whole": "The whole field",
    **dict.fromkeys(
        ("frames.tilt", "frames.square", "frames.hint", "frames.hint_either", "frames.hint_none"), "Tilt"
    ),
    **dict.fromkeys(("frames.curved", "frames.flat"), "Field curvature"),
    **dict.fromkeys(("frames.astigmatism", "frames.no_astigmatism"), "Astigmatism"),
    "frames.focus": "Best focus",
    **dict.fromkeys(
        (
            "frames.spacing",
            "frames.spacing_right",
            "frames.spacing_torn",
            "frames.spacing_far",
            "frames.spacing_blind",
            "frames.spacing_mixed",
        ),
        "Spacing by the stars",
    ),
    "frames.coma": "Coma",
    **dict.fromkeys(("frames.drift", "frames.round"), "Drift"),
    "frames.plate": "Scale",
    **dict.fromkeys(("frames.seeing", "frames.seeing_as_taken"), "Seeing"),
    "frames.not_perfect": "What the drawn stars take",
    "frames": "Frames",
}
WORKINGS = {
    "frames.surface": Working(
        "size^2 of star i on frame j = s_j + quartic(w_i) - 4 k r F_j (t.w_i + c |w_i|^2), k = (1 + e^2) / (16 N^2 p^2), size = half-flux diameter / 2, r = 0.85 (1 - 0.92 x 0.55 um x N / (p x half-flux diameter in focus) + 0.29 e^2); "
        "weights by Huber; error^2 = the fit's + (5 % of the surface)^2 + (0.5 um)^2; sensor out at a screw = t.X / half diagonal, less the least of them",
        "Second moments are quadratic in focus: Teague, J. Opt. Soc. Am. 72, 1199 (1982); difference of two frames: Roddier, Appl. Opt. 27, 1223 (1988); "
        "Huber, Ann. Math. Stat. 35, 73 (1964); all from memory. r and the errors: measured on simulated frames of rays and of waves.",
    ),
    "frames.shapes": Working(
        "Mxx - Myy + 2i Mxy of star i on frame j = shared + quartic(w_i) + 4 k r F_j (A0 + A w_i^2), r = 1.25 (1 - 1.15 x 0.55 um x N / (p x half-flux diameter in focus) + 0.18 e^2); line = sqrt(12 |shared| / 1.1); coma by third moments",
        "Adaptive moments: Bernstein & Jarvis, AJ 123, 583 (2002); Jarvis, Schechter & Jain, arXiv:0810.0027 (2008); from memory. r: measured on simulated frames of rays and of waves.",
    ),
    "frames.spacing": Working(
        "s0 = s - c / (dc/ds), by a straight line through two or more spacings; the same of the astigmatism; both weighted by their errors; of the sets of two months the newest at each spacing",
        "A straight line over a small change; that a corrector's errors are linear in its spacing there: "
        + COMMON_PRACTICE,
    ),
    "frames.seeing": Working(
        "width = half-flux diameter in focus / 1.15, in focus by size^2 = base + 2 k r (F - b0)^2; seeing so that air, diffraction, guiding and pixel give it",
        "Long exposure through Kolmogorov's air (Fried, J. Opt. Soc. Am. 56, 1372, 1966, from memory), whose half-flux diameter within three widths is 1.15 of its width.",
    ),
    "frames.hint": Working(
        "sizes = seeing + 2 k r (d^2 + |A|^2), shapes = shared + 4 k r d A, d = d0 - t.w - c |w|^2: fitted to one frame, on which (d, A) and (-d, -A) look alike",
        "As for two frames; errors of some 10 um, measured on simulated frames.",
    ),
    "frames.plate": Working(
        "scale = 3600 sqrt|det|, of CD, PC x CDELT or CDELT with CROTA2; f = 206.265 p / scale; factor = f / the tube's; distance = (1 - factor) x the corrector's focal length as a thin lens",
        "Greisen & Calabretta, A&A 395, 1061 (2002); Calabretta & Greisen, A&A 395, 1077 (2002); Gaussian optics. Tube within 1 %, scale within 3e-5: "
        + COMMON_PRACTICE,
    ),
    "frames": Working(),
}
