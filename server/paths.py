"""Where the files that are not Python lie: beside the package in a checkout, inside it in a wheel."""

from __future__ import annotations

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent
_BUNDLE = _PACKAGE / "_bundle"

ROOT = _BUNDLE if _BUNDLE.is_dir() else _PACKAGE.parent
"""The folder that holds the four below. The build makes server/_bundle; it never exists in a checkout."""

TEMPLATES = ROOT / "templates"
STATIC = ROOT / "static"
MIGRATIONS = ROOT / "migrations"
SEED_DATA = ROOT / "seed_data"
