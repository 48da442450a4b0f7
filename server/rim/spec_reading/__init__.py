"""A specification as people copy or type it -> what the form of a part can take of it. It stores nothing.

labels    what a label means for each kind, from the fields' own words and a table of the trade's
pieces    a block of text -> labelled and bare pieces
sides     two connections in a few words -> each of them
values    one piece -> the text of one field, or a sentence about why not
kinds     which kind of part a text speaks of, and what speaks for each
result    understood values with their words, computed offers, and what stays in the note
reading   a text -> its result for one kind of part
"""

from __future__ import annotations

from server.rim.spec_reading.kinds import KindSign
from server.rim.spec_reading.reading import (
    TEXT_MAXIMUM,
    kinds_spoken_of,
    read_specification,
)
from server.rim.spec_reading.result import Left, Offer, SpecReading, Taken, TwoSides

__all__ = [
    "TEXT_MAXIMUM",
    "KindSign",
    "Left",
    "Offer",
    "SpecReading",
    "Taken",
    "TwoSides",
    "kinds_spoken_of",
    "read_specification",
]
