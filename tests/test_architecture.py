"""What the house asks for and no linter can say."""

from __future__ import annotations

import ast
import json
import re
import subprocess
import tomllib
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path

import pytest
from bs4 import BeautifulSoup

from server.domain.checks.registry import CHECKS

ROOT = Path(__file__).resolve().parents[1]
SERVER = ROOT / "server"
LONGEST_FILE = 500
LONGEST_FUNCTION = 80
LONG = {
    "server/search/walks.py: run": "the search's hot loop: a call would cost more than a step",
    "server/search/tables.py: _fill": "the search's hot loop over its tables, which are local names",
}
"""Functions that may be longer, each with its reason."""

TOP_LEVEL = {
    "DEVELOPERS.md",
    "README.md",
    "migrations",
    "pyproject.toml",
    "seed_data",
    "server",
    "static",
    "templates",
    "tests",
}

CORE = ("domain", "flow", "frames", "mechanics", "optics", "search", "sky")
GROUND = ("mechanics", "optics", "sky")


def project_files() -> list[str]:
    """What is in the repository or would be, by its path from the root."""
    listing = subprocess.run(
        ["git", "ls-files", "--cached", "--others", "--exclude-standard", "-z"],
        cwd=ROOT,
        capture_output=True,
        check=True,
    ).stdout.decode()
    return sorted(name for name in listing.split("\0") if name and (ROOT / name).is_file())


def templates() -> list[str]:
    found = [name for name in project_files() if name.startswith("templates/")]
    assert found
    return found


# -- The repository


def test_the_top_level_holds_what_the_design_names_and_dot_files():
    top = {name.split("/")[0] for name in project_files()}
    assert {name for name in top if not name.startswith(".")} <= TOP_LEVEL


def test_no_third_party_code_is_in_the_repository():
    for name in project_files():
        assert not re.search(r"(^|/)(vendor|node_modules)/|\.min\.(js|css)$", name), name


def test_no_file_holds_more_than_one_thing_by_its_length():
    for name in project_files():
        if name.endswith((".py", ".html", ".css", ".js")):
            lines = (ROOT / name).read_text(encoding="utf-8").count("\n")
            assert lines <= LONGEST_FILE, f"{name} has {lines} lines"


def test_no_function_is_longer_than_a_screen_or_two():
    long = {
        f"{file.relative_to(ROOT)}: {node.name}"
        for file in SERVER.rglob("*.py")
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8")))
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
        and (node.end_lineno or 0) - node.lineno >= LONGEST_FUNCTION
    }
    assert long == LONG.keys()


# -- The browser libraries


def test_the_lock_has_a_digest_for_every_package_and_names_no_registry():
    text = (ROOT / "static" / "package-lock.json").read_text(encoding="utf-8")
    packages = {name: package for name, package in json.loads(text)["packages"].items() if name}
    assert packages
    for name, package in packages.items():
        assert package["integrity"].startswith("sha512-"), name
    assert "resolved" not in text
    assert "://" not in text


def test_the_browser_libraries_are_named_at_exact_versions_that_the_lock_has():
    wanted = json.loads((ROOT / "static" / "package.json").read_text(encoding="utf-8"))["dependencies"]
    lock = json.loads((ROOT / "static" / "package-lock.json").read_text(encoding="utf-8"))["packages"]
    assert wanted.keys() == {"htmx.org", "sortablejs"}
    for name, version in wanted.items():
        assert re.fullmatch(r"\d+\.\d+\.\d+", version), name
        assert lock[f"node_modules/{name}"]["version"] == version


# -- The packages


def packages() -> list[str]:
    """The packages directly below server/."""
    return sorted(file.parent.name for file in SERVER.glob("*/__init__.py"))


def test_every_package_is_named_in_the_developers_guide():
    guide = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    assert packages()
    for name in packages():
        assert f"`server/{name}`" in guide, name


def test_every_package_says_what_it_is():
    for file in SERVER.rglob("__init__.py"):
        module = ast.parse(file.read_text(encoding="utf-8"))
        assert ast.get_docstring(module), file.relative_to(ROOT)


def test_every_folder_of_code_is_a_package_so_that_the_import_contract_sees_it():
    for folder in {file.parent for file in SERVER.rglob("*.py")}:
        assert (folder / "__init__.py").is_file(), folder.relative_to(ROOT)


def test_the_contract_for_the_core_names_every_core_package():
    config = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    contracts = {contract["id"]: contract for contract in config["tool"]["importlinter"]["contracts"]}
    named = {module.split(".")[1] for module in contracts["core"]["source_modules"]}
    assert named == set(CORE)


def public_functions(folder: str) -> Iterator[tuple[str, ast.FunctionDef]]:
    for file in sorted((SERVER / folder).rglob("*.py")):
        for node in ast.parse(file.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
                yield f"{file.relative_to(ROOT)}: {node.name}", node


# A guard of the inputs computes nothing that could have a source.
GUARDS = re.compile(r"^checked")


def test_every_public_function_on_the_ground_names_its_source():
    functions = [entry for folder in GROUND for entry in public_functions(folder)]
    assert functions
    for name, function in functions:
        text = ast.get_docstring(function) or ""
        assert text, f"{name} has no docstring"
        if not GUARDS.match(function.name):
            assert re.search(r"\bSource: \S", text), f"{name} names no source"


def test_every_check_is_in_the_registry():
    modules = {file.stem for file in (SERVER / "domain" / "checks").glob("*.py")}
    registry = (SERVER / "domain" / "checks" / "registry.py").read_text(encoding="utf-8")
    registered = set(re.findall(r"^from server\.domain\.checks\.(\w+) import check_", registry, re.MULTILINE))
    defining = {
        module
        for module in modules
        if re.search(
            r"^def check_\w+\(", (SERVER / "domain" / "checks" / f"{module}.py").read_text("utf-8"), re.M
        )
    }
    assert defining
    assert defining == registered


def test_a_checks_name_finds_its_module_its_function_and_its_words():
    for check in CHECKS:
        assert check.find.__module__ == f"server.domain.checks.{check.name}"
        assert check.find.__name__ == f"check_{check.name}"
        words = import_module(f"server.rim.phrasebook.{check.name}").WORDS
        assert any(key.startswith(f"{check.name}.") for key in words), check.name


# -- The imports

HEAVY = {"PIL", "alembic", "fastapi", "highspy", "jinja2", "numpy", "pint", "segno", "sqlalchemy", "uvicorn"}
"""What an own module may bring that is imported inside a function."""
WAITING = {
    "server.app": {"server.doors", "server.sky_doors", "server.api.door"},
    "server.__main__": {"server.cli"},
    "server.hosted": {"server.web.account.metrics"},
}
"""The first page is out before the other doors are loaded, Ctrl-C heard before the commands are; the library
that counts is loaded when it is known where.
"""
COMMANDS = "server.cli."
"""They import what they work with when they are called, so that help answers at once."""

Imports = tuple[set[str], set[str]]


def imports_of(file: Path) -> Imports:
    """What a file imports at its top, and what inside a function or for its types alone."""
    tree = ast.parse(file.read_text(encoding="utf-8"))
    top: set[str] = set()
    later: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom):
            assert node.module is not None
            names = {node.module, *(f"{node.module}.{one.name}" for one in node.names)}
        elif isinstance(node, ast.Import):
            names = {one.name for one in node.names}
        else:
            continue
        (top if node in tree.body else later).update(names)
    return top, later


def test_own_modules_are_imported_at_the_top_but_for_those_that_bring_a_heavy_library():
    modules: dict[str, Imports] = {}
    for file in SERVER.rglob("*.py"):
        parts = file.relative_to(ROOT).with_suffix("").parts
        modules[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = imports_of(file)

    def brought(name: str) -> set[str]:
        """The heavy libraries that come with a module."""
        seen: set[str] = set()
        wanted = [name]
        while wanted:
            one = wanted.pop()
            if one in modules and one not in seen:
                packages = one.split(".")
                wanted += [".".join(packages[:depth]) for depth in range(1, len(packages))]
                wanted += modules[one][0]
            seen.add(one)
        return {one.split(".")[0] for one in seen} & HEAVY

    assert brought("server.web.bench.routes") >= {"fastapi", "jinja2"}
    for name, (_, later) in sorted(modules.items()):
        if not name.startswith(COMMANDS):
            # "from package import module" names the package as well: what counts is the module.
            packages = {other.rpartition(".")[0] for other in later & modules.keys()}
            for other in sorted((later & modules.keys()) - WAITING.get(name, set()) - packages):
                assert brought(other) - brought(name), f"{name} imports {other} inside a function"


# -- The templates

OFFLINE_FILE = "templates/share/file.html"
"""An entry as one file that opens without a server, so its styles and data must stand in it."""


@pytest.mark.parametrize("name", templates())
def test_a_template_has_nothing_inline_that_the_policy_forbids(name: str):
    soup = BeautifulSoup((ROOT / name).read_text(encoding="utf-8"), "html.parser")
    if name != OFFLINE_FILE:
        assert not soup.find_all("style"), "put styles into static/css"
        for script in soup.find_all("script"):
            assert script.get("src"), "put scripts into static/js"
    for tag in soup.find_all(True):
        for attribute, value in tag.attrs.items():
            assert attribute != "style", f"<{tag.name} style=...>"
            assert not re.match(r"on[a-z]+$", attribute), f"<{tag.name} {attribute}=...>"
            assert "javascript:" not in str(value).lower(), f"<{tag.name} {attribute}=...>"


@pytest.mark.parametrize("name", templates())
def test_a_template_asks_htmx_for_nothing_that_needs_eval(name: str):
    text = (ROOT / name).read_text(encoding="utf-8")
    assert not re.search(r"hx-on\b", text)
    assert not re.search(r"""hx-[\w:-]+\s*=\s*["']\s*(js|javascript):""", text)
    # A filter in brackets after an event's name is evaluated as a script.
    assert not re.search(r"""hx-trigger\s*=\s*["'][^"']*\w\[""", text)


@pytest.mark.parametrize("name", templates())
def test_htmx_attributes_are_written_so_that_a_validator_takes_them(name: str):
    text = (ROOT / name).read_text(encoding="utf-8")
    assert not re.findall(r"(?<!data-)\bhx-[\w:-]+\s*=", text)


@pytest.mark.parametrize("name", templates())
def test_a_template_never_turns_escaping_off(name: str):
    text = (ROOT / name).read_text(encoding="utf-8")
    assert not re.search(r"\|\s*safe\b|autoescape\s+false", text)


def test_the_file_that_leaves_the_app_brings_a_policy_of_its_own_and_runs_no_script():
    soup = BeautifulSoup((ROOT / OFFLINE_FILE).read_text(encoding="utf-8"), "html.parser")
    (policy,) = soup.select('meta[http-equiv="Content-Security-Policy"]')
    assert "default-src 'none'" in str(policy["content"])
    assert "script-src" not in str(policy["content"])
    for script in soup.find_all("script"):
        assert script.get("type") == "application/json", "a block of data is not run"
    assert not soup.select("[src], link[href]"), "whatever it needs is in it"


# -- The commands that people copy


def test_ci_runs_the_very_command_that_the_readme_names_for_the_tests():
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    command = next(line for line in readme.splitlines() if line.endswith("-m tests"))
    tail = command[command.index("python3 -m venv") :]
    assert tail in (ROOT / ".ci" / "run").read_text(encoding="utf-8")


def test_the_licence_is_the_same_in_the_metadata_and_the_readme():
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert " ".join(project["license"]["text"].split()) in " ".join(readme.split())


def test_a_test_that_makes_a_file_of_its_own_says_why_it_does_not_run_on_both_databases():
    silent = [
        str(file.relative_to(ROOT))
        for folder in ("store", "flow", "web", "api")
        for file in (ROOT / "tests" / folder).rglob("test_*.py")
        if re.search(r"sqlite3\.connect|prepare_database\(", text := file.read_text(encoding="utf-8"))
        and not re.search(r"file_alone|\bplaces: Places|\bpostgres: str", text)
    ]
    assert silent == []


def test_what_the_table_of_security_names_is_there():
    guide = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    table = guide.partition("OWASP ASVS")[2].partition("\n### ")[0]
    rows = [line for line in table.splitlines() if line.startswith("| ") and line[2].isdigit()]
    shown = {name for row in rows for name in re.findall(r"`([^`]+)`", row.rsplit(" | ", 1)[-1])}
    missing = {name for name in shown if not any((ROOT / at / name).exists() for at in ("", "tests/web"))}
    assert len(rows) > 50
    assert not missing
