"""Which check reads which field: the file says what a new recording does, and each line of it can be used."""

from __future__ import annotations

import pytest

from server.domain.checks.reads import FILE, readers_of
from server.domain.checks.registry import CHECKS
from server.domain.parts import KINDS, specs_of
from tests.reads import record

READERS = {*(check.name for check in CHECKS), "stars", "load"}


def test_the_file_is_what_a_new_recording_gives():
    same = record() == FILE.read_text(encoding="utf-8")
    assert same, f"{FILE.name} is stale: `python -m tests.reads` writes it anew; look at what changed."


@pytest.mark.parametrize("kind", KINDS)
def test_the_file_names_fields_and_readers_that_there_are(kind):
    found = readers_of(kind)
    assert found.keys() <= {spec.name for spec in specs_of(kind)}
    assert {name for one in found.values() for name in (*one.asked, *one.read)} <= READERS


# What a practitioner knows of each check: common practice, no source.


@pytest.mark.parametrize(
    ("kind", "name", "reader"),
    [
        ("optical_tube", "focal_length_mm", "sampling"),
        ("optical_tube", "focuser_capacity_kg", "hanging"),
        ("corrector", "back_focus_mm", "spacing"),
        ("camera", "pixel_um", "sampling"),
        ("camera", "width_px", "coverage"),
        ("spacer_ring", "length_mm", "spacing"),
        ("filter", "thickness_mm", "parfocal"),
        ("mount", "rated_kg", "payload"),
        ("support", "capacity_kg", "stand"),
        ("power_source", "capacity_ah", "power"),
    ],
)
def test_a_check_asks_for_what_it_lives_on(kind, name, reader):
    assert reader in readers_of(kind)[name].asked
