"""Is the Sun the target, and is the whole aperture filtered for it?"""

from __future__ import annotations

from server.domain.checks.case import COMMON_PRACTICE, Case, say
from server.domain.findings import Finding, Input, Remedy

RULES = (
    "Check the filter for holes and scratches each time, and fasten it so that wind cannot take it. "
    "Cap or take off the finder and the guide scope. Never leave the rig unattended."
)
FORMULA = "target is the Sun: a certified filter over the whole aperture, or none of it"


def check_sun(case: Case) -> tuple[Finding, ...]:
    """Say the Sun's caution where it is the target; a stop without a filter before the tube. Never sound:
    no data can say that an eye is safe.
    """
    plan = case.rig.load
    if not plan.sun:
        return ()
    inputs = (
        Input(label="target", amount=None, basis="typed", of="the plan of the load", text="the Sun"),
        Input(
            label="certified full-aperture filter before the tube",
            amount=None,
            basis="typed",
            of="the plan of the load",
            text="yes" if plan.solar_filter else "none named",
        ),
    )
    if plan.solar_filter:
        return (
            Finding(
                code="sun.target",
                weight="watch",
                title="The Sun",
                phrase=say(f"The Sun is the target, behind a full-aperture filter. {RULES}"),
                inputs=inputs,
                formula=FORMULA,
                source=COMMON_PRACTICE,
            ),
        )
    return (
        Finding(
            code="sun.no_filter",
            weight="stop",
            title="The Sun",
            phrase=say(
                "The Sun is the target and no solar filter before the tube is named: do not point it there. "
                "Without one the eye is blinded at once and for good, and the camera burns. " + RULES
            ),
            remedies=(
                Remedy(
                    phrase=say(
                        "Fix a certified full-aperture solar filter in front of the tube, and say so in the "
                        "plan of the load; or choose another target. A filter behind the optics does not do."
                    )
                ),
            ),
            inputs=inputs,
            formula=FORMULA,
            source=COMMON_PRACTICE,
        ),
    )
