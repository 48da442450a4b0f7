"""All checks, in the order in which their findings are shown."""

from __future__ import annotations

from server.domain.checks.case import Check
from server.domain.checks.coverage import check_coverage
from server.domain.checks.guider import check_guider
from server.domain.checks.joints import check_joints
from server.domain.checks.light import check_light
from server.domain.checks.parfocal import check_parfocal
from server.domain.checks.payload import check_payload
from server.domain.checks.reach import check_reach
from server.domain.checks.sampling import check_sampling
from server.domain.checks.seating import check_seating
from server.domain.checks.spacing import check_spacing
from server.domain.checks.tolerances import check_tolerances

CHECKS: tuple[Check, ...] = (
    Check("joints", "Joints", "Does every joint mate?", check_joints),
    Check("seating", "Threads", "Does every screwed joint close?", check_seating),
    Check("spacing", "Spacing", "Does the sensor sit at the corrector's back focus?", check_spacing),
    Check("tolerances", "Tolerances", "Will the finished train fit, and square?", check_tolerances),
    Check("reach", "Focus", "Can the focuser bring the sensor to focus?", check_reach),
    Check("coverage", "Circle", "Do the image circles cover the sensor?", check_coverage),
    Check("beam", "Light cone", "How much light reaches the corners of the sensor?", check_light),
    Check("parfocal", "Filters", "Does a change of filter keep the focus?", check_parfocal),
    Check("sampling", "Sampling", "Do focal length, pixels and air go together?", check_sampling),
    Check("guider", "Guider", "Does the guide camera focus, and find a star?", check_guider),
    Check("payload", "Load", "Can the mount carry it?", check_payload),
)
