"""Passkeys: a second way to sign in, beside the password.

Source: Web Authentication Level 3 (W3C), sections 7.1 and 7.2, whose steps py_webauthn takes but for those
that are here: the challenge is its browser's and good once, the credential is nobody else's, the handle is
the owner's, and nothing is signed in another site's frame. A passkey takes the place of the password, so its
authenticator must have made sure of its owner (user verification is required): whoever finds a security key
has one factor alone (NIST SP 800-63B-4, appendix B, from memory). What a browser is asked stands in the store
for some minutes, so that any worker takes the answer.
"""

from __future__ import annotations

import ipaddress
import json
import secrets
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any
from urllib.parse import urlsplit

from server.domain.account import CHALLENGE_GOOD, TRIES_FREE, Challenge, Passkey, SignedIn
from server.domain.errors import FieldErrors, NotFoundError, RefusedError
from server.flow.account_protocols import AccountStores
from server.flow.accounts import TOKEN_BYTES, Club, count_try, digest, placed_key

MOST_PASSKEYS = 20
LONGEST_NAME = 60
LONGEST_CREDENTIAL = 1400
"""1023 bytes (section 7.1) in base64url."""

NOT_TAKEN = "This passkey was not taken. Try it once more, or sign in by your password."
NOT_ADDED = "This passkey was not taken, so nothing was added. Begin once more."


@dataclass(frozen=True)
class Begun:
    """What a browser is asked to do with a passkey.

    Attributes:
        token: what binds the answer to this browser.
        options: what it is told, as JSON.
    """

    token: str
    options: str


class Passkeys:
    """The verbs of passkeys. `origin` is the club's public address."""

    def __init__(
        self,
        club: Club,
        stores: AccountStores,
        origin: str,
        now: Callable[[], datetime] = lambda: datetime.now(UTC),
    ) -> None:
        self._club, self._stores, self._origin, self._now = club, stores, origin, now
        self._host = urlsplit(origin).hostname or ""

    @property
    def possible(self) -> bool:
        """Whether browsers make any for this address: they do for a name alone (section 5.1.3)."""
        with suppress(ValueError):
            ipaddress.ip_address(self._host)
            return False
        return True

    # Signing in
    def begin_sign_in(self, address: str) -> Begun:
        """Ask for any passkey of this club's. Raises TooSoonError."""
        from webauthn import generate_authentication_options, options_to_json
        from webauthn.helpers.structs import UserVerificationRequirement

        self._demand_possible()
        begun, now = placed_key("begun", address), self._now()
        with self._stores.writing() as store:
            count_try(store, begun, TRIES_FREE["begun"], now)
        asked = generate_authentication_options(
            rp_id=self._host,
            timeout=int(CHALLENGE_GOOD.total_seconds() * 1000),
            user_verification=UserVerificationRequirement.REQUIRED,
        )
        return Begun(self._kept(asked.challenge, None), options_to_json(asked))

    def sign_in(self, token: str, given: str, address: str, agent: str) -> str:
        """Begin a session; its token. Raises RefusedError in the same words whatever was wrong, and
        TooSoonError after too many tries.
        """
        now, placed = self._now(), placed_key("address", address)
        answer = _read(given)
        with self._stores.writing() as store:
            # As for a password, a try has failed until it is known to be right.
            before = count_try(store, placed, TRIES_FREE["address"], now)
            challenge = store.take_challenge(digest(token))
            passkey = store.passkey(_credential(answer))
        count = None
        if challenge is not None and challenge.observer_id is None and challenge.expires_at > now:
            count = self._signed(answer, challenge, passkey)
        with self._stores.writing() as store:
            taken = passkey is not None and count is not None
            if passkey is not None:
                account = store.account(passkey.observer_id)
                taken = taken and account.closed_at is None and store.use_passkey(passkey, count or 0, now)
                if not taken:
                    store.log_act(now, "a passkey was refused", None, passkey.observer_id)
            if taken:
                store.set_tries(placed, before)
                store.set_tries(placed_key("begun", address), None)
        if passkey is None or not taken:
            raise RefusedError(NOT_TAKEN)
        return self._club.begun(passkey.observer_id, "signed in by a passkey", agent)

    def _signed(self, answer: dict[str, Any], challenge: Challenge, passkey: Passkey | None) -> int | None:
        """How often it has signed now; None where it has not signed this, or there is none."""
        from webauthn import base64url_to_bytes, verify_authentication_response

        if passkey is None or not _is_at_home(answer):
            return None
        if answer["response"].get("userHandle") != passkey.handle:
            return None
        try:
            found = verify_authentication_response(
                credential=answer,
                expected_challenge=base64url_to_bytes(challenge.challenge),
                expected_rp_id=self._host,
                expected_origin=self._origin,
                credential_public_key=base64url_to_bytes(passkey.public_key),
                credential_current_sign_count=passkey.sign_count,
                require_user_verification=True,
            )
        except Exception:  # noqa: BLE001 - the library and those below it raise much, of no common class
            return None
        return found.new_sign_count

    # One's own
    def mine(self, who: SignedIn) -> tuple[Passkey, ...]:
        """One's passkeys."""
        with self._stores.reading() as store:
            return store.passkeys(who.account.observer_id)

    def begin_adding(self, who: SignedIn, name: str, present: str, address: str) -> Begun:
        """Ask for a new passkey, after the password. Raises FieldErrors("passkey", "proof"), TooSoonError."""
        from webauthn import base64url_to_bytes, generate_registration_options, options_to_json
        from webauthn.helpers.structs import (
            AuthenticatorSelectionCriteria,
            PublicKeyCredentialDescriptor,
            ResidentKeyRequirement,
            UserVerificationRequirement,
        )

        self._demand_possible()
        _checked_name(name)
        mine = self.mine(who)
        if len(mine) >= MOST_PASSKEYS:
            raise FieldErrors({"passkey": f"You have {len(mine)} passkeys. Remove one first."})
        try:
            self._club.demand_password(who, present, address)
        except FieldErrors as error:
            raise FieldErrors({"proof": error.errors["present"]}) from None
        asked = generate_registration_options(
            rp_id=self._host,
            rp_name="Trainwright",
            # Of all one's passkeys the same, so that an authenticator keeps one alone.
            user_id=base64url_to_bytes(mine[0].handle) if mine else secrets.token_bytes(64),
            user_name=who.account.login,
            timeout=int(CHALLENGE_GOOD.total_seconds() * 1000),
            authenticator_selection=AuthenticatorSelectionCriteria(
                resident_key=ResidentKeyRequirement.REQUIRED,
                user_verification=UserVerificationRequirement.REQUIRED,
            ),
            exclude_credentials=[
                PublicKeyCredentialDescriptor(id=base64url_to_bytes(one.credential)) for one in mine
            ],
        )
        options = options_to_json(asked)
        handle = str(json.loads(options)["user"]["id"])
        return Begun(self._kept(asked.challenge, who.account.observer_id, handle), options)

    def add(self, who: SignedIn, token: str, name: str, given: str) -> None:
        """Keep the one that was made. Raises FieldErrors("passkey")."""
        from webauthn import base64url_to_bytes, verify_registration_response
        from webauthn.helpers import bytes_to_base64url

        name, answer, now = _checked_name(name), _read(given), self._now()
        handle = token.partition(".")[2]
        with self._stores.writing() as store:
            challenge = store.take_challenge(digest(token))
        mine = who.account.observer_id
        refused = FieldErrors({"passkey": NOT_ADDED})
        if challenge is None or challenge.observer_id != mine or challenge.expires_at <= now:
            raise refused
        if not _is_at_home(answer):
            raise refused
        try:
            found = verify_registration_response(
                credential=answer,
                expected_challenge=base64url_to_bytes(challenge.challenge),
                expected_rp_id=self._host,
                expected_origin=self._origin,
                require_user_verification=True,
            )
        except Exception:  # noqa: BLE001 - as above
            raise refused from None
        credential = bytes_to_base64url(found.credential_id)
        if len(credential) > LONGEST_CREDENTIAL:
            raise refused
        public_key = bytes_to_base64url(found.credential_public_key)
        with self._stores.writing() as store:
            made = Passkey(0, mine, credential, public_key, handle, found.sign_count, name, now)
            if not store.add_passkey(made):
                raise refused
            store.log_act(now, "added a passkey", mine, None)

    def remove(self, who: SignedIn, passkey_id: int) -> None:
        """Remove one of one's own. Raises NotFoundError."""
        mine = who.account.observer_id
        with self._stores.writing() as store:
            if not store.remove_passkey(mine, passkey_id):
                raise NotFoundError("This passkey is not here any more.")
            store.log_act(self._now(), "removed a passkey", mine, None)

    def _demand_possible(self) -> None:
        if not self.possible:
            raise NotFoundError("Passkeys need an address with a name. Sign in by your password.")

    def _kept(self, challenge: bytes, observer_id: int | None, handle: str = "") -> str:
        from webauthn.helpers import bytes_to_base64url

        # The handle travels in the token, whose hash is kept, so it comes back as it was.
        token, now = f"{secrets.token_urlsafe(TOKEN_BYTES)}.{handle}", self._now()
        with self._stores.writing() as store:
            store.sweep(now, None)
            asked = Challenge(bytes_to_base64url(challenge), observer_id, now + CHALLENGE_GOOD)
            store.add_challenge(digest(token), asked)
        return token


def _checked_name(name: str) -> str:
    name = " ".join(name.split())
    if not name:
        raise FieldErrors({"passkey": "Give it a name, like the device that it is on."})
    if len(name) > LONGEST_NAME:
        raise FieldErrors({"passkey": f"Take at most {LONGEST_NAME} characters; this has {len(name)}."})
    return name


def _read(given: str) -> dict[str, Any]:
    """What a browser gave, as far as it has the right shape."""
    try:
        answer = json.loads(given)
    except (ValueError, RecursionError):
        return {}
    return answer if isinstance(answer, dict) and isinstance(answer.get("response"), dict) else {}


def _credential(answer: dict[str, Any]) -> str:
    """The number that it names, "" where that is none: base64url has printable ASCII alone."""
    number = str(answer.get("id", ""))[:LONGEST_CREDENTIAL]
    return number if number.isascii() and number.isprintable() else ""


def _is_at_home(answer: dict[str, Any]) -> bool:
    """Whether it was signed on a page of ours and not within another site's (section 7.2, step 13)."""
    from webauthn import base64url_to_bytes

    try:
        told = json.loads(base64url_to_bytes(answer["response"]["clientDataJSON"]))
    except (KeyError, TypeError, AttributeError, ValueError, RecursionError):
        return False
    return isinstance(told, dict) and not told.get("crossOrigin") and "topOrigin" not in told
