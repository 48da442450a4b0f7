"""`python -m tests`: lint, format, types, what nothing reads, the import contract and all tests.
What a change must pass.

Arguments are handed to pytest. `--without-browser` leaves out the tests that need Chromium.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

from tests.chromium import what_is_missing

ROOT = Path(__file__).resolve().parents[1]
WITHOUT_BROWSER = "--without-browser"

CHECKS = (
    ("lint", ("-m", "ruff", "check", ".")),
    ("format", ("-m", "ruff", "format", "--check", ".")),
    ("types", ("-m", "mypy")),
    ("what nothing reads", ("-m", "tests.unused")),
    ("import contract", ("-c", "from importlinter.cli import lint_imports_command as run; run()")),
)


def run(name: str, arguments: tuple[str, ...], environment: dict[str, str]) -> bool:
    """Runs one check with this Python and says how it went and how long it took."""
    print(f"== {name}", flush=True)
    begun = time.monotonic()
    process = subprocess.run([sys.executable, *arguments], cwd=ROOT, env=environment, check=False)
    word = "FAILED" if process.returncode else "passed"
    print(f"== {name}: {word} in {time.monotonic() - begun:.0f} s", flush=True)
    return process.returncode == 0


def main(arguments: list[str]) -> int:
    """Runs everything, also after a failure, so that one run tells all. Gives the exit status."""
    environment = dict(os.environ)
    with_browser = WITHOUT_BROWSER not in arguments
    own = [argument for argument in arguments if argument != WITHOUT_BROWSER]
    if with_browser and (missing := what_is_missing()):
        print("\n".join(missing))
        print(f"Or run all the others with: python -m tests {WITHOUT_BROWSER}")
        return 2
    if with_browser and not own:
        environment["TRAINWRIGHT_REQUIRE_BROWSER"] = "1"
    selection = () if with_browser else ("-m", "not browser")
    workers = str(min(os.cpu_count() or 1, 4))
    # A module's tests stay in one process, so that what they share is made once.
    shared = ("-n", workers, "--dist", "loadfile", "--no-loadscope-reorder")
    tests = ("-m", "pytest", *shared, "--durations=25", *selection, *own)
    failed = [name for name, check in (*CHECKS, ("tests", tests)) if not run(name, check, environment)]
    print(f"Failed: {', '.join(failed)}." if failed else "All checks passed.")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
