"""The API against its own OpenAPI document: what the document promises holds, whatever is sent.

The requests are made by schemathesis, a general tester of OpenAPI documents, on an install that has an
observer, a rig, an entry and a link, so that many of its guesses hit something.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import AbstractContextManager

import hypothesis
import pytest
import schemathesis
from schemathesis.config import SchemathesisConfig
from starlette.testclient import TestClient

from server.api import document
from server.app import create_app
from server.flow.protocols import Store, Stores
from server.settings import Settings
from server.store import open_stores
from tests import own_frames
from tests.api.conftest import ADDRESS, Api, good
from tests.api.test_logbook import saved
from tests.api.test_sky import DUST, GARDEN
from tests.places import Places, nothing

HOST = {"Host": "127.0.0.1:8321"}
"""The app answers to this machine's own names only."""

EXAMPLES = 12
"""Requests drawn for each operation, besides those that schemathesis makes from the limits of every field."""

RULES_BEYOND_THE_SCHEMA = (
    "add_observer",  # a name may be taken
    "add_part",  # limits of numbers, which /api/kinds tells
    "change_part",
    "find_parts",  # a connection is written by a grammar
    "add_rig",  # a name of spaces only
    "rename_rig",
    "change_rig",  # what makes sense depends on the train
    "bridge_rig",  # a gap needs two ends, and demands may contradict each other
    "save_entry",
    "undo_change",  # there may be nothing to undo
    "redo_change",
    "remove_rig",  # a rig with entries stays
    "add_site",  # a time zone is one of a list, and a name shows
    "change_site",
    "add_target",  # a name shows, and stands on the list once
    "change_target",
    "hand_in_frames",  # a file or a folder is needed, and a set may not be there
    "set_screws",  # two may stand in the same place
    "tell_turn",  # a turn is told of two measurements of one rig
    "compare_measured",
    "find_sky_targets",  # a site or a rig may not be there
    "plan_sky",
    "set_rig_site",
    "take_entry_in",  # the body is any object, of any version of the format
)
"""Operations that may refuse what their schema allows: a rule of the domain cannot be told in a schema."""

WHOLE_PARTS = ("add_part", "change_part")
"""Operations with any of twenty kinds in their body: their requests are only drawn, since one for each limit
of each field of each kind is tens of thousands. The tests of parts go through the limits."""

CONFIG = SchemathesisConfig.from_dict(
    {
        # The framework names in Allow the methods of the first route of an address only.
        "checks": {"allow_header_conformance": {"enabled": False}},
        "operations": [
            {
                "include-operation-id": name,
                "checks": {"positive_data_acceptance": {"enabled": False}},
                "phases": {"coverage": {"enabled": name not in WHOLE_PARTS}},
            }
            for name in RULES_BEYOND_THE_SCHEMA
        ],
    }
)


class LaterStores:
    """The database that the tests fill; the document is read before there is one."""

    opened: Stores

    def writing(self) -> AbstractContextManager[Store]:
        return self.opened.writing()

    def reading(self) -> AbstractContextManager[Store]:
        return self.opened.reading()

    def close(self) -> None:
        """Whoever opened the database closes it: the tester starts and stops the app as it likes."""


STORES = LaterStores()
APP = create_app(Settings(), STORES)
DOCUMENT = json.loads(document.DOCUMENT.read_text(encoding="utf-8"))
schema = schemathesis.openapi.from_asgi(document.ADDRESS, APP, config=CONFIG, headers=HOST).exclude(
    tag="club"
)


@pytest.fixture(scope="module")
def lived_in(places: Places, tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    STORES.opened = open_stores(places.lent("schema", nothing, tmp_path_factory.mktemp("schema")))
    with TestClient(APP, base_url=ADDRESS) as client:
        ana = Api(client, "Ana")
        entry = saved(ana, ana.built())
        good(ana.post(f"/entries/{entry['id']}/shares"), 201)
        good(ana.post("/sky/sites", {"site": GARDEN}), 201)
        good(ana.post("/sky/targets", {"target": DUST}), 201)
        with STORES.writing() as store:
            one = own_frames.measured(tmp_path_factory.mktemp("frames"))
            for name in ("Before", "After"):
                store.add_measured(ana.id, entry["rig_id"], entry["id"], name, one)
        yield
    STORES.opened.close()


@schema.parametrize()
@hypothesis.settings(max_examples=EXAMPLES, suppress_health_check=list(hypothesis.HealthCheck))
def test_an_operation_keeps_what_the_document_promises(case: schemathesis.Case, lived_in: None):
    case.call_and_validate(headers=HOST)


def operations() -> dict[str, dict]:
    return {one["operationId"]: one for methods in DOCUMENT["paths"].values() for one in methods.values()}


def test_every_operation_says_what_it_does_and_belongs_to_a_station():
    stations = {tag["name"] for tag in DOCUMENT["tags"]}
    for name, one in operations().items():
        assert one["description"], name
        assert set(one["tags"]) <= stations, name
        assert "HTTPValidationError" not in str(one), f"{name} promises an error of another shape"


def test_names_of_operations_stay_since_programs_are_written_against_them():
    assert set(RULES_BEYOND_THE_SCHEMA) < operations().keys()
    assert operations().keys() == {
        *("list_observers", "add_observer", "show_observer", "choose_units"),
        *("list_kinds", "find_parts", "add_part", "show_part", "change_part", "remove_part"),
        *("copy_part", "set_holding"),
        *("list_rigs", "add_rig", "show_rig", "show_stars", "remove_rig", "rename_rig", "change_rig"),
        *("undo_change", "redo_change", "bridge_rig"),
        *("save_entry", "list_entries", "compare_entries", "show_entry", "bring_entry_back", "take_entry_in"),
        *("list_sites", "add_site", "show_site", "change_site", "remove_site"),
        *("show_rig_site", "set_rig_site", "find_sky_targets", "plan_sky"),
        *("list_targets", "add_target", "list_target", "change_target", "remove_target"),
        *("plan_frames", "list_measured", "hand_in_frames", "show_frame_set", "measure_frames"),
        *("stop_frames", "drop_frames", "keep_frame_set", "compare_measured", "show_measured"),
        *("show_measured_stars", "set_screws", "tell_turn", "remove_measured"),
        *(
            "ask_scout",
            "list_combinations",
            "take_combination",
            "look_at_combinations",
            "list_needs",
            "keep_needs",
            "forget_needs",
        ),
        *("list_shares", "add_share", "withdraw_share", "open_link", "put_on_shelf"),
        *("keep_price", "list_loan_gear", "list_club_entries", "show_club_entry", "take_in_club_entry"),
        *("share_entry_with_club", "withdraw_entry_from_club"),
    }
