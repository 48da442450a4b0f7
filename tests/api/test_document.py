"""The document of the API is what its routes come to. `python -m tests.api.test_document` writes it anew.

Its title, description and stations are written by hand, in the document itself.
"""

from __future__ import annotations

import json
from importlib.metadata import version

from fastapi import FastAPI

from server.api import club, observers
from server.api.document import DOCUMENT
from server.api.door import STATIONS
from server.handed.routing import put_on


def made() -> dict[str, object]:
    """The document of today's routes, of both forms."""
    kept = json.loads(DOCUMENT.read_text(encoding="utf-8"))
    app = FastAPI(
        title=kept["info"]["title"],
        description=kept["info"]["description"],
        version=version("trainwright"),
        openapi_tags=kept["tags"],
        # A part reads and writes in one shape.
        separate_input_output_schemas=False,
    )
    put_on(app, (observers.everyone, *STATIONS, club.router))
    return app.openapi()


def written(document: dict) -> str:
    """The document's text: an address, a schema, a station a line, so that a change is seen."""

    def lines(of: dict | list) -> str:
        each = (
            [f"{json.dumps(name)}: {json.dumps(one, ensure_ascii=False)}" for name, one in of.items()]
            if isinstance(of, dict)
            else [json.dumps(one, ensure_ascii=False) for one in of]
        )
        return ",\n".join(each)

    assert document.keys() == {"openapi", "info", "paths", "components", "tags"}
    assert document["components"].keys() == {"schemas"}
    return (
        f'{{"openapi": {json.dumps(document["openapi"])},\n"info": {json.dumps(document["info"])},\n'
        f'"tags": [\n{lines(document["tags"])}],\n"paths": {{\n{lines(document["paths"])}}},\n'
        f'"components": {{"schemas": {{\n{lines(document["components"]["schemas"])}}}}}}}\n'
    )


def test_the_document_is_of_todays_routes():
    assert written(json.loads(DOCUMENT.read_text(encoding="utf-8"))) == written(made()), (
        "The API has changed. If it was meant to: python -m tests.api.test_document"
    )


def test_each_schema_has_a_name_of_its_own():
    # FastAPI puts the modules before those that two have.
    names = json.loads(DOCUMENT.read_text(encoding="utf-8"))["components"]["schemas"]
    assert not [name for name in names if "__" in name]


if __name__ == "__main__":
    DOCUMENT.write_text(written(made()), encoding="utf-8")
