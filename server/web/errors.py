"""What went wrong, for the one who asked: a page, a line on the page (htmx), or JSON below /api."""

from __future__ import annotations

import logging
import secrets
from dataclasses import dataclass, field
from http import HTTPStatus
from typing import ClassVar

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, RedirectResponse, Response
from starlette.exceptions import HTTPException
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from server.domain.errors import (
    BusyError,
    DatabaseAwayError,
    DiskTroubleError,
    FieldErrors,
    NotFoundError,
    NotYoursError,
    PartInUseError,
    RefusedError,
    StaleVersionError,
    TooSoonError,
    TrainwrightError,
    YourTurnComesError,
)
from server.domain.observer import UnitSystem
from server.domain.refusals import sentence_of
from server.handed import stores_of
from server.rim.phrasebook.tell import write_words
from server.web.deps import NoObserverError, chosen_observer
from server.web.rendering import URLS, render_block, render_page, wants_block

log = logging.getLogger(__name__)


@dataclass(frozen=True)
class TroublePage:
    """A request that could not be answered as it was meant.

    Attributes:
        status: the HTTP status.
        title: what it is, in a few words.
        sentence: what was refused, why, and the next step.
        details: one sentence each for the fields that could not be taken, or the rigs that hold a part.
        retry_s: after so many seconds to ask again, 0 for whenever one likes. A page does so by itself.
        again: whether loading the page again is the next step.
    """

    template: ClassVar[str] = "trouble/trouble.html"

    status: int
    title: str
    sentence: str
    details: tuple[str, ...] = ()
    again: bool = False
    retry_s: int = 0
    code: str = "refused"
    extra: dict[str, object] = field(default_factory=dict)


def status_of(error: TrainwrightError) -> int:
    """The HTTP status that tells a program what the sentence tells a person."""
    match error:
        case NotFoundError():
            return 404
        case NotYoursError():
            return 403
        case StaleVersionError() | PartInUseError():
            return 409
        case TooSoonError():
            return 429
        case DiskTroubleError() | BusyError() | YourTurnComesError():
            # RFC 9110, section 15.6.4: it can be mended, and not by who asks.
            return 503
        case _:
            return 422


def trouble_of(error: TrainwrightError, units: UnitSystem = "metric") -> TroublePage:
    """The page that says what went wrong, in its reader's units."""
    status, message = status_of(error), write_words(error.message, units)
    match error:
        case NotFoundError():
            return TroublePage(status, "Not here", message, code="not_found")
        case NotYoursError():
            return TroublePage(status, "Entered by another observer", message, code="not_yours")
        case StaleVersionError():
            extra: dict[str, object] = {"current_version": error.current_version}
            return TroublePage(
                status,
                "Changed elsewhere meanwhile",
                message,
                again=True,
                code="stale_version",
                extra=extra,
            )
        case PartInUseError():
            return TroublePage(
                status,
                "Still in use",
                message,
                code="part_in_use",
                extra={"rigs": list(error.rig_names)},
            )
        case FieldErrors():
            return TroublePage(
                status,
                "Not stored yet",
                "Some of what was typed could not be taken, so nothing was changed. "
                "Go back and put it right.",
                tuple(error.errors.values()),
                code="field_errors",
                extra={"fields": error.errors},
            )
        case DatabaseAwayError():
            log.warning("%s", message)
            code = "database_cut" if error.cut else "database_away"
            return TroublePage(status, "The database is away", error.plain, again=True, code=code)
        case YourTurnComesError():
            extra = {"before": error.before}
            return TroublePage(
                status, "Your turn comes", message, again=True, code="your_turn_comes", extra=extra, retry_s=2
            )
        case BusyError():
            return TroublePage(status, "Too much at once", message, again=True, code="busy")
        case DiskTroubleError():
            return TroublePage(status, "Trouble with the disk", message, code="disk_trouble")
        case RefusedError():
            return TroublePage(status, "Not possible", message, code="refused")
        case _:
            return TroublePage(status, "Not possible", message)


def answer(request: Request, page: TroublePage) -> Response:
    """The answer, in the shape of the question."""
    request.state.cut = page.code == "database_cut"
    waits = {"Retry-After": str(page.retry_s)} if page.retry_s else None
    if request.url.path.startswith("/api/"):
        error = {"code": page.code, "message": page.sentence, **page.extra}
        return JSONResponse({"error": error}, page.status, waits)
    if wants_block(request):
        response: Response = render_block(request, page, "notice", page.status)
        # It belongs in the page's own notice line, not in place of what was being changed.
        response.headers["HX-Retarget"] = "#notice"
        response.headers["HX-Reswap"] = "innerHTML"
        return response
    _see_who_reads(request)
    shown = render_page(request, page, page.status)
    shown.headers.update({**waits, "Refresh": str(page.retry_s)} if waits else {})
    return shown


def _see_who_reads(request: Request) -> None:
    """Let the page's bar name the observer also where no route got to look, as at a mistyped address."""
    if hasattr(request.state, "observer") or request.app.state.guest:
        return
    try:
        with stores_of(request).reading() as store:
            chosen_observer(request, store)
    except Exception:
        # The trouble may be the database itself; the page does without the name then.
        log.debug("The observer could not be read for an error page.", exc_info=True)


def _known(request: Request, error: Exception) -> Response:
    assert isinstance(error, TrainwrightError)
    reader = getattr(request.state, "observer", None)
    return answer(request, trouble_of(error, "metric" if reader is None else reader.units))


def _nobody(request: Request, error: Exception) -> Response:  # noqa: ARG001 - a handler's signature
    if wants_block(request):
        return Response(status_code=200, headers={"HX-Redirect": URLS.home()})
    return RedirectResponse(URLS.home(), status_code=303)


def _unreadable(request: Request, error: Exception) -> Response:
    assert isinstance(error, RequestValidationError)
    if all(problem["loc"][:1] == ("path",) for problem in error.errors()):
        return answer(request, _no_page())
    fields = {
        ".".join(str(step) for step in problem["loc"][1:]) or "request": sentence_of(problem)
        for problem in error.errors()
    }
    page = TroublePage(
        422,
        "Not understood",
        "The request lacks something or holds what this page does not take, so nothing was changed. "
        "Load the page again and repeat the step.",
        tuple(f"{name}: {sentence}" for name, sentence in fields.items()),
        again=True,
        code="not_understood",
        extra={"fields": fields},
    )
    return answer(request, page)


def _no_page() -> TroublePage:
    return TroublePage(
        404,
        "Not here",
        "There is nothing at this address. It may be mistyped, or was removed.",
        code="not_found",
    )


def _http(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    if error.status_code == 404:
        return answer(request, _no_page())
    if error.status_code == 405:
        sentence = "This address does not take that kind of request. Begin again from the first page."
        page = TroublePage(405, "Not that way", sentence, code="method_not_allowed")
    else:
        title = HTTPStatus(error.status_code).phrase.capitalize()
        page = TroublePage(error.status_code, title, f"{str(error.detail).rstrip('.')}.", code="refused")
    response = answer(request, page)
    response.headers.update(error.headers or {})
    return response


def install_handlers(app: FastAPI) -> None:
    """Teach an app to answer every foreseen error in words."""
    app.add_exception_handler(TrainwrightError, _known)
    app.add_exception_handler(NoObserverError, _nobody)
    app.add_exception_handler(RequestValidationError, _unreadable)
    app.add_exception_handler(HTTPException, _http)


class Unexpected:
    """Catches what nobody foresaw: it is logged whole, and the page shows a number to find it by.

    A middleware and not a handler, because the framework runs handlers of Exception outside all middlewares,
    and that page too must carry the policy headers.
    """

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on; answer 500 where it fails before an answer has begun."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        begun = False

        async def send_noting(message: Message) -> None:
            nonlocal begun
            begun = True
            await send(message)

        try:
            await self._app(scope, receive, send_noting)
        except Exception:
            number = secrets.token_hex(4)
            # The path of a shared entry is a secret that a log should not keep; its first step says enough.
            log.exception(
                "Unexpected error %s at %s /%s", number, scope["method"], scope["path"].split("/")[1]
            )
            if begun:
                raise
            page = TroublePage(
                500,
                "Something went wrong here",
                "This is a fault of the program, not yours; what was being changed has not been stored. "
                "Try once more. If it comes again, the program's log describes it under the number "
                f"{number}.",
                again=True,
                code="unexpected",
                extra={"number": number},
            )
            await answer(Request(scope, receive), page)(scope, receive, send)
