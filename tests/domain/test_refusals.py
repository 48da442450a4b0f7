"""What the validation library finds wrong is said in our own sentences.

Source: none needed; the sentences are the project's own, and the library's words are those of pydantic 2.
"""

from __future__ import annotations

import re
from datetime import date, datetime
from pathlib import Path
from typing import Annotated, Any, Literal, get_args

import pytest
from pydantic import BaseModel, ConfigDict, Field, TypeAdapter, ValidationError, field_validator
from pydantic_core.core_schema import ErrorType

from server.domain.refusals import sentence_of

LIBRARY_WORDS = re.compile(
    r"\bInput should|\bString should|\bField required|\bExtra inputs|\bValue error|\bList should"
    r"|\bvalidation\b|should be|should have|pydantic",
)


class Ring(BaseModel):
    model_config = ConfigDict(extra="forbid")

    kind: Literal["ring"] = "ring"
    length: float = Field(default=1.0, gt=0, le=5.0, allow_inf_nan=False)
    name: str = Field(default="x", min_length=1, max_length=10)
    count: int = Field(default=1, ge=1, lt=100)
    rows: tuple[float, ...] = Field(default=(), max_length=2)

    @field_validator("name")
    @classmethod
    def _no_hash(cls, value: str) -> str:
        if "#" in value:
            raise ValueError("a name has no # in it")
        return value


class Shim(BaseModel):
    kind: Literal["shim"] = "shim"


def fault_of(adapter: Any, value: Any) -> dict[str, Any]:
    with pytest.raises(ValidationError) as raised:
        TypeAdapter(adapter).validate_python(value)
    return dict(raised.value.errors()[0])


Either = Annotated[Ring | Shim, Field(discriminator="kind")]


@pytest.mark.parametrize(
    ("adapter", "value", "said"),
    [
        (Ring, {"length": 7.25}, "“7.25” is not allowed: it has to be at most 5."),
        (Ring, {"length": 0}, "“0” is not allowed: it has to be more than 0."),
        (Ring, {"count": 100}, "“100” is not allowed: it has to be less than 100."),
        (Ring, {"count": 0}, "“0” is not allowed: it has to be at least 1."),
        (Ring, {"length": "long"}, "“long” is not a number, such as 12.5."),
        (Ring, {"length": float("nan")}, "“nan” is not a number that can be measured."),
        (Ring, {"count": "seven"}, "“seven” is not a whole number, such as 7."),
        (Ring, {"count": 7.5}, "“7.5” is not a whole number, such as 7."),
        (Ring, {"count": None}, "Nothing is not a whole number, such as 7."),
        (Ring, {"name": "12345678901"}, "This is too long: at most 10 characters are kept. Shorten it."),
        (Ring, {"name": ""}, "This is too short: at least 1 characters are wanted."),
        (Ring, {"name": 5}, "“5” is not a text."),
        (Ring, {"name": "a#"}, "A name has no # in it."),
        (Ring, {"rows": [1, 2, 3]}, "These are too many: at most 2 are kept. Leave some out."),
        (Ring, {"rows": 1}, "“1” is not a list."),
        (Ring, {"colour": "red"}, "Nothing of this name belongs here. Leave it out."),
        (Ring, {"kind": "shim"}, "“shim” is none of the choices: 'ring'."),
        (Ring, [1, 2], "What stands here is not a group of named values."),
        (Either, {"kind": "tube"}, "“tube” is none of the choices: 'ring', 'shim'."),
        (Either, {}, "It does not say which it is: give its kind."),
        (bool, "perhaps", "“perhaps” is not a yes or a no."),
        (date, "soon", "“soon” is not a date, such as 2026-05-01."),
        (datetime, "soon", "“soon” is not a date and time, such as 2026-05-01T21:30:00Z."),
        (Path, 5, "“5” is not the path of a folder or file."),
    ],
)
def test_a_fault_is_told_with_the_value_and_what_is_allowed(adapter: Any, value: Any, said: str) -> None:
    assert sentence_of(fault_of(adapter, value)) == said


def test_a_long_input_and_half_a_surrogate_pair_are_not_repeated_whole() -> None:
    said = sentence_of(fault_of(int, "9x" * 200))
    assert len(said) < 100
    sentence_of({"type": "int_parsing", "input": "\ud800"}).encode("utf-8")


@pytest.mark.parametrize("kind", get_args(ErrorType))
def test_whatever_the_library_can_find_none_of_its_words_reach_a_person(kind: str) -> None:
    words = "an own validator's words" if kind == "value_error" else "Input should be of the library's"
    said = sentence_of({"type": kind, "msg": f"Value error, {words}", "input": "given"})
    assert said.endswith(".")
    assert said[0].isupper() or said[0] == "“"
    assert not LIBRARY_WORDS.search(said), said
