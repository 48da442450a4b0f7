"""All checks, in the order in which their findings are shown, and what none of them judges."""

from __future__ import annotations

from server.domain.checks.beam import check_beam
from server.domain.checks.case import Check
from server.domain.checks.coverage import check_coverage
from server.domain.checks.guide_branch import check_guide_branch
from server.domain.checks.hanging import check_hanging
from server.domain.checks.joints import check_joints
from server.domain.checks.payload import check_payload
from server.domain.checks.reach import check_reach
from server.domain.checks.sampling import check_sampling
from server.domain.checks.spacing import check_spacing
from server.domain.checks.suits import check_suits

CHECKS: tuple[Check, ...] = (
    Check("joints", "Joints", "Does every joint mate?", check_joints),
    Check("suits", "Corrector", "Is the corrector meant for this tube?", check_suits),
    Check("spacing", "Spacing", "Does the sensor sit at the corrector's back focus?", check_spacing),
    Check("reach", "Focus", "Can the focuser bring the sensor to focus?", check_reach),
    Check("coverage", "Circle", "Do the image circles cover the sensor?", check_coverage),
    Check("beam", "Light cone", "Does the light pass every opening?", check_beam),
    Check(
        "guide_branch",
        "Guide camera",
        "Is the guide camera behind the off-axis guider in focus with the main one?",
        check_guide_branch,
    ),
    Check("sampling", "Sampling", "Do focal length, pixels and air go together?", check_sampling),
    Check(
        "hanging", "Load behind", "Can focuser, rotator and tilter carry what hangs on them?", check_hanging
    ),
    Check("payload", "Load", "Can the mount carry it?", check_payload),
)

NOT_JUDGED: tuple[str, ...] = (
    "Whether the focuser reaches focus with a corrector in the train: only a bare tube's reach is judged.",
    "Off-axis guiding: the prism's reach into the field, its shadow, and whether it finds a star.",
    "Guiding: guide scope, guide camera, and the mount's periodic error.",
    "How the sensor's squareness is set: tilt plate, range and steps of a tilt adjuster or rotator.",
    "Steps of a focuser's motor against the depth of focus.",
    "Spot sizes, the light quoted at the edge of an image circle, a primary mirror's ratio and separation, "
    "spider vanes.",
    "Power: currents, batteries, cooling.",
    "A camera's gain, read noise, full well, dark current and quantum efficiency.",
    "Balance and swing: balance point, lengths, counterweights, supports, how far from the axes masses sit.",
    "Openings before the last corrector, tilt, sag, and changes with temperature.",
)
"""What is kept or drawn and enters no verdict: said at the foot of the findings and in About."""
