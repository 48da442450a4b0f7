"""All modules of the phrasebook as one. A new check adds its module here."""

from __future__ import annotations

from server.rim.phrasebook import (
    balance,
    bands,
    bridge,
    colour,
    common,
    counterweights,
    coverage,
    filter_size,
    guide_branch,
    guide_scope,
    guider,
    hanging,
    joints,
    lifting,
    light,
    mating,
    parfocal,
    payload,
    reach,
    rig,
    sag,
    sampling,
    seating,
    spacing,
    stand,
    suits,
    sun,
    tolerances,
)

MODULES = (
    balance,
    bands,
    bridge,
    colour,
    common,
    counterweights,
    coverage,
    filter_size,
    guide_branch,
    guide_scope,
    guider,
    hanging,
    joints,
    lifting,
    light,
    mating,
    parfocal,
    payload,
    reach,
    rig,
    sag,
    sampling,
    seating,
    spacing,
    stand,
    suits,
    sun,
    tolerances,
)

WORDS: dict[str, str] = {}
TITLES: dict[str, str] = {}
WORKINGS = dict(common.WORKINGS)
for _module in MODULES:
    WORDS |= _module.WORDS
    TITLES |= _module.TITLES
    WORKINGS |= _module.WORKINGS
