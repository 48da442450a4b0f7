"""An entry as a file: JSON by itself, or JSON inside a self-contained page, and back.

The page is made by the web door; what both files have in common, and how either is read, stands here.
"""

from __future__ import annotations

import json
import re
import unicodedata
from typing import Any, NoReturn

from server.domain.entry import ENTRY_SCHEMA, EntryDocument
from server.domain.errors import RefusedError

SCRIPT_ID = "trainwright-entry"
"""The id of the script element that holds the data of a self-contained page."""

LARGEST_FILE = 2_000_000
"""The longest file that is taken in, in bytes."""

_LONGEST_NAME = 60
_NOT_IN_NAMES = re.compile(r"[^a-z0-9]+")
_IN_SCRIPT = {"<": "\\u003c", ">": "\\u003e", "&": "\\u0026", "\u2028": "\\u2028", "\u2029": "\\u2029"}
"""Characters that could end a script element or a line of it, as JSON may write them as well (RFC 8259,
section 7).
"""

NOT_AN_ENTRY = (
    "This file is neither an entry page nor an entry's JSON. Choose a file that was downloaded from a "
    "logbook (its name ends in .html or .json)."
)


def entry_json(document: EntryDocument) -> str:
    """Return the text of an entry's JSON file."""
    return document.model_dump_json(indent=2) + "\n"


def embedded_json(document: EntryDocument) -> str:
    """Return an entry's JSON so that it may stand in a script element: it holds no `<`, `>` or `&`."""
    text = document.model_dump_json()
    for sign, escape in _IN_SCRIPT.items():
        text = text.replace(sign, escape)
    return text


def file_name(document: EntryDocument, ending: str) -> str:
    """Return a name that every system takes: "garden-refractor-first-light-2026-05-03.html", plain ASCII."""
    words = (
        unicodedata.normalize("NFKD", f"{document.rig} {document.title}").encode("ascii", "ignore").decode()
    )
    stem = _NOT_IN_NAMES.sub("-", words.lower())[:_LONGEST_NAME].strip("-") or "entry"
    return f"{stem}-{document.saved_at:%Y-%m-%d}.{ending}"


def read_entry_file(data: bytes) -> Any:
    """Return the document in a file's bytes, to be read by `read_entry`.

    Raises RefusedError, in a sentence, where the file is too long, not text, or holds no entry.
    """
    if len(data) > LARGEST_FILE:
        raise RefusedError(
            f"This file has {len(data) / 1e6:.1f} MB; an entry's file has at most {LARGEST_FILE / 1e6:g} MB."
        )
    if not data.strip():
        raise RefusedError("This file is empty. Choose a file that was downloaded from a logbook.")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise RefusedError(NOT_AN_ENTRY) from None
    if text.lstrip().startswith("{"):
        return _parsed(text)
    return _parsed(_from_page(text))


def entry_schema() -> dict[str, Any]:
    """Return the JSON Schema that is published for the entry's file."""
    schema = _plain(EntryDocument.model_json_schema())
    schema.pop("description", None)
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **schema,
        "title": f"Trainwright entry, version {ENTRY_SCHEMA}",
        "description": (
            "One saved entry of a logbook: a rig with its parts as they were, and what the checks "
            "said. Fixed units, named in the field where they could be mistaken: mm, kg, um for pixels, nm, "
            "arcsec, A, V, degrees. Light travels to +z, from sky to sensor. null means not known."
        ),
    }


def schema_text() -> str:
    """Return the text of the published schema, static/schemas/entry-1.json."""
    return json.dumps(entry_schema(), indent=1, ensure_ascii=False) + "\n"


def _plain(node: Any) -> Any:
    """A schema with the words of our forms as descriptions, in place of what only our forms need."""
    if isinstance(node, list):
        return [_plain(one) for one in node]
    if not isinstance(node, dict):
        return node
    spec = node.get("spec")
    # A property may be called "title": then its value is a schema, and stays.
    kept = {
        key: _plain(value)
        for key, value in node.items()
        if not (key == "title" and isinstance(value, str)) and not (key == "spec" and "shape" in value)
    }
    if isinstance(spec, dict) and "shape" in spec:
        kept["description"] = ". ".join(filter(None, (spec["label"], spec.get("help", "").rstrip(".")))) + "."
    return kept


def _from_page(text: str) -> str:
    """The content of the one element that is marked as holding the data.

    Pages are ours or none, so nothing else of them is read: each step looks through the text once, whatever
    stands in it.
    """
    before, found, after = text.partition(f'id="{SCRIPT_ID}"')
    opening = before[before.rfind("<") + 1 :]
    rest, closed, data = after.partition(">")
    data, ended, _ = data.partition("<")
    if not (
        found and closed and ended and data and opening.startswith("script ") and ">" not in opening + rest
    ):
        raise RefusedError(NOT_AN_ENTRY)
    return data


def _parsed(text: str) -> Any:
    try:
        document = json.loads(text, parse_constant=_no_number)
        # An escape may stand for half of a surrogate pair, which no text of ours holds.
        json.dumps(document, ensure_ascii=False).encode("utf-8")
        return document
    except json.JSONDecodeError as error:
        raise RefusedError(
            f"This file is damaged: its data breaks off or is garbled at line {error.lineno}, column "
            f"{error.colno}. Download it anew."
        ) from None
    except (ValueError, RecursionError):
        raise RefusedError(
            "This file is damaged: its data holds what no entry has. Download it anew."
        ) from None


def _no_number(name: str) -> NoReturn:
    raise ValueError(name)
