"""The one shape in which anything is refused. The app's own handlers fill it; here it is described."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel, Field


class Trouble(BaseModel):
    """What was refused, and why."""

    code: str = Field(description="A stable word for programs.", examples=["stale_version"])
    message: str = Field(description="A sentence for people: what was refused, why, and the next step.")
    fields: dict[str, str] | None = Field(
        default=None, description="One sentence for each field that could not be taken, by its path."
    )
    current_version: int | None = Field(
        default=None, description="The version of the rig as it is now, where the one named was stale."
    )
    rigs: list[str] | None = Field(
        default=None, description="The rigs that hold the part which was to be removed."
    )
    number: str | None = Field(default=None, description="Where the program's log describes its own fault.")


class ErrorAnswer(BaseModel):
    """The answer to any request that is not carried out."""

    error: Trouble


_MEANINGS = {
    400: "The body cannot be read as JSON.",
    403: "Asked for by another site's page, or it is a part that another observer entered.",
    404: "There is no such thing here, or not among this observer's.",
    409: "The rig was changed since the version that was named, or a rig still holds the part.",
    413: "The body is longer than 2 MB.",
    422: "Understood, and refused: by the schema, or by a rule that the message names.",
}


def troubles(*statuses: int) -> dict[int | str, dict[str, Any]]:
    """The description of what a route may refuse with."""
    return {status: {"model": ErrorAnswer, "description": _MEANINGS[status]} for status in statuses}


LOOKING = troubles(404, 422)
CHANGING = troubles(400, 403, 404, 413, 422)
CHANGING_A_VERSION = troubles(400, 403, 404, 409, 413, 422)
