"""Passwords: which are taken, and how they are kept.

Rules: NIST SP 800-63B, its revision 4, section 3.1.1 (from memory): at least 15 characters where the password
is the only factor, at least 64 allowed, common ones refused, no rule of composition, no change by the
calendar, Unicode normalised (NFKC) before hashing. Hashes: Argon2id by RFC 9106's second recommended option,
which is what argon2-cffi recommends.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from functools import cache

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError
from zxcvbn import zxcvbn

from server.domain.errors import FieldErrors

SHORTEST, LONGEST = 15, 256
GOOD_SCORE = 3
"""Of zxcvbn's scores from 0 to 4: below it, guessing takes fewer than 100 million tries."""
_ESTIMATED = 72
"""zxcvbn looks at no more characters."""

_hasher = PasswordHasher()


def plain(password: str) -> str:
    """The password as it is kept: one way of writing each letter."""
    return unicodedata.normalize("NFKC", password)


def checked_password(password: str, again: str, words: Sequence[str]) -> str:
    """A new password that is good enough; `words` are those that it must not be made of: names.

    Raises FieldErrors for "password" or "again".
    """
    password = plain(password)
    if len(password) < SHORTEST:
        raise FieldErrors(
            {"password": f"Take at least {SHORTEST} characters; this has {len(password)}. Four or five "
             "words that have nothing to do with each other are good, and spaces may stand between them."}
        )  # fmt: skip
    if len(password) > LONGEST:
        raise FieldErrors({"password": f"Take at most {LONGEST} characters; this has {len(password)}."})
    found = zxcvbn(password[:_ESTIMATED], user_inputs=list(words))
    if found["score"] < GOOD_SCORE:
        warning = str(found["feedback"]["warning"]).rstrip(".") or "It is among the first that are guessed"
        raise FieldErrors({"password": f"This password is easy to guess. {warning}. Take another."})
    if plain(again) != password:
        raise FieldErrors({"again": "This is not the same password. Type or paste it once more."})
    return password


def hashed(password: str) -> str:
    """What the store keeps of a password."""
    return _hasher.hash(plain(password))


@cache
def _nobodys() -> str:
    return _hasher.hash("the password of nobody")


def is_right(password: str, kept: str | None) -> bool:
    """Whether the password is the one that was hashed. Without a hash it takes as long to say no."""
    try:
        _hasher.verify(kept or _nobodys(), plain(password[: 4 * LONGEST]))
    except (VerificationError, InvalidHashError):
        return False
    return kept is not None


def is_outdated(kept: str) -> bool:
    """Whether a hash was made by other parameters than today's."""
    return _hasher.check_needs_rehash(kept)
