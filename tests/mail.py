"""A mail server on this machine, and what it has taken."""

from __future__ import annotations

import time
from collections.abc import Callable
from email import message_from_bytes
from email.message import EmailMessage
from email.policy import default
from typing import Any

from aiosmtpd.controller import Controller

PATIENCE_S = 10.0


def until(found: Callable[[], Any]) -> Any:
    given_up = time.monotonic() + PATIENCE_S
    while not (value := found()):
        assert time.monotonic() < given_up, "it did not come"
        time.sleep(0.01)
    return value


class Box:
    """What a mail server has taken; `refuses` is what it says to a recipient."""

    def __init__(self, refuses: str = "") -> None:
        self.mails: list[EmailMessage] = []
        self.refuses = refuses
        self.seen = 0
        self.secure: list[bool] = []

    async def handle_RCPT(self, server, session, envelope, address, options):  # noqa: N802 - aiosmtpd's name
        self.seen += 1
        if self.refuses:
            return f"{self.refuses} <{address}>"
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, server, session, envelope):  # noqa: N802 - aiosmtpd's name
        self.secure.append(session.ssl is not None)
        mail = message_from_bytes(envelope.content, policy=default)
        assert isinstance(mail, EmailMessage)
        self.mails.append(mail)
        return "250 OK"

    def to(self, mail: str) -> list[EmailMessage]:
        return [one for one in self.mails if one["To"] == mail]


class Taking(Controller):
    """aiosmtpd on a port that the system gives."""

    def __init__(self, box: Box, hostname: str = "127.0.0.1", **more: Any) -> None:
        super().__init__(box, hostname, 0, **more)

    def _trigger_server(self) -> None:
        self.port = self.server.sockets[0].getsockname()[1]
        super()._trigger_server()
