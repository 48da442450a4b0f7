"""A block of text -> its pieces: a labelled value, a bare one, or words under a label that nobody knows."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace

from server.rim.spec_reading.labels import KIND_LABELS, OPEN_LABELS, all_labels, known_label, plain_label

_BULLET = re.compile(r"^(?:[-•·*–—▪●►>]\s+|[•·▪●►]\s*)")
_COMMA = re.compile(r"\s*(?:;|,(?![0-9])|(?<![0-9]),)\s*")
"""A comma between two digits belongs to a number."""
_LABELLED = re.compile(r"(?P<label>[^:=|\t]{1,60}?)\s*(?:[:=|\t]|\s{2,})\s*(?P<value>\S.*)")
_LINK = re.compile(r"https?://\S+$")
_GOES_ON = re.compile(
    r"(?:male|female|internal|external|thread [0-9.,]+ ?mm|[0-9.,]+ ?mm (?:deep|long))\W*", re.IGNORECASE
)
_BEGINS_A_VALUE = re.compile(r"[~≈<>±+-]?\s?[0-9.]|[fF]/|M[0-9]|approx|about|ca\b|up to|T2", re.IGNORECASE)
_WORD = re.compile(r"[^\W_]+")


@dataclass(frozen=True)
class Piece:
    """Some words of the text.

    Attributes:
        words: as they stood.
        label: what the value is called, in small letters; "" where it stands alone.
        value: the rest.
        unit: a unit that stood with the label, for a value without one.
        strange: whether the label is one that nobody here knows.
    """

    words: str
    label: str = ""
    value: str = ""
    unit: str = ""
    strange: bool = False


def pieces_of(text: str) -> Iterator[Piece]:
    """Give the pieces of a text in its order. A label alone on its line goes with the line below it."""
    lines = [_BULLET.sub("", line.strip()).rstrip() for line in text.splitlines()]
    lines = [line for line in lines if line]
    at = 0
    while at < len(lines):
        line, below = lines[at], lines[at + 1] if at + 1 < len(lines) else ""
        at += 1
        label, unit = plain_label(line)
        if below and label in all_labels() and not _own_label(below):
            yield Piece(f"{line.rstrip(':')}: {below}", label, below, unit)
            at += 1
            continue
        yield from _of_line(line)


def _of_line(line: str) -> Iterator[Piece]:
    if _LINK.match(line):
        yield Piece(line, "document", line)
        return
    first, *others = _COMMA.split(line)
    gathered = [_piece(first)]
    for part in others:
        if not part:
            continue
        before, found = gathered[-1], _piece(part)
        # A connection's text and running words hold commas of their own; anything else begins anew.
        if _goes_on(before, found):
            gathered[-1] = replace(before, words=f"{before.words}, {part}", value=f"{before.value}, {part}")
        else:
            gathered.append(found)
    yield from gathered


def _goes_on(before: Piece, found: Piece) -> bool:
    if not found.label and before.label in _WORDY:
        return True
    if found.words.startswith("length "):
        return before.value.endswith("barrel")
    return bool(_GOES_ON.fullmatch(found.words) and re.search(r"[0-9]|bayonet", before.value))


_WORDY = frozenset({"model", "name", "maker", "note", "outputs"})
"""Labels of running text, in which a comma is only a comma."""


def _own_label(part: str) -> bool:
    return bool(_piece(part).label)


LONGEST = 300
"""Characters of one value with its label; what is longer is running text and stays as it is."""


def _piece(part: str) -> Piece:
    if len(part) > LONGEST:
        return Piece(part, "", part, strange=True)
    found = _LABELLED.fullmatch(part)
    if found is not None:
        label, unit = plain_label(found["label"])
        known = known_label(label)
        if known:
            return Piece(part, known, found["value"], unit)
        if label in OPEN_LABELS:
            return Piece(part, "", found["value"])
        if not found["label"][:1].isdigit():
            return Piece(part, label, found["value"], unit, strange=True)
    return _label_first(part) or _label_last(part) or Piece(part, "", part)


def _label_first(part: str) -> Piece | None:
    """The longest known label with which the words begin, where a value follows ("weight 2.4 kg")."""
    words = list(_WORD.finditer(part))
    for count in range(min(len(words), 6), 0, -1):
        label, unit = plain_label(part[: words[count - 1].end()])
        rest = part[words[count - 1].end() :].lstrip()
        bracket = re.match(r"[(\[]([^()\[\]]{1,12})[)\]]\s*", rest)
        if bracket:
            unit, rest = bracket[1].strip(), rest[bracket.end() :]
        label = known_label(label)
        if label and label not in KIND_LABELS and _BEGINS_A_VALUE.match(rest):
            return Piece(part, label, rest, unit)
    return None


def _label_last(part: str) -> Piece | None:
    """A value with its unit, then a known label and no more ("20 kg payload")."""
    if not _BEGINS_A_VALUE.match(part):
        return None
    words = list(_WORD.finditer(part))
    for at in range(1, len(words)):
        label, _ = plain_label(part[words[at].start() :])
        if known := known_label(label):
            return Piece(part, known, part[: words[at].start()].rstrip())
    return None
