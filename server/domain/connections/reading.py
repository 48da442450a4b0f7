"""Read a connection from what people type; refuse, with a sentence, what cannot be sure."""

from __future__ import annotations

import re
from fractions import Fraction
from typing import NoReturn

from pydantic import ValidationError

from server.domain.connections.kinds import (
    GENDER_WORDS,
    Barrel,
    Bayonet,
    BoltPattern,
    Connection,
    Dovetail,
    Gender,
    InchThread,
    MetricThread,
)
from server.domain.connections.printing import MM_PER_INCH
from server.domain.errors import TrainwrightError
from server.domain.refusals import sentence_of

TEXT_MAXIMUM = 80
EXAMPLES = (
    'M42x0.75 male, 2"-24 female, 2 in barrel male, bayonet Alpine female, '
    "bolts Hex6 on 62 mm or dovetail 44 mm"
)

DOVETAIL_WORDS = {"narrow": 44.0, "wide": 75.0}
"""The two usual dovetail widths in mm (common practice, no source)."""

_T_THREAD = {"t2", "t-2", "t 2", "t thread", "t-thread", "t2 thread", "t mount", "t-mount", "t2 mount"}
_SCT = {"sct", "sct rear", "sct thread", "sct rear thread"}
_C_MOUNT = {"c mount", "c-mount", "c thread", "cs mount", "cs-mount", "cs thread"}
_BARREL_WORDS: dict[str, Gender | None] = {
    "barrel": None,
    "push-fit": None,
    "push fit": None,
    "nosepiece": "male",
    "nose piece": "male",
    "holder": "female",
    "eyepiece holder": "female",
    "socket": "female",
    "eyepiece socket": "female",
    "receiver": "female",
    "focuser": "female",
    "drawtube": "female",
}

# The dashes, primes and spaces that keyboards and word processors put in place of the plain ones.
_PLAIN = str.maketrans(
    {
        "\u2033": '"',
        "\u201c": '"',
        "\u201d": '"',
        "\u201f": '"',
        "\u2032": "'",
        "\u2019": "'",
        "\u00d7": "x",
        "\u2715": "x",
        "\u2010": "-",
        "\u2011": "-",
        "\u2012": "-",
        "\u2013": "-",
        "\u2014": "-",
        "\u2212": "-",
        "\u00a0": " ",
        "\u2009": " ",
        "\u202f": " ",
    }
)

_NUMBER = r"(?:[0-9]{1,5}(?:\.[0-9]{1,8})?|\.[0-9]{1,8})"
_INCHES = rf"(?:{_NUMBER}|(?:[0-9]{{1,2}}[ -])?[0-9]{{1,2}}/[0-9]{{1,2}})"
_INCH_MARK = r"(?:\"|''|in\b\.?|inch(?:es)?\b)"
_DECIMAL_COMMA = re.compile(r"(?<=[0-9]),(?=[0-9])")
_LENGTH = re.compile(
    rf"[\s,]+(?:(?P<a>{_NUMBER})\s*mm\s+(?:deep|long|depth|length|thread)"
    rf"|(?:thread|depth|length)\s+(?P<b>{_NUMBER})\s*mm)$"
)
_GENDER_FIRST = re.compile(r"(?P<word>male|female|external|internal|outer|inner)[\s,]+(?=\S)")
_GENDER = re.compile(r"(?:[\s,]+|(?<=[0-9\"]))\(?(?P<word>[a-z]+)\)?$")
_METRIC = re.compile(rf"m\s*(?P<diameter>{_NUMBER})(?:\s*(?:x|\*|by)\s*(?P<pitch>{_NUMBER})(?:\s*mm)?)?")
_INCH_THREAD = re.compile(
    rf"(?P<inches>{_INCHES})\s*(?P<mark>{_INCH_MARK})?\s*(?:-|x|by)\s*"
    rf"(?P<threads>{_NUMBER})(?:\s*(?:tpi|threads per inch|un[cfs]?))?"
)
_BARREL = re.compile(rf"(?P<size>{_INCHES})\s*(?P<unit>{_INCH_MARK}|mm\b)[\s,]*(?P<word>[a-z][a-z -]*)")
_BAYONET = re.compile(r"bayonet\s+(?P<name>.+)", re.IGNORECASE)
_BAYONET_LAST = re.compile(r"(?P<name>.+?)\s+bayonet", re.IGNORECASE)
_BOLTS = re.compile(
    rf"bolts?\s+(?:pattern\s+(?!(?:on|circle)\s))?(?P<name>.+?)(?:\s+(?:on|circle)\s+(?P<circle>{_NUMBER})\s*mm(?:\s+circle)?)?",
    re.IGNORECASE,
)
_DOVETAIL = re.compile(rf"dovetail[\s,]+(?P<a>{_NUMBER})\s*mm|(?P<b>{_NUMBER})\s*mm\s+dovetail")
_DOVETAIL_WORD = re.compile(r"(?P<a>narrow|wide)\s+dovetail|dovetail[\s,]+(?P<b>narrow|wide)")


class ConnectionTextError(TrainwrightError, ValueError):
    """The text is not sure to be one connection; the message says what was typed, why not, and an example."""

    message: str


def read_connection(text: str) -> Connection:
    """Return the connection that `text` writes, as the trade writes it ("M48×0.75 (female), 5 mm deep").

    A gender, pitch, bolt circle or length that is not written stays None: nothing is guessed.

    Raises:
        ConnectionTextError: where the text is empty, over 80 characters, or not sure to mean one connection.
    """
    if len(text) > TEXT_MAXIMUM:
        raise ConnectionTextError(
            f"A connection is written in at most {TEXT_MAXIMUM} characters, this text has {len(text)}. "
            "Type it like M42x0.75 male."
        )
    typed = " ".join(text.translate(_PLAIN).split())
    if typed.endswith(".") and not re.search("bayonet|bolt", typed, re.IGNORECASE):
        # The end of a sentence; only a name may end so itself.
        typed = typed.rstrip(". ")
    if not typed:
        raise ConnectionTextError(f"No connection was typed. Type it like {EXAMPLES}.")
    try:
        return _read(typed)
    except ValidationError as error:
        first = error.errors()[0]
        field = str(first["loc"][-1]) if first["loc"] else "value"
        what = field.replace("_mm", "").replace("_in", "").replace("_", " ")
        _refuse(typed, f"its {what} cannot be right. {sentence_of(first)}")


def _refuse(typed: str, why: str, example: str = EXAMPLES) -> NoReturn:
    raise ConnectionTextError(f"“{typed}” is not taken: {why.rstrip('.')}. Type it like {example}.")


def _read(typed: str) -> Connection:
    body, length_mm = _split_length(_DECIMAL_COMMA.sub(".", typed))
    body, gender = _split_gender(body)
    low = body.casefold()
    found = _named(body, low) or _thread(low, typed) or _barrel(low, typed, gender)
    if found is None:
        _refuse(typed, _why_not(low))
    if isinstance(found, BoltPattern | Dovetail):
        if gender is not None:
            _refuse(
                typed, "bolt patterns and dovetails have no gender", "bolts Hex6 on 62 mm or dovetail 44 mm"
            )
        if length_mm is not None:
            _refuse(typed, "only threads and barrels have a length", "M48x0.75 female, 5 mm deep")
        return found
    if isinstance(found, Bayonet):
        if length_mm is not None:
            _refuse(typed, "only threads and barrels have a length", "M48x0.75 female, 5 mm deep")
        return Bayonet(name=found.name, gender=gender)
    if isinstance(found, Barrel):
        return Barrel(diameter_mm=found.diameter_mm, gender=found.gender or gender, thread_mm=length_mm)
    # A copy with `update` is not validated, so the thread is made anew.
    return type(found).model_validate(found.model_dump() | {"gender": gender, "thread_mm": length_mm})


def _split_length(typed: str) -> tuple[str, float | None]:
    found = _LENGTH.search(typed.casefold())
    if found is None:
        return typed, None
    # Casefolding may lengthen odd letters, so the cut is counted from the end, which is plain ASCII.
    return typed[: len(typed) - len(found[0])].rstrip(" ,"), float(found["a"] or found["b"])


def _split_gender(body: str) -> tuple[str, Gender | None]:
    low = body.casefold()
    named = "bayonet" in low or low.startswith("bolt")
    trimmed = low.removesuffix(" thread") if not low.endswith("t thread") else low
    for candidate in (low, trimmed):
        found = _GENDER.search(candidate)
        if found is None or (named and found[0][0] not in " ,"):
            # The last letter of a name such as "Hex6F" is its own, and no gender written close behind a size.
            continue
        if found["word"] in GENDER_WORDS:
            cut = len(found[0]) + len(low) - len(candidate)
            rest, gender = body[: len(body) - cut].rstrip(" ,"), GENDER_WORDS[found["word"]]
            first = _GENDER_FIRST.match(rest.casefold())
            if first is not None and GENDER_WORDS[first["word"]] != gender:
                _refuse(body, f"it says {first['word']} and {found['word']}", "M42x0.75 male")
            return (rest if first is None else rest[first.end() :]), gender
    if first := _GENDER_FIRST.match(low):
        return body[first.end() :], GENDER_WORDS[first["word"]]
    return body, None


def _named(body: str, low: str) -> Connection | None:
    """Return a connection that its name alone tells."""
    if low in _T_THREAD:
        return MetricThread(diameter_mm=42.0, pitch_mm=0.75)  # The "T" thread (common practice, no source).
    if low in _SCT:
        # The thread at the back of Schmidt-Cassegrain tubes (common practice, no source).
        return InchThread(diameter_in=2.0, threads_per_inch=24.0)
    if low in _C_MOUNT:
        return InchThread(diameter_in=1.0, threads_per_inch=32.0)  # 1-32 UN, ASME B1.1 form.
    if word := _DOVETAIL_WORD.fullmatch(low):
        return Dovetail(width_mm=DOVETAIL_WORDS[word["a"] or word["b"]])
    if width := _DOVETAIL.fullmatch(low):
        return Dovetail(width_mm=float(width["a"] or width["b"]))
    if bayonet := _BAYONET.fullmatch(body) or _BAYONET_LAST.fullmatch(body):
        return Bayonet(name=bayonet["name"].strip(" ,"))
    if bolts := _BOLTS.fullmatch(body):
        circle = bolts["circle"]
        return BoltPattern(name=bolts["name"].strip(" ,"), circle_mm=float(circle) if circle else None)
    return None


def _thread(low: str, typed: str) -> MetricThread | InchThread | None:
    if metric := _METRIC.fullmatch(low):
        pitch = metric["pitch"]
        return MetricThread(diameter_mm=float(metric["diameter"]), pitch_mm=float(pitch) if pitch else None)
    if inch := _INCH_THREAD.fullmatch(low):
        if inch["mark"] is None and "/" not in inch["inches"]:
            suggestion = f'{inch["inches"]}"-{inch["threads"]}'
            _refuse(typed, "without an inch mark it is not sure to be an inch thread", suggestion)
        inches = _inches(inch["inches"], typed)
        return InchThread(diameter_in=inches, threads_per_inch=float(inch["threads"]))
    return None


def _barrel(low: str, typed: str, gender: Gender | None) -> Barrel | None:
    found = _BARREL.fullmatch(low)
    if found is None or found["word"].strip() not in _BARREL_WORDS:
        return None
    told = _BARREL_WORDS[found["word"].strip()]
    if told is not None and gender is not None and told != gender:
        _refuse(
            typed, f"a {found['word'].strip()} is {told}, and {gender} is written as well", "2 in barrel male"
        )
    if found["unit"] == "mm":
        if "/" in found["size"]:
            _refuse(typed, "a fraction goes with inches", "1 1/4 in barrel male")
        diameter_mm = float(found["size"])
    else:
        diameter_mm = _inches(found["size"], typed) * MM_PER_INCH  # NIST SP 811 (2008), appendix B.8.
    return Barrel(diameter_mm=diameter_mm, gender=told or gender)


def _inches(size: str, typed: str) -> float:
    """Return inches from "2", "3.25", "1/4" or "1 1/4"."""
    total = Fraction(0)
    for piece in re.split(r"[ -]", size):
        if piece.endswith(("/0", "/00")):
            _refuse(typed, "a fraction cannot have 0 below its line", '1/4"-20 female')
        total += Fraction(piece)
    return float(total)


def _why_not(low: str) -> str:
    if re.fullmatch(rf"{_INCHES}\s*{_INCH_MARK}", low):
        return "a size in inches may be a barrel or a thread: say which"
    if re.fullmatch(rf"{_NUMBER}(?:\s*mm)?", low):
        return "a bare size may be a thread, a barrel or a dovetail: say which"
    if low.startswith("m") and low[1:2].isdigit():
        return "a metric thread is M, its diameter, x and its pitch"
    if "bayonet" in low:
        return "a bayonet needs its name"
    if "bolt" in low:
        return "a bolt pattern needs its name and its circle"
    if "dovetail" in low:
        return "a dovetail needs its width in mm, or narrow or wide"
    if any(word in low for word in _BARREL_WORDS):
        return "a barrel needs its size with the unit"
    return "no thread, barrel, bayonet, bolt pattern or dovetail is written like that"
