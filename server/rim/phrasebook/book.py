"""All modules of the phrasebook as one. A new check adds its module here."""

from __future__ import annotations

from server.rim.phrasebook import (
    against,
    answer,
    balance,
    bands,
    beam,
    bridge,
    cautions,
    colour,
    common,
    corners,
    counterweights,
    coverage,
    depth,
    filter_size,
    glass,
    guide_branch,
    guide_scope,
    guider,
    hanging,
    joints,
    lifting,
    mating,
    missing,
    parfocal,
    payload,
    power,
    reach,
    rig,
    sag,
    sampling,
    seating,
    spacing,
    stand,
    stars,
    suits,
    sun,
    tolerances,
    upkeep,
)

MODULES = (
    against,
    answer,
    balance,
    bands,
    beam,
    bridge,
    cautions,
    colour,
    common,
    corners,
    counterweights,
    coverage,
    depth,
    filter_size,
    glass,
    guide_branch,
    guide_scope,
    guider,
    hanging,
    joints,
    lifting,
    mating,
    missing,
    parfocal,
    payload,
    power,
    reach,
    rig,
    sag,
    sampling,
    seating,
    spacing,
    stand,
    stars,
    suits,
    sun,
    tolerances,
    upkeep,
)

WORDS: dict[str, str] = {}
TITLES: dict[str, str] = {}
WORKINGS = dict(common.WORKINGS)
for _module in MODULES:
    WORDS |= _module.WORDS
    TITLES |= _module.TITLES
    WORKINGS |= _module.WORKINGS
WORDS |= {f"title.{key}": title for key, title in TITLES.items()}
