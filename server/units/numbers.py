"""Digits as people type them -> an exact number, or a sentence about why not.

Numbers are exact fractions until the end, so that what comes out is the float nearest to what was typed,
whatever the unit.
"""

from __future__ import annotations

import re
from fractions import Fraction


class QuantityError(ValueError):
    """The text cannot be taken; `message` is a sentence for the person who typed it."""

    def __init__(self, message: str) -> None:
        super().__init__(message)
        self.message = message


_VULGAR = {
    "½": "1/2",
    "⅓": "1/3",
    "⅔": "2/3",
    "¼": "1/4",
    "¾": "3/4",
    "⅛": "1/8",
    "⅜": "3/8",
    "⅝": "5/8",
    "⅞": "7/8",
}
# The quotes, primes, dashes, spaces and look-alikes that keyboards put in place of the plain ones.
_PLAIN = str.maketrans(
    {
        **dict.fromkeys("\u2033\u201c\u201d\u201f", '"'),
        **dict.fromkeys("\u2032\u2018\u2019\u00b4`", "'"),
        **dict.fromkeys("\u2010\u2011\u2012\u2013\u2014\u2212\ufe63\uff0d", "-"),
        **dict.fromkeys(
            "\u00a0\u2000\u2001\u2002\u2003\u2004\u2005\u2006\u2007\u2008\u2009\u200a\u202f", " "
        ),
        **dict.fromkeys("\u200b\ufeff\u2060", None),
        **{vulgar: f" {plain}" for vulgar, plain in _VULGAR.items()},
        "\u2044": "/",
        "\u2215": "/",
        "\u00b5": "u",
        "\u03bc": "u",
        "\u00ba": "°",
        "\u2103": "°C",
        "\u2109": "°F",
        "\u212b": "Å",
        "\u00d7": "x",
        "\uff0b": "+",
    }
)
_GROUPING_SPACE = re.compile("(?<=[0-9])[\u00a0\u2007\u2009\u202f](?=[0-9]{3}(?![0-9]))")
_DIGITS = r"(?:[0-9][0-9.,]*|[.,][0-9]+)"
UNSIGNED = rf"(?:[0-9]+[ -][0-9]+/[0-9]+|[0-9]+/[0-9]+|{_DIGITS}(?:[eE][+-]?[0-9]{{1,3}}(?![0-9]))?)"
NUMBER = rf"[+-]?\s?{UNSIGNED}"
_MIXED = re.compile(r"(?:([0-9]+)[ -])?([0-9]+)/([0-9]+)")
_AMBIGUOUS = re.compile(r"[1-9][0-9]{0,2},[0-9]{3}")
_COMMA_GROUPS = re.compile(r"[0-9]{1,3}(?:,[0-9]{3})+(?:\.[0-9]*)?")
_DOT_GROUPS = re.compile(r"[0-9]{1,3}(?:(?:\.[0-9]{3})+,[0-9]*|(?:\.[0-9]{3}){2,})")
_DOT_DECIMAL = re.compile(r"[0-9]*\.?[0-9]*")
_COMMA_DECIMAL = re.compile(r"[0-9]*,[0-9]+")


def plain_text(text: str) -> str:
    """Return `text` with plain quotes, dashes and single spaces; no thin spaces between groups of three."""
    plain = _GROUPING_SPACE.sub("", text).translate(_PLAIN).replace("''", '"')
    plain = re.sub(r"\+\s?/?\s?-", "±", plain)
    return " ".join(plain.split())


def number(token: str, typed: str, example: str, whole: bool = False) -> Fraction:
    """Return the exact number that `token` writes.

    Args:
        token: one number, matched by `NUMBER`.
        typed: the whole text, for the sentence of an error.
        example: how to type it, for the same.
        whole: the field takes whole numbers, so that "1,234" can only be one thousand and so on.

    Raises:
        QuantityError: where the digits are no number, or could be two.
    """
    sign = -1 if token.startswith("-") else 1
    body = token.lstrip("+- ")
    mixed = _MIXED.fullmatch(body)
    if mixed is not None:
        return sign * _mixed(mixed, typed, example)
    digits, _, exponent = body.replace("E", "e").partition("e")
    if _AMBIGUOUS.fullmatch(digits):
        if not whole:
            decimal, thousands = digits.replace(",", "."), digits.replace(",", "")
            raise QuantityError(
                f"“{typed}” can be read two ways: is it {decimal} or {thousands}? "
                f"Type {decimal} or {thousands}."
            )
        digits = digits.replace(",", "")
    elif _COMMA_GROUPS.fullmatch(digits) and not digits.startswith("0"):
        digits = digits.replace(",", "")
    elif _DOT_GROUPS.fullmatch(digits) and not digits.startswith("0"):
        digits = digits.replace(".", "").replace(",", ".")
    elif _COMMA_DECIMAL.fullmatch(digits):
        digits = digits.replace(",", ".")
    elif not _DOT_DECIMAL.fullmatch(digits):
        raise QuantityError(f"“{typed}” holds “{digits}”, which is not a number. Type it like {example}.")
    return sign * Fraction(digits.rstrip(".") + (f"e{exponent}" if exponent else ""))


def _mixed(found: re.Match[str], typed: str, example: str) -> Fraction:
    above, below = int(found[2]), int(found[3])
    if below == 0 or (found[1] is not None and above >= below):
        raise QuantityError(f"“{typed}” holds “{found[0]}”, which is not a fraction. Type it like {example}.")
    return int(found[1] or 0) + Fraction(above, below)
