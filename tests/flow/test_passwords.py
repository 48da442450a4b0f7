"""Which passwords are taken, and how they are kept. The rules: NIST SP 800-63B, from memory."""

from __future__ import annotations

import pytest
from argon2 import PasswordHasher

from server.domain.errors import FieldErrors
from server.flow.passwords import checked_password, hashed, is_outdated, is_right

GOOD = "lantern orchid gravel teapot"


@pytest.mark.parametrize(
    ("password", "says"),
    [
        ("short but odd", "at least 15"),
        ("x" * 14, "this has 14"),
        ("ab cd " * 50, "at most 256"),
        ("passwordpassword", "easy to guess"),
        ("qwertyuiopasdfgh", "easy to guess"),
        ("annikathornquist", "easy to guess"),
    ],
)
def test_what_is_short_long_or_common_is_refused_in_words(password: str, says: str):
    with pytest.raises(FieldErrors) as refused:
        checked_password(password, password, ("annika", "thornquist"))
    assert says in refused.value.errors["password"]


@pytest.mark.parametrize(
    "password", [GOOD, "nur kleine buchstaben hier", "ünïcode ist auch rècht 🔭", GOOD * 9]
)
def test_nothing_is_asked_of_its_composition(password: str):
    assert checked_password(password, password, ()) == password


def test_it_is_typed_twice():
    with pytest.raises(FieldErrors) as refused:
        checked_password(GOOD, GOOD + " ", ())
    assert refused.value.errors.keys() == {"again"}


def test_it_is_right_however_a_keyboard_writes_its_letters():
    kept = hashed("Ångström über Møn, hvem")
    assert is_right("A\u030angstro\u0308m u\u0308ber Møn, hvem", kept)
    assert not is_right("Angstrom uber Møn, hvem", kept)


def test_it_is_kept_by_argon2id_with_the_packages_recommended_parameters():
    assert hashed(GOOD).startswith("$argon2id$v=19$m=65536,t=3,p=4$")
    assert not is_outdated(hashed(GOOD))
    assert is_outdated(PasswordHasher(time_cost=1, memory_cost=8192, parallelism=1).hash(GOOD))


def test_without_an_account_nothing_is_right():
    assert not is_right("the password of nobody", None)
    assert not is_right(GOOD, "not a hash")
