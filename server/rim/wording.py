"""Write values for people, in the units that they read. Sentences, tables and sheets take their text here."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from typing import Any

from server.domain.connections import Connection, print_connection
from server.domain.fields import FieldSpec
from server.domain.findings import Amount, AmountDimension, Figure, Phrase
from server.domain.measure import BASIS_WORDS, Measure, Money
from server.domain.observer import UnitSystem
from server.rim.cells import DEFAULT_CURRENCY
from server.units import Dimension, edit_text, unit_label, write_quantity, write_tolerance
from server.units import write_money as write_price

MM_PER_FOOT = 304.8
MM_PER_INCH = 25.4
KG_PER_POUND = 0.45359237
OUNCES_PER_POUND = 16.0
GRAVITY = 9.80665
"""All exact: NIST SP 811 (2008), appendix B.8; the pound-force is a pound in standard gravity, m/s²."""
NM_PER_POUND_FOOT = KG_PER_POUND * GRAVITY * MM_PER_FOOT / 1000.0
KG_M2_PER_POUND_FOOT2 = KG_PER_POUND * (MM_PER_FOOT / 1000.0) ** 2

_UNITS_OF_TWO = {"in": MM_PER_INCH, "lb": KG_PER_POUND}
"""The units that one reader types and the other reads converted, in the fixed unit."""
_EXACT_PLACES = 9

SMALL_LENGTH_MM = 0.1
"""Below this a `small_length` is written in micrometres for metric readers."""

_MINUS = "\u2212"
_NAMED = re.compile(r"\{\{|\}\}|\{([a-z_][a-z0-9_]*)\}")


@dataclass(frozen=True)
class _Scale:
    """How one number is shown: value * `times`, between `before` and `after`, with `digits` decimals.

    `fixed` keeps idle zeros, because the number of digits was asked for.
    """

    times: float
    after: str
    digits: int
    fixed: bool
    before: str = ""


def _few(shown: float, small: int, middle: int = 1, large: int = 0) -> int:
    """Return the decimals of a number: `small` below 10, `middle` below 100, else `large`."""
    size = abs(shown)
    return small if size < 10 else middle if size < 100 else large


def _scale(dimension: AmountDimension, asked: int | None, units: UnitSystem, largest: float) -> _Scale:
    """Return how to show an amount whose largest number (itself or its uncertainty) is `largest`.

    `asked` is the number of decimals that it asks for, None where that is left open.
    """
    match dimension:
        case "length" | "small_length":
            return _length_scale(dimension, asked, units, largest)
        case "way":
            per, after = (MM_PER_FOOT, " ft") if units == "imperial" else (1000.0, " m")
            return _Scale(1.0 / per, after, _few(largest / per, 2) if asked is None else asked, False)
        case "mass":
            return _mass_scale(asked, units, largest)
        case "torque" | "inertia":
            return _turning_scale(dimension, asked, units, largest)
        case "angle":
            times, after, few = 1.0, "°", _few(largest, 2, 1, 1)
        case "arcsec":
            times, after, few = 1.0, " arcsec", _few(largest, 2)
        case "scale":
            times, after, few = 1.0, " arcsec/px", _few(largest, 2, 1, 1)
        case "ratio":
            return _Scale(1.0, "", 1 if asked is None else asked, asked is not None, before="f/")
        case "fraction":
            # 0.12 of something is 12 %; below 10 % a decimal still says something.
            times, after, few = 100.0, " %", _few(largest * 100.0, 1, 0)
        case "times":
            times, after, few = 1.0, "×", _few(largest, 2)
        case "count":
            return _Scale(1.0, "", asked or 0, False)
        case "wavelength":
            times, after, few = 1.0, " nm", 1
        case "pixel":
            times, after, few = 1.0, " µm", 2
    return _Scale(times, after, few if asked is None else asked, asked is not None)


def _length_scale(dimension: AmountDimension, asked: int | None, units: UnitSystem, largest: float) -> _Scale:
    # What lies on the sensor is said in micrometres by all who speak of pixels.
    if dimension == "small_length" and largest < SMALL_LENGTH_MM:
        shown = largest * 1000.0
        return _Scale(
            1000.0, " µm", _few(shown, 1, 0) if asked is None else max(asked - 3, 0), asked is not None
        )
    if units == "imperial":
        # An inch is about 25 mm: two more decimals say about as much as they did in millimetres.
        shown = largest / MM_PER_INCH
        few = 4 if shown < 0.1 else _few(shown, 3, 2, 1)
        return _Scale(1.0 / MM_PER_INCH, " in", few if asked is None else asked + 2, asked is not None)
    few = 3 if largest < 0.1 else 2 if largest < 100.0 else 1 if largest < 1000.0 else 0
    return _Scale(1.0, " mm", few if asked is None else asked, asked is not None)


def _mass_scale(asked: int | None, units: UnitSystem, largest: float) -> _Scale:
    if units == "imperial":
        pounds = largest / KG_PER_POUND
        if asked is None and pounds < 1.0:
            ounces = OUNCES_PER_POUND * pounds
            return _Scale(OUNCES_PER_POUND / KG_PER_POUND, " oz", _few(ounces, 2), False)
        few = _few(pounds, 2)
        return _Scale(1.0 / KG_PER_POUND, " lb", few if asked is None else asked, asked is not None)
    if asked is None and largest < 1.0:
        return _Scale(1000.0, " g", _few(largest * 1000.0, 1, 0), False)
    return _Scale(1.0, " kg", _few(largest, 2, 1, 1) if asked is None else asked, asked is not None)


def _turning_scale(
    dimension: AmountDimension, asked: int | None, units: UnitSystem, largest: float
) -> _Scale:
    imperial, metric = {
        "torque": ((NM_PER_POUND_FOOT, " lbf ft"), (1.0, " N m")),
        "inertia": ((KG_M2_PER_POUND_FOOT2, " lb ft²"), (1.0, " kg m²")),
    }[dimension]
    per, after = imperial if units == "imperial" else metric
    if asked is None:
        return _Scale(1.0 / per, after, _few(largest / per, 2), False)
    # As many figures behind the first as the metric unit has: a larger number has fewer behind the point.
    digits = max(0, asked + round(math.log10(per)))
    return _Scale(1.0 / per, after, digits, True)


def _number(value: float, scale: _Scale) -> str:
    shown = value * scale.times
    text = f"{shown:.{scale.digits}f}"
    if shown != 0 and float(text) == 0 and not scale.fixed:
        # A small number is not nothing.
        text = f"{shown:.1g}" if abs(shown) >= 1e-4 else f"{shown:.1e}"
    elif not scale.fixed and "." in text:
        text = text.rstrip("0").rstrip(".")
    if float(text) == 0:
        text = text.removeprefix("-")
    return text.replace("-", _MINUS)


def write_amount(amount: Amount, units: UnitSystem) -> str:
    """Return an amount with its unit ("0.42 mm", in imperial "0.0165 in"; "f/5.6"; "1.94 arcsec/px"; "12 %").

    Without digits of its own the amount gets as many as mean something for its size, and no idle zeros.
    """
    return _amount_text(amount.value, amount.dimension, amount.digits, units)


# A bench answers each change with some hundred amounts, most of which are those of the answer before.
@lru_cache(8192)
def _amount_text(value: float, dimension: AmountDimension, digits: int | None, units: UnitSystem) -> str:
    scale = _scale(dimension, digits, units, abs(value))
    return f"{scale.before}{_number(_told(value, digits), scale)}{scale.after}"


def _told(value: float, digits: int | None) -> float:
    """A number that its own digits show as nothing is nothing in the other system's finer ones as well."""
    return 0.0 if digits is not None and abs(value) < 0.5 * 10.0**-digits else value


def write_phrase(phrase: Phrase, units: UnitSystem) -> str:
    """Return a sentence with its amounts written in. A name without an amount stands in its braces.

    Doubled braces, as the checks write those of a part's name, come out single.
    """

    def written(found: re.Match[str]) -> str:
        if found[1] is None:
            return found[0][0]
        amount = phrase.amounts.get(found[1])
        return found[0] if amount is None else write_amount(amount, units)

    # Not str.format: a phrase may come from another install's file, and format would follow its attributes.
    return _NAMED.sub(written, phrase.template)


def write_figure(figure: Figure, units: UnitSystem) -> str:
    """Return a figure with what it may be off by ("0.42 ± 0.15 mm", "at least 3.2 kg"), without its label."""
    amount, off = figure.amount, figure.uncertainty or 0.0
    least = "at least " if figure.at_least else ""
    scale = _scale(amount.dimension, amount.digits, units, max(abs(amount.value), abs(off)))
    if abs(off) * scale.times < 0.5 * 10.0**-scale.digits:
        return least + write_amount(amount, units)
    value, spread = _number(_told(amount.value, amount.digits), scale), _number(abs(off), scale)
    return f"{least}{scale.before}{value} ± {spread}{scale.after}"


def write_measure(measure: Measure | None, dimension: Dimension, units: UnitSystem) -> str:
    """Return a measure with its tolerance ("54.8 ± 0.2 mm"); "" where it is not known.

    A figure that was typed in the reader's own system keeps every digit of it. One that was converted (33 lb
    for a reader of kg) gets as many as mean something; edit forms keep them all.
    """
    if measure is None:
        return ""
    return _measure_text(measure.nominal, measure.plus, measure.minus, dimension, units)


@lru_cache(8192)
def _measure_text(
    value: float, plus: float | None, minus: float | None, dimension: Dimension, units: UnitSystem
) -> str:
    unit = _UNITS_OF_TWO.get(unit_label(dimension, "imperial"))
    if unit is None or _significant(value / unit) >= _significant(value):
        return _typeset(write_tolerance(value, plus, minus, dimension, units))
    # Its number is shorter in inches or pounds: it was typed in them.
    sides = (value, plus, minus)
    if units == "imperial":
        needed = max(_decimals(side / unit) for side in sides if side is not None)
        usual = write_tolerance(value, plus, minus, dimension, units)
        # A third of an inch has no last digit.
        exact = usual if needed > 6 else write_tolerance(value, plus, minus, dimension, units, needed)
        return _typeset(max(usual, exact, key=len))
    places = 2 if abs(value) >= 1 else 3
    rounded = [None if side is None else round(side, places) or side for side in sides]
    return _typeset(write_tolerance(rounded[0] or 0.0, rounded[1], rounded[2], dimension, units))


def as_typed(value: float, dimension: Dimension) -> str:
    """Return the text that reads back to a figure: in inches or pounds where it was typed in them."""
    for name, unit in _UNITS_OF_TWO.items():
        if unit_label(dimension, "imperial") == name and _significant(value / unit) < _significant(value):
            return f"{value / unit:.{_EXACT_PLACES}f}".rstrip("0").rstrip(".") + f" {name}"
    return edit_text(value, dimension=dimension)


def _significant(value: float) -> int:
    """How many digits a number takes to write, but for those that a conversion leaves in the tenth place."""
    return len(Decimal(repr(round(value, _EXACT_PLACES))).normalize().as_tuple().digits)


def _decimals(value: float) -> int:
    """How many digits a number has behind the point."""
    exponent = Decimal(repr(round(value, _EXACT_PLACES))).normalize().as_tuple().exponent
    return max(0, -exponent) if isinstance(exponent, int) else 0


def _typeset(text: str) -> str:
    """Return a text of the units module as a page sets it: the micro sign, degrees close to their number."""
    if text.endswith(" um"):
        return text.removesuffix("um") + "µm"
    return text.removesuffix(" °") + "°" if text.endswith(" °") else text


def write_money(money: Money | None) -> str:
    """Return a price ("129.90 EUR"); "" where it is not known."""
    return "" if money is None else write_price(money.hundredths, money.currency)


def write_basis(basis: str) -> str:
    """Return where a figure came from, in words ("maker's figure"). An unknown basis stands as it is."""
    return BASIS_WORDS.get(basis, basis)


def write_connection(connection: Connection | None, units: UnitSystem = "metric") -> str:
    """Return a connection as the trade writes it, the same in both systems; "" where it is not known."""
    del units  # Threads and barrels keep the names they are sold by.
    return "" if connection is None else print_connection(connection)


def write_field(spec: FieldSpec, value: Any, units: UnitSystem) -> str:
    """Return one field of a part for reading, whatever its shape; "" where it is not known.

    A table is one line of text a row.
    """
    if value is None or value in ("", ()):
        return ""
    match spec.shape:
        case "measure":
            text = write_measure(value, spec.dimension, units)
            return f"f/{text}" if is_focal_ratio(spec) else text
        case "money":
            return write_money(value)
        case "connection":
            return write_connection(value, units)
        case "flag":
            return "yes" if value else "no"
        case "choice":
            return dict(spec.choices).get(value, str(value))
        case "count":
            return f"{value} px" if counts_pixels(spec) else str(value)
        case "choices":
            return ", ".join(dict(spec.choices).get(one, one) for one in value)
        case "table":
            return "\n".join("  ·  ".join(cells) for cells in write_table(spec, value, units))
    return str(value)


def write_table(spec: FieldSpec, rows: tuple[Any, ...], units: UnitSystem) -> tuple[tuple[str, ...], ...]:
    """Return the cells of a table field, row by row, in the order of its columns."""
    return tuple(
        tuple(_typeset(write_quantity(getattr(row, one.name), one.dimension, units)) for one in spec.columns)
        for row in rows
    )


def counts_pixels(spec: FieldSpec) -> bool:
    """Whether a whole number counts pixels, and not positions or bits."""
    return spec.shape == "count" and spec.name.endswith("_px")


def is_focal_ratio(spec: FieldSpec) -> bool:
    """Whether a field holds an f-number, unlike a corrector's factor, which is a ratio as well."""
    return spec.dimension == "ratio" and "ratio" in spec.name


def default_unit_words(spec: FieldSpec, units: UnitSystem) -> str:
    """Return what a number typed without a unit is taken for in a field, "" where it has none.

    It is the same unit for every reader, since a number must not change its meaning with a setting; imperial
    readers are told besides that they may write their own unit behind it.
    """
    if spec.shape == "money":
        return DEFAULT_CURRENCY
    if counts_pixels(spec):
        return "px"
    if spec.shape != "measure":
        return ""
    if spec.dimension == "fraction":
        return "%, or a share up to 1"
    if spec.dimension == "ratio":
        return "f/5 or 5" if is_focal_ratio(spec) else "a factor"
    fixed = unit_label(spec.dimension)
    own = unit_label(spec.dimension, units)
    shown = "µm" if fixed == "um" else fixed
    return shown if own == fixed else f"{shown} if no unit, or write {own}"
