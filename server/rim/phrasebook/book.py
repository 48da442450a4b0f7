"""All modules of the phrasebook as one. A new check adds its module here."""

from __future__ import annotations

from server.rim.phrasebook import (
    bands,
    colour,
    common,
    coverage,
    filter_size,
    guide_branch,
    guide_scope,
    guider,
    joints,
    light,
    mating,
    parfocal,
    reach,
    sag,
    sampling,
    seating,
    spacing,
    suits,
    sun,
    tolerances,
)

MODULES = (
    bands,
    colour,
    common,
    coverage,
    filter_size,
    guide_branch,
    guide_scope,
    guider,
    joints,
    light,
    mating,
    parfocal,
    reach,
    sag,
    sampling,
    seating,
    spacing,
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
