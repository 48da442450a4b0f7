"""Words of the Sun as the target."""

from __future__ import annotations

from server.rim.phrasebook.working import COMMON_PRACTICE, Working

WORDS = {
    "sun.target": "The Sun is the target, behind a full-aperture filter.",
    "sun.no_filter": "The Sun is the target and no solar filter before the tube is named: do not point it there. Without one the eye is blinded at once and for good, and the camera burns.",
    "sun.fix_one": "Fix a certified full-aperture solar filter in front of the tube, and add it beside the train or say so where the rig's purpose is asked; or choose another target. A filter behind the optics does not do.",
    "sun.cover_unknown": "The Sun is the target. Whether {filter} covers the whole aperture is not known yet: enter {missing}. Until then do not point it there.",
    "sun.too_small": "The Sun is the target and {filter} is open for {width}, the tube for {aperture}: it does not filter the whole aperture. Do not point it there.",
    "sun.wider": "Use a certified filter as wide as the tube's aperture, made to fit over its front; or choose another target.",
    "sun.filtered": "The Sun is the target; {filter} sits over the front of the tube and is as wide as its aperture. Only a certified filter does; whether this one is whole, you alone can see.",
    "sun.behind": "{filter} is made for the Sun and stands behind the objective, where gathered sunlight can crack it.",
    "sun.take_out": "Take it out of the train{slips_over? and add it beside the train: it goes over the front of the tube|; only a filter over the whole front of the tube is fit for the Sun}.",
    "sun.named": "{named?yes|none named}",
    "sun.itself": "the Sun",
}
TITLES = {"sun": "The Sun"}
WORKINGS = {
    "sun": Working(
        "target is the Sun: a certified filter over the whole aperture, or none of it", COMMON_PRACTICE
    ),
    "sun.behind": Working("a solar filter belongs before the objective", COMMON_PRACTICE),
}
