"""The hosted form's log: an event a line, and nothing of what anybody typed."""

from __future__ import annotations

import json
import logging
from collections.abc import Iterator
from typing import Literal

import pytest

from server.steady import keep_log


@pytest.fixture(autouse=True)
def handlers() -> Iterator[None]:
    before = logging.root.handlers[:], logging.root.level
    yield
    logging.root.handlers[:], logging.root.level = before


TYPED, NAMED = "Annika's own words", "her rig"


def go_wrong() -> None:
    try:
        int(TYPED)
    except ValueError:
        try:
            raise KeyError(NAMED)
        except KeyError:
            logging.getLogger("server.made_up").exception("Unexpected error %s", "a1b2")


def test_as_json_each_event_is_one_object_with_the_way_to_the_fault(capsys: pytest.CaptureFixture[str]):
    keep_log("json")
    go_wrong()
    (line,) = capsys.readouterr().err.splitlines()
    event = json.loads(line)
    assert (event["level"], event["from"], event["message"]) == (
        "ERROR",
        "server.made_up",
        "Unexpected error a1b2",
    )
    assert "in go_wrong" in event["trace"]
    assert event["trace"].endswith("ValueError")


@pytest.mark.parametrize("kind", ["lines", "json"])
def test_what_an_error_quotes_is_not_kept(kind: Literal["lines", "json"], capsys: pytest.CaptureFixture[str]):
    keep_log(kind)
    go_wrong()
    written = capsys.readouterr().err
    assert "KeyError" in written
    assert TYPED not in written
    assert NAMED not in written
