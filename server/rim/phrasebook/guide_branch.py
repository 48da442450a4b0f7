"""Words of the guide camera behind an off-axis guider."""

from __future__ import annotations

from server.rim.phrasebook import glass
from server.rim.phrasebook.working import COMMON_PRACTICE, Working

_BOTH = "{guide} from the prism, against {main} to the main sensor"
_FORMULA = (
    "main path = prism to the guider's camera side + lengths behind it - sum of shifts by glass behind it; "
    f"{glass.FORMULA}; guide path = prism to side port + lengths of the branch + guide camera's flange distance"
)
_SLIDING = " Sliding it in the side port usually makes up to {play} good; see that yours does."

WORDS = {
    "guide_branch.side_port": "the side port of {guider}",
    "guide_branch.of_branch": "in the branch, {label}",
    "guide_branch.before": "The prism of {guider} stands before {corrector}, which moves the focus: both cameras cannot be compared. Put it behind the corrector.",
    "guide_branch.unknown": "Whether the guide camera is in focus with the main one is not known yet: enter {missing}.",
    "guide_branch.how_joined": "How {camera} goes onto the guider is not known yet: enter {missing}.",
    "guide_branch.open": "Nothing stands yet between the side port of {guider} ({upper}) and {camera} ({lower}), and these two do not mate. Look on the Bridge for what brings the guide camera into focus too, or add it under the guider.",
    "guide_branch.sound": "{camera} is in focus with the main camera: " + _BOTH + ", {off} apart.",
    "guide_branch.short_slides": "{camera} comes into focus drawn out of its holder by {off}: " + _BOTH + ".",
    "guide_branch.long_little": "{camera} sits {off} too far from the prism: " + _BOTH + "." + _SLIDING,
    "guide_branch.short_little": "{camera} sits {off} too close to the prism: " + _BOTH + "." + _SLIDING,
    "guide_branch.long": "{camera} sits {off} too far from the prism: "
    + _BOTH
    + ". Both cannot be in focus at once.",
    "guide_branch.short": "{camera} sits {off} too close to the prism: "
    + _BOTH
    + ". Both cannot be in focus at once.",
    "guide_branch.mend": "{far?Take {off} out of|Put {off} more into} the branch before the guide camera.",
}
TITLES = {"guide_branch": "Guide camera"}
WORKINGS = {
    "guide_branch": Working(
        _FORMULA,
        f"Lengths along the folded axis. {glass.SOURCE} That the guide camera must be in focus when the main one is: {COMMON_PRACTICE}",
    ),
    "guide_branch.before": Working(_FORMULA, COMMON_PRACTICE),
}
