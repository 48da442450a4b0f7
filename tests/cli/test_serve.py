"""`trainwright serve` in a process of its own, with tiny apps behind it."""

from __future__ import annotations

import os
import re
import signal
import socket
import sys
import threading
from pathlib import Path

import httpx
import pytest

from tests.running import OPEN_AT, SHARES_AT, Running

pytestmark = pytest.mark.skipif(
    os.name != "posix", reason="Stopping by a signal is told for POSIX systems only"
)

ANY_PORT = ("--port", "0")


def serve(data: Path, *arguments: str, **environment: str) -> Running:
    return Running("serve", "--data", str(data), *arguments, environment=environment)


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_it_says_where_it_is_open_answers_there_and_stops_cleanly(tmp_path: Path, number: signal.Signals):
    with serve(tmp_path / "data", *ANY_PORT) as running:
        address = running.wait_for(OPEN_AT)[1]
        assert httpx.get(f"{address}/").text == "app"
        assert running.stop(number) == 0
    assert len(running.printed.splitlines()) == 3
    assert "A new, empty workshop was made" in running.lines[0]
    assert "Ctrl-C stops it" in running.lines[1]
    assert running.lines[2] == "Trainwright has stopped.\n"
    assert str(tmp_path / "data") in running.lines[1]


def test_it_listens_on_this_machine_only(tmp_path: Path):
    with serve(tmp_path, *ANY_PORT) as running:
        address = running.wait_for(OPEN_AT)[1]
        assert address.startswith("http://127.0.0.1:")
        port = int(address.rpartition(":")[2])
        with socket.socket() as other:
            # If every address were listened on, this one would be taken.
            other.bind(("127.0.0.2", port))


def test_a_taken_port_is_told_and_the_next_free_one_used(tmp_path: Path):
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        with serve(tmp_path, "--port", str(port)) as running:
            told = running.wait_for(re.compile(r"Port (\d+) is taken .* port (\d+) is used instead"))
            address = running.wait_for(OPEN_AT)[1]
            assert int(told[1]) == port
            assert address == f"http://127.0.0.1:{told[2]}"
            assert int(told[2]) != port
            assert httpx.get(f"{address}/").text == "app"


def test_a_second_start_with_the_same_data_and_port_says_where_it_is_open_and_ends(tmp_path: Path):
    with serve(tmp_path, *ANY_PORT) as one:
        address = one.wait_for(OPEN_AT)[1]
        with serve(tmp_path, "--port", address.rpartition(":")[2]) as two:
            assert two.finish() == 0
        assert f"already open at {address}/" in two.printed
        assert "taken by another program" not in two.printed
        assert httpx.get(f"{address}/").text == "app"


def test_the_one_that_is_open_is_found_at_a_neighbouring_port_as_well(tmp_path: Path):
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = str(taken.getsockname()[1])
        with serve(tmp_path, "--port", port) as one:
            address = one.wait_for(OPEN_AT)[1]
            with serve(tmp_path, "--port", port) as two:
                assert two.finish() == 0
            assert f"already open at {address}/" in two.printed


def test_with_other_data_a_second_start_takes_the_next_port(tmp_path: Path):
    with serve(tmp_path / "one", *ANY_PORT) as one:
        address = one.wait_for(OPEN_AT)[1]
        with serve(tmp_path / "two", "--port", address.rpartition(":")[2]) as two:
            assert two.wait_for(OPEN_AT)[1] != address
        assert "already open" not in two.printed


def test_what_was_open_and_was_killed_is_not_called_open(tmp_path: Path):
    with serve(tmp_path, *ANY_PORT) as one:
        port = int(one.wait_for(OPEN_AT)[1].rpartition(":")[2])
        one.stop(signal.SIGKILL)
    with socket.create_server(("127.0.0.1", port)), serve(tmp_path, "--port", str(port)) as two:
        two.wait_for(re.compile(rf"Port {port} is taken by another program"))
        assert two.wait_for(OPEN_AT)[0]


def test_nothing_but_the_database_is_left_behind_by_a_clean_stop(tmp_path: Path):
    with serve(tmp_path, *ANY_PORT) as running:
        running.wait_for(OPEN_AT)
        assert running.stop() == 0
    assert not list(tmp_path.glob("*.lock"))


CTRL_C_AT = """
import os, signal, sys
from importlib.abc import MetaPathFinder

class CtrlC(MetaPathFinder):
    def find_spec(self, name, path, target=None):
        if name == sys.argv[1]:
            sys.meta_path.remove(self)
            os.kill(os.getpid(), signal.SIGINT)

sys.meta_path.insert(0, CtrlC())
from server.__main__ import run
run(sys.argv[2:])
"""


@pytest.mark.parametrize(
    "module", ["server.cli", "typer", "pydantic", "server.app", "uvicorn", "server.store.prepare"]
)
def test_ctrl_c_while_it_loads_ends_it_in_one_line(tmp_path: Path, module: str):
    program = (sys.executable, "-c", CTRL_C_AT, module)
    with Running("serve", "--data", str(tmp_path), *ANY_PORT, program=program) as running:
        assert running.finish() == 130
    assert running.printed.split("\n")[-2:] == ["Trainwright has stopped.", ""]
    assert "Traceback" not in running.printed


def test_two_of_them_on_the_same_data_see_each_others_changes(tmp_path: Path):
    with serve(tmp_path, *ANY_PORT) as one, serve(tmp_path, *ANY_PORT) as two:
        first, second = one.wait_for(OPEN_AT)[1], two.wait_for(OPEN_AT)[1]
        httpx.get(f"{first}/note/hello")
        assert httpx.get(f"{second}/notes").text == "hello"
        assert one.stop() == 0
        httpx.get(f"{second}/note/alone")
        assert httpx.get(f"{second}/notes").text == "hello,alone"


def test_a_request_under_way_is_answered_to_its_end(tmp_path: Path):
    with serve(tmp_path, *ANY_PORT) as running:
        address = running.wait_for(OPEN_AT)[1]
        with httpx.stream("GET", f"{address}/slow") as answer:
            pieces = answer.iter_text()
            assert next(pieces) == "begun "
            running.process.send_signal(signal.SIGINT)
            assert "".join(pieces) == "done"
        assert running.finish() == 0


def test_on_the_network_it_opens_share_pages_only_and_links_carry_that_address(tmp_path: Path):
    # The loopback address stands for the network's: a test machine may be on none.
    with serve(tmp_path, *ANY_PORT, "--lan-address", "127.0.0.1", "--lan-port", "0") as running:
        address = running.wait_for(OPEN_AT)[1]
        shares = running.wait_for(SHARES_AT)[1]
        assert shares != address
        assert httpx.get(f"{address}/").text == "app"
        assert httpx.get(f"{shares}/").text == "share"
        assert httpx.get(f"{address}/links").text == shares
        assert running.stop() == 0


def test_without_the_network_links_carry_the_apps_own_address(tmp_path: Path):
    with serve(tmp_path, *ANY_PORT, TRAINWRIGHT_LAN_ADDRESS="192.0.2.7") as running:
        address = running.wait_for(OPEN_AT)[1]
        assert httpx.get(f"{address}/links").text == address


@pytest.mark.parametrize("address", ["192.0.2.7", "0.0.0.0", "no such name"])
def test_an_address_that_is_not_this_machines_is_refused_with_a_way_out(tmp_path: Path, address: str):
    with serve(tmp_path, *ANY_PORT, "--lan", "--lan-address", address) as running:
        assert running.finish() == 1
    assert address in running.printed
    assert "--lan-address ADDRESS" in running.printed
    assert "Traceback" not in running.printed


@pytest.fixture
def browser_that_notes(tmp_path: Path) -> tuple[str, Path]:
    """A browser for the BROWSER variable that writes down what it was asked to open, and the note."""
    note = tmp_path / "opened"
    script = tmp_path / "browser"
    script.write_text(f"#!{sys.executable}\nimport sys\nopen({str(note)!r}, 'w').write(sys.argv[1])\n")
    script.chmod(0o755)
    return f"{script} %s", note


def test_the_browser_is_opened_at_the_address(tmp_path: Path, browser_that_notes: tuple[str, Path]):
    browser, note = browser_that_notes
    with serve(tmp_path / "data", *ANY_PORT, CI="", DISPLAY=":0", BROWSER=browser) as running:
        address = running.wait_for(OPEN_AT)[1]
        for _ in range(200):
            if note.exists() and note.read_text():
                break
            threading.Event().wait(0.05)
        assert note.read_text() == f"{address}/"
        assert running.stop() == 0


@pytest.mark.parametrize(
    ("arguments", "environment"),
    [(("--no-browser",), {"CI": ""}), ((), {"CI": "true"}), ((), {"CI": "", "TRAINWRIGHT_BROWSER": "0"})],
)
def test_the_browser_stays_shut_when_told_so_and_in_ci(
    tmp_path: Path,
    browser_that_notes: tuple[str, Path],
    arguments: tuple[str, ...],
    environment: dict[str, str],
):
    browser, note = browser_that_notes
    with serve(
        tmp_path / "data", *ANY_PORT, *arguments, DISPLAY=":0", BROWSER=browser, **environment
    ) as running:
        running.wait_for(OPEN_AT)
        threading.Event().wait(0.5)
        assert running.stop() == 0
    assert not note.exists()


def test_a_data_folder_that_cannot_be_made_is_told_in_a_sentence(tmp_path: Path):
    (tmp_path / "file").write_text("in the way")
    with serve(tmp_path / "file" / "data", *ANY_PORT) as running:
        assert running.finish() == 1
    assert "cannot be made" in running.printed
    assert "--data FOLDER" in running.printed
    assert "Traceback" not in running.printed


def test_the_environment_chooses_and_an_option_outweighs_it(tmp_path: Path):
    environment = {"TRAINWRIGHT_DATA": str(tmp_path / "here"), "TRAINWRIGHT_PORT": "1"}
    with Running("serve", *ANY_PORT, environment=environment) as running:
        assert str(tmp_path / "here") in running.wait_for(OPEN_AT).string
        assert running.stop() == 0
    assert (tmp_path / "here" / "trainwright.sqlite3").is_file()
