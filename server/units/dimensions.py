"""Dimensions of fields: what each is called, its fixed unit, and the usual spellings with exact factors.

Factors are exact: NIST SP 811 (2008), appendix B.8, gives 1 in = 25.4 mm, 1 ft = 0.3048 m, 1 yd = 0.9144 m,
1 lb = 0.45359237 kg, 1 oz = 1/16 lb, and t/°C = (t/°F - 32)/1.8. Angles: 1° = 60' = 3600" (BIPM, SI Brochure,
9th edition, table 8). Spellings that are not in these tables go to pint.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

Dimension = Literal[
    "length",
    "mass",
    "angle",
    "angle_small",
    "arcsec",
    "pixel",
    "pixel_scale",
    "spot",
    "wavelength",
    "current",
    "voltage",
    "capacity_charge",
    "charge",
    "energy",
    "temperature",
    "temperature_difference",
    "time",
    "ratio",
    "fraction",
    "percent",
    "count",
    "electrons",
    "dark_current",
    "conversion",
    "money",
    "plain",
]
"""`angle_small` is another name of `arcsec`, and `capacity_charge` of `charge`."""

_VOWELS = ("a", "e", "i", "o", "u")

_OTHER_NAMES = {"angle_small": "arcsec", "capacity_charge": "charge"}

# Dimensions that are measured in each other's units.
_QUANTITIES = {
    "pixel": "length",
    "spot": "length",
    "wavelength": "length",
    "arcsec": "angle",
    "temperature_difference": "temperature",
}


@dataclass(frozen=True)
class Unit:
    """One unit of a dimension: value in the fixed unit = typed value * factor + offset."""

    label: str
    factor: Fraction
    offset: Fraction = Fraction(0)


@dataclass(frozen=True)
class Spec:
    """What is known of one dimension.

    Attributes:
        name: the dimension.
        noun: what to call it in a sentence, with its article.
        fixed: label of the fixed unit, empty for plain numbers.
        units: spelling -> unit. The fixed unit's own spelling is among them unless it is empty.
        pint_unit: the fixed unit for pint; None where pint has nothing to say.
        imperial: label of the unit for readers who chose imperial; None where it stays the same.
        decimals: most decimals a page shows in the fixed unit.
        example: two ways of typing it.
        whole: only whole numbers.
        compound: labels of units that are written one after the other, from large to small.
    """

    name: str
    noun: str
    fixed: str
    units: dict[str, Unit]
    pint_unit: str | None
    imperial: str | None
    decimals: int
    example: str
    whole: bool = False
    compound: tuple[str, ...] = ()

    def unit(self, spelling: str) -> Unit | None:
        """Return the unit that `spelling` names, None where the table does not know it.

        Capitals are forgiven but where they turn milli into mega.
        """
        found = self.units.get(spelling)
        mega = spelling.startswith("M") and (not spelling.isupper() or spelling in _MEGA)
        return found or (None if mega else _FOLDED[self.name].get(spelling.casefold()))

    @property
    def quantity(self) -> str:
        """What is measured: the same for dimensions that differ only in their usual sizes."""
        return _QUANTITIES.get(self.name, self.name)

    @property
    def fixed_unit(self) -> Unit:
        """The fixed unit itself."""
        return self.units[self.fixed]


_MEGA = frozenset({"MA", "MV", "MW", "MWH", "MS"})
"""All-capital spellings that may well mean mega, so that they are not taken for milli."""


_Row = tuple[str, int | Fraction] | tuple[str, int | Fraction, Fraction]


def _units(*rows: _Row) -> dict[str, Unit]:
    """Return spelling -> unit from rows of spellings (split by |; the first is the label), factor, offset."""
    table: dict[str, Unit] = {}
    for row in rows:
        spellings = row[0].split("|")
        unit = Unit(spellings[0], Fraction(row[1]), row[2] if len(row) == 3 else Fraction(0))
        table.update(dict.fromkeys(spellings, unit))
    return table


_KELVIN_OFFSET = Fraction("-273.15")  # SI Brochure, 9th edition, section 2.3.1.
_INCH_MM = Fraction("25.4")  # NIST SP 811 (2008), appendix B.8.
_POUND_KG = Fraction("0.45359237")  # NIST SP 811 (2008), appendix B.8.
_MM = "mm|millimetre|millimetres|millimeter|millimeters"
_UM = "um|micron|microns|micrometre|micrometres|micrometer|micrometers"
_NM = "nm|nanometre|nanometres|nanometer|nanometers"
_ARCMIN = "arcmin|'|arcmins|arcminute|arcminutes"
_ARCSEC = 'arcsec|"|arcsecs|arcsecond|arcseconds'
_DEGREE = "°|deg|degs|degree|degrees"
_FAHRENHEIT = "°F|F|degF|fahrenheit|deg F|degrees F"
_CELSIUS = "°C|C|degC|celsius|deg C|degrees C"
_PIXEL = "px|pixel|pixels|pix"

_SPECS = (
    Spec(
        "length",
        "a length",
        "mm",
        _units(
            (_MM, 1),
            ("cm|centimetre|centimetres|centimeter|centimeters", 10),
            ("m|metre|metres|meter|meters", 1000),
            (_UM, Fraction(1, 1000)),
            (_NM, Fraction(1, 1000000)),
            ('in|"|in.|inch|inches', _INCH_MM),
            ("ft|'|ft.|foot|feet", 12 * _INCH_MM),
            ("yd|yard|yards", 36 * _INCH_MM),
            ("thou", _INCH_MM / 1000),
        ),
        "mm",
        "in",
        3,
        "55 mm or 2.2 in",
        compound=("ft", "in"),
    ),
    Spec(
        "mass",
        "a mass",
        "kg",
        _units(
            ("kg|kgs|kilo|kilos|kilogram|kilograms|kilogramme|kilogrammes", 1),
            ("g|gr|gram|grams|gramme|grammes", Fraction(1, 1000)),
            ("mg|milligram|milligrams", Fraction(1, 1000000)),
            ("lb|lbs|lb.|lbs.|pound|pounds", _POUND_KG),
            ("oz|oz.|ounce|ounces", _POUND_KG / 16),
        ),
        "kg",
        "lb",
        4,
        "3.5 kg or 7 lb 11 oz",
        compound=("lb", "oz"),
    ),
    Spec(
        "angle",
        "an angle",
        "°",
        _units((_DEGREE, 1), (_ARCMIN, Fraction(1, 60)), (_ARCSEC, Fraction(1, 3600))),
        "degree",
        None,
        4,
        "12.5° or 12° 30'",
        compound=("°", "arcmin", "arcsec"),
    ),
    Spec(
        "arcsec",
        "a small angle",
        "arcsec",
        _units((_ARCSEC, 1), (_ARCMIN, 60), (_DEGREE, 3600)),
        "arcsecond",
        None,
        3,
        '2.5 arcsec or 2.5"',
        compound=("°", "arcmin", "arcsec"),
    ),
    Spec(
        "pixel",
        "a pixel size",
        "um",
        _units((f"{_UM}|um/px|um/pixel", 1), (_NM, Fraction(1, 1000)), (_MM, 1000)),
        "um",
        None,
        3,
        "3.76 um",
    ),
    Spec(
        "spot",
        "a spot size",
        "um",
        _units((_UM, 1), (_NM, Fraction(1, 1000)), (_MM, 1000)),
        "um",
        None,
        3,
        "4 um",
    ),
    Spec(
        "wavelength",
        "a wavelength",
        "nm",
        _units((_NM, 1), (_UM, 1000), ("Å|angstrom|angstroms|A", Fraction(1, 10)), (_MM, 1000000)),
        "nm",
        None,
        3,
        "656.3 nm or 0.6563 um",
    ),
    Spec(
        "current",
        "a current",
        "A",
        _units(("A|amp|amps|ampere|amperes", 1), ("mA|milliamp|milliamps", Fraction(1, 1000))),
        "ampere",
        None,
        4,
        "1.2 A or 350 mA",
    ),
    Spec(
        "voltage",
        "a voltage",
        "V",
        _units(("V|volt|volts|VDC|V DC", 1), ("mV|millivolt|millivolts", Fraction(1, 1000)), ("kV", 1000)),
        "volt",
        None,
        3,
        "12 V or 13.8 V",
    ),
    Spec(
        "charge",
        "a battery's capacity",
        "Ah",
        _units(("Ah|A h|amp hours|amp-hours|ampere hours|ampere-hours", 1), ("mAh", Fraction(1, 1000))),
        "ampere_hour",
        None,
        3,
        "50 Ah or 20000 mAh",
    ),
    Spec(
        "energy",
        "an energy",
        "Wh",
        _units(("Wh|W h|watt hours|watt-hours", 1), ("kWh", 1000), ("J|joule|joules", Fraction(1, 3600))),
        "watt_hour",
        None,
        3,
        "500 Wh or 0.5 kWh",
    ),
    Spec(
        "temperature",
        "a temperature",
        "°C",
        _units(
            (_CELSIUS, 1),
            (_FAHRENHEIT, Fraction(5, 9), Fraction(-160, 9)),  # NIST SP 811 (2008), appendix B.8.
            ("K|kelvin|kelvins", 1, _KELVIN_OFFSET),
        ),
        "degC",
        "°F",
        2,
        "-10 °C or 14 °F",
    ),
    Spec(
        "temperature_difference",
        "a difference of temperatures",
        "K",
        _units(("K|kelvin|kelvins", 1), (_CELSIUS, 1), (_FAHRENHEIT, Fraction(5, 9))),
        "kelvin",
        "°F",
        2,
        "35 K or 35 °C",
    ),
    Spec(
        "time",
        "a time",
        "s",
        _units(
            ("s|sec|secs|second|seconds", 1),
            ("min|mins|minute|minutes", 60),
            ("h|hr|hrs|hour|hours", 3600),
            ("ms|millisecond|milliseconds", Fraction(1, 1000)),
        ),
        "second",
        None,
        3,
        "300 s or 5 min",
        compound=("h", "min", "s"),
    ),
    Spec("ratio", "a ratio", "", _units(("|x", 1)), None, None, 4, "0.8 or f/5"),
    Spec("plain", "a plain number", "", _units(("", 1)), None, None, 6, "12.5"),
    Spec(
        "fraction",
        "a fraction",
        "%",
        _units(("%|percent|per cent", Fraction(1, 100)), ("", 1)),
        None,
        None,
        3,
        "30 %",
    ),
    Spec("percent", "a percentage", "%", _units(("%|percent|per cent", 1)), None, None, 3, "30 %"),
    Spec("count", "a count", "", _units((f"|{_PIXEL}|pcs|pieces|x", 1)), None, None, 0, "7", whole=True),
    Spec(
        "electrons",
        "a number of electrons",
        "e-",
        _units(("e-|e|el|electron|electrons", 1), ("ke-|ke", 1000)),
        None,
        None,
        3,
        "1.5 e- or 51000 e-",
    ),
    Spec(
        "dark_current",
        "a dark current",
        "e-/s",
        _units(("e-/s|e/s|e-/px/s|e/px/s|e-/s/px|e/s/px|e-/pixel/s|e-/s/pixel|e/s/pixel|e/pixel/s", 1)),
        None,
        None,
        6,
        "0.002 e-/s",
    ),
    Spec(
        "conversion",
        "a conversion gain",
        "e-/ADU",
        _units(("e-/ADU|e/ADU|e-/DN|e/DN", 1)),
        None,
        None,
        4,
        "0.25 e-/ADU",
    ),
    Spec(
        "pixel_scale",
        "a pixel scale",
        "arcsec/px",
        _units(('arcsec/px|arcsec/pixel|"/px|"/pixel', 1)),
        None,
        None,
        3,
        "1.55 arcsec/px",
    ),
)

SPECS: dict[str, Spec] = {spec.name: spec for spec in _SPECS}
_FOLDED = {
    spec.name: {spelling.casefold(): unit for spelling, unit in reversed(spec.units.items())}
    for spec in _SPECS
}


def spec_of(dimension: Dimension) -> Spec:
    """Return what is known of `dimension`; money has its own reader and no spec (KeyError)."""
    return SPECS[_OTHER_NAMES.get(dimension, dimension)]


def fixed_unit(dimension: Dimension) -> str:
    """Return the label of the fixed unit ("mm"), empty for plain numbers.

    A fraction is kept as 0 to 1 and written in %.
    """
    return spec_of(dimension).fixed


def dimension_noun(dimension: Dimension) -> str:
    """Return what a sentence calls the dimension, with its article ("a length")."""
    return spec_of(dimension).noun


def with_article(noun: str) -> str:
    """Return a noun with "a" or "an" before it ("an adapter"), told by its first letter."""
    return f"{'an' if noun[:1].casefold() in _VOWELS else 'a'} {noun}"
