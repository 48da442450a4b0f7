"""Which kind of part a specification speaks of: by the words that name one, by labels that only it has."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache

from server.domain.parts import KINDS
from server.rim.cells import CellError
from server.rim.spec_reading.labels import (
    COMMON,
    FOCAL_RATIO,
    KIND_LABELS,
    PIXEL_COUNT,
    SENSOR_SIZE,
    labels_of,
)
from server.rim.spec_reading.pieces import Piece
from server.rim.spec_reading.values import CHOICE_WORDS, read_value

_NAMES = {
    "optical_tube": "optical tube, optical tube assembly, ota, telescope, refractor, reflector, triplet, "
    "doublet",
    "corrector": "corrector",
    "spacer_ring": "spacer ring, spacer, extension tube, extension ring, distance ring, spacing ring, ring",
    "shim": "shim, shims, shim ring, fine spacer",
    "adapter": "adapter, adaptor, adapter ring, thread adapter",
    "filter": "filter, narrowband filter, filter set",
    "filter_wheel": "filter wheel, filterwheel, filter drawer, filter slider, filter changer",
    "off_axis_guider": "off-axis guider, off axis guider, oag",
    "rotator": "rotator, camera rotator",
    "tilt_adjuster": "tilt adjuster, tilter, tilting unit",
    "focuser": "focuser",
    "camera": "camera, cooled camera, imaging camera, astronomy camera",
    "guide_scope": "guide scope, guidescope, guiding scope",
    "guide_camera": "guide camera, guiding camera, guide cam, autoguider camera",
    "mount": "mount",
    "support": "tripod, pier, pier or tripod",
    "counterweight": "counterweight, counter weight",
    "plate_rings": "dovetail plate, dovetail bar, mounting plate, tube rings, plate and rings",
    "power_source": "power source, battery, power bank, powerbank, power station, power supply unit",
    "accessory": "accessory, dew heater, dew strap, mini computer, power box, finder",
}
"""What the trade calls a kind (common practice, no source)."""
_BY_CHOICE = {
    "design": "optical_tube",
    "corrector_type": "corrector",
    "mount_type": "mount",
    "chemistry": "power_source",
}
TOO_MANY = 8
"""A label that so many kinds can take, such as a thread, speaks for none of them."""
_ONLY_BESIDE = r"(?<!for )(?<!for a )(?<!for the )(?<!to )(?<!with )(?<!t-)(?<!t )(?<!c-)(?<!c )(?<!any )"
"""What stands behind such a word is not the part itself: "for the camera", "T mount"."""


@dataclass(frozen=True)
class KindSign:
    """A kind that a text may be about.

    Attributes:
        words: the words that name it.
        labels: the words of the text that its form can take; those of every kind are left out.
    """

    kind: str
    words: tuple[str, ...]
    labels: tuple[str, ...]


@cache
def _names() -> tuple[re.Pattern[str], dict[str, str]]:
    of = {word: kind for kind, words in _NAMES.items() for word in words.split(", ")}
    for field, kind in _BY_CHOICE.items():
        for words in CHOICE_WORDS[field].values():
            of.update(dict.fromkeys(words.split(", "), kind))
    longest_first = sorted(of, key=len, reverse=True)
    return re.compile(rf"\b{_ONLY_BESIDE}(?:{'|'.join(map(re.escape, longest_first))})\b"), of


def kinds_named(text: str) -> dict[str, list[str]]:
    """Return the kinds that the words of a text name, each with these words."""
    pattern, of = _names()
    found: dict[str, list[str]] = {}
    for hit in pattern.finditer(text.casefold()):
        words = found.setdefault(of[hit[0]], [])
        if hit[0] not in words:
            words.append(hit[0])
    return found


def takes(kind: str, piece: Piece) -> bool:
    """Whether the form of a kind, apart from what every form has, can take a labelled piece."""
    for name in labels_of(kind).get(piece.label, ()):
        if name in (SENSOR_SIZE, PIXEL_COUNT, FOCAL_RATIO):
            return True
        if name in COMMON or " " in name:
            continue
        try:
            read_value(kind, name, piece.value, piece.unit)
        except CellError:
            continue
        return True
    return False


def _has_label(kind: str, piece: Piece) -> bool:
    return any(name not in COMMON for name in labels_of(kind).get(piece.label, ()))


def signs_of(pieces: Sequence[Piece]) -> tuple[KindSign, ...]:
    """Return what speaks for each kind that is named or explains the most, the best first."""
    named = kinds_named("\n".join(_naming(pieces)))
    taken = {one: [kind for kind in KINDS if takes(kind, one)] for one in pieces if one.label}
    vague = [one for one in taken if sum(_has_label(kind, one) for kind in KINDS) >= TOO_MANY]
    signs = []
    for kind in KINDS:
        # A value that no form can read still tells by its label.
        speaks = [
            one
            for one, by in taken.items()
            if one not in vague and (kind in by or (not by and _has_label(kind, one)))
        ]
        labels = tuple(dict.fromkeys(one.label for one in speaks))
        if kind in named or labels:
            signs.append(KindSign(kind, tuple(named.get(kind, ())), labels))
    most = max((len(one.labels) for one in signs), default=0)
    likely = [one for one in signs if one.words or len(one.labels) == most]
    return tuple(sorted(likely, key=lambda one: (not one.words, -len(one.labels))))


def _naming(pieces: Iterable[Piece]) -> Iterable[str]:
    return (one.value for one in pieces if not one.label or one.label in KIND_LABELS)


def sure_kind(signs: Sequence[KindSign]) -> str:
    """Return the kind where only one can be meant, else "".

    That is the kind whose form takes more of the labels than any other's; of equals, the one that is named.
    A kind that is named and takes fewer labels than another leaves it open.
    """
    most = max((len(one.labels) for one in signs), default=0)
    best = [one for one in signs if len(one.labels) == most]
    named = [one for one in signs if one.words]
    if not named:
        every = {label for one in signs for label in one.labels}
        alone = len(best) == 1 and most > 0 and every <= set(best[0].labels)
        return best[0].kind if alone else ""
    best = [one for one in best if one.words]
    return best[0].kind if len(best) == 1 else ""
