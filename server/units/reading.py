"""Read a quantity from what people type, into the fixed unit of its field, or refuse it with a sentence."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from math import isfinite
from typing import Literal, NoReturn, cast

from server.units.dimensions import SPECS, Dimension, Spec, Unit, spec_of, with_article
from server.units.money import read_money, write_money
from server.units.numbers import NUMBER, UNSIGNED, QuantityError, number, plain_text
from server.units.registry import registry
from server.units.writing import number_text, write_tolerance

Basis = Literal["typed", "measured", "maker", "assumed"]

TEXT_MAXIMUM = 60
EDIT_TEXT_MAXIMUM = 120
"""What an edit form shows may be longer: three numbers with all their digits, a unit and a basis."""

_EXACT = r"-?[0-9]{1,22}(?:\.[0-9]{1,40})?(?:e[+-]?[0-9]{1,3})?"
_EDIT_TEXT = re.compile(
    rf"(?P<nominal>{_EXACT})(?: ± (?P<both>{_EXACT})| \+(?P<plus>{_EXACT}|\?) -(?P<minus>{_EXACT}|\?))?"
    r"(?: ?(?P<unit>[^\s()0-9?.,]+))?(?: \((?P<basis>typed|measured|maker|assumed)\))?"
)
_BASIS = re.compile(r"\s*\((?P<word>[^()]*)\)$")
_BASIS_WORDS = {"typed", "measured", "maker", "assumed"}
_TWO_SIDED = re.compile(
    rf"(?P<left>.+?)\s*(?<![eE])(?P<sign1>[+-])\s?(?P<first>\?|{UNSIGNED}[^+?]*?)\s*[/,]?\s*(?<![eE])"
    rf"(?P<sign2>[+-])\s?(?P<second>\?|{UNSIGNED}[^+?±]*)(?P<unit>(?<=\?)\s*[^0-9?]*)?"
)
_VALUE = re.compile(rf"(?P<number>{NUMBER})\s*(?P<unit>[^0-9]*)")
_COMPOUND = re.compile(rf"({UNSIGNED})\s*([^\s0-9.,+-]+)?[\s,-]*")
_F_NUMBER = re.compile(r"[fF]\s?/?\s?(?=[0-9.])")
_PINT_UNIT = re.compile(r"[A-Za-zÅ°Ω_][A-Za-zÅ°Ω_ */-]{0,23}")
_INFINITE = re.compile(r"[+-]?\s?(?:nan|inf|infinity|∞)\b.*|.*∞.*", re.IGNORECASE)
_TWO_NUMBERS = re.compile(rf".*?{UNSIGNED}.*?[^0-9.,].*?{UNSIGNED}.*")


@dataclass(frozen=True)
class Limits:
    """What a field allows, in its fixed unit; None means no limit.

    Attributes:
        minimum: smallest value allowed, or, with `minimum_exclusive`, the value it must be above.
        maximum: largest value allowed.
        minimum_exclusive: the minimum itself is not allowed.
        thing: what is being described, for the sentence ("spacer ring").
    """

    minimum: float | None = None
    maximum: float | None = None
    minimum_exclusive: bool = False
    thing: str = ""


@dataclass(frozen=True)
class ReadQuantity:
    """What was read.

    Attributes:
        nominal: the number in the fixed unit.
        plus: how much larger it may be (>= 0), None where nobody said.
        minus: how much smaller it may be (>= 0), None where nobody said.
        basis: the basis that was written behind it, None where none was.
        unit: label of the fixed unit; for money its currency.
        dimension: the dimension that was asked for.
    """

    nominal: float
    plus: float | None
    minus: float | None
    basis: Basis | None
    unit: str
    dimension: Dimension

    @property
    def understood(self) -> str:
        """What was understood, in the fixed unit, to be shown beside the field ("31.75 mm, measured")."""
        if self.dimension == "money":
            return write_money(round(100.0 * self.nominal), self.unit)
        text = write_tolerance(self.nominal, self.plus, self.minus, self.dimension)
        return f"{text}, {self.basis}" if self.basis else text


def read_quantity(
    text: str, dimension: Dimension, default_unit: str | None = None, limits: Limits | None = None
) -> ReadQuantity:
    """Return the quantity that `text` writes, such as "54.8 ± 0.2 mm (measured)" or "2 lb 3 oz".

    Args:
        text: what was typed, at most 60 characters (120 for what `edit_text` wrote).
        dimension: what the field holds; it decides the fixed unit of the result.
        default_unit: the unit of a number without one; the fixed unit where None. For money, a currency. A
            fraction of which None is said counts as a share of 1 up to 1, and as per cent above.
        limits: the range allowed, in the fixed unit.

    Raises:
        QuantityError: with a sentence, where the text is of another dimension, no number, ambiguous,
            over-long, not finite, of an unknown unit, or outside `limits`.
        ValueError: where `default_unit` is not a unit of `dimension`, which is the caller's mistake.
    """
    if dimension == "money":
        return _money(text, default_unit, limits)
    spec = spec_of(dimension)
    read = _exact(text, spec, dimension, default_unit)
    if read is None:
        if len(text) > TEXT_MAXIMUM:
            raise QuantityError(
                f"{spec.noun.capitalize()} is written in at most {TEXT_MAXIMUM} characters, "
                f"this text has {len(text)}. Type it like {spec.example}."
            )
        try:
            read = _read(text, spec, dimension, default_unit)
            if dimension == "fraction" and default_unit is None and read.nominal > 1:
                # No share is above 1: "50" means fifty per cent. What has a unit of its own reads as before.
                read = _read(text, spec, dimension, "%")
        except OverflowError:
            raise QuantityError(
                f"“{text.strip()}” is too large a number. Type it like {spec.example}."
            ) from None
    if spec.whole and read.nominal != int(read.nominal):
        raise QuantityError(
            f"{number_text(read.nominal)} is not a whole number. Type it like {spec.example}."
        )
    _check(read, spec, limits)
    return read


def _exact(text: str, spec: Spec, dimension: Dimension, default_unit: str | None) -> ReadQuantity | None:
    """Return what `text` writes where it is as plain as `edit_text` makes it, else None."""
    if len(text) > EDIT_TEXT_MAXIMUM:
        return None
    found = _EDIT_TEXT.fullmatch(text)
    if found is None:
        return None
    unit = found["unit"]
    if unit is None:
        if default_unit not in (None, spec.fixed) or (spec.fixed and spec.fixed_unit.factor != 1):
            return None
    elif unit != spec.fixed:
        return None
    if spec.fixed_unit.factor == 1:
        values = [_exact_float(found[name]) for name in ("nominal", "both", "plus", "minus")]
    else:
        factor = spec.fixed_unit.factor
        try:
            values = [
                None if found[name] in (None, "?") else float(Fraction(found[name]) * factor)
                for name in ("nominal", "both", "plus", "minus")
            ]
        except OverflowError:
            return None
    nominal, both, plus, minus = values
    if nominal is None or any(value is not None and not isfinite(value) for value in values):
        return None
    plus, minus = (both, both) if both is not None else (plus, minus)
    if (plus is not None and plus < 0) or (minus is not None and minus < 0):
        return None
    return ReadQuantity(nominal, plus, minus, cast("Basis | None", found["basis"]), spec.fixed, dimension)


def _exact_float(digits: str | None) -> float | None:
    return None if digits is None or digits == "?" else float(digits)


def _read(text: str, spec: Spec, dimension: Dimension, default_unit: str | None) -> ReadQuantity:
    typed = plain_text(text)
    if not typed:
        raise QuantityError(f"Nothing was typed. Type it like {spec.example}.")
    if _INFINITE.fullmatch(typed):
        raise QuantityError(f"“{typed}” is not a number that can be measured. Type it like {spec.example}.")
    body, basis = _split_basis(typed)
    default = _default(spec, default_unit)
    plus: float | None = None
    minus: float | None = None
    left, *tolerances = body.split("±")
    if len(tolerances) > 1:
        raise QuantityError(f"“{typed}” holds ± more than once. Type it like {_tolerance_example(spec)}.")
    two_sided = None if tolerances else _TWO_SIDED.fullmatch(body)
    if tolerances:
        right = tolerances[0].strip()
        nominal, unit = _value(left.strip(), spec, typed, _unit_text(right) or default)
        plus = minus = _tolerance(right, spec, typed, unit)
    elif two_sided is not None and two_sided["sign1"] != two_sided["sign2"]:
        first, second = two_sided["first"].strip(), two_sided["second"].strip()
        tail = (two_sided["unit"] or "").strip()
        last_unit = tail or _unit_text(second) or _unit_text(first) or default
        nominal, unit = _value(two_sided["left"].strip(), spec, typed, last_unit)
        sides = {
            two_sided["sign1"]: _tolerance(first, spec, typed, unit),
            two_sided["sign2"]: _tolerance(second, spec, typed, unit),
        }
        plus, minus = sides["+"], sides["-"]
    else:
        nominal, _unit = _value(body, spec, typed, default)
    return ReadQuantity(nominal, plus, minus, basis, spec.fixed, dimension)


def _tolerance_example(spec: Spec) -> str:
    return f"54.8 ± 0.2 {spec.fixed}".rstrip()


def _split_basis(typed: str) -> tuple[str, Basis | None]:
    found = _BASIS.search(typed)
    if found is None:
        return typed, None
    word = found["word"].strip().casefold().removesuffix(" figure").removesuffix("'s")
    if word not in _BASIS_WORDS:
        raise QuantityError(
            f"“({found['word']})” is no basis of a figure. "
            "Write (typed), (measured), (maker) or (assumed), or leave it out."
        )
    return typed[: found.start()], cast("Basis", word)


def _default(spec: Spec, default_unit: str | None) -> str:
    if default_unit is None:
        # A bare number in a field for a fraction is the fraction itself, 0 to 1.
        return "" if "" in spec.units else spec.fixed
    if spec.unit(default_unit) is None:
        raise ValueError(f"{default_unit!r} is no unit of the dimension {spec.name!r}")
    return default_unit


def _unit_text(text: str) -> str:
    found = _VALUE.fullmatch(text)
    return found["unit"].strip() if found is not None else ""


def _value(text: str, spec: Spec, typed: str, default: str) -> tuple[float, str]:
    """Return a value in the fixed unit, and the unit it was typed in."""
    if spec.name == "ratio":
        text = _F_NUMBER.sub("", text, count=1) if _F_NUMBER.match(text) else text
    found = _VALUE.fullmatch(text)
    if found is None:
        compound = _compound(text, spec, typed)
        if compound is not None:
            return compound
        _not_one_number(text, spec, typed)
    unit = found["unit"].strip() or default
    amount = number(found["number"], typed, spec.example, spec.whole)
    return _convert(amount, unit, spec, typed), unit


def _tolerance(text: str, spec: Spec, typed: str, unit: str) -> float | None:
    if text == "?":
        return None
    if text.startswith(("-", "+")):
        raise QuantityError(f"“{typed}”: a tolerance has no sign. Type it like {_tolerance_example(spec)}.")
    found = _VALUE.fullmatch(text)
    if found is None:
        raise QuantityError(
            f"“{typed}” holds a tolerance that is not one number. Type it like {_tolerance_example(spec)}."
        )
    amount = number(found["number"], typed, spec.example)
    return _convert(amount, found["unit"].strip() or unit, spec, typed, difference=True)


def _not_one_number(text: str, spec: Spec, typed: str) -> NoReturn:
    if _TWO_NUMBERS.fullmatch(text):
        raise QuantityError(
            f"“{typed}” holds more than one number. Type one, such as {spec.example}, "
            f"or a tolerance behind it, such as {_tolerance_example(spec)}, "
            "or 54.8 +0.3 -? where only one side is known."
        )
    raise QuantityError(f"“{typed}” is not a number. Type it like {spec.example}.")


def _compound(text: str, spec: Spec, typed: str) -> tuple[float, str] | None:
    """Return feet and inches, pounds and ounces, degrees and minutes ...; None if it is none of them."""
    if not spec.compound:
        return None
    sign = -1 if text.startswith("-") else 1
    rest = text.lstrip("+- ")
    total, place, above, label = Fraction(0), 0, None, spec.fixed
    at = 0
    while at < len(rest):
        found = _COMPOUND.match(rest, at)
        if found is None:
            return None
        at = found.end()
        unit = _compound_unit(found[2], spec, place)
        if unit is None:
            return None
        amount = number(found[1], typed, spec.example) * unit.factor
        if above is not None and amount >= above:
            raise QuantityError(
                f"“{typed}”: {found[1]} {unit.label} is as much as one {label} or more. "
                f"Type it like {spec.example}."
            )
        total, above, label = total + amount, unit.factor, unit.label
        place = spec.compound.index(unit.label) + 1
    return float(sign * total), label


def _compound_unit(spelling: str | None, spec: Spec, place: int) -> Unit | None:
    if spelling is None:
        # The last number may stand alone, as in 6' 3 for six feet three inches.
        return spec.units[spec.compound[place]] if 0 < place < len(spec.compound) else None
    unit = spec.unit(spelling)
    if unit is None or unit.label not in spec.compound[place:]:
        return None
    return unit


def _convert(amount: Fraction, unit_text: str, spec: Spec, typed: str, difference: bool = False) -> float:
    """Return `amount` of a unit in the fixed unit; a `difference` is scaled and not shifted."""
    unit = spec.unit(unit_text)
    if unit is not None:
        return float(amount * unit.factor + (0 if difference else unit.offset))
    known = [other for other in SPECS.values() if unit_text in other.units]
    noun = known[0].noun if known else None
    # A spelling of the tables means what it means there, and pint, which takes long to load, is not asked: it
    # would read "5 pcs" as five parsecs and "2 kilos" as two kiloseconds.
    if not known or any(other.quantity == spec.quantity for other in known):
        by_pint = _pint_unit(unit_text)
        if by_pint is not None and spec.pint_unit is not None and by_pint.kind == _pint_kind(spec.pint_unit):
            return _by_pint(float(amount), unit_text, spec, typed, difference)
        if noun is None and by_pint is not None:
            noun = by_pint.noun
    if noun is None:
        raise QuantityError(
            f"“{typed}”: “{unit_text}” is not a unit known here. Type it like {spec.example}."
        )
    if noun == spec.noun:
        noun = "not in a unit for it"
    raise QuantityError(f"{typed} is {noun}; this field is {spec.noun}. Type it like {spec.example}.")


@dataclass(frozen=True)
class _PintUnit:
    kind: str
    noun: str


_KIND_NOUNS = {
    "length": "millimetre",
    "mass": "kilogram",
    "time": "second",
    "angle": "radian",
    "current": "ampere",
    "voltage": "volt",
    "charge": "coulomb",
    "energy": "joule",
    "temperature": "kelvin",
    "power": "watt",
    "area": "metre ** 2",
    "volume": "metre ** 3",
    "speed": "metre / second",
    "force": "newton",
    "pressure": "pascal",
    "frequency": "hertz",
    "resistance": "ohm",
}


@lru_cache(maxsize=1)
def _nouns() -> dict[str, str]:
    return {_pint_kind(unit): with_article(name) for name, unit in _KIND_NOUNS.items()}


@lru_cache(maxsize=64)
def _pint_kind(unit: str) -> str:
    """Return the base units, which tell dimensions apart, and a radian from a plain number as well."""
    _, base = registry().get_base_units(unit)
    return str(base)


@lru_cache(maxsize=512)
def _pint_unit(text: str) -> _PintUnit | None:
    """Return what pint makes of a unit, None where it makes nothing of it."""
    if not _PINT_UNIT.fullmatch(text) or "**" in text:
        return None
    try:
        kind = _pint_kind(text)
    except Exception:  # noqa: BLE001 pint raises errors of a dozen classes for odd text, AssertionError among them.
        return None
    return _PintUnit(kind, _nouns().get(kind, "another kind of quantity"))


def _by_pint(amount: float, unit_text: str, spec: Spec, typed: str, difference: bool) -> float:
    ureg = registry()
    try:
        value = float(ureg.Quantity(amount, unit_text).to(spec.pint_unit).magnitude)
        if difference:
            value -= float(ureg.Quantity(0.0, unit_text).to(spec.pint_unit).magnitude)
    except Exception:  # noqa: BLE001 as above; nothing that was typed may end in a broken page.
        value = float("nan")
    if not isfinite(value):
        raise QuantityError(f"“{typed}” cannot be turned into {spec.fixed}. Type it like {spec.example}.")
    return value


def _check(read: ReadQuantity, spec: Spec, limits: Limits | None) -> None:
    if limits is None:
        return
    minimum, maximum = limits.minimum, limits.maximum
    thing = f"{spec.noun} of {with_article(limits.thing)}" if limits.thing else f"{spec.noun} here"
    shown = write_tolerance(read.nominal, None, None, read.dimension)
    if minimum is not None:
        allowed = write_tolerance(minimum, None, None, read.dimension)
        if limits.minimum_exclusive and read.nominal <= minimum:
            raise QuantityError(f"{shown}: {thing} must be above {allowed}.")
        if read.nominal < minimum:
            raise QuantityError(f"{shown}: {thing} must be at least {allowed}.")
    if maximum is not None and read.nominal > maximum:
        allowed = write_tolerance(maximum, None, None, read.dimension)
        whole = f"more than any {limits.thing} measures" if limits.thing else "too much here"
        raise QuantityError(f"{shown} is {whole} (at most {allowed}): check the unit.")


def _money(text: str, default_currency: str | None, limits: Limits | None) -> ReadQuantity:
    price = read_money(text, default_currency)
    amount = price.hundredths / 100
    if limits is not None and limits.maximum is not None and amount > limits.maximum:
        raise QuantityError(
            f"{price.understood} is too much here (at most {limits.maximum:g}): check the amount."
        )
    return ReadQuantity(amount, None, None, None, price.currency, "money")
