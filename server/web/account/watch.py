"""What a proxy or a timer asks: whether the process answers, and whether the club can be served by it."""

from __future__ import annotations

import asyncio
from collections.abc import Callable

from fastapi import Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import JSONResponse, Response

from server.domain.errors import TrainwrightError
from server.handed.routing import pages

router = pages()

PATIENCE_S = 2.0
"""How long the database may take."""
SLOW = f"The database did not answer within {PATIENCE_S:g} seconds."
AWAY = "The database does not answer."
OF_ANOTHER = "The database is not of this Trainwright's schema. Run: trainwright migrate"


class Readiness:
    """Asks the database, by one thread at most, however many ask whether it is there and however long it is
    silent. What it says tells a stranger nothing of where the database is.
    """

    def __init__(self, is_prepared: Callable[[], bool]) -> None:
        self._is_prepared = is_prepared
        self._asking: asyncio.Task[str] | None = None

    async def trouble(self) -> str:
        """Why nobody can be served now, in a sentence; "" where all is well."""
        if self._asking is None or self._asking.done():
            self._asking = asyncio.create_task(run_in_threadpool(self._ask))
        done, _ = await asyncio.wait({self._asking}, timeout=PATIENCE_S)
        return self._asking.result() if done else SLOW

    def _ask(self) -> str:
        try:
            return "" if self._is_prepared() else OF_ANOTHER
        except TrainwrightError:
            return AWAY


@router.get("/health")
async def health() -> Response:
    """Whether the process answers; nothing else is asked."""
    return JSONResponse({"state": "well"})


@router.get("/ready")
async def ready(request: Request) -> Response:
    """Whether the database answers soon and is migrated."""
    readiness: Readiness = request.app.state.readiness
    trouble = await readiness.trouble()
    return JSONResponse(
        {"state": "not ready", "why": trouble} if trouble else {"state": "ready"}, 503 if trouble else 200
    )
