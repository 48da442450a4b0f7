"""Words of what somebody lifts: against the own limit, by the lifting equation, and how to make it less."""

from __future__ import annotations

from server.mechanics.lifting import LIMITS
from server.rim.phrasebook.working import COMMON_PRACTICE, Working

_END = "{end=taken_up:where it is taken up|where it is set down}"
_SOURCE = (
    "Waters, Putz-Anderson, Garg, Applications Manual for the Revised NIOSH Lifting Equation, DHHS (NIOSH) 94-110 (revised 2021). "
    f"{LIMITS} A cold field at night on a slope is outside it: take it as a least."
)
_INDEX = (
    "{load^} is {missing?at least }{mass}; lifted so, "
    + _END
    + ", the equation recommends {limit} at most: a lifting index of {missing?at least }{index}."
)

WORDS = {
    "text": "{text}",
    "place.saddle": "on the saddle",
    "place.bar": "on the bar",
    "place.stand": "carried on the tripod or pier",
    "place.ground": "on the ground",
    "place.unplaced": "nobody has said where",
    "lift.own": "{name}",
    "lift.riding": "{rest?the rest of what rides on the saddle|the tube with all that rides on it}",
    "lift.heaviest": "{part}, heaviest piece",
    "lifting.load": "{load} ({several?each of {people} carries }{missing?at least }{mass})",
    "lifting.heaviest": "The heaviest that is lifted at once: {name}, {bound?at least }{mass}.",
    "lifting.over_limit": "Above your own limit of {limit}: {loads}. {alone?Do not lift it alone|Do not lift it so}.",
    "lifting.unknown": "No load is known to be above your own limit of {limit}.",
    "lifting.sound": "Every load that one person lifts is within your own limit of {limit}. How it is lifted matters as much.",
    "lifting.heavy_alone": "Many lift no more than {usual} alone (common practice, no source). Above it: {loads}.",
    "lifting.or_say": "Lift with two people, or say the most that you lift alone, or plan the lift.",
    "lifting.above_constant": "Above {most} even the best lift is over the recommended limit: {two?two|more} people, or smaller loads. Above it: {loads}.",
    "lifting.index": _INDEX + " Some healthy people should not lift it so.",
    "lifting.index_high": _INDEX + " Do not lift it so.",
    "lifting.index_sound": _INDEX,
    "lifting.index_unknown": "{load^}: lifted so, "
    + _END
    + ", the equation recommends {limit} at most; whether it is lighter is not known yet.",
    "lifting.outside": "{load^}, " + _END + "{best?, even {best}}: {refusal}",
    "lifting.team_unknown": (
        "{load^}: whether {people} people may lift it so is not known, as the equation is for one person."
        "{share? Shared evenly each carries {least?at least|about} {share}, which is not a safe limit for a team.} Agree on the moves first."
    ),
    "lifting.plan_unknown": "Whether {load} is fit to be lifted so is not known yet: enter {missing}.",
    "lifting.over_at_best": (
        "{load^} is {missing?at least }{mass}; "
        + _END
        + "{best?, even {best}}, the equation recommends {limit} at most: a lifting index of at least {index}. Do not lift it so."
    ),
    "lifting.best": "{of=from_height_mm:taken up at the best height|to_height_mm:set down at the best height|reach_mm:held close|coupling:with the best grip|twist_deg:straight ahead}",
    "lifting.closer": "Bring it closer, straight before you, and between knee and shoulder.",
    "lifting.less_often": "Lift it less often, with rests between.",
    "lifting.gentler": "Hold it closer, lift it less far, make it lighter, or lift it with two people.",
    "lifting.limit_of": "recommended limit " + _END + "{best?, at best}",
    "lifting.otherwise": "{of=height:not known: judged at the best height|reach:not known: judged as held close|to_reach:as where it is taken up|twist:not at all: lifted straight ahead}",
    "lifting.often": "{often} lifts in a minute{seldom?, which is one in five minutes, or fewer}",
    # The recovery that each column of the table of frequencies takes for granted (the manual's section on the
    # frequency component; from memory).
    "lifting.long": (
        "{hours} at most, then {duration=short:rest or light work for 1.2 times as long as the lifting took"
        "|moderate:rest or light work for 0.3 times as long as the lifting took"
        "|long:the usual breaks of a working day, morning, midday and afternoon}"
    ),
    "lifting.hold": "{hold?{hold}|not known: judged as good}",
    "relief.several": "{load}: {together}, or make it lighter.",
    "relief.one_piece": "{first?Take|Or take} {load} as one piece: {together}, or choose a lighter part.",
    "relief.take_off": "At least {over} must come off {load}: take off {parts} ({off}) and carry {each?each|that} by itself. {missing?At least }{rest} is left.",
    "relief.leave": "Or leave {load} as it is: {together}.",
    "relief.hoist": "too heavy to lift by hand so: a hoist or a trolley, and people who know how to use it",
    "relief.together": "lift it with {least?at least }{two?two|{people}} people who have agreed on the moves",
    "relief.bar": "If the counterweight bar of {mount} {in_piece?is in that piece and }comes out, take it out first: its mass is {bar}, and {rest} is left.",
    "relief.comes_apart": "If {mount} comes apart, enter the mass of its heaviest piece to lift.",
    "relief.in_pieces": "Lift {mount} in its pieces, of which the heaviest is {heaviest}.",
    "relief.one_at_a_time": "Lift {part} one at a time, or {together}.",
    "relief.in_rings": "{tube} in its rings",
    "relief.alone": "In {load} {part} alone is {mass}, so taking the rest off is not enough: {together}, or choose a lighter part.",
    "relief.several_loads": "{load}: carry its parts in several loads that are each within it.",
    "relief.riding": "{tube?{tube} with all that rides on it|all that rides on the saddle}",
    "relief.behind": "{tube?all that hangs behind {tube}|all that hangs together}",
    "relief.guiding": "{scope} with its camera",
    "relief.counted": "{part} ({count})",
}
TITLES = {"lifting": "Lifting"}
WORKINGS = {
    "lifting": Working(
        "load = sum of the masses that go together, against the lifter's own limit; of a load that several lift, the sum over how many they are",
        f"Sum of masses, against a limit that the lifter set. Two people, or smaller loads, above what one wants to lift: {COMMON_PRACTICE}",
    ),
    "lifting.heavy_alone": Working(
        "load = sum of the masses that go together, against 20 lb (9.07 kg)",
        f"Sum of masses, against 20 lb, which many keep as the most they carry alone: {COMMON_PRACTICE}",
    ),
    "lifting.above_constant": Working(
        "load = sum of the masses that go together, against the load constant of the lifting equation",
        _SOURCE,
    ),
    "lifting.equation": Working(
        "limit = 23 kg x 25 / H x (1 - 0.003 |V - 75|) x (0.82 + 4.5 / D) x (1 - 0.0032 A) x frequency x hold, cm and degrees; index = load / limit",
        _SOURCE,
    ),
}
