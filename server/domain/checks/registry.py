"""All checks, in the order in which their findings are shown, and what none of them judges."""

from __future__ import annotations

from server.domain.checks.balance import check_balance
from server.domain.checks.bands import check_bands
from server.domain.checks.colour import check_colour
from server.domain.checks.corners import check_corners
from server.domain.checks.coverage import check_coverage
from server.domain.checks.filter_size import check_filter_size
from server.domain.checks.guide_branch import check_guide_branch
from server.domain.checks.guide_scope import check_guide_scope
from server.domain.checks.guider import check_guider
from server.domain.checks.hanging import check_hanging
from server.domain.checks.joints import check_joints
from server.domain.checks.lifting import check_lifting
from server.domain.checks.light import check_light
from server.domain.checks.moments import check_load
from server.domain.checks.parfocal import check_parfocal
from server.domain.checks.power import check_power
from server.domain.checks.reach import check_reach
from server.domain.checks.sag import check_sag
from server.domain.checks.sampling import check_sampling
from server.domain.checks.seating import check_seating
from server.domain.checks.spacing import check_spacing
from server.domain.checks.stand import check_stand
from server.domain.checks.suits import check_suits
from server.domain.checks.sun import check_sun
from server.domain.checks.tolerances import check_tolerances
from server.domain.workings.case import Check

CHECKS: tuple[Check, ...] = (
    Check("sun", "The Sun", "Is the whole aperture filtered where the Sun is the target?", check_sun),
    Check("joints", "Joints", "Does every joint mate?", check_joints),
    Check("seating", "Threads", "Does every screwed joint close?", check_seating),
    Check("suits", "Corrector", "Is the corrector meant for this tube?", check_suits),
    Check("spacing", "Spacing", "Does the sensor sit at the corrector's back focus?", check_spacing),
    Check("tolerances", "Tolerances", "Will the finished train fit, and square?", check_tolerances),
    Check("sag", "Sag", "Does the drawtube's sag keep the corners in focus?", check_sag),
    Check("reach", "Focus", "Can the focuser bring the sensor to focus?", check_reach),
    Check("coverage", "Circle", "Do the image circles cover the sensor?", check_coverage),
    Check("beam", "Light cone", "How much light reaches the corners of the sensor?", check_light),
    Check("filter_size", "Filter size", "How large must the filters be?", check_filter_size),
    Check("bands", "Narrow band", "Does a fast beam leave the narrow bands their lines?", check_bands),
    Check("colour", "Colour", "Does a lens bring the band's colours to one focus?", check_colour),
    Check("corners", "Corner stars", "Are the stars sharp to the corners?", check_corners),
    Check("parfocal", "Filters", "Does a change of filter keep the focus?", check_parfocal),
    Check(
        "guide_branch",
        "Guide camera",
        "Is the guide camera behind the off-axis guider in focus with the main one?",
        check_guide_branch,
    ),
    Check("guider", "Guide star", "Does the guide camera find a star?", check_guider),
    Check("guide_scope", "Guide scope", "Is the guide scope's scale fine enough?", check_guide_scope),
    Check("sampling", "Sampling", "Do focal length, pixels and air go together?", check_sampling),
    Check(
        "hanging", "Load behind", "Can focuser, rotator and tilter carry what hangs on them?", check_hanging
    ),
    Check("payload", "Load", "Can the mount carry it?", check_load),
    Check("stand", "Stand", "Can the tripod or pier carry it all?", check_stand),
    Check("balance", "Balance", "Does it balance on its dovetail and about the polar axis?", check_balance),
    Check("lifting", "Lifting", "Is a load above what its lifter wants to lift?", check_lifting),
    Check("power", "Power", "Does the battery last the night?", check_power),
)

NOT_JUDGED: tuple[str, ...] = (
    "Guiding: the mount's periodic error, and what holds a guide scope still.",
    "How the sensor's squareness is set: tilt plate, range and steps of a tilt adjuster or rotator.",
    "The light quoted at the edge of an image circle.",
    "What the stars' own page alone says: spikes, contrast, a focus motor's steps, collimation.",
    "What a wire may carry for good: that is for its maker and for local codes.",
    "A camera's gain, read noise, full well, dark current and quantum efficiency.",
    "Carrying: a slope, a dark path, stairs; the lifting equation is for the lift alone.",
    "Swing and reach: whether the tube clears the legs, heights of supports, what a motor can turn; the "
    "moments of inertia are shown with the load and held to no limit.",
    "How far a part bends under load, but for the tilt of a drawtube whose sag is entered.",
)
"""What is kept or drawn and enters no verdict: said at the foot of the findings and in About."""
