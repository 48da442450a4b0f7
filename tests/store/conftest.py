"""An empty database for each test, on either of the two that the store knows."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from server.domain.connections import Connection, read_connection
from server.domain.entry import EntryDocument, freeze
from server.domain.observer import Observer
from server.domain.parts import Adapter, Camera, OpticalTube, Part, SpacerRing
from server.domain.rig import PlacePlan, RigPlan, build_rig
from server.store import SqlStore, Stores, open_stores, prepare_database
from tests.places import Place


@pytest.fixture(scope="session")
def prepared_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A SQLite file as the migrations make it, to be copied."""
    path = tmp_path_factory.mktemp("prepared") / "trainwright.sqlite3"
    prepare_database(path)
    return path


@pytest.fixture
def database(request: pytest.FixtureRequest, prepared_file: Path, tmp_path: Path) -> Path:
    """A SQLite file, for what is its own."""
    assert request.node.get_closest_marker("file_alone"), "Ask for a place, or say why a file alone will do."
    return Path(shutil.copy(prepared_file, tmp_path / "trainwright.sqlite3"))


def ticking_clock() -> Callable[[], datetime]:
    moment = datetime(2026, 3, 20, 22, 0, 0, tzinfo=UTC)

    def now() -> datetime:
        nonlocal moment
        moment += timedelta(seconds=1)
        return moment

    return now


@pytest.fixture
def stores(place: Place) -> Iterator[Stores]:
    opened = open_stores(place, ticking_clock())
    yield opened
    opened.close()


@pytest.fixture
def observer(stores: Stores) -> Observer:
    with stores.writing() as store:
        return store.add_observer("Ana", "metric")


def connection(text: str) -> Connection:
    return read_connection(text)


def ring(model: str, sky: str = "", camera: str = "", **fields: object) -> SpacerRing:
    return SpacerRing.model_validate(_path_part(model, sky, camera, fields))


def adapter(model: str, sky: str = "", camera: str = "", **fields: object) -> Adapter:
    return Adapter.model_validate(_path_part(model, sky, camera, fields))


def _path_part(model: str, sky: str, camera: str, fields: dict[str, object]) -> dict[str, object]:
    given = {"sky_side": sky, "camera_side": camera}
    return {
        "maker": "Halden",
        "model": model,
        **{k: read_connection(v) for k, v in given.items() if v},
        **fields,
    }


TUBE: Part = OpticalTube(maker="Corvin", model="Nordlicht 80", camera_side=read_connection("M54x0.75 female"))
CAMERA: Part = Camera(maker="Velm", model="Auge 26", sky_side=read_connection("M42x0.75 female"))


def plan_of(*part_ids: int) -> RigPlan:
    return RigPlan(places=tuple(PlacePlan(key=k, part_id=i) for k, i in enumerate(part_ids, start=1)))


def document_of(store: SqlStore, rig_id: int, title: str = "First light") -> EntryDocument:
    rig = store.rig(rig_id)
    built = build_rig(rig.name, rig.plan, store.parts(rig.plan.part_ids))
    return freeze(
        built,
        rig.plan,
        title=title,
        note="",
        observer="Ana",
        saved_at=datetime(2026, 3, 20, 22, 0, 0, tzinfo=UTC),
        findings=(),
    )
