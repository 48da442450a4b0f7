"""Quantities as the domain holds them: a number in a fixed unit, what it may be off by, where it came from.

The unit is not stored: it is the fixed unit of the field (`length_mm`, `mass_kg` ...).
"""

from __future__ import annotations

from math import isfinite
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field, field_validator

Basis = Literal["typed", "measured", "maker", "assumed"]
"""Where a figure came from: typed without saying, measured by the owner, the maker's, or assumed."""

BASIS_WORDS: dict[str, str] = {
    "typed": "typed in",
    "measured": "measured by the owner",
    "maker": "maker's figure",
    "assumed": "assumed",
    "worked out": "worked out",
    "delivered": "as delivered",
    "": "",
}
"""The last two are of inputs only: a rule that nobody has changed, and what is not there to come from."""


LARGEST_TOLERANCE = 1e6
"""In the fixed unit of any field: far beyond every real one, and safe to add up."""


class Frozen(BaseModel):
    """Base of every stored value: immutable, no unknown fields, no number that JSON cannot hold."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class Measure(Frozen):
    """A measured or quoted number.

    Attributes:
        nominal: the value, in the fixed unit of its field; finite.
        plus: how much larger it may be (>= 0), None where nobody said.
        minus: how much smaller it may be (>= 0), None where nobody said.
        basis: where the figure came from; None means the basis of the whole part.
    """

    nominal: float
    plus: float | None = None
    minus: float | None = None
    basis: Basis | None = None

    @field_validator("nominal", "plus", "minus")
    @classmethod
    def _finite(cls, value: float | None) -> float | None:
        if value is not None and not isfinite(value):
            raise ValueError("a quantity must be a finite number")
        return value

    @field_validator("plus", "minus")
    @classmethod
    def _not_negative(cls, value: float | None) -> float | None:
        if value is not None and value < 0:
            raise ValueError("a tolerance is written without its sign: 0.2, not -0.2")
        if value is not None and value > LARGEST_TOLERANCE:
            raise ValueError(f"a tolerance of {value:g} is no tolerance: check the figure")
        return value


class Money(Frozen):
    """A price. `hundredths` of the currency's unit keep it exact."""

    hundredths: int = Field(ge=0, le=10**11)
    currency: str

    @field_validator("currency")
    @classmethod
    def _code(cls, value: str) -> str:
        if len(value) != 3 or not value.isascii() or not value.isupper():
            raise ValueError("a currency is its three-letter code, such as EUR")
        return value


def nominal(measure: Measure | None) -> float | None:
    """Return the number of a measure, or None where it is unknown."""
    return None if measure is None else measure.nominal


def percent(share: float, digits: int = 0) -> str:
    """Return a share as all pages write it: 0.9 as "90 %"."""
    return f"{share * 100.0:.{digits}f} %"
