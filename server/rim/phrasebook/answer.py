"""Words of how a rig stands, by the check of its first finding."""

from __future__ import annotations

from server.rim.phrasebook.working import Working

WORDS = {
    "answer.stop": (
        "{case=lead_starves:A lead is too thin or too long.|lead_hardly_runs:A lead is too thin or too long.|{of=sun:Do not use it like this.|lifting:It is too much to lift like this.|hanging:It is too much to hang on like this."
        "|payload:It is more than the mount carries.|stand:It is more than its stand carries.|balance:It does not balance yet."
        "|joints:It does not go together yet.|seating:It does not screw together yet.|reach:It does not come to focus yet."
        "|spacing:The sensor is not in its place yet.|coverage:It does not light the whole sensor.|beam:It does not light the whole sensor."
        "|guide_branch:The guide camera does not work with it yet.|power:The power does not last.|It will not work like this.}}"
    ),
    "answer.watch": "{unknown?As far as is known it works|It works}, at a cost.",
    "answer.unknown": (
        "{case=cover_unknown:Do not point it at the Sun yet.|ends:It is not a whole rig yet."
        "|fault:Part of it could not be judged, by a fault of Trainwright's: take this for no verdict."
        "|Nothing known stops it; something is not known yet.}"
    ),
    "answer.sound": "It works: nothing that was checked speaks against it.",
}
TITLES: dict[str, str] = {}
WORKINGS: dict[str, Working] = {}
