"""The built wheel, installed where no checkout is near, serves the same app with all its files."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tomllib
import zipfile
from collections.abc import Iterator
from email import message_from_bytes
from pathlib import Path
from urllib.parse import urljoin, urlsplit

import httpx
import pytest
from bs4 import BeautifulSoup, Tag

from tests.running import OPEN_AT, ROOT, Running

pytestmark = [pytest.mark.wheel, pytest.mark.timeout(600)]

SCRIPTS = "Scripts" if os.name == "nt" else "bin"


def source_files() -> list[str]:
    """The files of the project, without what was built or left lying about."""
    listing = subprocess.run(
        ["git", "ls-files", "--cached", "--others", "--exclude-standard", "-z"],
        cwd=ROOT,
        capture_output=True,
        check=True,
    ).stdout.decode()
    return [name for name in listing.split("\0") if name and (ROOT / name).is_file()]


def run(*command: str | Path, folder: Path) -> None:
    """Runs a command without the variables that could lead it back into the checkout."""
    environment = {
        name: value for name, value in os.environ.items() if not name.startswith(("PYTHON", "VIRTUAL_ENV"))
    }
    done = subprocess.run(
        command, cwd=folder, env=environment, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
    )
    assert done.returncode == 0, done.stdout


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel built from a fresh copy of the sources, so that the browser libraries must be fetched."""
    copy = tmp_path_factory.mktemp("checkout")
    for name in source_files():
        (copy / name).parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(ROOT / name, copy / name)
    assert not (copy / "static" / "vendor").exists()
    run(sys.executable, "-m", "build", "--outdir", "dist", folder=copy)
    (built,) = (copy / "dist").glob("*.whl")
    return built


@pytest.fixture(scope="module")
def environment(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An empty virtual environment with nothing but the wheel in it."""
    folder = tmp_path_factory.mktemp("elsewhere")
    run(sys.executable, "-m", "venv", "venv", folder=folder)
    scripts = folder / "venv" / SCRIPTS
    run(scripts / "python", "-m", "pip", "install", "--quiet", wheel, folder=folder)
    return scripts


@pytest.fixture(scope="module")
def address(environment: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Where the installed `trainwright serve` is open, started from the root of the file system."""
    data = tmp_path_factory.mktemp("data")
    with Running(
        *("serve", "--no-browser", "--data", str(data), "--port", "0"),
        program=[str(environment / "trainwright")],
        folder=Path(data.anchor),
        environment={"PYTHONPATH": ""},
    ) as running:
        yield running.wait_for(OPEN_AT)[1]
        assert running.stop() == 0, running.printed


@pytest.fixture
def client(address: str) -> Iterator[httpx.Client]:
    with httpx.Client(base_url=address, follow_redirects=True, timeout=30) as opened:
        yield opened


def assets_of(page: httpx.Response) -> list[str]:
    """The addresses of all styles, scripts, icons and pictures that a page asks for."""
    soup = BeautifulSoup(page.text, "html.parser")
    wanted = [
        *(tag["href"] for tag in soup.select("link[href]")),
        *(tag["src"] for tag in soup.select("script[src], img[src]")),
    ]
    return [urljoin(str(page.url), str(link)) for link in wanted]


def press(client: httpx.Client, page: httpx.Response, words: str) -> httpx.Response:
    """Sends the form whose button holds these words, as a browser without scripts does."""
    soup = BeautifulSoup(page.text, "html.parser")
    button = next(button for button in soup.select("form button") if words in button.get_text().lower())
    form = button.find_parent("form")
    assert isinstance(form, Tag)
    fields = {str(field["name"]): str(field.get("value", "")) for field in form.select("input[name]")}
    if button.get("name"):
        fields[str(button["name"])] = str(button.get("value", ""))
    return client.request(
        str(form.get("method", "get")).upper(),
        urljoin(str(page.url), str(form.get("action", ""))),
        data=fields,
    )


def test_the_wheel_holds_the_licence_and_neither_tests_nor_the_builds_own_files(wheel: Path):
    with zipfile.ZipFile(wheel) as archive:
        names = archive.namelist()
        metadata = message_from_bytes(
            next(archive.read(name) for name in names if name.endswith(".dist-info/METADATA"))
        )
    assert "Permission is hereby granted, free of charge" in metadata["License"]
    assert {name.split("/")[0] for name in names} == {"server", metadata_folder(names)}
    assert not [name for name in names if "node_modules" in name or "__pycache__" in name]


def metadata_folder(names: list[str]) -> str:
    return next(name.split("/")[0] for name in names if ".dist-info/" in name)


def test_the_wheel_holds_the_browser_libraries_with_their_licences(wheel: Path):
    with zipfile.ZipFile(wheel) as archive:
        vendor = {
            Path(name).name: archive.getinfo(name).file_size
            for name in archive.namelist()
            if name.startswith("server/_bundle/static/vendor/")
        }
    assert vendor.keys() >= {
        "htmx.min.js",
        "htmx.LICENSE.txt",
        "Sortable.min.js",
        "Sortable.LICENSE.txt",
    }
    assert all(vendor.values())


def test_the_app_runs_from_the_environment_and_not_from_a_checkout(environment: Path, tmp_path: Path):
    shown = subprocess.run(
        [environment / "python", "-c", "import server; print(server.__file__)"],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    assert "site-packages" in shown
    assert str(ROOT) not in shown or ROOT in environment.parents


def test_the_first_page_comes_with_every_style_script_and_picture_that_it_asks_for(client: httpx.Client):
    page = client.get("/")
    assert page.status_code == 200
    kinds = []
    for link in assets_of(page):
        asset = client.get(link)
        assert asset.status_code == 200, link
        assert asset.content, link
        kinds.append(asset.headers["content-type"].split(";")[0])
    assert "text/css" in kinds
    assert "text/javascript" in kinds
    assert any(urlsplit(link).path.endswith("/htmx.min.js") for link in assets_of(page))


def test_the_builds_own_files_are_not_served(client: httpx.Client):
    for name in ("package.json", "package-lock.json", "vendor/../package.json"):
        assert client.get(f"/static/{name}").status_code == 404


def test_the_demo_club_can_be_loaded_and_looked_at(client: httpx.Client):
    club = tomllib.loads((ROOT / "seed_data" / "club.toml").read_text(encoding="utf-8"))
    loaded = press(client, client.get("/"), "demo club")
    assert loaded.status_code == 200
    text = loaded.text + client.get("/").text
    observers = [observer["name"] for observer in club["observer"]]
    assert len(observers) >= 3
    assert [name for name in observers if name not in text] == []
