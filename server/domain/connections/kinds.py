"""The kinds of mechanical connection as frozen, hashable values.

Sizes are millimetres but for inch threads, which keep the inches and threads per inch they are named by.
Sizes are rounded to 0.0001 (mm or inch), far finer than any thread is made, so that one connection reached
by two ways (2 in, 50.8 mm) is one value and one key.
"""

from __future__ import annotations

import re
from typing import Annotated, Literal

from pydantic import AfterValidator, Field

from server.domain.measure import Frozen

Gender = Literal["male", "female"]
"""Which half of a joint; None in its place means: not known yet."""

GENDER_WORDS: dict[str, Gender] = {
    "male": "male",
    "m": "male",
    "external": "male",
    "ext": "male",
    "outer": "male",
    "female": "female",
    "f": "female",
    "internal": "female",
    "int": "female",
    "inner": "female",
}
"""What people write for a gender. A name may hold none of these words, or its text would be ambiguous."""

NAME_MAXIMUM = 30
_SIZE_DECIMALS = 4
_NAME = re.compile(r"[^\W_][\w.+/&'-]*(?: [\w.+/&'-]+)*")
_RESERVED = frozenset(GENDER_WORDS) | {"on", "circle"}


def _rounded(value: float) -> float:
    return round(value, _SIZE_DECIMALS)


def _clean_name(value: str) -> str:
    name = " ".join(value.split())
    if len(name) > NAME_MAXIMUM:
        raise ValueError(f"a name here has at most {NAME_MAXIMUM} characters, this one has {len(name)}")
    if not _NAME.fullmatch(name):
        raise ValueError(f"“{name}” is no name: use letters, digits, spaces and . + / & ' -")
    for word in name.split(" "):
        if word.casefold() in _RESERVED:
            raise ValueError(f"a name cannot hold the word “{word}”, which would be read as something else")
    return name


DiameterMm = Annotated[float, Field(ge=1.0, le=1000.0), AfterValidator(_rounded)]
PitchMm = Annotated[float, Field(ge=0.1, le=20.0), AfterValidator(_rounded)]
DiameterIn = Annotated[float, Field(ge=0.05, le=40.0), AfterValidator(_rounded)]
ThreadsPerInch = Annotated[float, Field(ge=1.0, le=200.0), AfterValidator(_rounded)]
ThreadMm = Annotated[float, Field(ge=0.1, le=200.0), AfterValidator(_rounded)]
Name = Annotated[str, AfterValidator(_clean_name)]


class MetricThread(Frozen):
    """A metric screw thread, written M<diameter>x<pitch> as ISO 68-1 and ISO 965-1 designate it.

    Attributes:
        diameter_mm: nominal diameter, mm.
        pitch_mm: distance from one thread to the next, mm; None where the trade writes only "M57".
        gender: None while unknown.
        thread_mm: length of a male thread, or depth of a female one, mm; None while unknown.
    """

    type: Literal["metric_thread"] = "metric_thread"
    diameter_mm: DiameterMm
    pitch_mm: PitchMm | None = None
    gender: Gender | None = None
    thread_mm: ThreadMm | None = None


class InchThread(Frozen):
    """An inch screw thread, written <diameter>"-<threads per inch> as ASME B1.1 designates it.

    Attributes:
        diameter_in: nominal diameter, inch.
        threads_per_inch: number of threads in one inch.
        gender: None while unknown.
        thread_mm: length of a male thread, or depth of a female one, mm; None while unknown.
    """

    type: Literal["inch_thread"] = "inch_thread"
    diameter_in: DiameterIn
    threads_per_inch: ThreadsPerInch
    gender: Gender | None = None
    thread_mm: ThreadMm | None = None


class Barrel(Frozen):
    """A push-fit tube: a nosepiece (male) in a holder (female), held by a screw or a collet.

    Attributes:
        diameter_mm: 31.75 (1.25 in), 50.8 (2 in) or another, mm.
        gender: None while unknown.
        thread_mm: length of a male barrel, or depth of a female one, mm; None while unknown.
    """

    type: Literal["barrel"] = "barrel"
    diameter_mm: DiameterMm
    gender: Gender | None = None
    thread_mm: ThreadMm | None = None


class Bayonet(Frozen):
    """A bayonet by its name; two names are one where they differ only in capitals. Female receives."""

    type: Literal["bayonet"] = "bayonet"
    name: Name
    gender: Gender | None = None


class BoltPattern(Frozen):
    """Holes on a circle, by the pattern's name; `circle_mm` is the circle's diameter, None while unknown."""

    type: Literal["bolts"] = "bolts"
    name: Name
    circle_mm: DiameterMm | None = None


class Dovetail(Frozen):
    """A dovetail bar or its clamp, by width in mm. It carries the tube; it is not on the optical path."""

    type: Literal["dovetail"] = "dovetail"
    width_mm: DiameterMm


Connection = Annotated[
    MetricThread | InchThread | Barrel | Bayonet | BoltPattern | Dovetail, Field(discriminator="type")
]
"""Any mechanical connection, told apart by `type`."""


def gender_of(connection: Connection) -> Gender | None:
    """Return the gender, None where it is unknown or where the kind has none (bolts, dovetails)."""
    if isinstance(connection, BoltPattern | Dovetail):
        return None
    return connection.gender


def thread_length_of(connection: Connection) -> float | None:
    """Return how far the thread or barrel reaches in mm (its depth if female), None where unknown."""
    if isinstance(connection, MetricThread | InchThread | Barrel):
        return connection.thread_mm
    return None


def opposite(connection: Connection) -> Connection:
    """Return the counterpart that mates with `connection`.

    The gender is turned round (an unknown one stays unknown) and the thread length, which says nothing of
    the counterpart's, is dropped. Bolt patterns and dovetails are their own counterparts.
    """
    if isinstance(connection, BoltPattern | Dovetail):
        return connection
    turned: Gender | None = None
    if connection.gender is not None:
        turned = "female" if connection.gender == "male" else "male"
    if isinstance(connection, Bayonet):
        return connection.model_copy(update={"gender": turned})
    return connection.model_copy(update={"gender": turned, "thread_mm": None})
