"""`trainwright serve`: the app on this machine and, where asked for, share pages on the local network."""

from __future__ import annotations

import gc
import os
import socket
import sys
import threading
import webbrowser
from pathlib import Path
from typing import Annotated

import typer

from server.cli.listening import PORTS_TRIED, find_lan_address, open_listener, port_of
from server.cli.marks import is_marked, marked
from server.cli.terminal import DataFolder, read_settings, refuse, serve_until_stopped
from server.domain.errors import TrainwrightError
from server.settings import DEFAULT_LAN_PORT, DEFAULT_PORT, Settings
from server.steady import settle

BROWSER_S = 3.0
"""How long a program that ends waits for the browser's starter."""


def serve(
    data: DataFolder = None,
    port: Annotated[
        int | None,
        typer.Option(
            min=0,
            max=65535,
            help=f"Listen on this port ({DEFAULT_PORT} if not said) or the next free one; 0: any free one.",
            show_default=False,
        ),
    ] = None,
    frames: Annotated[
        Path | None,
        typer.Option(
            help="A folder on this machine whose frames may be named on the page, instead of uploaded.",
            show_default=False,
        ),
    ] = None,
    no_browser: Annotated[
        bool, typer.Option("--no-browser", help="Do not open the browser (also: TRAINWRIGHT_BROWSER=0).")
    ] = False,
    lan: Annotated[
        bool,
        typer.Option("--lan", help="Also open share pages, and nothing else, to the local network."),
    ] = False,
    lan_address: Annotated[
        str | None,
        typer.Option(
            metavar="ADDRESS",
            help="This machine's address or name on that network, if the one found is wrong. Implies --lan.",
            show_default=False,
        ),
    ] = None,
    lan_port: Annotated[
        int | None,
        typer.Option(
            min=0,
            max=65535,
            help=f"The port of the share pages ({DEFAULT_LAN_PORT} if not said).",
            show_default=False,
        ),
    ] = None,
) -> None:
    """Open Trainwright on this machine and in the browser. Ctrl-C stops it."""
    settings = read_settings(
        data=data,
        frames=frames,
        port=port,
        browser=False if no_browser else None,
        lan=True if lan or lan_address else None,
        lan_address=lan_address,
        lan_port=lan_port,
    )
    serve_until_stopped(lambda: _serve(settings))


def _serve(settings: Settings) -> bool:
    """Serves until a stop is asked for. Returns False where an app could not start."""
    _make_data_folder(settings)

    # The sockets come first: they cost nothing, and links carry the ports that were got.
    listener, settings = _listen_here(settings)
    lan_listener, settings = _listen_on_the_network(settings)

    # These load most of the program; refusals above should not wait for them. Nearly all that is made while
    # loading stays, so Python's collector would look in vain, for a tenth of the start; it goes on when all
    # doors are open.
    gc.disable()
    from server.app import create_app, create_share_app
    from server.cli.serving import serve_apps

    _prepare(settings)

    listeners = [(create_app(settings, at_once=False), listener)]
    if lan_listener is not None:
        listeners.append((create_share_app(settings), lan_listener))
        settle()  # Who comes by the network opens no door of the other app, which would do it.
    with marked(settings.data, settings.port):
        return serve_apps(listeners, on_ready=lambda: _announce(settings))


def _make_data_folder(settings: Settings) -> None:
    try:
        settings.data.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        refuse(
            f"The data folder {settings.data} cannot be made: {error.strerror}. "
            "Name another with --data FOLDER."
        )


def _prepare(settings: Settings) -> None:
    """Makes the database, or brings it to the newest schema, and says what was done; or refuses."""
    from server.store import prepare_database

    try:
        done = prepare_database(settings.database)
    except TrainwrightError as error:
        refuse(str(error))
    if done.created:
        typer.echo("A new, empty workshop was made.")
    if done.migrated_from is not None:
        typer.echo(f"The data was brought up to date; as it was before, it is kept in {done.copied_to}.")


def _listen_here(settings: Settings) -> tuple[socket.socket, Settings]:
    try:
        listener = open_listener(settings.host, settings.port)
    except OSError as error:
        refuse(
            f"Port {settings.port} cannot be used: {error.strerror}. Choose one above 1023, for example "
            f"--port {DEFAULT_PORT}."
        )
    got = port_of(listener)
    if settings.port not in (0, got):
        _see_whether_open(settings, listener, got)
        typer.echo(f"Port {settings.port} is taken by another program; port {got} is used instead.")
    return listener, settings.model_copy(update={"port": got})


def _see_whether_open(settings: Settings, listener: socket.socket, got: int) -> None:
    """Where one of the ports passed over is Trainwright's own, with this very data, say so and end."""
    last = got if got > settings.port else settings.port + PORTS_TRIED
    for port in range(settings.port, last):
        if is_marked(settings.data, port):
            listener.close()
            address = settings.model_copy(update={"port": port}).address
            typer.echo(
                f"Trainwright is already open at {address}/ with this data ({settings.data}). To start it "
                "anew or with other options, stop that one first: Ctrl-C where it runs."
            )
            _open_browser(settings, address, wait=True)
            raise typer.Exit(0)


def _listen_on_the_network(settings: Settings) -> tuple[socket.socket | None, Settings]:
    """The second listener, where it was asked for, and the settings with the address that links carry."""
    if not settings.lan:
        return None, settings.model_copy(update={"lan_address": None})
    address = settings.lan_address or find_lan_address()
    if address is None:
        refuse(
            "This machine seems to be on no network, so share pages cannot be opened to it. "
            "If it is, name its address there: --lan-address ADDRESS."
        )
    if address in ("0.0.0.0", "::"):  # noqa: S104 - it is refused
        refuse(
            f"The address {address} means every network at once and cannot stand in a link. "
            "Name this machine's address on the one network: --lan-address ADDRESS."
        )
    try:
        listener = open_listener(address, settings.lan_port)
    except OSError as error:
        refuse(
            f"Share pages cannot be opened at {address}, port {settings.lan_port}: {error.strerror}. "
            "Name this machine's own address on its network: --lan-address ADDRESS."
        )
    got = port_of(listener)
    if settings.lan_port not in (0, got):
        typer.echo(
            f"Port {settings.lan_port} is taken by another program; share pages use port {got} instead."
        )
    return listener, settings.model_copy(update={"lan_address": address, "lan_port": got})


def _announce(settings: Settings) -> None:
    typer.echo(f"Trainwright is open at {settings.address}/  (Ctrl-C stops it; data in {settings.data})")
    if settings.lan:
        typer.echo(
            f"Share pages, and nothing else, are open to your network at {settings.share_address}/  "
            "Whoever on it holds a link can read that entry."
        )
    sys.stdout.flush()
    _open_browser(settings, settings.address)


def _open_browser(settings: Settings, address: str, *, wait: bool = False) -> None:
    """Opens the browser where it is wanted; `wait` for it a moment, where the program ends right after."""
    if settings.browser and _has_screen():
        # Some browsers' starters come back only when the browser is closed.
        opening = threading.Thread(target=webbrowser.open, args=(f"{address}/",), daemon=True)
        opening.start()
        if wait:
            opening.join(BROWSER_S)


def _has_screen() -> bool:
    """Whether a browser window can be expected here: not in CI, and not in a terminal without a desktop.

    Without a desktop the standard library would start a browser in this very terminal.
    """
    if os.environ.get("CI"):
        return False
    if sys.platform in ("win32", "darwin"):
        return True
    return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))
