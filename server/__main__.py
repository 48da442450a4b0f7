"""`python -m server` is `trainwright serve`, with the same options; any other command may be named, too."""

from __future__ import annotations

import sys

from server.cli import main


def arguments_of(given: list[str]) -> list[str]:
    """What the command line gets: `serve` is put before options of its own, and stands for nothing at all."""
    if not given or (given[0].startswith("-") and given[0] != "--help"):
        return ["serve", *given]
    return given


if __name__ == "__main__":
    main(arguments_of(sys.argv[1:]))
