"""All modules of the phrasebook as one. A new check adds its module here."""

from __future__ import annotations

from server.rim.phrasebook import (
    common,
    reach,
    sag,
    spacing,
)

MODULES = (
    common,
    reach,
    sag,
    spacing,
)

WORDS: dict[str, str] = {}
TITLES: dict[str, str] = {}
WORKINGS = dict(common.WORKINGS)
for _module in MODULES:
    WORDS |= _module.WORDS
    TITLES |= _module.TITLES
    WORKINGS |= _module.WORKINGS
