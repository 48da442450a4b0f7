"""Places on the sky and on the Earth as people write them."""

from __future__ import annotations

import re

from server.rim.cells import CellError, figure_of
from server.units import Limits, QuantityError, ReadQuantity, read_quantity
from server.units.numbers import plain_text

LONGEST = 60
_PARTS = re.compile(
    r"(?P<sign>[+-]?)\s*(?P<whole>\d{1,3}(?:\.\d+)?)(?!\d)\s*(?P<unit>[h°d:\s])?\s*"
    r"(?:(?P<minutes>\d{1,2}(?:\.\d+)?)(?!\d)\s*(?:[m':\s]\s*)?)?"
    r"(?:(?P<seconds>\d{1,2}(?:\.\d+)?)\s*(?:[s\"]|'')?)?",
    re.IGNORECASE,
)
_SECONDS_LAST = re.compile(r"M\s*[\d.]+\s*S$")
"""The S of "42m 30s" is no south."""
_DEGREES = re.compile(r"\s*(?:deg|degs|degree|degrees)\b", re.IGNORECASE)


def _parts(text: str, example: str) -> tuple[float, str, bool]:
    """The figure in its first unit, that unit ("h", "d" or ""), and whether it had minutes."""
    if len(text) > LONGEST:
        raise CellError(f"This has {len(text)} characters; write it like {example}.")
    plain = plain_text(_DEGREES.sub("°", text)).strip().replace("′", "'").replace("″", '"')
    found = _PARTS.fullmatch(plain)
    if found is None:
        raise CellError(f"“{text.strip()[:40]}” is not understood. Write it like {example}.")
    minutes, seconds = float(found["minutes"] or 0), float(found["seconds"] or 0)
    if minutes >= 60.0 or seconds >= 60.0:
        raise CellError(f"Minutes and seconds end at 59. Write it like {example}.")
    if (found["minutes"] and "." in found["whole"]) or (found["seconds"] and "." in (found["minutes"] or "")):
        raise CellError(f"Only the last number may have decimals. Write it like {example}.")
    value = float(found["whole"]) + minutes / 60.0 + seconds / 3600.0
    unit = (found["unit"] or "").strip().casefold().replace("°", "d").replace(":", "")
    return -value if found["sign"] == "-" else value, unit, found["minutes"] is not None


def read_latitude(text: str) -> float:
    """Return degrees, north positive. Raises CellError with the sentence for its field."""
    return _earthly(text, "N", "S", 90.0, "50.1, 33.9 S or 50° 6' 12\" N")


def read_longitude(text: str) -> float:
    """Return degrees, east positive. Raises CellError with the sentence for its field."""
    return _earthly(text, "E", "W", 180.0, "8.6 E, 105.3 W or 8° 36' E")


def _earthly(text: str, positive: str, negative: str, most: float, example: str) -> float:
    typed = text.strip().upper()
    ends = typed[-1:] in (positive, negative) and not _SECONDS_LAST.search(typed)
    letter = typed[-1:] if ends else typed[:1]
    if letter in (positive, negative) and letter:
        typed = typed[:-1] if ends else typed[1:]
    else:
        letter = ""
    value, unit, _ = _parts(typed, example)
    if unit == "h":
        raise CellError(f"Hours are for right ascensions. Write it like {example}.")
    if letter and value < 0:
        raise CellError(f"“{letter}” says the side already: leave the minus out.")
    value = -value if letter == negative else value
    if abs(value) > most:
        raise CellError(f"{value:g}° lies beyond ±{most:g}°. Write it like {example}.")
    return value


def read_right_ascension(text: str) -> float:
    """Return degrees. A bare number is asked about, since hours and degrees are both usual. Raises
    CellError.
    """
    example = "20h 45m 38s, 20:45:38 or 311.4°"
    value, unit, minutes = _parts(text, example)
    if unit == "" and not minutes:
        raise CellError(f"Hours or degrees? Write {value:g}h or {value:g}°.")
    degrees = value if unit == "d" else value * 15.0
    if not 0.0 <= degrees < 360.0:
        raise CellError(f"{text.strip()[:40]} lies beyond a full turn. Write it like {example}.")
    return degrees


def read_declination(text: str) -> float:
    """Return degrees, north positive. Raises CellError."""
    return _earthly(text, "N", "S", 90.0, "+30.7, -5° 23' or +30 42 30")


def read_arcmin(text: str) -> float:
    """Return an angle in arcminutes, which a bare number counts. Raises CellError."""
    typed = text.strip()
    try:
        return _alone(read_quantity(typed, "plain", None, Limits(0.0, 3600.0, minimum_exclusive=True)))
    except QuantityError as first:
        try:
            return 60.0 * _alone(read_quantity(typed, "angle", None, Limits(0.0, 60.0, True)))
        except QuantityError as error:
            raise CellError((first if typed.replace(".", "").isdigit() else error).message) from None


def read_height(text: str) -> float:
    """Return metres above the sea, which a bare number counts. Raises CellError."""
    try:
        height = _alone(read_quantity(text, "length", "m")) / 1000.0
    except QuantityError as error:
        raise CellError(error.message) from None
    if not -450.0 <= height <= 6000.0:
        raise CellError(f"{height:.6g} m is no height of a site: it must be -450 to 6000 m.")
    return height


def _alone(read: ReadQuantity) -> float:
    """The figure; a tolerance or a basis that was typed beside it is refused, since it would be lost."""
    return float(figure_of(read))


def write_right_ascension(ra_deg: float, exact: bool = False) -> str:
    """Return hours, minutes and seconds to a tenth, as `read_right_ascension` takes them.

    exact: to a thousandth, without the noughts behind it, as a form keeps what was typed.
    """
    hours, minutes, seconds = _sexagesimal(ra_deg / 15.0, 3 if exact else 1)
    return f"{hours % 24:02d}h {minutes:02d}m {_seconds(seconds) if exact else f'{seconds:04.1f}'}s"


def write_declination(dec_deg: float, exact: bool = False) -> str:
    """Return degrees, minutes and seconds, as `read_declination` takes them; exact: to a hundredth."""
    degrees, minutes, seconds = _sexagesimal(abs(dec_deg), 2 if exact else 0)
    sign = "-" if dec_deg < 0 else "+"
    return f"{sign}{degrees:02d}° {minutes:02d}' {_seconds(seconds) if exact else f'{seconds:02.0f}'}\""


def _sexagesimal(value: float, decimals: int) -> tuple[int, int, float]:
    """A figure of 0 or more in sixtieths, its seconds rounded to so many decimals."""
    parts = 10**decimals
    whole, rest = divmod(round(value * 3600.0 * parts), 3600 * parts)
    minutes, rest = divmod(rest, 60 * parts)
    return whole, minutes, rest / parts


def _seconds(seconds: float) -> str:
    """To a thousandth, without the noughts behind it."""
    return f"{seconds:06.3f}".rstrip("0").rstrip(".")


def write_degrees(value: float, positive: str, negative: str) -> str:
    """Return a latitude or longitude, to a metre, with the letter of its side."""
    digits = f"{abs(value):.5f}".rstrip("0").rstrip(".")
    return f"{digits}° {negative if value < 0 else positive}"
