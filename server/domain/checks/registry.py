"""All checks, in the order in which one would do something about what they find."""

from __future__ import annotations

from server.domain.checks.balance import check_balance
from server.domain.checks.bands import check_bands
from server.domain.checks.beam import check_beam
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
from server.domain.checks.parfocal import check_parfocal
from server.domain.checks.payload import check_payload
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
    # What can hurt, and what cannot be carried.
    Check("sun", check_sun),
    Check("lifting", check_lifting),
    Check("hanging", check_hanging),
    Check("payload", check_payload),
    Check("stand", check_stand),
    Check("balance", check_balance),
    # Does it go together, does the sensor stand where it is asked for, does it come to focus?
    Check("joints", check_joints),
    Check("seating", check_seating),
    Check("suits", check_suits),
    # The sensor is brought to its place behind the corrector first: that moves it against the focus.
    Check("spacing", check_spacing),
    Check("reach", check_reach),
    # Is the sensor lit?
    Check("coverage", check_coverage),
    Check("beam", check_beam),
    Check("filter_size", check_filter_size),
    # Are the stars sharp?
    Check("tolerances", check_tolerances),
    Check("sag", check_sag),
    Check("corners", check_corners),
    Check("colour", check_colour),
    Check("bands", check_bands),
    Check("parfocal", check_parfocal),
    # Does it suit the sky, does it guide, does it last the night?
    Check("sampling", check_sampling),
    Check("guide_branch", check_guide_branch),
    Check("guider", check_guider),
    Check("guide_scope", check_guide_scope),
    Check("power", check_power),
)
