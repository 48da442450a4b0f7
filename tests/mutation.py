"""`python -m tests.mutation server/optics ...`: small faults put into the app, which the tests must find.

Each fault stands alone in a copy of this clone, and the tests of its module are run. What survives is
printed: a gap in the tests, or a change that changes nothing. No part of what a change must pass. Needs the
extra `mutation` (cosmic-ray, whose operators make the faults).
"""

from __future__ import annotations

import argparse
import os
import random
import shlex
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

from cosmic_ray.ast import ast_nodes, get_ast_from_path
from cosmic_ray.mutating import mutate_and_test
from cosmic_ray.plugins import get_operator, operator_names
from cosmic_ray.work_item import MutationSpec, TestOutcome

ROOT = Path(__file__).resolve().parents[1]
TIMES_THE_USUAL = 4.0
"""A fault that makes the tests last so many times as long, and `START_S` more, counts as found."""
START_S = 15.0

# Types are written with |; what stands above a function is a framework's or the cache's; and numbers with a
# point have no bits, so that every test would find these.
NO_FAULTS = ("core/ReplaceBinaryOperator_BitOr", "core/RemoveDecorator")
NO_ENDS = ("_BitOr", "_BitAnd", "_BitXor", "_LShift", "_RShift")


def faults_in(module: Path) -> Iterator[MutationSpec]:
    """Every fault that an operator without arguments can make in a module."""
    tree = get_ast_from_path(module)
    for name in sorted(operator_names()):
        kind = get_operator(name)
        if name.startswith(NO_FAULTS) or name.endswith(NO_ENDS) or kind.arguments():
            continue
        places = (place for node in ast_nodes(tree) for place in kind().mutation_positions(node))
        for occurrence, (start, end) in enumerate(places):
            yield MutationSpec(str(module), name, occurrence, start, end)


def tests_of(module: Path) -> list[list[str]]:
    """The test files that import a module or bear its name, and then the folder that mirrors its own."""
    dotted = ".".join(module.with_suffix("").parts)
    near = [
        path.as_posix()
        for path in sorted(Path("tests").rglob("test_*.py"))
        if path.parts[1] not in ("bench", "browser")
        and (
            path.stem == f"test_{module.stem}" or f"from {dotted} import" in path.read_text(encoding="utf-8")
        )
    ]
    return [tests for tests in (near, [Path("tests", *module.parts[1:-1]).as_posix()]) if tests]


def command_for(tests: list[str]) -> str:
    """Runs tests until the first fails."""
    usual = (sys.executable, "-m", "pytest", "-q", "-x", "-p", "no:cacheprovider", "-p", "no:xdist")
    return shlex.join([*usual, *tests])


def usual_time_s(command: str) -> float:
    """How long the tests last without a fault. Raises CalledProcessError where they fail."""
    begun = time.monotonic()
    subprocess.run(shlex.split(command), check=True, stdout=subprocess.DEVNULL)
    return time.monotonic() - begun


def main() -> int:
    """Runs a sample of faults and prints the survivors. Gives the exit status, 0 where none survived."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutation")
    parser.add_argument("paths", nargs="+", help="modules or folders of the app")
    parser.add_argument("--sample", type=int, default=300, help="how many faults (300)")
    parser.add_argument("--seed", type=int, default=1, help="another number, another sample (1)")
    asked = parser.parse_args()
    with TemporaryDirectory(prefix="mutation-") as scratch:
        copy = Path(scratch) / "copy"
        shutil.copytree(
            ROOT, copy, ignore=shutil.ignore_patterns(".*_cache", ".git", ".hypothesis", ".venv", "dist")
        )
        os.chdir(copy)
        os.environ["PYTHONPATH"] = str(copy)
        named = [Path(path) for path in asked.paths]
        modules = sorted({m for path in named for m in (path.rglob("*.py") if path.is_dir() else [path])})
        faults = [fault for module in modules for fault in faults_in(module)]
        chosen = random.Random(asked.seed).sample(faults, min(asked.sample, len(faults)))
        chosen.sort(key=lambda fault: (fault.module_path, fault.start_pos))
        usual: dict[str, float] = {}
        survived = 0
        for number, fault in enumerate(chosen, start=1):
            for command in map(command_for, tests_of(fault.module_path)):
                if command not in usual:
                    usual[command] = usual_time_s(command)
                result = mutate_and_test([fault], command, TIMES_THE_USUAL * usual[command] + START_S)
                lived = result.test_outcome is not TestOutcome.KILLED
                if not lived:
                    break
            survived += lived
            where = f"{fault.module_path}:{fault.start_pos[0]} {fault.operator_name}"
            print(f"{number}/{len(chosen)} {'SURVIVED' if lived else 'found'} {where}", flush=True)
            if lived:
                changed = (line for line in (result.diff or result.output).splitlines() if line[:1] in "+-")
                print("\n".join(line for line in changed if line[:3] not in ("---", "+++")), flush=True)
    print(f"{survived} of {len(chosen)} survived, of {len(faults)} that could be made.")
    return 1 if survived else 0


if __name__ == "__main__":
    sys.exit(main())
