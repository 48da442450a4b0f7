"""Write quantities: for people, with no more digits than mean something; for edit forms, with all of them."""

from __future__ import annotations

import math
from decimal import Decimal
from typing import Literal

from server.units.dimensions import Dimension, Spec, Unit, spec_of

System = Literal["metric", "imperial"]

UNKNOWN_SIDE = "?"
_PLAIN_MAXIMUM = 1e12
"""Numbers from here on are written with an exponent."""
_FINEST = 5
"""Decimals of a converted tolerance at most."""


def number_text(value: float) -> str:
    """Return `value` as short as it reads back the same, without an idle ".0"."""
    return repr(float(value)).removesuffix(".0")


def unit_label(dimension: Dimension, system: System = "metric") -> str:
    """Return the unit that a page shows beside a number ("mm", in imperial "in"); empty for plain numbers."""
    spec = spec_of(dimension)
    return spec.imperial if system == "imperial" and spec.imperial is not None else spec.fixed


def write_quantity(
    value: float, dimension: Dimension, system: System = "metric", digits: int | None = None
) -> str:
    """Return `value` with its unit, for people ("54.8 mm", in imperial "2.157 in").

    Args:
        value: in the fixed unit of `dimension`.
        dimension: any but money, which `write_money` writes.
        system: imperial turns lengths into inches, masses into pounds and temperatures into Fahrenheit; pixel
            sizes, wavelengths and small angles stay as they are.
        digits: number of decimals, for columns; without it idle zeros are left off and the number has at most
            the decimals that mean something for its unit.
    """
    return write_tolerance(value, None, None, dimension, system, digits)


def write_tolerance(
    nominal: float,
    plus: float | None,
    minus: float | None,
    dimension: Dimension,
    system: System = "metric",
    digits: int | None = None,
) -> str:
    """Return a quantity with its tolerance, for people ("54.8 ± 0.2 mm", "54.8 +0.3 −0.1 mm").

    The parameters are those of `write_quantity`; `plus` and `minus` are >= 0 in the fixed unit. Both None
    writes none, and one of them None writes "?" for the side that nobody stated.
    """
    spec = spec_of(dimension)
    unit = spec.units[unit_label(dimension, system)]
    shown = _in_unit(nominal, unit)
    sides = [None if side is None else float(Decimal(repr(side)) / _decimal(unit)) for side in (plus, minus)]
    decimals = _decimals(shown, unit, spec, sides) if digits is None else digits
    if plus is None and minus is None:
        return _with_unit(_text(shown, decimals, digits), unit.label)
    if digits is None:
        # One number of decimals for all three, so that 55 ± 0.05 shows as 55.00 ± 0.05.
        numbers = [number for number in (shown, *sides) if number is not None]
        decimals = max(_carried(number, decimals) for number in numbers)
    texts = [UNKNOWN_SIDE if side is None else _text(side, decimals, decimals) for side in sides]
    value = _text(shown, decimals, decimals)
    if texts[0] == texts[1]:
        return _with_unit(f"{value} ± {texts[0]}", unit.label)
    return _with_unit(f"{value} +{texts[0]} −{texts[1]}", unit.label)


def _with_unit(text: str, label: str) -> str:
    # The sign of degrees stands at its number, every other unit after a space (SI Brochure, 9th ed., 5.4.3).
    return text + label if label == "°" else f"{text} {label}".rstrip()


def _decimal(unit: Unit) -> Decimal:
    return Decimal(unit.factor.numerator) / Decimal(unit.factor.denominator)


def _in_unit(value: float, unit: Unit) -> float:
    # Decimal keeps 0.3 from showing as 30.000000000000004 %.
    offset = Decimal(unit.offset.numerator) / Decimal(unit.offset.denominator)
    return float((Decimal(repr(float(value))) - offset) / _decimal(unit))


def _decimals(shown: float, unit: Unit, spec: Spec, sides: list[float | None]) -> int:
    if unit.label == spec.fixed:
        return spec.decimals
    size = max(abs(shown), *(side for side in sides if side is not None), 0.0)
    few = 1
    if unit.label == "in":
        few = 3 if size < 10 else 2 if size < 100 else 1
    elif unit.label == "lb":
        few = 3 if size < 1 else 2 if size < 10 else 1
    # A tolerance must not be rounded to none.
    finest = min((side for side in sides if side), default=1.0)
    return max(few, min(_FINEST, -math.floor(math.log10(finest))))


def _carried(value: float, decimals: int) -> int:
    """Return how many decimals `value` has once it is rounded to `decimals`."""
    text = f"{value:.{decimals}f}"
    return len(text.rstrip("0").partition(".")[2]) if "." in text else 0


def _text(value: float, decimals: int, digits: int | None) -> str:
    if abs(value) >= _PLAIN_MAXIMUM:
        text = f"{value:.6g}"
    elif digits is not None:
        text = f"{value:.{digits}f}"
    elif value != 0 and abs(value) < 0.5 * 10.0**-decimals:
        # A small number is not nothing.
        text = f"{value:.2g}"
    else:
        text = f"{value:.{decimals}f}"
        text = text.rstrip("0").rstrip(".") if "." in text else text
    if float(text) == 0:
        text = text.removeprefix("-")
    return text.replace("-", "−")


def edit_text(
    nominal: float | None,
    plus: float | None = None,
    minus: float | None = None,
    basis: str | None = None,
    dimension: Dimension = "plain",
) -> str:
    """Return what an edit form shows: the fixed unit and every digit, for `read_quantity` to give back.

    Empty for an unknown nominal. A side of the tolerance that nobody stated is written "?".
    """
    if nominal is None:
        return ""
    spec = spec_of(dimension)
    text = _exact(nominal, spec)
    if plus is not None and plus == minus:
        text += f" ± {_exact(plus, spec)}"
    elif plus is not None or minus is not None:
        sides = [UNKNOWN_SIDE if side is None else _exact(side, spec) for side in (plus, minus)]
        text += f" +{sides[0]} -{sides[1]}"
    text = _with_unit(text, spec.fixed)
    return f"{text} ({basis})" if basis else text


def _exact(value: float, spec: Spec) -> str:
    factor = spec.fixed_unit.factor
    if factor == 1:
        return number_text(value)
    # The only other factor is a power of ten (per cent), by which a decimal is shifted without loss.
    shifted = Decimal(repr(float(value))) * factor.denominator / factor.numerator
    return f"{shifted.normalize():e}" if abs(shifted.adjusted()) > 20 else f"{shifted.normalize():f}"
