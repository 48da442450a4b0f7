"""Work on figures that people typed, held apart: what fails takes nothing beside it down."""

from __future__ import annotations

import logging
from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

from server.domain.said import Said, said
from server.out_of_range import OutOfRangeError

log = logging.getLogger(__name__)

BEYOND = "A figure is beyond all that is ever built. Check those of the parts."
OUT_OF_RANGE = (OutOfRangeError, ArithmeticError)
"""What figures can cause: the ground's own refusal, and numbers too large or too small for the machine."""
_Done = TypeVar("_Done")


@dataclass(frozen=True)
class Failed:
    """Work that gave nothing: why, and whether that is this program's own fault."""

    why: Said
    fault: bool = False


def worked(what: Said, work: Callable[[], _Done]) -> _Done | Failed:
    """What `work` gives. `what` it is names a fault, whose trace is logged."""
    try:
        return work()
    except OUT_OF_RANGE as error:
        why = str(error) if isinstance(error, OutOfRangeError) else BEYOND
        return Failed(said("text", text=why))
    except Exception:
        log.exception("a fault in %s", what)
        return Failed(said("fault", what=what), fault=True)


def worked_or_none(what: Said, work: Callable[[], _Done]) -> _Done | None:
    """What `work` gives, None where it fails: for who only draws it, while a check says why."""
    done = worked(what, work)
    return None if isinstance(done, Failed) else done
