"""What can go wrong, in words a person can act on.

Every error carries a sentence that says what was refused, why, and the next step: text, or a clause where it
holds figures or names. Doors turn the class into a status, and write the message in its reader's units.
"""

from __future__ import annotations

from typing import ClassVar

from server.domain.said import Words


class TrainwrightError(Exception):
    """Base of all errors whose message is meant for the person at the page, or at the terminal, where a
    program goes by `exit_status`.
    """

    exit_status: ClassVar[int] = 1

    def __init__(self, message: Words) -> None:
        super().__init__(message)
        self.message = message


class NotFoundError(TrainwrightError):
    """The thing asked for is not in this install."""


class RefusedError(TrainwrightError):
    """The request was understood, and a rule of the domain forbids it."""


class NotYoursError(RefusedError):
    """Only the observer who entered a thing may change it."""


class PartInUseError(RefusedError):
    """A part cannot leave the catalogue while rigs hold it."""

    def __init__(self, message: Words, rig_names: tuple[str, ...]) -> None:
        super().__init__(message)
        self.rig_names = rig_names


class NewerDatabaseError(RefusedError):
    """The database was made by a newer Trainwright."""

    exit_status = 12


class UnpreparedDatabaseError(RefusedError):
    """There is no database yet, or one of an older schema."""

    exit_status = 13


class ClockError(RefusedError):
    """This machine's clock cannot be right."""

    exit_status = 14


class StaleVersionError(TrainwrightError):
    """The rig was changed elsewhere since the page was made."""

    def __init__(self, message: Words, current_version: int) -> None:
        super().__init__(message)
        self.current_version = current_version


class TooSoonError(RefusedError):
    """Too many tries in a row: the next one is taken after so many seconds."""

    def __init__(self, message: Words, seconds: int) -> None:
        super().__init__(message)
        self.seconds = seconds


class YourTurnComesError(TrainwrightError):
    """What takes long waits for its turn; `before` stand before it."""

    def __init__(self, before: int) -> None:
        comes = "1 answer comes" if before == 1 else f"{before} answers come"
        super().__init__(f"What takes long is worked out one by one, and {comes} before yours.")
        self.before = before


class DiskTroubleError(TrainwrightError):
    """The disk, or the file on it, does not take or give what was asked; nothing was changed. No refusal:
    who goes on after one would ask the same database again.
    """


class DatabaseAwayError(DiskTroubleError):
    """The server of the database does not answer, lets nobody in, or went away while it was asked.

    The message is for who runs it: it names the database. `plain` is for everybody else. `cut`: it had
    answered before, so that asking once more may do.
    """

    exit_status = 10

    def __init__(self, message: Words, plain: str, *, cut: bool = False) -> None:
        super().__init__(message)
        self.plain, self.cut = plain, cut


class NoEntryError(DatabaseAwayError):
    """The server of the database does not take the name or the password."""

    exit_status = 11


class BusyError(TrainwrightError):
    """Too many wanted the same at one moment; nothing was changed, and a moment later it may be taken."""


class FieldErrors(TrainwrightError):  # noqa: N818 - it holds several
    """One sentence per field that could not be taken; nothing was stored."""

    def __init__(self, errors: dict[str, str]) -> None:
        super().__init__("; ".join(f"{name}: {text}" for name, text in errors.items()))
        self.errors = errors
