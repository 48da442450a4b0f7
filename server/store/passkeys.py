"""Passkeys, and what they are asked to sign."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import Row, delete, insert, select, update

from server.domain.account import Challenge, Passkey
from server.store.account_tables import (
    account_challenge,
    account_passkey,
    maybe_moment,
    moment_of,
    seconds_of,
)
from server.store.unit import Unit


class Passkeys(Unit):
    """Passkeys, and what they are asked to sign."""

    def passkeys(self, observer_id: int) -> tuple[Passkey, ...]:
        """Someone's, in the order in which they were added."""
        of = account_passkey.c
        asked = select(account_passkey).where(of.observer_id == observer_id).order_by(of.id)
        return tuple(_passkey(row) for row in self._rows(asked))

    def passkey(self, credential: str) -> Passkey | None:
        """The one with this number of its authenticator's."""
        asked = select(account_passkey).where(account_passkey.c.credential == credential)
        row = self._connection.execute(asked).first()
        return None if row is None else _passkey(row)

    def add_passkey(self, passkey: Passkey) -> bool:
        """Keep one, whose own number is given here; False where there is one of this credential."""
        if self.passkey(passkey.credential) is not None:
            return False
        values = {
            "observer_id": passkey.observer_id,
            "credential": passkey.credential,
            "public_key": passkey.public_key,
            "handle": passkey.handle,
            "sign_count": passkey.sign_count,
            "name": passkey.name,
            "added_at": seconds_of(passkey.added_at),
        }
        self._run(insert(account_passkey), values)
        return True

    def use_passkey(self, passkey: Passkey, count: int, at: datetime) -> bool:
        """Note that it was used; False where it is gone, or was used meanwhile by another."""
        of = account_passkey.c
        used = update(account_passkey).where(of.id == passkey.id, of.sign_count == passkey.sign_count)
        return bool(self._run(used.values(sign_count=count, used_at=seconds_of(at))))

    def remove_passkey(self, observer_id: int, passkey_id: int) -> bool:
        """Remove one of someone's; whether it was theirs."""
        of = account_passkey.c
        gone = delete(account_passkey).where(of.id == passkey_id, of.observer_id == observer_id)
        return bool(self._run(gone))

    def add_challenge(self, token_hash: str, challenge: Challenge) -> None:
        """Keep what a passkey is asked to sign."""
        values = {
            "token_hash": token_hash,
            "challenge": challenge.challenge,
            "observer_id": challenge.observer_id,
            "expires_at": seconds_of(challenge.expires_at),
        }
        self._run(insert(account_challenge), values)

    def take_challenge(self, token_hash: str) -> Challenge | None:
        """What was asked of the browser with this token, which is forgotten by it."""
        ours = account_challenge.c.token_hash == token_hash
        row = self._connection.execute(select(account_challenge).where(ours)).first()
        # One writes at a time, so nobody else has read it meanwhile.
        self._run(delete(account_challenge).where(ours))
        return None if row is None else Challenge(row.challenge, row.observer_id, moment_of(row.expires_at))


def _passkey(row: Row[Any]) -> Passkey:
    return Passkey(
        row.id,
        row.observer_id,
        row.credential,
        row.public_key,
        row.handle,
        row.sign_count,
        row.name,
        moment_of(row.added_at),
        maybe_moment(row.used_at),
    )
