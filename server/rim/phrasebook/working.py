"""How a finding's number was worked out: the formula in plain notation, and where it was published."""

from __future__ import annotations

from typing import NamedTuple

COMMON_PRACTICE = "Common practice, no source."


class Working(NamedTuple):
    """A formula, and where it or the rule was published, or "common practice, no source"."""

    formula: str = ""
    source: str = ""
