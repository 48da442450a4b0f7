"""Where an installed package of data lies, without importing it."""

from __future__ import annotations

from importlib.util import find_spec
from pathlib import Path


def folder_of(package: str) -> Path:
    """Return the folder of an installed package; nothing of the package runs.

    package: the top name under which it would be imported. Raises FileNotFoundError where it is not there.
    Source: Python's own finder of modules.
    """
    found = find_spec(package)
    if found is None or found.origin is None:
        raise FileNotFoundError(f"The package {package} is not installed. Install this app again.")
    return Path(found.origin).parent
