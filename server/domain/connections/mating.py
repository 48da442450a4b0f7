"""Do two connections mate? One verdict per joint, with a sentence and the reason."""

from __future__ import annotations

from typing import Literal

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
from server.domain.measure import Frozen

Verdict = Literal["mates", "watch", "wrong_gender", "wrong_size", "wrong_kind", "unknown"]

TURNS_FOR_STIFFNESS = 3.0
"""Threads engage by at least three turns to be rigid (common practice, no source)."""

DOVETAIL_TOLERANCE_MM = 1.5
"""Bars of one class differ by about this in width; the clamp takes it up (common practice, no source)."""

_KIND_WORDS = {
    "metric_thread": "a metric thread",
    "inch_thread": "an inch thread",
    "barrel": "a push-fit barrel",
    "bayonet": "a bayonet",
    "bolts": "a bolt pattern",
    "dovetail": "a dovetail",
}


class Mating(Frozen):
    """What becomes of a joint.

    Attributes:
        verdict: "mates"; "watch" (holds, with a caution); "wrong_gender", "wrong_size" or "wrong_kind"
            (cannot be put together without an adapter); "unknown" (data is missing).
        sentence: what is so, and the next step.
        why: the rule behind it.
    """

    verdict: Verdict
    sentence: str
    why: str

    @property
    def holds(self) -> bool:
        """True where the two can be put together: the verdict is "mates" or "watch"."""
        return self.verdict in ("mates", "watch")


def mate(camera_side: Connection | None, sky_side: Connection | None) -> Mating:
    """Return whether two connections at one joint mate.

    Args:
        camera_side: the connection at the camera side of the part nearer the sky; None if not entered.
        sky_side: the connection at the sky side of the part nearer the camera; None if not entered.
    """
    if camera_side is None or sky_side is None:
        return _missing(camera_side, sky_side)
    if camera_side.type != sky_side.type:
        kinds = f"{_KIND_WORDS[camera_side.type]} and {_KIND_WORDS[sky_side.type]}"
        return Mating(
            verdict="wrong_kind",
            sentence=(
                f"{size_text(camera_side)} and {size_text(sky_side)} do not mate: "
                f"{kinds} need an adapter between."
            ),
            why="Only connections of one kind mate.",
        )
    fit = _size_or_none(camera_side, sky_side)
    if fit is not None:
        return fit
    if isinstance(camera_side, BoltPattern | Dovetail):
        return _genderless(camera_side)
    return _by_gender(camera_side, sky_side)


def _missing(camera_side: Connection | None, sky_side: Connection | None) -> Mating:
    if camera_side is None and sky_side is None:
        sentence = "Neither connection of this joint is known: enter both, each on its part."
    elif camera_side is None:
        sentence = (
            "The camera-side connection of the part nearer the sky is not known: enter it on that part."
        )
    else:
        sentence = (
            "The sky-side connection of the part nearer the camera is not known: enter it on that part."
        )
    return Mating(verdict="unknown", sentence=sentence, why="A joint is judged from both of its connections.")


def _size_or_none(a: Connection, b: Connection) -> Mating | None:
    """Return why two connections of one kind differ in size or name, or None where they are the same."""
    match a, b:
        case MetricThread(), MetricThread():
            return _metric_sizes(a, b)
        case InchThread(), InchThread():
            return _inch_sizes(a, b)
        case Barrel(), Barrel() if a.diameter_mm != b.diameter_mm:
            sizes = f"{barrel_size_text(a.diameter_mm)} and {barrel_size_text(b.diameter_mm)}"
            return Mating(
                verdict="wrong_size",
                sentence=f"Barrels of {sizes} do not fit each other: a reducing sleeve is needed.",
                why="A push-fit barrel holds only in a holder of its own diameter.",
            )
        case Bayonet(), Bayonet() if a.name.casefold() != b.name.casefold():
            return Mating(
                verdict="wrong_kind",
                sentence=f"A {a.name} bayonet does not lock into a {b.name} bayonet: an adapter is needed.",
                why="Bayonets mate by name; each has its own claws and flange distance.",
            )
        case BoltPattern(), BoltPattern():
            return _bolt_sizes(a, b)
        case Dovetail(), Dovetail() if abs(a.width_mm - b.width_mm) > DOVETAIL_TOLERANCE_MM:
            widths = f"{number_text(a.width_mm)} mm and {number_text(b.width_mm)} mm"
            return Mating(
                verdict="wrong_size",
                sentence=f"Dovetails of {widths} do not fit each other: change the bar or the clamp.",
                why="A dovetail's clamp takes bars of its own width (common practice, no source).",
            )
    return None


def _metric_sizes(a: MetricThread, b: MetricThread) -> Mating | None:
    if a.diameter_mm != b.diameter_mm:
        return Mating(
            verdict="wrong_size",
            sentence=f"{size_text(a)} and {size_text(b)} differ in diameter: a thread adapter is needed.",
            why="Threads mate only at equal diameter and pitch (ISO 68-1 profile, ISO 965-1 designation).",
        )
    diameter = number_text(a.diameter_mm)
    if a.pitch_mm is None or b.pitch_mm is None:
        return Mating(
            verdict="unknown",
            sentence=f"Both are M{diameter}, and a pitch is not known: enter it, such as M{diameter}x1.",
            why="Equal diameter with another pitch never mates, so the pitch decides.",
        )
    if a.pitch_mm == b.pitch_mm:
        return None
    pitches = {a.pitch_mm, b.pitch_mm}
    sentence = f"{size_text(a)} and {size_text(b)} have the same diameter and another pitch: they never mate."
    why = "Equal diameter with another pitch never mates (ISO 68-1 profile, ISO 965-1 designation)."
    if a.diameter_mm == 42.0 and pitches == {0.75, 1.0}:
        sentence = (
            "M42x0.75 and M42x1 look alike: they start, jam after about a turn and damage the thread. "
            "Do not force them; a thread adapter is needed."
        )
        why += " Mistaking these two is the trade's usual accident (common practice, no source)."
    elif a.diameter_mm == 48.0 and pitches == {0.75, 0.6}:
        sentence = (
            "M48x0.75 and M48x0.6 look alike: both are sold as 48 mm filter threads, and they jam. "
            "Check the pitch of both; a thread adapter is needed."
        )
        why += " Both pitches are met on 48 mm filter cells (common practice, no source)."
    return Mating(verdict="wrong_size", sentence=sentence, why=why)


def _inch_sizes(a: InchThread, b: InchThread) -> Mating | None:
    if (a.diameter_in, a.threads_per_inch) == (b.diameter_in, b.threads_per_inch):
        return None
    what = "diameter" if a.diameter_in != b.diameter_in else "number of threads per inch"
    return Mating(
        verdict="wrong_size",
        sentence=f"{size_text(a)} and {size_text(b)} differ in {what}: a thread adapter is needed.",
        why="Threads mate only at equal diameter and equal threads per inch (ASME B1.1).",
    )


def _bolt_sizes(a: BoltPattern, b: BoltPattern) -> Mating | None:
    if a.name.casefold() != b.name.casefold():
        return Mating(
            verdict="wrong_kind",
            sentence=f"Bolt patterns {a.name} and {b.name} are not the same: an adapter plate is needed.",
            why="Bolt patterns mate by equal name and circle.",
        )
    if a.circle_mm is None or b.circle_mm is None:
        return Mating(
            verdict="unknown",
            sentence=f"Both are {a.name}, and a bolt circle is not known: "
            f"enter it, such as bolts {a.name} on 62 mm.",
            why="Bolt patterns mate by equal name and circle.",
        )
    if a.circle_mm != b.circle_mm:
        circles = f"{number_text(a.circle_mm)} mm and {number_text(b.circle_mm)} mm"
        return Mating(
            verdict="wrong_size",
            sentence=f"The bolt circles measure {circles}: an adapter plate is needed.",
            why="Bolt patterns mate by equal name and circle.",
        )
    return None


def _genderless(a: BoltPattern | Dovetail) -> Mating:
    if isinstance(a, BoltPattern):
        sentence = f"{size_text(a)}: the holes meet."
        return Mating(verdict="mates", sentence=sentence, why="Bolt patterns mate by equal name and circle.")
    return Mating(
        verdict="mates",
        sentence=f"The {size_text(a)} fits its clamp; it carries the tube and is not on the optical path.",
        why="A dovetail's clamp takes bars of its own width (common practice, no source).",
    )


def _by_gender(a: Connection, b: Connection) -> Mating:
    what = size_text(a)
    genders = (gender_of(a), gender_of(b))
    if None in genders:
        which = {
            (True, True): "neither side's gender is known: enter male or female on both parts",
            (True, False): "the gender on the part nearer the sky is not known: enter male or female there",
            (
                False,
                True,
            ): "the gender on the part nearer the camera is not known: enter male or female there",
        }[genders[0] is None, genders[1] is None]
        return Mating(
            verdict="unknown", sentence=f"Both are {what}, and {which}.", why="Male mates with female."
        )
    if genders[0] == genders[1]:
        return Mating(
            verdict="wrong_gender",
            sentence=f"Both sides are {what} {genders[0]}: this joint needs a gender changer.",
            why=f"Male mates with female; two of one gender need a gender changer ({what}, "
            f"{'female' if genders[0] == 'male' else 'male'} on both sides).",
        )
    if isinstance(a, Barrel):
        return Mating(
            verdict="watch",
            sentence=f"{what}: push-fit. It holds by a screw or collet and need not sit square; "
            "for imaging prefer a thread.",
            why="A push-fit joint is not stiff and can tilt the sensor (common practice, no source).",
        )
    male, female = (a, b) if genders[0] == "male" else (b, a)
    return _engagement(male, female) or Mating(
        verdict="mates",
        sentence=f"{what}: male into female, it mates.",
        why="The same thread or bayonet, one male and one female.",
    )


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
        gap = number_text(round(length_mm - depth_mm, 4))
        return Mating(
            verdict="watch",
            sentence=f"{size_text(male)} mates, but the male thread ({number_text(length_mm)} mm) is longer "
            f"than the female is deep ({number_text(depth_mm)} mm): if it meets a bottom, the shoulders stay "
            f"up to {gap} mm apart.",
            why="An optical length counts from shoulder to shoulder, screwed home.",
        )
    known = [reach for reach in (length_mm, depth_mm) if reach is not None]
    if known and min(known) < TURNS_FOR_STIFFNESS * pitch_mm:
        turns = min(known) / pitch_mm
        return Mating(
            verdict="watch",
            sentence=f"{size_text(male)} mates, but only {turns:.1f} turns engage; "
            "three or more hold it stiff.",
            why="Threads engage by at least three turns to be rigid (common practice, no source).",
        )
    return None
