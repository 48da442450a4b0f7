"""What holds for every test: none meets the user's own data, a fault that the app kept apart fails it, and no
browser test is lost unseen.
"""

from __future__ import annotations

import logging
import os
import shutil
import tempfile
from collections import Counter
from collections.abc import Generator, Iterator
from pathlib import Path

import hypothesis
import pytest

from server.domain.guarded import log
from server.store import prepare_database
from tests import postgres as postgres_server
from tests.chromium import is_required

# Tests share their cores, so an example's time says nothing. In CI the examples are always the same.
hypothesis.settings.register_profile("here", deadline=None)
hypothesis.settings.register_profile("ci", deadline=None, derandomize=True, print_blob=True)
_no_smaller = [phase for phase in hypothesis.Phase if phase is not hypothesis.Phase.shrink]
hypothesis.settings.register_profile("mutation", deadline=None, derandomize=True, phases=_no_smaller)
hypothesis.settings.load_profile("ci" if os.environ.get("CI") else "here")

for _name in [name for name in os.environ if name.startswith("TRAINWRIGHT_")]:
    if _name not in ("TRAINWRIGHT_CHROMIUM", "TRAINWRIGHT_REQUIRE_BROWSER", postgres_server.REQUIRE):
        del os.environ[_name]
# A test that forgets to name a data folder gets an empty one, never the person's own.
os.environ["TRAINWRIGHT_DATA"] = str(Path(tempfile.gettempdir()) / f"trainwright-tests-{os.getpid()}")

_browser_tests: Counter[str] = Counter()


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


@pytest.fixture(scope="session")
def prepared_address(postgres: str) -> str:
    """A PostgreSQL database as the migrations make it, which the tests of this process fill one by one."""
    address = postgres_server.new_database(postgres, "trainwright")
    prepare_database(address)
    return address


@pytest.fixture(scope="session")
def prepared_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A SQLite file as the migrations make it, to be copied."""
    path = tmp_path_factory.mktemp("prepared") / "trainwright.sqlite3"
    prepare_database(path)
    return path


@pytest.fixture(params=["sqlite", "postgresql"])
def place(request: pytest.FixtureRequest, tmp_path: Path) -> Path | str:
    """Where an empty database of the test's own is; a test that asks for it runs on both kinds."""
    if request.param == "sqlite":
        prepared: Path = request.getfixturevalue("prepared_file")
        return Path(shutil.copy(prepared, tmp_path / "trainwright.sqlite3"))
    address: str = request.getfixturevalue("prepared_address")
    postgres_server.emptied(address)
    return address


def place_of(request: pytest.FixtureRequest, file: Path) -> Path | str:
    """The database of a test of a door: `place`, where its module asks for both kinds by
    `pytest.mark.usefixtures("place")`, and else the file.
    """
    where = request.getfixturevalue("place") if "place" in request.fixturenames else file
    return where if isinstance(where, str) else file


@pytest.hookimpl(wrapper=True)
def pytest_runtest_call(item: pytest.Item) -> Generator[None, object, object]:
    """Fails a test, with its fixtures, in which the app kept a fault of its own apart and went on."""
    result = yield
    if logged := _faults.logged.copy():
        _faults.logged.clear()
        pytest.fail("A fault of Trainwright's:\n" + "\n".join(logged), pytrace=False)
    return result


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Puts the longest first, so that no process works on alone at the end."""
    items.sort(key=lambda item: item.get_closest_marker("wheel") is None)


def pytest_runtest_logreport(report: pytest.TestReport) -> None:
    """Counts how the browser tests came out, in the process that prints the result."""
    if "browser" in report.keywords and (report.when == "call" or report.outcome != "passed"):
        _browser_tests[report.outcome] += 1


@pytest.hookimpl(tryfirst=True)
def pytest_sessionfinish(session: pytest.Session) -> None:
    """Fails a run that had to use Chromium and did not, or not throughout."""
    if hasattr(session.config, "workerinput") or not is_required():
        return
    if _browser_tests["skipped"] or not _browser_tests["passed"]:
        session.exitstatus = pytest.ExitCode.TESTS_FAILED


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Says how many tests drove a browser, and that it is an error where they should have."""
    if not is_required():
        return
    passed, skipped = _browser_tests["passed"], _browser_tests["skipped"]
    terminalreporter.write_line(f"Browser tests: {passed} passed in Chromium, {skipped} skipped.")
    if skipped or not passed:
        terminalreporter.write_line("TRAINWRIGHT_REQUIRE_BROWSER is set, so this run fails.", red=True)
