"""Words of what becomes of one joint, and the rule behind each."""

from __future__ import annotations

from server.rim.phrasebook.working import Working

_KIND = "=metric_thread:a metric thread|inch_thread:an inch thread|barrel:a push-fit barrel|bayonet:a bayonet|bolts:a bolt pattern|dovetail:a dovetail}"
_PITCHES = "Equal diameter with another pitch never mates (ISO 68-1 profile, ISO 965-1 designation)."

WORDS = {
    "mating.kinds": "{upper} and {lower} do not mate: {upper_kind"
    + _KIND
    + " and {lower_kind"
    + _KIND
    + " need an adapter between.",
    "mating.missing": (
        "{upper?{lower?Neither connection of this joint is known: enter both, each on its part."
        "|The camera-side connection of the part nearer the sky is not known: enter it on that part.}"
        "|The sky-side connection of the part nearer the camera is not known: enter it on that part.}"
    ),
    "mating.barrels": "Barrels of {upper} and {lower} do not fit each other: a reducing sleeve is needed.",
    "mating.bayonets": "A {upper} bayonet does not lock into a {lower} bayonet: an adapter is needed.",
    "mating.dovetails": "Dovetails of {upper} and {lower} do not fit each other: change the bar or the clamp.",
    "mating.diameters": "{upper} and {lower} differ in diameter: a thread adapter is needed.",
    "mating.pitch": "Both are {size}, and a pitch is not known: enter it, such as {size}x1.",
    "mating.pitches": "{upper} and {lower} have the same diameter and another pitch: they never mate.",
    "mating.m42": "M42x0.75 and M42x1 look alike: they start, jam after about a turn and damage the thread. Do not force them; a thread adapter is needed.",
    "mating.m48": "M48x0.75 and M48x0.6 look alike: both are sold as 48 mm filter threads, and they jam. Check the pitch of both; a thread adapter is needed.",
    "mating.inches": "{upper} and {lower} differ in {diameter?diameter|number of threads per inch}: a thread adapter is needed.",
    "mating.bolts": "Bolt patterns {upper} and {lower} are not the same: an adapter plate is needed.",
    "mating.circle": "Both are {name}, and a bolt circle is not known: enter it, such as bolts {name} on 62 mm.",
    "mating.circles": "The bolt circles measure {upper} and {lower}: an adapter plate is needed.",
    "mating.holes_meet": "{size}: the holes meet.",
    "mating.clamped": "The {size} fits its clamp; it carries the tube and is not on the optical path.",
    "mating.gender_unknown": (
        "Both are {size}, and {lacks=both:neither side's gender is known: enter male or female on both parts"
        "|upper:the gender on the part nearer the sky is not known: enter male or female there"
        "|lower:the gender on the part nearer the camera is not known: enter male or female there}."
    ),
    "mating.same_gender": "Both sides are {size} {gender}: this joint needs a gender changer.",
    "mating.push_fit": "{size}: push-fit. It holds by a screw or collet and need not sit square; for imaging prefer a thread.",
    "mating.mates": "{size}: male into female, it mates.",
    "mating.long_thread": "{size} mates, but the male thread ({long}) is longer than the female is deep ({deep}): if it meets a bottom, the shoulders stay up to {gap} apart.",
    "mating.few_turns": "{size} mates, but only {turns} turns engage; three or more hold it stiff.",
    "mating.why.one_kind": "Only connections of one kind mate.",
    "mating.why.both": "A joint is judged from both of its connections.",
    "mating.why.barrels": "A push-fit barrel holds only in a holder of its own diameter.",
    "mating.why.bayonets": "Bayonets mate by name; each has its own claws and flange distance.",
    "mating.why.dovetails": "A dovetail's clamp takes bars of its own width (common practice, no source).",
    "mating.why.iso": "Threads mate only at equal diameter and pitch (ISO 68-1 profile, ISO 965-1 designation).",
    "mating.why.pitch": "Equal diameter with another pitch never mates, so the pitch decides.",
    "mating.why.pitches": _PITCHES,
    "mating.why.m42": _PITCHES
    + " Mistaking these two is the trade's usual accident (common practice, no source).",
    "mating.why.m48": _PITCHES + " Both pitches are met on 48 mm filter cells (common practice, no source).",
    "mating.why.asme": "Threads mate only at equal diameter and equal threads per inch (ASME B1.1).",
    "mating.why.bolts": "Bolt patterns mate by equal name and circle.",
    "mating.why.gender": "Male mates with female.",
    "mating.why.changer": "Male mates with female; two of one gender need a gender changer ({size}, {gender=male:female|male} on both sides).",
    "mating.why.push_fit": "A push-fit joint is not stiff and can tilt the sensor (common practice, no source).",
    "mating.why.same": "The same thread or bayonet, one male and one female.",
    "mating.why.shoulders": "An optical length counts from shoulder to shoulder, screwed home.",
    "mating.why.turns": "Threads engage by at least three turns to be rigid (common practice, no source).",
}
TITLES: dict[str, str] = {}
WORKINGS: dict[str, Working] = {}
