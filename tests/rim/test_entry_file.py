"""The files that an entry travels in: read back without loss, of the published schema, and never trusted."""

from __future__ import annotations

import json
import re
import time
from datetime import UTC, datetime
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from server import paths
from server.domain.entry import EntryDocument, FrozenPart, read_entry
from server.domain.errors import RefusedError
from server.domain.findings import Finding, Phrase
from server.domain.parts import Camera, OpticalTube, Part, SpacerRing
from server.domain.rig import GearPlan, PlacePlan, RigPlan
from server.domain.train import TRAIN_KINDS
from server.rim.entry_file import (
    LARGEST_FILE,
    SCRIPT_ID,
    embedded_json,
    entry_json,
    entry_schema,
    file_name,
    read_entry_file,
    schema_text,
)
from tests.rim.strategies import parts

DAY = datetime(2026, 5, 3, 21, 40, tzinfo=UTC)
HOSTILE = "</script><script>alert('1')</script> \"&amp;\" <!-- \u2028 {error}"
AT_ONCE_S = 5.0
"""Common sense, no source: the program's own work for one request that is refused."""
SCHEMA = paths.STATIC / "schemas" / "entry-1.json"


def document_of(*given: Part, title: str = "First light", note: str = "") -> EntryDocument:
    """A document with these parts: in the train, in an order that the bench allows, or beside it."""
    numbered = list(enumerate(given, start=1))
    order = {"optical_tube": 0, "camera": 2}
    inner = sorted(
        (pair for pair in numbered if pair[1].kind in TRAIN_KINDS), key=lambda p: order.get(p[1].kind, 1)
    )
    return EntryDocument(
        saved_at=DAY,
        observer="Ana",
        rig="Garden",
        title=title,
        note=note,
        plan=RigPlan(
            places=tuple(PlacePlan(key=n, part_id=n) for n, _ in inner),
            gear=tuple(GearPlan(part_id=n) for n, part in numbered if part.kind not in TRAIN_KINDS),
        ),
        parts=tuple(FrozenPart(id=n, revision=1, entered_by="Ana", part=part) for n, part in numbered),
        findings=(
            Finding(code="joints.mate", weight="sound", title="Joints", phrase=Phrase(template="All mate.")),
        ),
    )


RING = SpacerRing(maker="Halden", model="Ring 5")
TUBE = OpticalTube(maker="Corvin", model="Nordlicht 80")
CAMERA = Camera(maker="Velm", model="Auge 26")
WHOLE = document_of(TUBE, RING, CAMERA)


def page_with(data: str) -> bytes:
    return (
        "<!doctype html><html><head><title>x</title><style>a > b {}</style></head><body><p>Text</p>"
        f'<script type="application/json" id="{SCRIPT_ID}">{data}</script></body></html>'
    ).encode()


@settings(suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large], max_examples=40)
@given(parts, st.text(max_size=40), st.text(max_size=200))
def test_any_part_and_any_words_come_back_from_either_file_as_they_were(
    part: Part, title: str, note: str
) -> None:
    document = document_of(part, *(() if part.kind == "spacer_ring" else (RING,)), title=title, note=note)
    for data in (entry_json(document).encode(), page_with(embedded_json(document))):
        assert read_entry(read_entry_file(data)) == document


@settings(suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large], max_examples=25)
@given(parts)
def test_every_exported_file_is_of_the_published_schema(part: Part) -> None:
    schema = json.loads(SCHEMA.read_text(encoding="utf-8"))
    Draft202012Validator(schema).validate(json.loads(entry_json(document_of(part, RING))))


def test_the_published_schema_is_the_one_that_the_program_reads_by() -> None:
    # To write it anew: python -c "from server.rim import entry_file as f; print(f.schema_text(), end='')"
    assert SCHEMA.read_text(encoding="utf-8") == schema_text()


def test_the_published_schema_is_itself_a_schema_and_refuses_what_is_no_entry() -> None:
    schema = entry_schema()
    Draft202012Validator.check_schema(schema)
    assert not Draft202012Validator(schema).is_valid({"format": "trainwright-entry"})


@given(st.text())
def test_no_text_gets_out_of_the_data_element(text: str) -> None:
    data = embedded_json(document_of(RING, title=text[:120], note=text))
    assert not set("<>&\u2028\u2029") & set(data)
    assert json.loads(data)["note"] == text


def test_hostile_words_come_back_from_the_page_word_for_word() -> None:
    document = document_of(RING, title=HOSTILE, note=HOSTILE)
    assert read_entry(read_entry_file(page_with(embedded_json(document)))) == document


@given(st.text(max_size=120), st.text(max_size=120))
def test_a_files_name_is_one_that_every_system_takes(rig: str, title: str) -> None:
    name = file_name(WHOLE.model_copy(update={"rig": rig, "title": title}), "html")
    assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*-2026-05-03\.html", name)
    assert len(name) <= 80


def test_a_files_name_says_rig_title_and_day() -> None:
    assert file_name(WHOLE, "json") == "garden-first-light-2026-05-03.json"


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "empty"),
        (b"  \n", "empty"),
        (b"\xff\xfe\x00", "neither an entry page nor an entry's JSON"),
        (b"maker,model\nHalden,Ring\n", "neither an entry page nor an entry's JSON"),
        (b"<!doctype html><p>Another page</p>", "neither an entry page nor an entry's JSON"),
        (b'{"format": "trainwright-entry", ', "breaks off or is garbled at line 1"),
        (b'{"a": NaN}', "holds what no entry has"),
        (b'{"a":' * 100_000, "damaged"),
        (page_with(""), "neither an entry page nor an entry's JSON"),
        (page_with("{"), "breaks off"),
        (b"x" * (LARGEST_FILE + 1), "at most 2 MB"),
    ],
)
def test_a_file_that_holds_no_entry_is_refused_in_a_sentence(data: bytes, said: str) -> None:
    with pytest.raises(RefusedError, match=said):
        read_entry_file(data)


@pytest.mark.parametrize(
    "piece",
    [
        "<a ",
        "<script ",
        f'id="{SCRIPT_ID}" ',
        f'<script id="{SCRIPT_ID}" ',
        f'<script id="{SCRIPT_ID}">{{',
        "<!--",
        "&",
        '{"a":',
        '{"a":[',
    ],
)
def test_a_file_of_the_largest_size_is_refused_at_once_whatever_it_repeats(piece: str) -> None:
    data = (piece * (LARGEST_FILE // len(piece))).encode()
    begun = time.process_time()
    with pytest.raises(RefusedError):
        read_entry_file(data)
    assert time.process_time() - begun < AT_ONCE_S


def test_an_entry_with_parts_that_its_rig_does_not_have_is_refused_at_once() -> None:
    document = json.loads(entry_json(WHOLE))
    ring = {**document["parts"][1], "part": {"kind": "mount", "model": "M"}}
    document["parts"] += [ring | {"id": 10 + n} for n in range(20_000)]
    begun = time.process_time()
    with pytest.raises(RefusedError, match="parts that its rig does not have"):
        read_entry(document)
    assert time.process_time() - begun < AT_ONCE_S


def _changed(**changes: Any) -> Any:
    document = json.loads(entry_json(WHOLE))
    for path, value in changes.items():
        *steps, last = (int(step) if step.isdigit() else step for step in path.split("__"))
        target = document
        for step in steps:
            target = target[step]
        target[last] = value
    return document


@pytest.mark.parametrize(
    ("document", "said"),
    [
        ([], "format line is missing"),
        ({"format": "another"}, "format line is missing"),
        (_changed(schema_version=2), "version 2 of the format"),
        (_changed(title="x" * 121), "damaged at “title”"),
        (_changed(stranger=1), "damaged at “stranger”"),
        (_changed(plan__places=[]), "its train is empty"),
        (_changed(plan__places__1__part_id=99), "part number 99 and does not hold it"),
        (_changed(plan__places__1__key=1), "two places of its train carry one key"),
        (_changed(parts__1__id=1), "two of its parts carry one number"),
        (_changed(plan__places__1__part_id=3), "stands in the middle"),
        (_changed(plan__places__1__inside=[1]), "neither a wheel nor a drawer"),
        (_changed(plan__gear=[{"part_id": 2, "quantity": 0}]), "damaged at"),
        (_changed(plan__rules={"seeing_arcsec": 0}), "damaged at"),
        (_changed(parts__1__part={"kind": "mount", "model": "Mount"}), "no part of the light path"),
        (_changed(parts__1__part__length_mm={"nominal": 3000}), "“Optical length” says 3000"),
        (_changed(parts__0__part__aperture_mm={"nominal": 0}), "“Aperture” says 0"),
        (_changed(parts__1__part__length_mm={"nominal": -1}), "“Optical length” says -1"),
    ],
)
def test_a_document_that_the_bench_could_not_have_made_is_refused_in_a_sentence(
    document: Any, said: str
) -> None:
    with pytest.raises(RefusedError, match=said):
        read_entry(document)


def test_a_number_too_large_for_a_float_is_refused() -> None:
    text = entry_json(WHOLE).replace('"length_mm": null', '"length_mm": {"nominal": 1e999}', 1)
    with pytest.raises(RefusedError, match="damaged"):
        read_entry(read_entry_file(text.encode()))
