"""Values by the hundred: frozen for mypy, and made as quickly as any object."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeVar, dataclass_transform

_Class = TypeVar("_Class")


@dataclass_transform(frozen_default=True)
def frozen(made: type[_Class]) -> type[_Class]:
    """A dataclass that nobody may change once it is made.

    `@dataclass(frozen=True)` sets each field by a call: 1.2 us for five fields instead of 0.3, and one change
    on the bench makes fifteen hundred such objects. Here it is mypy that refuses to set one.
    """
    return dataclass(unsafe_hash=True)(made)
