"""`trainwright frames` as a command, over a folder of small frames."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from server.cli import build
from server.flow.workbench import Workbench
from server.rim.phrasebook.tell import tell
from server.store import open_stores, prepare_database
from tests import own_frames


@pytest.fixture
def data(tmp_path: Path) -> Path:
    """Data with one rig, of number 1."""
    folder = tmp_path / "data"
    prepare_database(folder / "trainwright.sqlite3")
    stores = open_stores(folder / "trainwright.sqlite3")
    with stores.writing() as store:
        own_frames.take_rig(Workbench(store, store.add_observer("Bo Lind", "metric"), tell))
    stores.close()
    return folder


@pytest.fixture
def night(tmp_path: Path) -> Path:
    folder = tmp_path / "night"
    folder.mkdir()
    for name, content in own_frames.pair().items():
        (folder / name).write_bytes(content)
    return folder


def run(*arguments: str | Path) -> Result:
    return CliRunner().invoke(build(), ["frames", *map(str, arguments)])


def refused(*arguments: str | Path) -> str:
    """The one line that a command which was refused ends with."""
    result = run(*arguments)
    assert result.exit_code == 1, result.output
    assert result.stdout == ""
    return result.stderr.strip()


def test_a_folder_is_measured_told_kept_and_its_stars_written(data: Path, night: Path, tmp_path: Path):
    stars = tmp_path / "stars.csv"
    positions = ("--at", "out.fits=180", "--at", "in.fits=-180", "--step", "0.5um")
    told = run(night, "--rig", "1", "--data", data, *positions, "--keep", "Before it", "--csv", stars)
    assert told.exit_code == 0, told.output
    assert "Kept as “Before it”, measurement 1." in told.stdout
    assert "2 frames of 600 x 400 pixels" in told.stdout
    assert "Tilt: Best focus rises by" in told.stdout
    assert "towards the right" in told.stdout
    assert "  - Enter where the screws stand" in told.stdout
    assert "Measured" not in told.stdout
    with stars.open(encoding="utf-8", newline="") as file:
        rows = list(csv.reader(file))
    assert f"{len(rows) - 1} stars" in told.stdout
    again = run(night, "--rig", "1", "--data", data, *positions, "--in", "--spacing", "55.7 mm")
    assert "towards the left" in again.stdout
    assert "at a spacing of 55.70 mm" in again.stdout


def test_what_the_headers_say_is_used_only_when_asked_for(data: Path, night: Path):
    unasked = run(night, "--rig", "1", "--data", data)
    assert "Where the focuser stood for each frame is not said" in unasked.stdout
    asked = run(night, "--rig", "1", "--data", data, "--from-headers", "--step", "0.5 um")
    assert "Best focus rises by" in asked.stdout


def test_what_cannot_be_done_is_told_in_one_plain_line(data: Path, night: Path, tmp_path: Path):
    rig = ("--rig", "1", "--data", data)
    assert refused(tmp_path / "nowhere", *rig) == f"There is no folder {tmp_path / 'nowhere'}."
    assert "No FITS" in refused(data, *rig)
    assert "9" in refused(night, "--rig", "9", "--data", data)
    assert "holds no data yet" in refused(night, "--rig", "1", "--data", tmp_path / "none")
    assert "FILE=POSITION" in refused(night, *rig, "--at", "out.fits")
    assert "in.fits, out.fits" in refused(night, *rig, "--at", "on.fits=3")
    assert refused(night, *rig, "--at", "out.fits=far").startswith("--at out.fits: ")
    assert refused(night, *rig, "--step", "5 kg").startswith("--step: ")
    assert "Say how far one step" in refused(night, *rig, "--from-headers")
    assert "is there already" in refused(night, *rig, "--csv", night / "in.fits")


def test_a_file_that_is_no_picture_is_left_out_and_one_that_does_not_fit_is_named(data: Path, night: Path):
    (night / "a.fits").write_bytes(b"nothing")
    told = run(night, "--rig", "1", "--data", data, "--from-headers", "--step", "0.5 um")
    assert told.exit_code == 0
    assert "a.fits is left out." in told.stderr
    (night / "b.fits").write_bytes(own_frames.fits(own_frames.picture(0.0)[:300, :]))
    assert "600 x 300" in run(night, "--rig", "1", "--data", data).stderr
