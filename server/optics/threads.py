"""Diameters of a screw thread of the 60 degree profile (metric, and the unified inch threads).

The profile is the standard's; most diameter and pitch pairs of this trade are not in the standards'
selections. Tolerance classes are not modelled: real threads are some hundredths of a mm slacker.
"""

import math

from server.optics.ranges import checked

_MM_PER_INCH = 25.4
_SMALLEST_DIAMETER_MM = 1.0
_LARGEST_DIAMETER_MM = 1000.0
_SMALLEST_PITCH_MM = 0.1
_LARGEST_PITCH_MM = 10.0


def triangle_height_mm(pitch_mm: float) -> float:
    """Return H, the height of the thread's fundamental triangle, mm.

    pitch_mm: 0.1 to 10 mm. Raises ValueError outside. Source: ISO 68-1, H = sqrt(3)/2 P.
    """
    return math.sqrt(3.0) / 2.0 * _checked_pitch_mm(pitch_mm)


def external_root_diameter_mm(diameter_mm: float, pitch_mm: float) -> float:
    """Return d3, the diameter at the root of the male thread, mm: the bore through a male part is less than
    this.

    diameter_mm: nominal (major), 1 to 1000 mm. pitch_mm: 0.1 to 10 mm, below half the diameter. Raises
    ValueError outside. With the root rounded by H/6.
    Source: ISO 68-1 profile, d - 2 (17/24) H (from memory; it reproduces printed tables of ISO 724 sizes).
    """
    return _checked_diameter_mm(diameter_mm, pitch_mm) - 17.0 / 12.0 * triangle_height_mm(pitch_mm)


def pitch_of_inch_thread_mm(threads_per_inch: float) -> float:
    """Return the pitch, mm, of a thread given in turns per inch, such as 24 for 2"-24.

    threads_per_inch: 2.54 to 254. Raises ValueError outside. Source: 25.4 mm to the inch (1959).
    """
    turns = checked(
        "The threads per inch",
        threads_per_inch,
        _MM_PER_INCH / _LARGEST_PITCH_MM,
        _MM_PER_INCH / _SMALLEST_PITCH_MM,
        "",
        'Give the turns in one inch, such as 24 for 2"-24.',
    )
    return _MM_PER_INCH / turns


def turns_engaged(engaged_length_mm: float, pitch_mm: float) -> float:
    """Return how many turns two threads overlap, a pure number.

    engaged_length_mm: 0 to 1000 mm of thread in mesh. pitch_mm: 0.1 to 10 mm. Raises ValueError outside.
    Source: arithmetic. At least three turns are common practice, no source.
    """
    length = checked("The engaged length", engaged_length_mm, 0.0, 1000.0, "mm", "Give mm of thread in mesh.")
    return length / _checked_pitch_mm(pitch_mm)


def _checked_diameter_mm(diameter_mm: float, pitch_mm: float) -> float:
    diameter = checked(
        "The thread's diameter",
        diameter_mm,
        _SMALLEST_DIAMETER_MM,
        _LARGEST_DIAMETER_MM,
        "mm",
        "Give the nominal diameter, such as 48 for M48x0.75.",
    )
    checked(
        "The thread's pitch",
        pitch_mm,
        _SMALLEST_PITCH_MM,
        min(_LARGEST_PITCH_MM, diameter / 2.0),
        "mm",
        "Give the pitch, such as 0.75 for M48x0.75; it is far below the diameter.",
    )
    return diameter


def _checked_pitch_mm(pitch_mm: float) -> float:
    return checked(
        "The thread's pitch",
        pitch_mm,
        _SMALLEST_PITCH_MM,
        _LARGEST_PITCH_MM,
        "mm",
        "Give the pitch, such as 0.75 for M48x0.75.",
    )
