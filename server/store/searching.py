"""What people type into the search box, and connections, as conditions of a query."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Column, ColumnElement, and_, literal_column
from sqlalchemy.sql.base import ReadOnlyColumnCollection

from server.domain.connections import (
    BoltPattern,
    Connection,
    Dovetail,
    MetricThread,
    connection_key,
    gender_of,
    opposite,
)
from server.domain.connections.mating import DOVETAIL_TOLERANCE_MM
from server.store.dialects import tokens_of
from server.store.mapping import plain_signs

TEXT_MAXIMUM = 200
"""Characters of a search that are looked at; no part has a longer name to tell it by."""

Columns = ReadOnlyColumnCollection[str, Column[Any]]
"""The columns of `part_side`, or of that table under another name."""

_INDEX: ColumnElement[Any] = literal_column("part_search")


def match_expression(text: str, kind: str = "") -> str:
    """The search as an FTS5 expression: each word quoted, so that nothing typed is read as syntax, and
    taken as the beginning of a word; empty where no word was typed.

    "M48x0.75" is one typed word and becomes a phrase of two tokens, the last of them open: FTS5 splits the
    text at everything that is not a letter or a digit, in parts and searches alike. `kind` narrows the hits
    inside the index already; it may let through kinds that begin alike, so the caller compares again.
    """
    words = _words(text)
    if not words:
        return ""
    quoted = " AND ".join('"' + word.replace('"', '""') + '"*' for word in words)
    expression = f"words : ({quoted})"
    if kind:
        quoted_kind = kind.replace('"', "").replace("\0", "")
        expression += f' AND kind : ^ "{quoted_kind}"'
    return expression


def _words(text: str) -> list[str]:
    """The words that were typed, those without a letter or digit apart."""
    # A NUL would end the expression early, and half a surrogate pair cannot be handed to SQLite at all.
    plain = plain_signs(text[:TEXT_MAXIMUM].replace("\0", " ")).encode("utf-8", "ignore").decode()
    return [word for word in plain.split() if any(sign.isalnum() for sign in word)]


def phrases_of(text: str) -> list[list[str]]:
    """The search as PostgreSQL is asked it: the tokens of each word that was typed."""
    return [tokens_of(word) for word in _words(text)]


def matches(expression: str) -> ColumnElement[bool]:
    """The condition that a row of the search index fulfils an expression."""
    return _INDEX.op("MATCH", is_comparison=True)(expression)


def offers(connection: Connection, side: Columns) -> ColumnElement[bool]:
    """The condition that a side is this connection; what either leaves open about the gender does not
    count.
    """
    return and_(_same_size(connection, side), _gender_is(gender_of(connection), side, or_unknown=True))


def mates(connection: Connection, side: Columns) -> ColumnElement[bool]:
    """The condition that a side is known to mate with this connection.

    A gender or pitch that the question leaves open is not asked for; one that the part leaves open does not
    mate, since nobody knows that it would.
    """
    if isinstance(connection, Dovetail):
        return side.width_mm.between(
            connection.width_mm - DOVETAIL_TOLERANCE_MM, connection.width_mm + DOVETAIL_TOLERANCE_MM
        )
    if isinstance(connection, BoltPattern):
        return _same_size(connection, side)
    gender = gender_of(opposite(connection))
    return and_(_same_size(connection, side), _gender_is(gender, side, or_unknown=False))


def _gender_is(gender: str | None, side: Columns, *, or_unknown: bool) -> ColumnElement[bool]:
    if gender is None:
        # All there are, named one by one: so the index goes on to be used behind the gender.
        return side.gender.in_(["", "female", "male"] if or_unknown else ["female", "male"])
    return side.gender.in_(["", gender]) if or_unknown else side.gender == gender


def _same_size(connection: Connection, side: Columns) -> ColumnElement[bool]:
    key = connection_key(connection, with_gender=False)
    open_pitch = isinstance(connection, MetricThread) and connection.pitch_mm is None
    open_circle = isinstance(connection, BoltPattern) and connection.circle_mm is None
    if open_pitch or open_circle:
        # The key ends in "?": all keys that begin alike, as a range, which the index answers.
        stem = key.removesuffix("?")
        return and_(side.size_key >= stem, side.size_key < stem[:-1] + chr(ord(stem[-1]) + 1))
    return side.size_key == key
