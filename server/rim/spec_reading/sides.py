"""Two connections of one part in a few words: "M54 male to M48 female"."""

from __future__ import annotations

import re

_HALF = (
    r"(?:M[0-9]+(?:[.,][0-9]+)?(?:\s?[x×]\s?[0-9]+(?:[.,][0-9]+)?)?"
    r"|[0-9.]+\s?(?:inch|in|\"|″|”)\s?(?:barrel|nosepiece))"
    r"(?:\s?\(?\b(?:fe)?male\b\)?|\s?\([mf]\)|\s[mf]\b|\s(?:internal|external)\b)?(?:\sthread\b)?"
)
TWO_SIDES = re.compile(
    rf"(?:\bfrom\s)?(?<![\w.])(?P<one>{_HALF})\s*(?P<between>\b(?:in)?to\b|\band\b|->|→|[-–—/&+])\s*"
    rf"(?P<other>{_HALF})(?![\w.])",
    re.IGNORECASE,
)
_IN_ORDER = ("to", "into", "->", "→")
"""What stands between two connections where the first faces the sky (common practice, no source)."""


def two_sides(text: str) -> tuple[str, str, bool] | None:
    """Return both connections as they are written, and whether the first is said to face the sky."""
    found = TWO_SIDES.fullmatch(text.strip())
    if found is None:
        return None
    return found["one"], found["other"], found["between"].casefold() in _IN_ORDER
