"""What the hosted form counts of itself for Prometheus: how many requests, how long they took, who waits. No
name, no number and no address of anybody's is in it.

Several processes count together in the files of a folder, `PROMETHEUS_MULTIPROC_DIR`, which must be set
before this module is imported; whoever watches asks the process that started them, on its own listener.
"""

from __future__ import annotations

import re
import time

from prometheus_client import CollectorRegistry, Gauge, Histogram, start_http_server
from prometheus_client.multiprocess import MultiProcessCollector
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from server.handed.turns import Turns

METHODS = ("GET", "HEAD", "POST", "PUT", "DELETE")
BUCKETS_S = (0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 30.0)
STATION = re.compile(
    r"/(account|api|bench|club|door|frames|invitation|logbook|lost-password|members|password|ready|s|scout|shelf|sign-in|sky|static)"
    r"(?:/|$)"
)
"""First steps of paths that are told apart; all others may hold what somebody typed."""

requests = Histogram(
    "trainwright_request_seconds",
    "Requests by their station, method and status, and how long their answers took.",
    ["station", "method", "status"],
    buckets=BUCKETS_S,
)
long_answers = Histogram(
    "trainwright_long_answer_seconds",
    "What takes long, with the waiting for its turn.",
    ["station"],
    buckets=BUCKETS_S,
)
waiting = Gauge(
    "trainwright_long_answers_waiting", "How many wait for their turn.", multiprocess_mode="mostrecent"
)


class Counted:
    """Counts each request; in a process beside as what takes long, which the worker that asks counts, too."""

    def __init__(self, app: ASGIApp, turns: Turns, *, beside: bool) -> None:
        self._app, self._turns, self._beside = app, turns, beside

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on, and count it when it is answered."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        begun, status = time.perf_counter(), 0

        async def send_noting(message: Message) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
            await send(message)

        try:
            await self._app(scope, receive, send_noting)
        finally:
            first, seconds = STATION.match(scope["path"]), time.perf_counter() - begun
            station = first[1] if first else "other"
            if self._beside:
                long_answers.labels(station).observe(seconds)
                waiting.set(self._turns.waiting)
            else:
                method = scope["method"] if scope["method"] in METHODS else "other"
                requests.labels(station, method, str(status)).observe(seconds)


def serve_metrics(port: int) -> None:
    """Answer whoever watches, from this machine alone. Raises OSError where the port is taken."""
    registry = CollectorRegistry()
    MultiProcessCollector(registry)  # type: ignore[no-untyped-call]
    start_http_server(port, "127.0.0.1", registry)
