"""`python -m server` is the same as `trainwright`; without a command it serves."""

from __future__ import annotations

import sys

from server.cli import main

if __name__ == "__main__":
    main(sys.argv[1:] or ["serve"])
