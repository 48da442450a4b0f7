"""Parts of every kind, with anything in their fields that the forms allow."""

from __future__ import annotations

import string
from typing import Any

from hypothesis import strategies as st
from pydantic import ValidationError

from server.domain.connections import (
    Barrel,
    Bayonet,
    BoltPattern,
    Connection,
    Dovetail,
    InchThread,
    MetricThread,
)
from server.domain.fields import FieldSpec
from server.domain.measure import Measure, Money
from server.domain.observer import Holding
from server.domain.parts import KINDS, PART, Part, specs_of
from server.rim.tables import CsvRow

CURRENCIES = ("EUR", "USD", "GBP", "JPY", "CHF", "SEK")

_genders = st.sampled_from(["male", "female", None])
_lengths = st.none() | st.floats(0.1, 200)
_sizes = st.floats(1, 1000)
_names = st.text(string.ascii_letters + string.digits, min_size=1, max_size=20).filter(
    lambda name: name.casefold() not in {"m", "f", "int", "ext", "on", "male", "female"}
)
connections: st.SearchStrategy[Connection] = st.one_of(
    st.builds(
        MetricThread,
        diameter_mm=_sizes,
        pitch_mm=st.none() | st.floats(0.1, 20),
        gender=_genders,
        thread_mm=_lengths,
    ),
    st.builds(
        InchThread,
        diameter_in=st.floats(0.05, 40),
        threads_per_inch=st.floats(1, 200),
        gender=_genders,
        thread_mm=_lengths,
    ),
    st.builds(Barrel, diameter_mm=_sizes, gender=_genders, thread_mm=_lengths),
    st.builds(Bayonet, name=_names.map(lambda name: f"Q{name}"), gender=_genders),
    st.builds(BoltPattern, name=_names.map(lambda name: f"Q{name}"), circle_mm=st.none() | _sizes),
    st.builds(Dovetail, width_mm=_sizes),
)

_line = st.text(
    st.characters(
        exclude_categories=["Cc", "Cs", "Zl", "Zp"],
        exclude_characters="\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069",
    ),
    max_size=60,
)
# Beginnings that a spreadsheet would run, and the apostrophe that keeps it from doing so.
_risky = st.builds(str.__add__, st.sampled_from(["=", "+", "-", "@", "'", "'=", "''", '"', ",", ";"]), _line)
_one_line = _line | _risky
_many_lines = st.lists(_one_line, max_size=3).map("\n".join)


def _values(spec: FieldSpec) -> st.SearchStrategy[Any]:
    low, high = spec.minimum or 0.0, spec.maximum
    match spec.shape:
        case "text":
            return _one_line.map(lambda text: text.strip()[:60].strip())
        case "long_text":
            return _many_lines.map(str.strip)
        case "measure":
            return st.none() | st.builds(
                Measure,
                nominal=st.floats(low, high, exclude_min=spec.above),
                plus=st.none() | st.floats(0, 1000),
                minus=st.none() | st.floats(0, 1000),
                basis=st.sampled_from([None, "typed", "measured", "maker", "assumed"]),
            )
        case "count":
            return st.none() | st.integers(int(low), int(high or 100))
        case "money":
            return st.none() | st.builds(
                Money, hundredths=st.integers(0, 10**11), currency=st.sampled_from(CURRENCIES)
            )
        case "connection":
            return st.none() | connections
        case "flag":
            return st.sampled_from([None, True, False])
        case "choice":
            values = [value for value, _ in spec.choices]
            return st.sampled_from(values if spec.name == "basis" else [None, *values])
        case "choices":
            return st.lists(st.sampled_from([value for value, _ in spec.choices]), unique=True).map(tuple)
        case "table":
            row = st.fixed_dictionaries(
                {column.name: st.floats(column.minimum, column.maximum) for column in spec.columns}
            )
            first = spec.columns[0].name
            return st.lists(row, max_size=4, unique_by=lambda cells: cells[first]).map(
                lambda rows: tuple(sorted(rows, key=lambda cells: cells[first]))
            )


def _sound(kind: str, values: dict[str, Any]) -> bool:
    try:
        PART.validate_python({"kind": kind, **values})
    except ValidationError:
        return False
    return bool(values["maker"] or values["model"])


def parts_of(kind: str) -> st.SearchStrategy[Part]:
    """Any part of one kind that has a name."""
    fields = st.fixed_dictionaries({spec.name: _values(spec) for spec in specs_of(kind)})
    return fields.filter(lambda values: _sound(kind, values)).map(
        lambda values: PART.validate_python({"kind": kind, **values})
    )


parts: st.SearchStrategy[Part] = st.sampled_from(sorted(KINDS)).flatmap(parts_of)
holdings = st.builds(
    Holding, owned=st.integers(0, 999), wished=st.integers(0, 999), considered=st.integers(0, 999)
)
rows = st.builds(CsvRow, part=parts, holding=holdings)
