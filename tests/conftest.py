"""What holds for every test: none meets the user's own data, a fault that the app kept apart fails it, and no
browser test is lost unseen.
"""

from __future__ import annotations

import gc
import logging
import os
import tempfile
from collections import Counter
from collections.abc import Generator, Iterator
from pathlib import Path

import hypothesis
import pytest

from server.domain.guarded import log
from tests import postgres as postgres_server
from tests.chromium import is_required
from tests.places import KINDS, Files, OnPostgres, Place, Places, demo_club, nothing

# Tests share their cores, so an example's time says nothing. In CI the examples are always the same.
hypothesis.settings.register_profile("here", deadline=None)
hypothesis.settings.register_profile("ci", deadline=None, derandomize=True, print_blob=True)
_no_smaller = [phase for phase in hypothesis.Phase if phase is not hypothesis.Phase.shrink]
hypothesis.settings.register_profile("mutation", deadline=None, derandomize=True, phases=_no_smaller)
hypothesis.settings.load_profile("ci" if os.environ.get("CI") else "here")

# Parsed pages are large rings of objects: looking through all of them for what is let go of, as often as
# Python does by itself, takes a quarter of the time.
gc.set_threshold(20_000, 20, 50)


LONGEST_FIRST = ("test_wheel.py", "test_load.py", "test_every_page.py")
"""Modules that take most of a minute and more."""


def pytest_collection_finish() -> None:
    """What stands for the whole run is not looked through either."""
    gc.freeze()


for _name in [name for name in os.environ if name.startswith("TRAINWRIGHT_")]:
    if _name not in ("TRAINWRIGHT_CHROMIUM", "TRAINWRIGHT_REQUIRE_BROWSER", postgres_server.REQUIRE):
        del os.environ[_name]
# A test that forgets to name a data folder gets an empty one, never the person's own.
os.environ["TRAINWRIGHT_DATA"] = str(Path(tempfile.gettempdir()) / f"trainwright-tests-{os.getpid()}")

_came_out: dict[str, Counter[str]] = {"browser": Counter(), "postgres": Counter()}


class _Faults(logging.Handler):
    """The faults that the app logged and worked on from, since they were last looked at."""

    def __init__(self) -> None:
        super().__init__(logging.ERROR)
        self.logged: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        self.logged.append(logging.Formatter().format(record))


_faults = _Faults()
log.addHandler(_faults)


@pytest.fixture
def faults() -> list[str]:
    """What the app logged as its own fault; a test that means one looks at it and clears it."""
    return _faults.logged


@pytest.fixture(scope="session")
def postgres() -> Iterator[str]:
    """A PostgreSQL server for this process's tests; the address of an empty database of its."""
    if not postgres_server.is_there():
        if postgres_server.is_required():
            pytest.fail(f"There is no PostgreSQL here, and {postgres_server.REQUIRE} is set.", pytrace=False)
        pytest.skip("There is no PostgreSQL on this machine.")
    with postgres_server.served() as address:
        yield address


@pytest.fixture(scope="session", params=KINDS)
def places(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Places]:
    """Databases of either kind; a test that asks for it, by `place` or otherwise, runs on both, unless it is
    marked `file_alone`.
    """
    if request.param == "sqlite":
        yield Files(tmp_path_factory.mktemp("kept"))
        return
    made = OnPostgres(request.getfixturevalue("postgres"))
    yield made
    made.close()


@pytest.fixture
def empty_place(places: Places, tmp_path: Path) -> Place:
    """Where an empty database of the test's own is."""
    return places.lent("trainwright", nothing, tmp_path)


@pytest.fixture
def club_place(places: Places, tmp_path: Path) -> Place:
    """Where a database with the demo club in it is, the test's own."""
    return places.lent("club", demo_club, tmp_path)


@pytest.fixture
def place(empty_place: Place) -> Place:
    """The test's database: an empty one, unless its folder or module says otherwise."""
    return empty_place


@pytest.hookimpl(wrapper=True)
def pytest_runtest_call(item: pytest.Item) -> Generator[None, object, object]:
    """Fails a test, with its fixtures, in which the app kept a fault of its own apart and went on."""
    result = yield
    if logged := _faults.logged.copy():
        _faults.logged.clear()
        pytest.fail("A fault of Trainwright's:\n" + "\n".join(logged), pytrace=False)
    return result


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Marks what asks PostgreSQL and leaves out what is of a file alone; puts the longest first, so that no
    process works on alone at the end.
    """
    left_out = []
    for item in items:
        kind = item.callspec.params.get("places") if hasattr(item, "callspec") else None
        alone = item.get_closest_marker("file_alone")
        if alone is not None and not alone.kwargs.get("reason"):
            raise pytest.UsageError(f"{item.nodeid}: file_alone wants its reason.")
        if kind == "postgresql" and alone is not None:
            left_out.append(item)
        elif kind == "postgresql" or "postgres" in getattr(item, "fixturenames", ()):
            item.add_marker("postgres")
    if left_out:
        config.hook.pytest_deselected(items=left_out)
        items[:] = [item for item in items if item not in set(left_out)]
    items.sort(key=lambda item: item.path.name not in LONGEST_FIRST)


def _had_to() -> Iterator[tuple[str, str, Counter[str]]]:
    """What this run had to use: its name, the variable that says so, and how its tests came out."""
    if is_required():
        yield "Browser tests", "TRAINWRIGHT_REQUIRE_BROWSER", _came_out["browser"]
    if postgres_server.is_required():
        yield "Tests on PostgreSQL", postgres_server.REQUIRE, _came_out["postgres"]


def pytest_runtest_logreport(report: pytest.TestReport) -> None:
    """Counts how the tests of a browser and on PostgreSQL came out, in the process that prints the result."""
    for mark, counted in _came_out.items():
        if mark in report.keywords and (report.when == "call" or report.outcome != "passed"):
            counted[report.outcome] += 1


@pytest.hookimpl(tryfirst=True)
def pytest_sessionfinish(session: pytest.Session) -> None:
    """Fails a run that had to use Chromium or PostgreSQL and did not, or not throughout."""
    if hasattr(session.config, "workerinput"):
        return
    if any(counted["skipped"] or not counted["passed"] for *_, counted in _had_to()):
        session.exitstatus = pytest.ExitCode.TESTS_FAILED


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Says how many tests drove a browser or asked PostgreSQL; that it is an error where too few did."""
    for name, variable, counted in _had_to():
        passed, skipped = counted["passed"], counted["skipped"]
        terminalreporter.write_line(f"{name}: {passed} passed, {skipped} skipped.")
        if skipped or not passed:
            terminalreporter.write_line(f"{variable} is set, so this run fails.", red=True)
