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
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from cosmic_ray.ast import ast_nodes, get_ast_from_path
from cosmic_ray.mutating import mutate_and_test
from cosmic_ray.plugins import get_operator, operator_names
from cosmic_ray.work_item import MutationSpec, TestOutcome
from coverage import Coverage, CoverageData

ROOT = Path(__file__).resolve().parents[1]
ONE_TEST_S = 20
ALL_TESTS_S = 600.0
"""A fault that makes one test, or all of them, last longer counts as found."""

# Types are written with |; what stands above a function is a framework's or the cache's; numbers with a point
# have no bits, so that every test would find these; and None is equal to itself alone.
NO_FAULTS = ("core/ReplaceBinaryOperator_BitOr", "core/RemoveDecorator")
NO_BITS = ("_BitOr", "_BitAnd", "_BitXor", "_LShift", "_RShift")
NO_CHANGE = ("_Is_Eq", "_IsNot_NotEq", "_Eq_Is", "_NotEq_IsNot")

# A recording of all checks, held against the last one: it lasts longer than a test may, whatever the fault.
NO_JUDGE = "tests/domain/checks/test_reads.py::test_the_file_is_what_a_new_recording_gives"


def faults_in(module: Path) -> Iterator[MutationSpec]:
    """Every fault that an operator without arguments can make in a module."""
    tree = get_ast_from_path(module)
    for name in sorted(operator_names()):
        kind = get_operator(name)
        if name.startswith(NO_FAULTS) or name.endswith(NO_BITS + NO_CHANGE) or kind.arguments():
            continue
        places = (place for node in ast_nodes(tree) for place in kind().mutation_positions(node))
        for occurrence, (start, end) in enumerate(places):
            yield MutationSpec(str(module), name, occurrence, start, end)


def pytest_runtest_setup(item: pytest.Item) -> None:
    """Notes which test runs each line, in the run without faults."""
    if (watching := Coverage.current()) is not None:
        watching.switch_context(item.nodeid)


def command_for(*more: str) -> str:
    """Runs tests until the first fails, without a search for the smallest example that does."""
    usual = ("pytest", "-q", "-x", "-p", "no:cacheprovider", "-p", "no:xdist", f"--timeout={ONE_TEST_S}")
    ours = ("--hypothesis-profile=mutation", "--deselect", NO_JUDGE)
    return shlex.join([sys.executable, "-m", *usual, *ours, *more])


def watch_tests(layers: set[str]) -> CoverageData:
    """The lines that each test of these layers, domain and flow runs; CalledProcessError where one fails."""
    Path(".coveragerc").write_text("[run]\nsource = server\n", encoding="utf-8")
    folders = sorted({"tests/domain", "tests/flow", *(f"tests/{layer}" for layer in layers)})
    plain = command_for("-p", "tests.mutation", *folders)
    subprocess.run(
        shlex.split(plain.replace(" -m pytest", " -m coverage run -m pytest")),
        check=True,
        stdout=subprocess.DEVNULL,
    )
    data = CoverageData()
    data.read()
    return data


def tests_of(fault: MutationSpec, watched: CoverageData) -> list[str]:
    """The tests that run a fault's lines, those in files of the module's name first.

    What runs at import alone is every test's that runs a line of the module.
    """
    by_line = watched.contexts_by_lineno(str(fault.module_path.resolve()))
    lines = range(fault.start_pos[0], fault.end_pos[0] + 1)
    found = {test for line in lines for test in by_line.get(line, ()) if test}
    found = found or {test for tests in by_line.values() for test in tests if test}
    stem = fault.module_path.stem
    return sorted({test.split("[")[0] for test in found}, key=lambda test: (stem not in test, test))


def main() -> int:
    """Runs a sample of faults and prints the survivors. Gives the exit status, 0 where none survived."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutation")
    parser.add_argument("paths", nargs="+", help="modules or folders of the app")
    parser.add_argument("--sample", type=int, default=300, help="how many faults (300)")
    parser.add_argument("--seed", type=int, default=1, help="another number, another sample (1)")
    parser.add_argument("--only", type=int, nargs="+", help="of the sample only these, as they were numbered")
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
        watched = watch_tests({fault.module_path.parts[1] for fault in chosen})
        # Two faults of one length within a second would share what Python keeps compiled.
        os.environ["PYTHONDONTWRITEBYTECODE"] = "1"
        survived = 0
        for number, fault in enumerate(chosen, start=1):
            if asked.only and number not in asked.only:
                continue
            tests = tests_of(fault, watched)
            Path("chosen.txt").write_text("\n".join(tests), encoding="utf-8")
            result = mutate_and_test([fault], command_for("@chosen.txt"), ALL_TESTS_S)
            lived = not tests or result.test_outcome is not TestOutcome.KILLED
            survived += lived
            where = f"{fault.module_path}:{fault.start_pos[0]} {fault.operator_name}"
            print(f"{number}/{len(chosen)} {'SURVIVED' if lived else 'found'} {where}", flush=True)
            if lived:
                changed = (line for line in (result.diff or result.output).splitlines() if line[:1] in "+-")
                print("\n".join(line for line in changed if line[:3] not in ("---", "+++")), flush=True)
    print(f"{survived} of {len(asked.only or chosen)} survived, of {len(faults)} that could be made.")
    return 1 if survived else 0


if __name__ == "__main__":
    sys.exit(main())
