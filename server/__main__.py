"""`python -m server` is `trainwright serve`, with the same options; any other command may be named, too."""

from __future__ import annotations

import gc
import os
import signal
import sys
from collections.abc import Sequence
from types import FrameType

from server import INTERRUPTED, STOPPED


def arguments_of(given: list[str]) -> list[str]:
    """What the command line gets: `serve` is put before options of its own, and stands for nothing at all."""
    if not given or (given[0].startswith("-") and given[0] != "--help"):
        return ["serve", *given]
    return given


def _stop_while_loading(number: int, frame: FrameType | None) -> None:  # noqa: ARG001 - what signal asks for
    # Nothing is open yet that would have to be closed, and an exception would end as a page of traceback.
    os.write(2, f"\n{STOPPED}\n".encode())
    os._exit(INTERRUPTED)


def run(arguments: Sequence[str]) -> None:
    """Run the command line. Ctrl-C ends it in one line also while its libraries are being loaded."""
    signal.signal(signal.SIGINT, _stop_while_loading)
    # Nothing of what is loaded is given back: looking for it takes a tenth of a start.
    gc.disable()
    from server.cli import main

    gc.enable()
    signal.signal(signal.SIGINT, signal.default_int_handler)
    main(arguments)


def trainwright() -> None:
    """What the installed command `trainwright` calls."""
    run(sys.argv[1:])


if __name__ == "__main__":
    run(arguments_of(sys.argv[1:]))
