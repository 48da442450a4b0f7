"""Random requests by the OpenAPI document, as everybody: what it promises holds for a steward and members,
who is not signed in is told so, and nobody is shown or changes what is another's.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import hypothesis
import pytest
import schemathesis
from schemathesis.checks import not_a_server_error
from schemathesis.config import SchemathesisConfig
from schemathesis.specs.openapi.checks import response_schema_conformance, status_code_conformance

from server.api.document import DOCUMENT
from server.flow.accounts import form_token
from server.hosted import create_hosted_app
from server.settings import HostedSettings
from server.store import open_stores
from server.store.accounts import HostedStores
from server.web.account.gate import SESSION_COOKIE
from tests import own_frames
from tests.api.conftest import Api, good
from tests.api.test_logbook import saved
from tests.api.test_sky import DUST, GARDEN
from tests.places import Places, nothing
from tests.web.hosted import ADDRESS, Browser, joined

CHECKS = [not_a_server_error, response_schema_conformance, status_code_conformance]
EXAMPLES = 3
"""Requests drawn for each operation; each is sent by all."""
MARK = "quillfeather"
"""Stands in what is the owner's own, and nowhere else."""


class LaterStores(HostedStores):
    """The database that the tests fill; the document is made before there is one."""

    def __init__(self) -> None:
        self.opened: HostedStores

    def writing(self) -> Any:
        return self.opened.writing()

    def reading(self) -> Any:
        return self.opened.reading()

    def is_prepared(self) -> bool:
        return self.opened.is_prepared()

    def close(self) -> None:
        """Whoever opened the database closes it."""


STORES = LaterStores()
APP = create_hosted_app(HostedSettings(public=ADDRESS), STORES)
CONFIG = SchemathesisConfig.from_dict(
    {"phases": {name: {"enabled": False} for name in ("coverage", "examples")}}
)
schema = schemathesis.openapi.from_path(DOCUMENT, config=CONFIG).exclude(
    operation_id=["list_observers", "add_observer"]
)
schema.app = APP
schema.location = f"{ADDRESS}/api/openapi.json"


@pytest.fixture(scope="module")
def people(places: Places, tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, Browser]]:
    """The owner of something of every kind, another member, a steward, and nobody."""
    place = places.lent("roles", nothing, tmp_path_factory.mktemp("roles"))
    STORES.opened = HostedStores(open_stores(place))
    owner = joined(APP, "Ana")
    owner.client.headers["Trainwright-Token"] = form_token(owner.token)
    ana = Api(owner.client, "Ana", owner.observer_id)
    entry = saved(ana, ana.built(f"A {MARK}"))
    good(ana.post(f"/entries/{entry['id']}/shares"), 201)
    good(ana.post("/sky/sites", {"site": {**GARDEN, "name": f"Yard {MARK}"}}), 201)
    good(ana.post("/sky/targets", {"target": {**DUST, "name": f"Cloud {MARK}"}}), 201)
    with STORES.writing() as store:
        one = own_frames.measured(tmp_path_factory.mktemp("frames"))
        for name in (f"Before {MARK}", "After"):
            store.add_measured(ana.id, entry["rig_id"], entry["id"], name, one)
    assert MARK in owner.get(f"/api/observers/{ana.id}/rigs").text
    yield {
        "owner": owner,
        "member": joined(APP, "Bea"),
        "steward": joined(APP, "Cora", "steward"),
        "nobody": Browser(APP),
    }
    STORES.opened.close()


@schema.parametrize()
@hypothesis.settings(max_examples=EXAMPLES, suppress_health_check=list(hypothesis.HealthCheck))
def test_an_operation_keeps_its_promise_to_everybody_and_shows_nobody_anothers(
    case: schemathesis.Case, people: dict[str, Browser]
):
    owner = people["owner"].observer_id
    of_somebody = "observer_id" in case.path_parameters
    # What is asked for is there, and is the owner's.
    case.path_parameters |= {name: 1 for name in case.path_parameters if name.endswith("_id")}
    for who, browser in reversed(people.items()):
        for whose in dict.fromkeys((owner, browser.observer_id or owner)):
            if of_somebody:
                case.path_parameters["observer_id"] = whose
            answer = case.call(headers=headers_of(browser.token))
            if who == "nobody":
                assert answer.status_code == 401, (case.path, answer.status_code)
                continue
            case.validate_response(answer, checks=CHECKS)
            if who != "owner":
                assert MARK not in answer.text, (who, case.path)
            if of_somebody and whose != browser.observer_id:
                assert answer.status_code >= 400, (who, case.path, answer.status_code)


def headers_of(token: str) -> dict[str, str]:
    headers = {"Host": "rigs.example", "Origin": ADDRESS}
    session = {"Cookie": f"{SESSION_COOKIE}={token}", "Trainwright-Token": form_token(token)}
    return headers | session if token else headers
