"""What was understood of a specification, what is offered, and what stays in the note."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Taken:
    """A value that was understood: the text that the form shows, and the words that it came from."""

    field: str
    text: str
    words: str


@dataclass(frozen=True)
class Offer:
    """A value that is worked out and not written: it is put in only when its reader asks for it."""

    field: str
    text: str
    how: str


@dataclass(frozen=True)
class TwoSides:
    """Two connections of one part, as texts. `ordered` where the words say that the first faces the sky."""

    first: str
    second: str
    words: str
    ordered: bool


@dataclass(frozen=True)
class Left:
    """Words that stay in the note; `why` is a sentence, "" where nothing here knows them."""

    words: str
    why: str = ""


@dataclass(frozen=True)
class SpecReading:
    """What the form of one kind can take of a text; `sides` where it is asked which side is which."""

    kind: str
    taken: tuple[Taken, ...]
    offers: tuple[Offer, ...]
    left: tuple[Left, ...]
    sides: TwoSides | None = None

    @property
    def note(self) -> str:
        """What was not understood, line by line, for the note."""
        return "\n".join(dict.fromkeys(one.words for one in self.left))

    @property
    def texts(self) -> dict[str, str]:
        """What stands in the form: field -> text."""
        found = {one.field: one.text for one in self.taken}
        notes = [text for text in (found.get("note", ""), self.note) if text]
        return found | ({"note": "\n".join(notes)} if notes else {})
