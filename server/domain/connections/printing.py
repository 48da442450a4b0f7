"""A connection as text: canonical for people, short and stable for an index."""

from __future__ import annotations

from functools import lru_cache

from server.domain.connections.kinds import (
    Barrel,
    Bayonet,
    BoltPattern,
    Connection,
    Dovetail,
    Gender,
    InchThread,
    MetricThread,
)

MM_PER_INCH = 25.4
"""NIST SP 811 (2008), appendix B.8: 1 inch is exactly 25.4 mm."""

INCH_BARRELS = {31.75: "1.25 in", 50.8: "2 in"}
"""The two push-fit sizes that the trade names in inches (common practice, no source)."""


def number_text(value: float) -> str:
    """Return `value` as short as it reads back the same, without an idle ".0"."""
    text = repr(value)
    return text.removesuffix(".0")


def barrel_size_text(diameter_mm: float) -> str:
    """Return a barrel's size as it is named: in inches for the two usual ones, else in mm."""
    return INCH_BARRELS.get(diameter_mm, f"{number_text(diameter_mm)} mm")


@lru_cache(1024)
def size_text(connection: Connection) -> str:
    """Return kind and size without gender and length, such as "M42x0.75" or "2 in barrel"."""
    match connection:
        case MetricThread(diameter_mm=diameter, pitch_mm=pitch):
            return f"M{number_text(diameter)}" + ("" if pitch is None else f"x{number_text(pitch)}")
        case InchThread(diameter_in=diameter, threads_per_inch=threads):
            return f'{number_text(diameter)}"-{number_text(threads)}'
        case Barrel(diameter_mm=diameter):
            return f"{barrel_size_text(diameter)} barrel"
        case Bayonet(name=name):
            return f"bayonet {name}"
        case BoltPattern(name=name, circle_mm=circle):
            return f"bolts {name}" + ("" if circle is None else f" on {number_text(circle)} mm")
        case Dovetail(width_mm=width):
            return f"dovetail {number_text(width)} mm"


def _length_text(thread_mm: float | None, gender: Gender | None, what: str) -> str:
    if thread_mm is None:
        return ""
    length = f"{number_text(thread_mm)} mm"
    if gender is None:
        return f", {what} {length}"
    return f", {length} {'deep' if gender == 'female' else 'long'}"


# A rig's parts stay the same from change to change.
@lru_cache(1024)
def print_connection(connection: Connection) -> str:
    """Return the canonical text, such as "M48x0.75 female, 5 mm deep"; `read_connection` reads it back."""
    text = size_text(connection)
    match connection:
        case MetricThread() | InchThread():
            gender = f" {connection.gender}" if connection.gender else ""
            return text + gender + _length_text(connection.thread_mm, connection.gender, "thread")
        case Barrel():
            gender = f", {connection.gender}" if connection.gender else ""
            return text + gender + _length_text(connection.thread_mm, connection.gender, "length")
        case Bayonet():
            return text + (f", {connection.gender}" if connection.gender else "")
        case BoltPattern() | Dovetail():
            return text


def connection_key(connection: Connection, with_gender: bool = True) -> str:
    """Return a short stable text for an index, such as "M42x0.75:m"; the thread's length is left out.

    Equal keys mean the same thread, barrel, bayonet, bolt pattern or dovetail (and, `with_gender`, the same
    half of it: m, f, or ? while unknown). A pitch or circle that is unknown is written "?".
    """
    match connection:
        case MetricThread(diameter_mm=diameter, pitch_mm=pitch):
            key = f"M{number_text(diameter)}x{'?' if pitch is None else number_text(pitch)}"
        case InchThread(diameter_in=diameter, threads_per_inch=threads):
            key = f"in{number_text(diameter)}-{number_text(threads)}"
        case Barrel(diameter_mm=diameter):
            key = f"barrel{number_text(diameter)}"
        case Bayonet(name=name):
            key = f"bayonet:{name.casefold()}"
        case BoltPattern(name=name, circle_mm=circle):
            return f"bolts:{name.casefold()}@{'?' if circle is None else number_text(circle)}"
        case Dovetail(width_mm=width):
            return f"dovetail{number_text(width)}"
    if not with_gender:
        return key
    return f"{key}:{connection.gender[0] if connection.gender else '?'}"
