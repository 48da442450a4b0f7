"""Sends mail by a thread of its own, so that nobody's answer waits for another machine."""

from __future__ import annotations

import logging
import os
import queue
import smtplib
import ssl
import threading
from collections.abc import Callable
from dataclasses import dataclass
from email.message import EmailMessage
from email.utils import formatdate, make_msgid
from pathlib import Path
from urllib.parse import unquote, urlsplit

from server.flow.lost_passwords import Letter

log = logging.getLogger(__name__)

HERE = ("localhost", "127.0.0.1", "::1")
PATIENCE_S = 20.0
"""How long a mail server may be silent."""
MOST_WAITING = 100
PASSWORD_VARIABLE = "TRAINWRIGHT_MAIL_PASSWORD"
CREDENTIAL = "mail-password"
"""The name of systemd's credential (systemd.exec, LoadCredential=)."""


@dataclass(frozen=True)
class MailServer:
    """Who takes our mail.

    Attributes:
        user: "" where it asks for no password.
        secure: whether the connection is encrypted from its beginning (smtps), or by STARTTLS.
    """

    host: str
    port: int
    user: str
    secure: bool

    @property
    def is_here(self) -> bool:
        """Whether it is this machine, so that nobody listens between."""
        return self.host in HERE


def mail_server(url: str) -> MailServer:
    """Reads smtp://user@host:587 or smtps://user@host:465. Raises ValueError with a sentence."""
    try:
        parts = urlsplit(url)
        port = parts.port
    except ValueError:
        parts, port = urlsplit(""), None
    secure = parts.scheme == "smtps"
    more = parts.path.rstrip("/") or parts.query or parts.fragment
    if parts.scheme not in ("smtp", "smtps") or not parts.hostname or more:
        raise ValueError("A mail server is written like smtp://user@mail.example:587.")
    if parts.password is not None:
        raise ValueError(
            f"Leave the password out: others on this machine could read it. Put it into {PASSWORD_VARIABLE}."
        )
    return MailServer(parts.hostname, port or (465 if secure else 587), unquote(parts.username or ""), secure)


def mail_password() -> str:
    """The mail server's password, of systemd's credential or the environment; "" for none."""
    folder = os.environ.get("CREDENTIALS_DIRECTORY")
    file = Path(folder) / CREDENTIAL if folder else None
    if file is not None and file.is_file():
        return file.read_text(encoding="utf-8").strip()
    return os.environ.get(PASSWORD_VARIABLE, "")


class Postman:
    """One thread, which begins with the first letter, and a queue before it."""

    def __init__(self, server: MailServer, sender: str) -> None:
        self._server, self._sender = server, sender
        self._jobs: queue.Queue[Callable[[], Letter | None] | None] = queue.Queue(MOST_WAITING)
        self._begin = threading.Lock()
        self._thread: threading.Thread | None = None

    def later(self, job: Callable[[], Letter | None]) -> None:
        """Have the letter written and sent. Where too many wait, it is dropped, and the log says so."""
        with self._begin:
            if self._thread is None:
                self._thread = threading.Thread(target=self._work, name="post", daemon=True)
                self._thread.start()
        try:
            self._jobs.put_nowait(job)
        except queue.Full:
            log.warning("A mail was dropped: %d wait already.", MOST_WAITING)

    def close(self, seconds: float) -> None:
        """Send what waits, as far as it goes in this time."""
        if self._thread is not None:
            try:
                self._jobs.put(None, timeout=seconds)
            except queue.Full:
                return
            self._thread.join(seconds)

    def _work(self) -> None:
        while (job := self._jobs.get()) is not None:
            try:
                letter = job()
                if letter is not None:
                    self._send(letter)
            except (smtplib.SMTPException, OSError) as error:
                # What a server says may quote the address.
                code = getattr(error, "smtp_code", "")
                log.warning("A mail was not sent: %s", f"{type(error).__name__} {code}".strip())
            except Exception:
                log.exception("A mail was not written.")

    def _send(self, letter: Letter) -> None:
        mail = EmailMessage()
        mail["From"], mail["To"], mail["Subject"] = self._sender, letter.to, letter.subject
        mail["Date"] = formatdate()
        mail["Message-ID"] = make_msgid(domain=self._sender.rpartition("@")[2])
        # RFC 3834, section 5: no machine is to answer.
        mail["Auto-Submitted"] = "auto-generated"
        mail.set_content(letter.text)
        server = self._server
        with _connected(server) as smtp:
            if server.user:
                smtp.login(server.user, mail_password())
            smtp.send_message(mail)


def _connected(server: MailServer) -> smtplib.SMTP:
    context = ssl.create_default_context()
    if server.is_here:
        # A mail server that is this machine has a certificate for another name.
        context.check_hostname, context.verify_mode = False, ssl.CERT_NONE
    if server.secure:
        return smtplib.SMTP_SSL(server.host, server.port, timeout=PATIENCE_S, context=context)
    smtp = smtplib.SMTP(server.host, server.port, timeout=PATIENCE_S)
    try:
        smtp.ehlo()
        # Elsewhere nothing goes out in the clear: where it is not offered, this raises.
        if not server.is_here or smtp.has_extn("starttls"):
            smtp.starttls(context=context)
    except BaseException:
        smtp.close()
        raise
    return smtp
