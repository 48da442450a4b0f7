"""What the validation library found wrong, in our own sentences.

The library says "Input should be less than or equal to 5"; a person gets the value, what is allowed, and no
word of the library's.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

SHOWN = 40
"""Longest piece of an input that a sentence repeats, in characters."""

_KINDS = {
    "int_parsing": "a whole number, such as 7",
    "int_type": "a whole number, such as 7",
    "int_from_float": "a whole number, such as 7",
    "int_parsing_size": "a whole number of a usual size",
    "float_parsing": "a number, such as 12.5",
    "float_type": "a number, such as 12.5",
    "finite_number": "a number that can be measured",
    "bool_parsing": "a yes or a no",
    "bool_type": "a yes or a no",
    "string_type": "a text",
    "string_unicode": "a text",
    "list_type": "a list",
    "tuple_type": "a list",
    "dict_type": "a group of named values",
    "model_type": "a group of named values",
    "model_attributes_type": "a group of named values",
    "dataclass_type": "a group of named values",
    "datetime_parsing": "a date and time, such as 2026-05-01T21:30:00Z",
    "datetime_from_date_parsing": "a date and time, such as 2026-05-01T21:30:00Z",
    "datetime_type": "a date and time, such as 2026-05-01T21:30:00Z",
    "timezone_aware": "a date and time with its time zone",
    "date_parsing": "a date, such as 2026-05-01",
    "date_from_datetime_parsing": "a date, such as 2026-05-01",
    "date_type": "a date, such as 2026-05-01",
    "path_type": "the path of a folder or file",
    "string_pattern_mismatch": "a text of the form that is asked for",
    "none_required": "nothing: leave it out",
}
_LIMITS = {
    "greater_than": ("more than", "gt"),
    "greater_than_equal": ("at least", "ge"),
    "less_than": ("less than", "lt"),
    "less_than_equal": ("at most", "le"),
}
_OTHER = "This is not what belongs here. Put it right and try again."


def sentence_of(fault: Mapping[str, Any]) -> str:
    """Return one whole sentence for one fault of a ValidationError (a member of its `errors()`)."""
    kind, given = str(fault.get("type", "")), fault.get("input")
    context = fault.get("ctx") or {}
    if kind == "value_error":
        # Our own validators write these words; the library only puts its name before them.
        return _sentence(str(fault.get("msg", "")).removeprefix("Value error, ") or _OTHER)
    if kind == "missing":
        return "This is missing. Add it."
    if kind in ("extra_forbidden", "unexpected_keyword_argument"):
        return "Nothing of this name belongs here. Leave it out."
    if kind in _LIMITS:
        words, name = _LIMITS[kind]
        return f"{_shown(given)} is not allowed: it has to be {words} {_number(context.get(name))}."
    if kind in _KINDS:
        return f"{_shown(given)} is not {_KINDS[kind]}."
    return _of_length(kind, context) or _of_choice(kind, given, context) or _OTHER


def _of_length(kind: str, context: Mapping[str, Any]) -> str:
    match kind:
        case "string_too_long":
            return f"This is too long: at most {context.get('max_length')} characters are kept. Shorten it."
        case "string_too_short":
            return f"This is too short: at least {context.get('min_length')} characters are wanted."
        case "too_long":
            return f"These are too many: at most {context.get('max_length')} are kept. Leave some out."
        case "too_short":
            return f"These are too few: at least {context.get('min_length')} are wanted."
    return ""


def _of_choice(kind: str, given: Any, context: Mapping[str, Any]) -> str:
    match kind:
        case "literal_error" | "enum":
            return f"{_shown(given)} is none of the choices: {context.get('expected')}."
        case "union_tag_invalid":
            tag = _shown(context.get("tag"))
            return f"{tag} is none of the choices: {context.get('expected_tags')}."
        case "union_tag_not_found":
            named = str(context.get("discriminator", "")).strip("'")
            return f"It does not say which it is: give its {named or 'kind'}."
        case "json_invalid":
            return f"This cannot be read as JSON: {context.get('error', 'it is damaged')}."
    return ""


def _shown(given: Any) -> str:
    if given is None:
        return "Nothing"
    if isinstance(given, Mapping | list | tuple):
        return "What stands here"
    text = f"{given:g}" if isinstance(given, float) else str(given)
    # Half of a surrogate pair cannot be sent back.
    text = text.encode("utf-8", "replace").decode("utf-8")
    return f"“{text if len(text) <= SHOWN else text[: SHOWN - 1] + '…'}”"


def _number(limit: Any) -> str:
    return f"{limit:g}" if isinstance(limit, float) else str(limit)


def _sentence(words: str) -> str:
    return words[:1].upper() + words[1:].rstrip(".") + "."
