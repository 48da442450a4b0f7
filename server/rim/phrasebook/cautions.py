"""Words of what can hurt someone: one wording, wherever it is said. Common practice, no source."""

from __future__ import annotations

from server.rim.phrasebook.working import Working

WORDS = {
    "caution.sun.optics": "No optics towards the Sun without a certified full-aperture solar filter, fixed in front of the tube.",
    "caution.sun.behind": "Never use a filter that sits behind the optics: gathered sunlight can crack it. Do not sweep near the Sun either.",
    "caution.sun.check": "Check the filter for holes and scratches each time, and fasten it so that wind cannot take it.",
    "caution.sun.finder": "Cap or take off the finder and the guide scope.",
    "caution.sun.watch": "Never leave the rig unattended.",
    "caution.lifting.two": "Lift heavy pieces with two people who have agreed on the moves, or take the rig apart into smaller loads.",
    "caution.lifting.clinician": "This is general guidance, not medical advice: ask a clinician about your own back.",
    "caution.lifting.slope": "Figures for lifting hold for healthy people on a level, dry floor in good light, and not for carrying on a slope at night.",
    "caution.weights.order": "Counterweights go on before the tube and come off after it, with the safety screw at the end of the bar.",
    "caution.weights.under": "Keep feet and fingers from under them.",
    "caution.weights.clutch": "Hold the tube with one hand whenever a clutch is loosened: an axis that does not balance swings at once.",
    "caution.power.fuse": "Fuse the battery at its own terminal, with a fuse that the thinnest wire after it bears: a short circuit at a battery starts a fire.",
    "caution.power.wire": "What a wire may carry is for its maker or a licensed electrician, by the local code.",
    "caution.power.lithium": "Use a lithium battery only with its own protection circuit and its own charger, never damaged or swollen, and do not charge it below freezing.",
    "caution.power.lead": "A lead-acid battery gives off explosive gas and holds acid: keep it upright, aired, and away from sparks.",
    "caution.power.mains": "Mains at a damp site needs residual-current protection and gear made for the wet. Follow the local electrical code; fixed wiring is work for a licensed electrician.",
    "caution.laser.eye": "A collimation laser goes into no eye, straight or by a mirror: switch it on only when it is seated, and stand beside the tube, not before it.",
    "caution.laser.out": "Never point a laser towards aircraft, vehicles or people. Law on lasers outdoors differs from place to place: know yours.",
}
TITLES = {
    "caution.sun": "The Sun",
    "caution.lifting": "Lifting",
    "caution.counterweights": "Counterweights",
    "caution.clutches": "Clutches",
    "caution.lithium": "Lithium batteries",
    "caution.lead": "Lead-acid batteries",
    "caution.mains": "Mains",
}
WORKINGS: dict[str, Working] = {}
