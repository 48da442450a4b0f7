"""Finds the Chromium that the browser tests drive, and what reads QR codes off its screen, or says how to get
them.

Playwright's own download is not used: the system's package is the one that gets security updates, and it is
there on machines that may not fetch anything else.
"""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pytest

NAMES = (
    # Without a browser's own windows, a page takes a quarter of the processor's time.
    "chromium-headless-shell",
    "chromium",
    "chromium-browser",
    "google-chrome-stable",
    "google-chrome",
    "chrome",
)

PLACES = (
    Path("/Applications/Chromium.app/Contents/MacOS/Chromium"),
    Path("/Applications/Google Chrome.app/Contents/MacOS/Google Chrome"),
    Path(r"C:\Program Files\Google\Chrome\Application\chrome.exe"),
)

HOW_TO_GET_IT = (
    "The browser tests need Chromium, and there is none here.\n"
    "  Debian:         sudo apt-get install -y chromium-headless-shell\n"
    "  Ubuntu:         sudo apt-get install -y chromium\n"
    "  macOS:          brew install --cask chromium\n"
    "  elsewhere:      set TRAINWRIGHT_CHROMIUM to the path of a Chromium or Chrome."
)

HOW_TO_GET_A_SCANNER = (
    "The browser tests read a QR code off the screen with zbarimg, and there is none here.\n"
    "  Debian, Ubuntu: sudo apt-get install -y zbar-tools\n"
    "  macOS:          brew install zbar"
)

ARGUMENTS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
"""What Chromium is started with. As root its sandbox cannot work; it only ever opens our own pages."""


def is_required() -> bool:
    """Whether a missing Chromium or scanner is an error, and not only a reason to skip."""
    return os.environ.get("TRAINWRIGHT_REQUIRE_BROWSER") == "1"


def find_chromium() -> Path | None:
    """The Chromium of TRAINWRIGHT_CHROMIUM, of the search path or of the usual places, or None."""
    chosen = os.environ.get("TRAINWRIGHT_CHROMIUM")
    if chosen:
        return Path(chosen) if Path(chosen).is_file() else None
    found = next(filter(None, map(shutil.which, NAMES)), None)
    return Path(found) if found else next((place for place in PLACES if place.is_file()), None)


def require_chromium() -> Path:
    """For a fixture: the Chromium to drive. Without one the test fails if it is required, else is skipped."""
    chromium = find_chromium()
    if chromium is None:
        (pytest.fail if is_required() else pytest.skip)(HOW_TO_GET_IT)
    return chromium


def find_scanner() -> str | None:
    """The program that reads QR codes in pictures (zbar, independent of the one that draws ours), or None."""
    return shutil.which("zbarimg")


def require_scanner() -> str:
    """For a test: the scanner to read with. Without one the test fails if it is required, else is skipped."""
    scanner = find_scanner()
    if scanner is None:
        (pytest.fail if is_required() else pytest.skip)(HOW_TO_GET_A_SCANNER)
    return scanner


def what_is_missing() -> list[str]:
    """How to get what the browser tests need and is not here; empty where all of it is."""
    found = ((find_chromium(), HOW_TO_GET_IT), (find_scanner(), HOW_TO_GET_A_SCANNER))
    return [how for here, how in found if here is None]
