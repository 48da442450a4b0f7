"""Words of a guide scope's scale."""

from __future__ import annotations

from server.rim.phrasebook.working import Working

WORDS = {
    "guide_scope.unknown": "How finely {camera} guides is not known yet: enter {missing}.",
    "guide_scope.sees": (
        "{camera} behind {scope} sees {scale}{ratio?, {ratio} what the main pixels do}; it finds a star's middle to {error}"
        "{beyond=wanted:, coarser than the {wanted} of guiding that this rig counts on."
        "|pixels:. That is coarse for these main pixels: what it cannot see wanders in the picture."
        "|{asked?, within the {wanted} of guiding that this rig counts on}.}"
    ),
    "guide_scope.longer": "Take a guide scope of {focal} focal length or more, finer pixels, or an off-axis guider.",
}
TITLES = {"guide_scope": "Guide scope"}
WORKINGS = {
    "guide_scope": Working(
        "scale = 206 264.806 x pixel / f; least error = a tenth of a pixel x scale",
        "A star's middle to a tenth of a pixel, guide pixels of at most five main ones' width: common practice, no source. What bends between the two tubes is not looked at.",
    )
}
