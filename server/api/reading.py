"""Bodies: read strictly, and whole documents by the domain's own rules.

Strict: "5" is no number and 1 is no truth value; a program that sends them has a fault worth hearing of.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import TYPE_CHECKING, Annotated, Any, NoReturn, TypeVar

from pydantic import (
    BaseModel,
    ConfigDict,
    Field,
    GetCoreSchemaHandler,
    GetJsonSchemaHandler,
    TypeAdapter,
    ValidationError,
    model_validator,
)
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema, ErrorDetails, core_schema

from server.domain.entry import EntryDocument
from server.domain.errors import FieldErrors
from server.domain.measure import Frozen
from server.domain.parts import PART, Part
from server.domain.refusals import sentence_of
from server.domain.scout.needs import Needs
from server.domain.sky.site import Site
from server.domain.sky.target import OwnTarget
from server.flow.assemble_train import CHANGE, Change
from server.handed import LARGEST_NUMBER
from server.rim.forms import part_texts, read_part
from server.rim.sky_forms import read_name

_Named = TypeVar("_Named", Site, OwnTarget)


def _whole(value: Any) -> Any:
    """A body whose 5.0 is a 5: to JSON both are the same whole number.

    Source: JSON Schema Validation 2020-12, section 6.1.1. Raises ValueError for what is nested too deep.
    """
    try:
        if isinstance(value, dict):
            return {name: _whole(one) for name, one in value.items()}
        if isinstance(value, list):
            return [_whole(one) for one in value]
    except RecursionError:
        raise ValueError("It holds a depth that no document has.") from None
    if isinstance(value, float) and value.is_integer() and abs(value) <= LARGEST_NUMBER:
        return int(value)
    return value


class Body(BaseModel):
    """What every request's body has in common: no unknown fields, no silent conversion."""

    model_config = ConfigDict(strict=True, extra="forbid", allow_inf_nan=False)

    @model_validator(mode="before")
    @classmethod
    def _whole_numbers(cls, value: Any) -> Any:
        return _whole(value)


Version = Annotated[
    int,
    Field(ge=1, le=LARGEST_NUMBER, description="The version of the rig that this is done on.", examples=[1]),
]


def _sentences(errors: list[ErrorDetails], tagged: bool) -> dict[str, str]:
    """One sentence a field, by its path in the document. The path of a union begins with the tag."""
    found: dict[str, str] = {}
    for error in errors:
        path = error["loc"][1:] if tagged else error["loc"]
        found.setdefault(".".join(str(step) for step in path) or "document", sentence_of(error))
    return found


def plain_json(value: Any) -> str:
    """A body that was read already as JSON again. Raises FieldErrors where it holds what JSON text cannot."""
    try:
        text = json.dumps(value, ensure_ascii=False, allow_nan=False)
        text.encode("utf-8")
    except UnicodeEncodeError:
        raise FieldErrors({"document": "It holds half of a surrogate pair, which is no text."}) from None
    except TypeError:
        raise FieldErrors({"document": "It was not sent as JSON (Content-Type: application/json)."}) from None
    except (ValueError, RecursionError):
        raise FieldErrors({"document": "It holds a number or a depth that no document has."}) from None
    return text


def _strictly(adapter: TypeAdapter[Any], value: Any, tag: str) -> Any:
    text = plain_json(value)
    try:
        # As JSON, since in strict reading of Python values a list would be no tuple.
        return adapter.validate_json(text, strict=True)
    except ValidationError as error:
        details = error.errors(include_url=False)
        untagged = details[0]["loc"] == () and details[0]["type"].startswith("union_tag")
        raise FieldErrors(
            {tag: sentence_of(details[0])} if untagged else _sentences(details, tagged=bool(tag))
        ) from None


def read_part_document(value: Any) -> Part:
    """A part, held to the same limits as one that is typed into the form. Raises FieldErrors."""
    part: Part = _strictly(PART, value, "kind")
    read_part(part.kind, part_texts(part))
    return part


def read_change(value: Any) -> Change:
    """One change on the bench. Raises FieldErrors."""
    change: Change = _strictly(CHANGE, value, "verb")
    return change


SITE, OWN_TARGET, NEEDS = TypeAdapter(Site), TypeAdapter(OwnTarget), TypeAdapter(Needs)


def read_needs_document(value: Any) -> Needs:
    """What one wants of a rig. Raises FieldErrors."""
    found: Needs = _strictly(NEEDS, value, "")
    return found


def read_site_document(value: Any) -> Site:
    """A site. Raises FieldErrors."""
    return _read_named(SITE, value)


def read_own_target(value: Any) -> OwnTarget:
    """An own target. Raises FieldErrors."""
    return _read_named(OWN_TARGET, value)


def _read_named(adapter: TypeAdapter[_Named], value: Any) -> _Named:
    text = plain_json(value)
    try:
        found = adapter.validate_json(text, strict=True)
    except ValidationError as error:
        sentences = _sentences(error.errors(include_url=False), tagged=False)
        # A rule over several fields names in front the one that it is about.
        about, colon, rest = sentences.pop("document", "").partition(": ")
        if about:
            sentences |= {about.casefold(): rest} if colon else {"document": about}
        raise FieldErrors(sentences) from None
    return found.model_copy(update={"name": read_name(found.name)})


def _unread(value: Any) -> NoReturn:
    raise ValueError(f"this document is only ever answered, and {type(value).__name__} is none")


class Whole:
    """A document of the domain as one field of a body or an answer.

    Spelt out in every model that holds one, the twenty kinds of part would be built dozens of times, and
    starting would take that much longer. So the field is handed to the document's own reader and writer, and
    its schema is looked up when somebody asks for the OpenAPI document.
    """

    def __init__(self, adapter: TypeAdapter[Any], read: Callable[[Any], Any] = _unread) -> None:
        self._adapter = adapter
        self._read = read

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        """Read by `read`, written by the adapter; what is a document already stays as it is."""
        del source, handler

        def taken(value: Any) -> Any:
            return value if isinstance(value, Frozen) else self._read(value)

        def written(value: Any) -> Any:
            return self._adapter.dump_python(value, mode="json")

        writing = core_schema.plain_serializer_function_ser_schema(written)
        return core_schema.no_info_plain_validator_function(taken, serialization=writing)

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        """The document's own schema."""
        del schema
        return handler(self._adapter.core_schema)


if TYPE_CHECKING:
    PartDocument = Part
    ChangeDocument = Change
    SavedDocument = EntryDocument
    SiteDocument = Site
    OwnTargetDocument = OwnTarget
    NeedsDocument = Needs
else:
    # Any, because the tags that tell a union's members apart are the adapter's business here.
    PartDocument = Annotated[Any, Whole(PART, read_part_document)]
    ChangeDocument = Annotated[Any, Whole(CHANGE, read_change)]
    SavedDocument = Annotated[Any, Whole(TypeAdapter(EntryDocument))]
    SiteDocument = Annotated[Any, Whole(SITE, read_site_document)]
    OwnTargetDocument = Annotated[Any, Whole(OWN_TARGET, read_own_target)]
    NeedsDocument = Annotated[Any, Whole(NEEDS, read_needs_document)]
