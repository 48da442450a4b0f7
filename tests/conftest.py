"""What holds for every test: none meets the user's own data, a fault that the app kept apart fails it, and no
browser test is lost unseen.
"""

from __future__ import annotations

import logging
import os
import tempfile
from collections import Counter
from collections.abc import Generator
from pathlib import Path

import hypothesis
import pytest

from server.domain.guarded import log
from tests.chromium import is_required

# Tests share their cores, so an example's time says nothing. In CI the examples are always the same.
hypothesis.settings.register_profile("here", deadline=None)
hypothesis.settings.register_profile("ci", deadline=None, derandomize=True, print_blob=True)
_no_smaller = [phase for phase in hypothesis.Phase if phase is not hypothesis.Phase.shrink]
hypothesis.settings.register_profile("mutation", deadline=None, derandomize=True, phases=_no_smaller)
hypothesis.settings.load_profile("ci" if os.environ.get("CI") else "here")

for _name in [name for name in os.environ if name.startswith("TRAINWRIGHT_")]:
    if _name not in ("TRAINWRIGHT_CHROMIUM", "TRAINWRIGHT_REQUIRE_BROWSER"):
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
