"""Words of the Bridge: why a gap cannot be searched, what contradicts what, and why a part is not searched."""

from __future__ import annotations

from server.rim.phrasebook.working import Working

_TICK = "or take the tick off the guide camera."

WORDS = {
    # The gap
    "bridge.end_between": "{part} stands between these ends: choose two ends on one side of it.",
    "bridge.side_unknown": (
        "The connection at the {side} side of {part} is not wholly known. "
        "Enter it, with its gender, on the Shelf; then the Bridge can look for what mates."
    ),
    "bridge.no_two_parts": "The train does not have two parts yet: add them first.",
    "bridge.gone": "That part is no longer in the train; open the Bridge from the bench again.",
    "bridge.two_ends": "The Bridge needs two ends: a tube or a corrector, and a camera. Add them to the train, or open the Bridge at a joint.",
    "bridge.ends_order": "The end nearer the sky must stand before the one nearer the camera.",
    "bridge.shim_end": "A shim lies in a joint and ends no gap: choose the part beside it.",
    "bridge.distance_unknown": "How long the gap must be is not known yet: enter {missing}, or type a distance.",
    "bridge.asked_back_focus": "the back focus that {part} asks for at this tube",
    "bridge.focal_plane": "how far behind {part} its focal plane lies",
    "bridge.length_unknown": "The optical length of {part} is not known. Enter it, or let it go.",
    "bridge.connections_unknown": "The connections of {part} are not wholly known. Enter them, or let it go.",
    # Two demands that contradict each other, and why they do
    "bridge.contradiction": "“{first}” and “{second}” contradict each other: {why}",
    "bridge.the_distance": "the distance",
    "bridge.distance": "a distance of {distance}",
    "bridge.window": "within {short} short and {long} long",
    "bridge.at_end": "{part} at the end",
    "bridge.stays": "{parts} {parts#stays|stay}",
    "bridge.must_stay": "{parts} must stay",
    "bridge.unwanted": "not {part}",
    "bridge.clear": "at least {clear} clear",
    "bridge.no_push_fit": "no push-fit",
    "bridge.joints": "at most {count} joints",
    "bridge.most_mass": "at most {most}",
    "bridge.any_order": "in any order",
    "bridge.no_step": "lengths are searched in whole steps of {step}, and none lies in that window. Allow {step} more.",
    "bridge.outside_long": "what stands outside the gap is {longer} longer than the whole distance asked for.",
    "bridge.let_go": "let it go, or take it off the list of the unwanted.",
    "bridge.opening": "its own opening is {opening}. Ask for no more, or let it go.",
    "bridge.has_barrel": "it has a push-fit barrel.",
    "bridge.takes_barrel": "it takes a push-fit barrel there.",
    "bridge.kept_long": "what stays is {kept} long. Let a part go, or use a shorter camera or a corrector that asks for more.",
    "bridge.joints_made": "they alone make {count} joints.",
    "bridge.weigh": "they weigh {mass} by themselves.",
    # Parts that are glued together
    "bridge.part_number": "Part {number}",
    "bridge.glued_twice": "{part} is glued to two parts: name one pair only.",
    "bridge.glued_unsearched": "{part} cannot be glued: it is not among the parts that are searched.",
    "bridge.glued_not_owned": "{part} cannot be glued to anything: no copy of it is owned and free.",
    "bridge.glued_apart": "{parts} do not mate, so they cannot be glued together.",
    # The guide camera's branch
    "bridge.guide_wish": "the guide camera in focus too",
    "bridge.guide_glued": "{part} glued to another part",
    "bridge.guide_unglue": "take it off the list of the glued for this search.",
    "bridge.guide_may_go": "{part} may go",
    "bridge.guide_hangs": "the guide camera hangs on it. Let it stay.",
    "bridge.guide_order": "which glass lies behind the prism, and moves the focus, depends on the order. Keep it.",
    "bridge.guide_main_unknown": "How long the main path is is not known yet: enter {missing}.",
    "bridge.guide_lacks": (
        "{what=guider:The train holds no off-axis guider: add one"
        "|guide_camera:The rig has no guide camera: add it beside the train"
        "|The train has no camera yet: add it}, " + _TICK
    ),
    "bridge.guide_scope": (
        "The rig has a guide scope, so its guide camera is taken to sit there. "
        "Take the guide scope off the rig to guide through the off-axis guider."
    ),
    "bridge.guide_unknown": "Where the guide camera is in focus is not known yet: enter {missing}.",
    "bridge.guide_prism": "where the prism of {part} sits",
    "bridge.guide_path": "the path from prism to side port of {part}",
    "bridge.guide_flange": "the flange distance of {part}",
    "bridge.guide_port": "the side port of {part}, with its gender",
    "bridge.guide_front": "the front connection of {part}, with its gender",
    "bridge.guide_before": "{part} stands before {corrector}, which moves the focus: both paths cannot be compared. Put it behind the corrector.",
    "bridge.guide_outside": "{part} stands outside this gap: choose ends that have it between them, " + _TICK,
    # One kit for several rigs
    "bridge.kit_rigs": "Choose {least} to {most} rigs: a kit is for several.",
    "bridge.kit_gaps": "A kit needs a gap in every rig that is chosen.",
    # Why a part is not searched
    "left.adjustable": "adjustable: put it into the train and set it there",
    "left.no_thickness": "the thickness is not known",
    "left.no_hole": "the inner diameter is not known",
    "left.no_length": "the optical length is not known",
    "left.odd_length": "the optical length makes no sense",
    "left.no_connection": "a connection or its gender is not known",
    "left.no_copy": "no copy is free",
    "left.no_price": "it would have to be bought, and its price is not known",
    "left.currency": "priced in {priced}, and money is counted in {counted}",
    "left.push_fit": "push-fit, and none is wanted",
    "left.no_clear": "the clear aperture is not known",
    "left.narrow": "the clear aperture is too small",
    "left.no_mass": "the mass is not known",
}
TITLES: dict[str, str] = {}
WORKINGS: dict[str, Working] = {}
