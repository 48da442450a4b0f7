"""Words of the balance along and across the tube."""

from __future__ import annotations

from server.domain.checks.balance import CLOSE_MM, DOUBT_MM
from server.rim.phrasebook.working import COMMON_PRACTICE, Working

_ALONG = (
    "centre of gravity = sum of mass x place / sum of masses; torque = mass x g x distance from the clamp"
)
_SOURCE = "Statics: sum of mass x distance = 0 about the axis (statics). Parts of the train are taken to balance at their middle: assumed."
_BALANCES = "The loaded tube balances {centre} from its front ({measured?measured|worked out}), "

WORDS = {
    "balance.place_of": "place of {name}",
    "balance.from_axis": "{name} from the tube's axis",
    "balance.half_width": "half width of {tube?{tube}|the tube}",
    "balance.width": "{by=outer_diameter:by its outer diameter|aperture:taken to be as wide as its aperture, which is the least|of unknown width, which is not counted}",
    "balance.cylinder": "{tube} counts as a full cylinder, {wide}{long?|, and of unknown length, which is not counted}.",
    "balance.inertia_assumes": "Parts of the train count as thin rods, gear on the tube as points: an estimate, for how the mass lies inside a part is not known. The declination axis is taken to run through the balance point.",
    "balance.along": _BALANCES + "close enough to where the saddle clamps it.",
    "balance.along_off": _BALANCES
    + "{off} {behind?behind|before} the middle of the clamp. An axis that does not balance swings as soon as a clutch is loosened: hold the tube.",
    "balance.plate_short": "{whole?The plate is only {plate} long: the saddle cannot follow|That is more than half of the plate's {plate}: see that the saddle still holds it with its whole length}.",
    "balance.slide": (
        "{how=rings:Slide the tube {off} {forwards?forwards|backwards} in its rings, or move the plate under them."
        "|Slide the tube {off} {forwards?forwards|backwards} in the saddle.{how=both: Or: slide the tube {off} {forwards?forwards|backwards} in its rings, or move the plate under them.|}}"
    ),
    "balance.doubt": "By the places of its parts it would balance {worked} from its front, {apart} from what was measured: one of the two is wrong.",
    "balance.measure_again": "Measure the balance point again, from the front of the tube and with everything on it, or mend the masses and places.",
    "balance.clamp_at": "Clamp the dovetail so that the balance point lies over the middle of the saddle: {centre} from the front of the tube ({measured?measured|worked out}). Then enter where the saddle clamps.",
    "balance.rough": "{assumed?With what is assumed below it|It} balances between {low} and {high} from the front of the tube, near {at}.{clamped?| Clamp it there. To shift it, loosen the saddle only as far as it slides, hold the tube all the while, and clamp it again before you let go.}",
    "balance.rough_measured": "It balances {centre} from the front of the tube, as measured.",
    "balance.rough_off": "{side=behind:All of that lies behind the middle of the clamp, {clamp}: slide the tube forwards.|before:All of that lies before the middle of the clamp, {clamp}: slide the tube backwards.|The middle of the clamp, {clamp}, lies within that: whether it balances there is not known yet.}",
    "balance.rough_torque": "About the polar axis it pulls with {least} to {most}.",
    "balance.rough_hang": "At the {most?most|least} of it the weights at hand do: {hung} from the axis.",
    "balance.rough_hang_not": "At the {most?most|least} of it: {why}",
    "balance.rough_no_weight": "{none} At the bar's end, {end} from the axis, it wants {least} to {most}; more where a weight's middle sits nearer.",
    "balance.rough_first": "A first answer still wants {missing}.",
    "balance.across_unknown": "How far the camera hangs off the axis of {tube?{tube}|the tube} is not known yet: enter {missing}.",
    "balance.turn_tube": "Turn the tube in its rings so that the camera lies straight above the saddle or opposite to it, in one plane with the dovetail and the counterweight bar, or hang as much on the other side.",
    "balance.across": "{kg} hang at the side of the tube: the load's centre lies {aside} off the tube's axis, and no slide along the dovetail balances their {torque} about it. The places and the counterweights above count them on the axis (assumed).",
}
TITLES = {
    "balance": "Balance",
    "balance.along": "Balance along the tube",
    "balance.along_off": "Balance along the tube",
    "balance.along_unknown": "Balance along the tube",
    "balance.plate_short": "Balance along the tube",
    "balance.doubt": "Balance along the tube",
    "balance.clamp_at": "Balance along the tube",
    "balance.across": "Balance across the tube",
    "balance.across_off": "Balance across the tube",
    "balance.across_unknown": "Balance across the tube",
}
WORKINGS = {
    "balance": Working(source=_SOURCE),
    "balance.along": Working(_ALONG, _SOURCE),
    "balance.clamped": Working(
        _ALONG,
        f"{_SOURCE} Balanced within {CLOSE_MM:g} mm, doubted beyond {DOUBT_MM:g} mm: a choice of ours, no source.",
    ),
    "balance.across": Working(
        "off the axis = sum of mass x distance at the tube's side / sum of masses; torque = mass x g x distance",
        f"{_SOURCE} Turning the tube in its rings: {COMMON_PRACTICE}",
    ),
}
