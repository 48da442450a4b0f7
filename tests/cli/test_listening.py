"""Finding a port and this machine's address."""

from __future__ import annotations

import random
import socket

import pytest

from server.cli.listening import find_lan_address, open_listener, port_of


@pytest.fixture
def port() -> int:
    """A free port below those that systems hand out by themselves, so that nobody gets it meanwhile."""
    choice = random.Random()
    while True:
        port = choice.randrange(20_000, 32_000)
        with socket.socket() as trial:
            if trial.connect_ex(("127.0.0.1", port)) != 0:
                return port


def test_a_free_port_is_got_as_asked(port: int):
    with open_listener("127.0.0.1", port) as again:
        assert port_of(again) == port


def test_a_port_that_was_just_given_back_is_got_again_at_once(port: int):
    with open_listener("127.0.0.1", port) as first:
        first.setblocking(True)
        with socket.create_connection(("127.0.0.1", port)) as client:
            accepted, _ = first.accept()
            # This side closes first, so the port lingers in TIME_WAIT (RFC 9293, section 3.6).
            accepted.close()
            assert client.recv(1) == b""
    with open_listener("127.0.0.1", port) as second:
        assert port_of(second) == port


def test_of_two_that_ask_for_one_port_the_second_gets_another():
    with open_listener("127.0.0.1", 0) as first, open_listener("127.0.0.1", port_of(first)) as second:
        assert port_of(second) != port_of(first)


def test_beyond_the_last_port_the_system_chooses():
    with open_listener("127.0.0.1", 65535) as first, open_listener("127.0.0.1", 65535) as second:
        assert port_of(second) != port_of(first)


def test_an_address_of_another_machine_cannot_be_listened_on():
    # RFC 5737, section 3: kept for documentation, so it is nobody's.
    with pytest.raises(OSError, match="assign"):
        open_listener("192.0.2.7", 0)


def test_the_address_found_is_this_machines_own_or_none():
    address = find_lan_address()
    if address is not None:
        with open_listener(address, 0) as listener:
            assert listener.getsockname()[0] == address
        assert not address.startswith("127.")
