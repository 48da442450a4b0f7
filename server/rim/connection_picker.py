"""A connection picked from usual sizes, written as people write it; and a hint where one was typed."""

from __future__ import annotations

from pydantic import ValidationError

from server.domain.connections import (
    Barrel,
    BoltPattern,
    Connection,
    Dovetail,
    MetricThread,
    gender_of,
    print_connection,
    read_connection,
)
from server.domain.fields import FieldSpec
from server.domain.measure import Measure
from server.domain.refusals import sentence_of
from server.rim.cells import CellError, read_cell

USUAL: tuple[tuple[str, tuple[tuple[str, str], ...]], ...] = (
    (
        "Metric threads, with their usual pitch",
        (
            ("M28.5x0.6", "M28.5x0.6 (filters of 1.25 in)"),
            ("M42x0.75", "M42x0.75 (T thread)"),
            ("M48x0.75", "M48x0.75 (filters of 2 in)"),
            *((one, one) for one in ("M54x0.75", "M63x1", "M68x1", "M72x1", "M82x1", "M92x1")),
        ),
    ),
    ("Inch threads", (('2"-24', '2"-24 (back of a Schmidt-Cassegrain)'), ('1"-32', '1"-32 (C mount)'))),
    (
        "Push-fit: a nosepiece in its holder",
        (("1.25 in barrel", "1.25 in (31.75 mm)"), ("2 in barrel", "2 in (50.8 mm)")),
    ),
    ("Dovetails", (("dovetail 44 mm", "narrow, 44 mm"), ("dovetail 75 mm", "wide, 75 mm"))),
)
"""Sizes to pick from: a heading with texts and their words (common practice, no source)."""

GENDERS = (("male", "male: goes in"), ("female", "female: takes in"))
_LENGTH = FieldSpec("length", "Length", "measure", "length", 0.1, 200.0)
NOSEPIECE = "A nosepiece slides into its holder: the optical length counts from its stop, not from its end"


def _usual_pitches() -> dict[float, float]:
    threads = [read_connection(text) for _, sizes in USUAL for text, _ in sizes]
    return {
        one.diameter_mm: one.pitch_mm for one in threads if isinstance(one, MetricThread) and one.pitch_mm
    }


USUAL_PITCH = _usual_pitches()
"""The usual pitch of a metric thread by its diameter, both in mm."""


def write_picked(size: str, gender: str = "", length: str = "") -> str:
    """Return the text of a connection of this size, such as "M48x0.75 female, 5 mm deep".

    Args:
        size: a text of `USUAL`, or any other connection.
        gender: "male", "female", or "" while it is not known.
        length: how long the thread or barrel is, with its unit, or "".

    Raises:
        CellError: with a sentence, where they do not go together.
    """
    connection = read_cell(FieldSpec("size", "Size", "connection"), size, "")
    if connection is None:
        raise CellError("Pick a size first.")
    long = read_cell(_LENGTH, length, "")
    if isinstance(connection, Dovetail | BoltPattern):
        if gender or long:
            raise CellError("A dovetail or a bolt pattern has no gender and no length.")
        return print_connection(connection)
    told: dict[str, object] = {"gender": gender if gender in dict(GENDERS) else gender_of(connection)}
    if isinstance(long, Measure):
        told["thread_mm"] = long.nominal
    try:
        return print_connection(type(connection).model_validate(connection.model_dump() | told))
    except ValidationError as error:
        raise CellError(sentence_of(error.errors()[0])) from None


def hint_of(connection: Connection) -> str:
    """Return the usual pitch where none is written (it is not taken), how a nosepiece counts, or ""."""
    if isinstance(connection, MetricThread) and connection.pitch_mm is None:
        usual = USUAL_PITCH.get(connection.diameter_mm)
        return f"Its usual pitch is {usual:g}: write it if it is so" if usual else ""
    return NOSEPIECE if isinstance(connection, Barrel) and connection.gender == "male" else ""
