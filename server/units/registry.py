"""The one pint registry of the process. It takes a while to make, so it is made when first asked for."""

from __future__ import annotations

from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pint import UnitRegistry

_lock = Lock()
_registry: UnitRegistry[Any] | None = None
_cache_folder: Path | None = None


def use_cache_folder(folder: Path | None) -> None:
    """Tell where the registry may keep its parsed definitions, which makes later starts quicker.

    Takes effect when the registry is made; one that was made already stays as it is. Imports nothing.
    """
    global _cache_folder
    _cache_folder = folder


def registry() -> UnitRegistry[Any]:
    """Return the registry, made on the first call. Quantities of two registries do not mix: use no other.

    pint's own `px` is a length on a printed page; here `px` is a camera's pixel, a count of its own kind.
    """
    global _registry
    with _lock:
        if _registry is None:
            _registry = _make(_cache_folder)
        return _registry


def _make(folder: Path | None) -> UnitRegistry[Any]:
    from pint import UnitRegistry

    if folder is not None:
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError:
            # Without a place to write, the registry is made afresh each time: slower, and as good.
            folder = None
    made: UnitRegistry[Any] = UnitRegistry(
        cache_folder=str(folder) if folder is not None else None, on_redefinition="ignore"
    )
    made.define("camera_pixel = [camera_pixel] = px")
    made.define("photoelectron = [photoelectron]")
    return made
