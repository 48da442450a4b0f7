"""What the account's routes are handed, and how they say no."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, cast

from fastapi import Depends, Form, Request
from fastapi.responses import Response

from server.domain.account import SignedIn
from server.domain.errors import FieldErrors, NotFoundError, RefusedError, TooSoonError
from server.flow.accounts import Club
from server.flow.lost_passwords import LostPasswords
from server.flow.passkeys import Passkeys
from server.handed import Reading
from server.settings import HostedSettings
from server.web.account.gate import signed_in
from server.web.deps import chosen_observer, settings_of
from server.web.errors import trouble_of

AT_ONCE = 4
"""How many passwords are hashed at once: each takes 64 MB."""


def club_of(request: Request) -> Club:
    """The verbs of accounts."""
    return cast(Club, request.app.state.club)


def _club(request: Request) -> Iterator[Club]:
    # What yields is counted until its route has returned.
    yield club_of(request)


def passkeys_of(request: Request) -> Passkeys:
    """The verbs of passkeys."""
    return cast(Passkeys, request.app.state.passkeys)


def _passkeys(request: Request) -> Iterator[Passkeys]:
    yield passkeys_of(request)


def lost_passwords_of(request: Request) -> LostPasswords:
    """The verbs of lost passwords by mail."""
    return cast(LostPasswords, request.app.state.lost_passwords)


def who_asks(request: Request, unit: Reading) -> SignedIn:
    """Who is signed in. Raises NotFoundError."""
    who = signed_in(request)
    if who is None:
        raise NotFoundError("Sign in first.")
    # The bar says who reads.
    with unit.opened() as store:
        chosen_observer(request, store)
    return who


def steward_who_asks(who: Annotated[SignedIn, Depends(who_asks, scope="function")]) -> SignedIn:
    """The steward who is signed in. Raises NotFoundError."""
    if not who.account.is_steward:
        raise NotFoundError("There is nothing here for you: stewards of the club look after this.")
    return who


TheClub = Annotated[Club, Depends(_club, scope="function", max_concurrency=AT_ONCE)]
ThePasskeys = Annotated[Passkeys, Depends(_passkeys, scope="function", max_concurrency=AT_ONCE)]
Who = Annotated[SignedIn, Depends(who_asks, scope="function")]
Steward = Annotated[SignedIn, Depends(steward_who_asks, scope="function")]
Typed = Annotated[str, Form(max_length=2000)]


def hosted_settings(request: Request) -> HostedSettings:
    """This run's settings."""
    return cast(HostedSettings, settings_of(request))


def address_of(request: Request) -> str:
    """Where the request came from."""
    return request.client.host if request.client else ""


def agent_of(request: Request) -> str:
    """What the browser calls itself."""
    return request.headers.get("user-agent", "")


def errors_of(error: RefusedError | FieldErrors) -> tuple[dict[str, str], int]:
    """What a page shows of a refusal, and the status."""
    if isinstance(error, FieldErrors):
        return error.errors, 422
    page = trouble_of(error)
    return {"": page.sentence}, page.status


def waiting(response: Response, error: Exception) -> Response:
    """The same, which says when to come back where it was too soon."""
    if isinstance(error, TooSoonError):
        response.headers["Retry-After"] = str(error.seconds)
    return response
