"""One value of a specification -> the text of a field, or a sentence about why it is not put in."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from typing import Any

from server.domain.fields import FieldSpec
from server.domain.measure import Measure, Money
from server.domain.parts import KINDS, specs_of
from server.rim.cells import CellError, read_cell, write_cell
from server.units import fixed_unit

SAME_WITHIN = 0.01
"""How far two figures for one thing may differ by the rounding of their units; a choice of ours."""

CHOICE_WORDS: dict[str, dict[str, str]] = {
    "design": {
        "achromat": "achromat, achromatic",
        "apochromat": "apochromat, apochromatic, apo",
        "newtonian": "newtonian, newton, newtonian reflector",
        "schmidt_cassegrain": "schmidt-cassegrain, schmidt cassegrain, sct",
        "maksutov": "maksutov, maksutov-cassegrain, maksutov cassegrain, mak",
        "ritchey_chretien": "ritchey-chretien, ritchey chretien, ritchey-chrétien",
        "classical_cassegrain": "classical cassegrain",
        "dall_kirkham": "dall-kirkham, dall kirkham, corrected dall-kirkham, corrected dall kirkham",
        "astrograph": "astrograph",
        "camera_lens": "camera lens, photo lens, telephoto lens",
    },
    "corrector_type": {
        "flattener": "flattener, field flattener",
        "reducer": "reducer, focal reducer, reducer flattener, reducer/flattener, flattener/reducer, "
        "flattener reducer",
        "coma_corrector": "coma corrector",
        "extender": "extender, barlow, barlow lens, focal extender",
    },
    "mount_type": {
        "equatorial": "equatorial, german equatorial, equatorial mount",
        "strain_wave": "strain-wave, strain wave, harmonic drive, strain wave mount, harmonic mount",
        "alt_azimuth": "alt-azimuth, alt azimuth, altazimuth, alt-az",
        "tracker": "star tracker, tracker",
    },
    "colour": {"mono": "mono, monochrome, black and white", "colour": "colour, color, one-shot colour, osc"},
    "chemistry": {
        "lead_acid": "lead-acid, lead acid",
        "agm": "agm",
        "lifepo4": "lifepo4, lithium iron phosphate",
        "lithium_ion": "lithium-ion, lithium ion, li-ion",
        "mains": "mains supply, mains adapter",
    },
    "format": {
        "mounted_1_25": '1.25 in mounted, 1.25 inch mounted, 1.25" mounted, mounted 1.25 in',
        "mounted_2": '2 in mounted, 2 inch mounted, 2" mounted, mounted 2 in',
        "round_31": "31 mm round, 31mm round, 31 mm unmounted, 31mm unmounted, unmounted 31 mm",
        "round_36": "36 mm round, 36mm round, 36 mm unmounted, 36mm unmounted, unmounted 36 mm",
        "round_50": "50 mm round, 50mm round",
        "square_50": "50 mm square, 50mm square, 50 x 50 mm, 50x50 mm",
        "square_65": "65 mm square, 65mm square, 65 x 65 mm, 65x65 mm",
    },
}
"""What the trade writes for a choice (common practice, no source)."""

_ABOUT = re.compile(r"(?:approximately|approx\.?|about|ca\.?|circa|[~≈])\s*", re.IGNORECASE)
_MOST = re.compile(r"(?:up to|max\.?|maximum|peak|at most)\s+|\s*(?:max\.?|maximum|peak)$", re.IGNORECASE)
_MOST_MEANT = frozenset({"rated_kg", "capacity_kg", "focuser_capacity_kg", "cooling_k", "quantum_efficiency"})
"""Fields that are a most by themselves, so that the word may go."""
_BEHIND = re.compile(r"\s*(?:[- ]?bits?|positions?|slots?|below ambient|thread)$", re.IGNORECASE)
_BRACKET = re.compile(r"\s*\(([^()]*)\)$")
_HAS_UNIT = re.compile(r"[^\W\d_]|[\"'°%″′”“]")
_BARE_NUMBER = re.compile(r"[~≈+-]?\s?[0-9][0-9.,\s]*")
_PICKED = ("choice", "choices", "flag")
"""Shapes that the form shows by their own key and not as they were typed."""
_NO_UNIT = "No unit is written, so it is not put in: write it like {figure} {unit}."


@cache
def fields_of(kind: str) -> dict[str, FieldSpec]:
    """Return the fields of a kind by name, the columns of its tables as `table.column`."""
    found = {spec.name: spec for spec in specs_of(kind)}
    for spec in specs_of(kind):
        for column in spec.columns:
            found[f"{spec.name}.{column.name}"] = FieldSpec(
                column.name, column.label, "measure", column.dimension, column.minimum, column.maximum
            )
    return found


def choice_named(field: str, words: str) -> str:
    """Return the choice of a field that the words name, "" for none."""
    low = " ".join(words.casefold().split())
    for value, written in CHOICE_WORDS.get(field, {}).items():
        if low in written.split(", "):
            return value
    return ""


def read_value(kind: str, field: str, value: str, unit: str = "") -> tuple[str, Any]:
    """Return the text that the form shows for a value, and what it says.

    Raises:
        CellError: with a sentence, where it cannot be taken as it stands.
    """
    spec = fields_of(kind)[field]
    if spec.shape == "choice" and (named := choice_named(field, value)):
        return named, named
    first: CellError | None = None
    for candidate in _ways(spec, value, unit):
        try:
            read = read_cell(spec, candidate, KINDS[kind].kind_words)
        except CellError as error:
            first = first or error
            if spec.shape == "choice":
                first = CellError("Which of the form’s answers this is cannot be told: choose it there.")
            continue
        if read is None or read in ("", ()):
            break
        wanted = fixed_unit(spec.dimension) if spec.shape == "measure" else ""
        if wanted and not _HAS_UNIT.search(candidate):
            raise CellError(_NO_UNIT.format(figure=candidate, unit=wanted))
        _second_in_brackets(spec, value, read, KINDS[kind].kind_words)
        return (write_cell(spec, read) if spec.shape in _PICKED else candidate), read
    raise first or CellError("Nothing is written there.")


def _ways(spec: FieldSpec, value: str, unit: str) -> Iterator[str]:
    """The value as it stands, then without the words around it that change nothing."""
    value = value.strip().rstrip(".;")
    if unit and _BARE_NUMBER.fullmatch(value):
        value = f"{value} {unit}"
    yield value
    if spec.shape in ("text", "long_text"):
        return
    bare = _ABOUT.sub("", _BRACKET.sub("", value), count=1).strip()
    if spec.name in _MOST_MEANT:
        bare = _MOST.sub("", bare).strip()
    yield bare
    yield _BEHIND.sub("", bare)


def _second_in_brackets(spec: FieldSpec, value: str, read: Any, words: str) -> None:
    """2.4 kg (5.3 lb) says one thing twice. Raises CellError where the two do not agree."""
    found = _BRACKET.search(value)
    if spec.shape != "measure" or found is None or not re.match(r"[~≈]?\s?[0-9]", found[1]):
        return
    try:
        second = read_cell(spec, found[1], words)
    except CellError:
        return
    if not same(read, second):
        raise CellError(f"“{value.strip()}” says two things that do not agree.")


def same(one: Any, other: Any) -> bool:
    """Whether two values say the same, but for the rounding of their units."""
    if isinstance(one, Measure) and isinstance(other, Measure):
        return abs(one.nominal - other.nominal) <= SAME_WITHIN * max(abs(one.nominal), abs(other.nominal))
    if isinstance(one, Money) and isinstance(other, Money):
        return one == other
    return bool(one == other)
