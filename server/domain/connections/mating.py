"""Do two connections mate? One verdict per joint, with a sentence and the reason."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Literal

from server.domain.connections.kinds import (
    Barrel,
    Bayonet,
    BoltPattern,
    Connection,
    Dovetail,
    InchThread,
    MetricThread,
    gender_of,
    thread_length_of,
)
from server.domain.connections.printing import MM_PER_INCH, barrel_size_text, number_text, size_text
from server.domain.findings import Amount
from server.domain.said import Quantity, Said, said

Verdict = Literal["mates", "watch", "wrong_gender", "wrong_size", "wrong_kind", "unknown"]

TURNS_FOR_STIFFNESS = 3.0
"""Threads engage by at least three turns to be rigid (common practice, no source)."""

DOVETAIL_TOLERANCE_MM = 1.5
"""Bars of one class differ by about this in width; the clamp takes it up (common practice, no source)."""


@dataclass(frozen=True)
class Mating:
    """What becomes of a joint.

    Attributes:
        verdict: "mates"; "watch" (holds, with a caution); "wrong_gender", "wrong_size" or "wrong_kind"
            (cannot be put together without an adapter); "unknown" (data is missing).
        says: what is so, and the next step; why: the rule behind it.
    """

    verdict: Verdict
    says: Said
    why: Said

    @property
    def holds(self) -> bool:
        """True where the two can be put together: the verdict is "mates" or "watch"."""
        return self.verdict in ("mates", "watch")

    @property
    def in_a_word(self) -> str:
        """What to choose a word by: the verdict, or "wrong_pitch" where the diameters are equal."""
        return "wrong_pitch" if self.says.key in _OF_PITCH else self.verdict


_OF_PITCH = ("mating.m42", "mating.m48", "mating.pitches", "mating.inches")


@lru_cache(2048)  # When one part is moved, most joints stay as they were.
def mate(camera_side: Connection | None, sky_side: Connection | None) -> Mating:
    """Return whether two connections at one joint mate.

    Args:
        camera_side: the connection at the camera side of the part nearer the sky; None if not entered.
        sky_side: the connection at the sky side of the part nearer the camera; None if not entered.
    """
    if camera_side is None or sky_side is None:
        return _missing(camera_side, sky_side)
    if camera_side.type != sky_side.type:
        facts = {"upper": size_text(camera_side), "lower": size_text(sky_side)}
        return _mating(
            "wrong_kind", "kinds", "one_kind", **facts, upper_kind=camera_side.type, lower_kind=sky_side.type
        )
    fit = _size_or_none(camera_side, sky_side)
    if fit is not None:
        return fit
    if isinstance(camera_side, BoltPattern | Dovetail):
        return _genderless(camera_side)
    return _by_gender(camera_side, sky_side)


def _mating(verdict: Verdict, key: str, why: str, **facts: Any) -> Mating:
    return Mating(verdict, said(f"mating.{key}", **facts), said(f"mating.why.{why}", **facts))


def _mm(value: float, digits: int | None = None) -> Amount:
    return Amount(value=value, dimension="length", digits=digits)


def _missing(camera_side: Connection | None, sky_side: Connection | None) -> Mating:
    upper, lower = camera_side is None, sky_side is None
    return _mating("unknown", "missing", "both", upper=upper, lower=lower)


def _size_or_none(a: Connection, b: Connection) -> Mating | None:
    """Return why two connections of one kind differ in size or name, or None where they are the same."""
    match a, b:
        case MetricThread(), MetricThread():
            return _metric_sizes(a, b)
        case InchThread(), InchThread():
            return _inch_sizes(a, b)
        case Barrel(), Barrel() if a.diameter_mm != b.diameter_mm:
            sizes = {"upper": barrel_size_text(a.diameter_mm), "lower": barrel_size_text(b.diameter_mm)}
            return _mating("wrong_size", "barrels", "barrels", **sizes)
        case Bayonet(), Bayonet() if a.name.casefold() != b.name.casefold():
            return _mating("wrong_kind", "bayonets", "bayonets", upper=a.name, lower=b.name)
        case BoltPattern(), BoltPattern():
            return _bolt_sizes(a, b)
        case Dovetail(), Dovetail() if abs(a.width_mm - b.width_mm) > DOVETAIL_TOLERANCE_MM:
            widths = {"upper": _mm(a.width_mm), "lower": _mm(b.width_mm)}
            return _mating("wrong_size", "dovetails", "dovetails", **widths)
    return None


def _metric_sizes(a: MetricThread, b: MetricThread) -> Mating | None:
    if a.diameter_mm != b.diameter_mm:
        return _mating("wrong_size", "diameters", "iso", upper=size_text(a), lower=size_text(b))
    if a.pitch_mm is None or b.pitch_mm is None:
        return _mating("unknown", "pitch", "pitch", size=f"M{number_text(a.diameter_mm)}")
    if a.pitch_mm == b.pitch_mm:
        return None
    pitches = {a.pitch_mm, b.pitch_mm}
    if a.diameter_mm == 42.0 and pitches == {0.75, 1.0}:
        return _mating("wrong_size", "m42", "m42")
    if a.diameter_mm == 48.0 and pitches == {0.75, 0.6}:
        return _mating("wrong_size", "m48", "m48")
    return _mating("wrong_size", "pitches", "pitches", upper=size_text(a), lower=size_text(b))


def _inch_sizes(a: InchThread, b: InchThread) -> Mating | None:
    if (a.diameter_in, a.threads_per_inch) == (b.diameter_in, b.threads_per_inch):
        return None
    diameter = a.diameter_in != b.diameter_in
    return _mating("wrong_size", "inches", "asme", upper=size_text(a), lower=size_text(b), diameter=diameter)


def _bolt_sizes(a: BoltPattern, b: BoltPattern) -> Mating | None:
    if a.name.casefold() != b.name.casefold():
        return _mating("wrong_kind", "bolts", "bolts", upper=a.name, lower=b.name)
    if a.circle_mm is None or b.circle_mm is None:
        return _mating("unknown", "circle", "bolts", name=a.name)
    if a.circle_mm != b.circle_mm:
        return _mating("wrong_size", "circles", "bolts", upper=_mm(a.circle_mm), lower=_mm(b.circle_mm))
    return None


def _genderless(a: BoltPattern | Dovetail) -> Mating:
    if isinstance(a, BoltPattern):
        return _mating("mates", "holes_meet", "bolts", size=size_text(a))
    return _mating("mates", "clamped", "dovetails", size=size_text(a))


def _by_gender(a: Connection, b: Connection) -> Mating:
    what = size_text(a)
    upper, lower = gender_of(a), gender_of(b)
    if upper is None or lower is None:
        lacks = "both" if upper is lower else "upper" if upper is None else "lower"
        return _mating("unknown", "gender_unknown", "gender", size=what, lacks=lacks)
    if upper == lower:
        return _mating("wrong_gender", "same_gender", "changer", size=what, gender=upper)
    if isinstance(a, Barrel):
        return _mating("watch", "push_fit", "push_fit", size=what)
    male, female = (a, b) if upper == "male" else (b, a)
    return _engagement(male, female) or _mating("mates", "mates", "same", size=what)


def _engagement(male: Connection, female: Connection) -> Mating | None:
    """Return a caution about how far a known thread reaches into a known depth, None where there is none."""
    pitch_mm = None
    if isinstance(male, MetricThread):
        pitch_mm = male.pitch_mm
    elif isinstance(male, InchThread):
        pitch_mm = MM_PER_INCH / male.threads_per_inch
    length_mm, depth_mm = thread_length_of(male), thread_length_of(female)
    if pitch_mm is None:
        return None
    if length_mm is not None and depth_mm is not None and length_mm > depth_mm:
        long, deep, gap = _mm(length_mm), _mm(depth_mm), _mm(length_mm - depth_mm)
        return _mating(
            "watch", "long_thread", "shoulders", size=size_text(male), long=long, deep=deep, gap=gap
        )
    known = [reach for reach in (length_mm, depth_mm) if reach is not None]
    if known and min(known) < TURNS_FOR_STIFFNESS * pitch_mm:
        turns = Quantity(min(known) / pitch_mm, "", digits=1)
        return _mating("watch", "few_turns", "turns", size=size_text(male), turns=turns)
    return None
