"""A reference to what is missing: the words for it, and the part and field where it is entered."""

from __future__ import annotations

from typing import Annotated, Any, Self

from pydantic import GetCoreSchemaHandler
from pydantic_core import CoreSchema, core_schema


class Missing(str):
    """Words such as "the focal length of X", with the catalogue number and the field that they are about.

    part_id is None and field "" where no one field says it: a length somewhere, a formula that nobody has.
    It is text to all who only show it, and is kept as text: a saved entry holds the words alone.
    """

    part_id: int | None
    field: str

    def __new__(cls, words: str, part_id: int | None = None, field: str = "") -> Self:
        """Words, and where they are entered."""
        made = super().__new__(cls, words)
        made.part_id, made.field = part_id, field
        return made


class _AsText:
    """Text in a file; in memory the reference as it is."""

    @classmethod
    def __get_pydantic_core_schema__(cls, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        kept = core_schema.union_schema([core_schema.is_instance_schema(Missing), core_schema.str_schema()])
        return core_schema.json_or_python_schema(
            json_schema=core_schema.str_schema(),
            python_schema=kept,
            serialization=core_schema.to_string_ser_schema(),
        )


MissingWords = Annotated[str, _AsText]
"""How a finding holds what is missing."""
