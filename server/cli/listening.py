"""Sockets to listen on: the port asked for or the next free one, and this machine's network address."""

from __future__ import annotations

import errno
import os
import socket

PORTS_TRIED = 40
"""How many ports in a row are tried before the system is asked for any free one."""


def open_listener(host: str, port: int) -> socket.socket:
    """A socket that listens on `host`, at `port` or the next free port after it (0: any free one).

    Raises OSError where the host is not this machine's, or the port needs rights that this user lacks.
    """
    last = min(port + PORTS_TRIED, 65536)
    # Port 0 stands last: the system's choice, after all the neighbours were taken.
    for candidate in (*range(port, last), 0) if port else (0,):
        try:
            return _listen(host, candidate)
        except OSError as error:
            if error.errno != errno.EADDRINUSE or candidate == 0:
                raise
    raise AssertionError("unreachable: the last candidate returns or raises")


def _listen(host: str, port: int) -> socket.socket:
    family, kind, protocol, _, address = socket.getaddrinfo(
        host, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE
    )[0]
    listener = socket.socket(family, kind, protocol)
    try:
        if os.name == "posix":
            # Lets a restart have its port back at once. On Windows the same option would let two programs
            # share it.
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.bind(address)
        # Listening at once, not when the app is ready, is what makes two starts in the same moment see each
        # other.
        listener.listen(128)
        listener.setblocking(False)
    except BaseException:
        listener.close()
        raise
    return listener


def port_of(listener: socket.socket) -> int:
    """The port that a listener has got."""
    return int(listener.getsockname()[1])


def find_lan_address() -> str | None:
    """This machine's address on the network that leads outwards, or None where it has none.

    A UDP socket that is "connected" sends nothing: the system only chooses the address it would send from.
    The other end is one that is kept for documentation and belongs to nobody (RFC 5737, section 3).
    """
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))
        except OSError:
            return None
        address = str(probe.getsockname()[0])
    return None if address.startswith(("127.", "0.")) else address
