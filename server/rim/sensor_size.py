"""A sensor by its size and its pixel, where its count of pixels is not known."""

from __future__ import annotations

import re

from server.domain.fields import FieldSpec
from server.domain.findings import Amount
from server.domain.measure import Measure, nominal
from server.rim.cells import CellError, figure_of, read_cell
from server.rim.forms import field_of
from server.rim.wording import write_amount

SIDES = ("width_px", "height_px")
MOST_ACROSS = field_of("camera", "width_px").maximum or 0.0
_SIZE = FieldSpec("size", "Sensor size", "measure", "length", 0.0, 200.0, above=True)
_PIXEL = FieldSpec("pixel_um", "Pixel size", "measure", "pixel", 0.0, 100.0, above=True)
_UNIT = re.compile(r"(?:mm|cm|in|inch|inches|\"|″|”)\s*$", re.IGNORECASE)


def size_mm(text: str) -> float | None:
    """Return the size that a text with a unit of length says, mm; None for anything else, and for more."""
    read = _size(text)
    return None if read is None or _refusal(read) else read.nominal


def pixel_um(text: str) -> float | None:
    """Return the size of a pixel that a text says, um; None for anything else."""
    return nominal(_measure(_PIXEL, text))


def _size(text: str) -> Measure | None:
    return _measure(_SIZE, text) if _UNIT.search(text.strip()) else None


def _measure(spec: FieldSpec, text: str) -> Measure | None:
    try:
        read = read_cell(spec, text, "")
    except CellError:
        return None
    return read if isinstance(read, Measure) else None


def _refusal(read: Measure) -> str:
    """What to say of a size with a tolerance, which a count of pixels does not keep; "" for none."""
    try:
        figure_of(read)
    except CellError as error:
        return error.sentence
    return ""


def count_across(size: float, pixel: float) -> int:
    """Return how many pixels of `pixel` um stand in `size` mm; 0 where no sensor has so many or so few.

    A size is quoted to 0.1 mm, so that some 15 of them are unsure.
    """
    many = size * 1000.0 / pixel
    return round(many) if many <= MOST_ACROSS else 0


def size_instead(field: str, text: str, pixel_text: str) -> str:
    """Return what to say where a size was typed for a count of pixels; "" where none was."""
    size = _size(text) if field in SIDES else None
    if size is None:
        return ""
    if refused := _refusal(size):
        return refused
    if pixel_um(pixel_text) is None:
        return "With the pixel size as well, a size is turned into pixels. Type that first."
    count, how = count_offered(field, text, pixel_text)
    if not count:
        return "No sensor has so many pixels, or so few: look at the size and at the pixel size again."
    return f"{how} makes {count}. A sensor is kept by its pixels: put that in, or the count that you know."


def in_pixels(size: str, pixel: float) -> str:
    """Return how a count was worked out, such as "23.5 mm in pixels of 3.76 µm"."""
    return f"{size} in pixels of {write_amount(Amount(value=pixel, dimension='pixel'), 'metric')}"


def count_offered(field: str, text: str, pixel_text: str) -> tuple[str, str]:
    """Return what may stand in a field for a count where a size was typed, and how it was worked out.

    Two empty texts where `field` is none, no size was typed, or the pixel is not known.
    """
    size, pixel = size_mm(text) if field in SIDES else None, pixel_um(pixel_text)
    if size is None or pixel is None:
        return "", ""
    count = count_across(size, pixel)
    how = in_pixels(text.strip(), pixel)
    return (str(count), how) if count >= 1 else ("", "")
