"""`python -m tests.bench`: what the app costs, in one table. Names of benchmarks run only those;
`--quick` runs the short version of those that have one.

Every time stands beside a reference that was measured in the same run, in turn with it, so that a busy
machine slows both. The exit status is 1 where an aim is missed.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

from tests.bench import (
    bridge,
    busy,
    change,
    frames,
    light,
    memory,
    scout,
    scout_optics,
    scout_pass,
    search,
    sky,
    stars,
    start,
)
from tests.bench.measure import Line, machine, table

BENCHMARKS: dict[str, Callable[[Path], list[Line]]] = {
    "change": change.run,
    "search": search.run,
    "light": light.run,
    "stars": stars.run,
    "busy": busy.run,
    "start": start.run,
    "memory": memory.run,
    "bridge": bridge.run,
    "sky": sky.run,
    "scout": scout.run,
    "scout-optics": scout_optics.run,
    "scout-pass": scout_pass.run,
    "frames": frames.run,
}
QUICK: dict[str, Callable[[Path], list[Line]]] = {"bridge": bridge.quick}


def main(names: list[str]) -> int:
    """Runs the benchmarks of these names, all without a name, and prints the table."""
    chosen = {**BENCHMARKS, **(QUICK if "--quick" in names else {})}
    names = [name for name in names if name != "--quick"]
    unknown = [name for name in names if name not in BENCHMARKS]
    if unknown:
        print(f"There is no benchmark {unknown[0]}. There are: {', '.join(BENCHMARKS)}.")
        return 2
    print(f"Before: {machine()}", flush=True)
    lines: list[Line] = []
    for name in names or BENCHMARKS:
        print(f"  running {name} ...", file=sys.stderr, flush=True)
        with tempfile.TemporaryDirectory(prefix="trainwright-bench-") as folder:
            lines += chosen[name](Path(folder))
    print(f"After:  {machine()}\nTimes are medians / 95th percentiles, after a warm-up.\n\n{table(lines)}")
    return 1 if any(line.met is False for line in lines) else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
