"""Words of the drawtube's sag."""

from __future__ import annotations

from server.rim.phrasebook.working import Working

_LEVEL = "With the drawtube of {tube} level, what hangs on it tilts it by {sag} arcminutes: a corner stands {corner} from focus"

WORDS = {
    "sag.unknown": "What the drawtube's sag does is not known yet: enter {missing}.",
    "sag.sound": _LEVEL + ", within the depth of focus of {depth}.",
    "sag.beyond": _LEVEL
    + " and the opposite one as far the other way, beyond the depth of focus of {depth}. It turns with the sky: squaring the sensor at one height does not cure it.",
    "sag.less": "Hang less on the drawtube or hang it nearer, rack it out less, or use a stiffer focuser.",
}
TITLES = {"sag": "Sag"}
WORKINGS = {
    "sag": Working(
        "sag = softness x sum of mass x g x arm; corner from focus = half the diagonal x tan(sag); depth of focus = 2 lambda N^2 to either side",
        "Statics, drawtube level, and trigonometry; quarter-wave depth of focus: Born & Wolf, Principles of Optics, sec. 8.8 (from memory). The softness is the user's or the maker's figure. Not looked at: a corrector that tilts with the sensor, the bending of the parts behind the drawtube.",
    )
}
