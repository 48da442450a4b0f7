"""`trainwright host`, `migrate` and `invite`: the hosted form for a club, its database, its first steward."""

from __future__ import annotations

import os
from importlib.util import find_spec
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Annotated, Literal
from urllib.parse import urlsplit

import typer

from server.cli.listening import open_listener, port_of
from server.cli.terminal import DataFolder, refuse, serve_until_stopped, settings_of_kind
from server.domain.errors import RefusedError, TrainwrightError
from server.settings import DEFAULT_HOSTED_PORT, HostedSettings
from server.steady import keep_log

Database = Annotated[
    str,
    typer.Option(
        "--database", metavar="URL-OR-FILE", help="Where the club is kept: a file, or a database's address."
    ),
]
Address = Annotated[
    str,
    typer.Option("--address", metavar="URL", help="What people type to get here, like https://rigs.example."),
]
Trusted = Annotated[
    list[str] | None,
    typer.Option(
        metavar="ADDRESS",
        help="A proxy whose word is taken for where a request came from; may be given several times.",
        show_default=False,
    ),
]
MetricsPort = Annotated[
    int | None,
    typer.Option(
        min=1,
        max=65535,
        metavar="PORT",
        help="Count requests for Prometheus, and tell it on this port, to this machine alone.",
        show_default=False,
    ),
]
MailServer = Annotated[
    str | None,
    typer.Option(
        metavar="URL",
        help="Send links for lost passwords by this server, like smtp://user@mail.example:587. Its "
        "password is read from TRAINWRIGHT_MAIL_PASSWORD or systemd's credential mail-password.",
        show_default=False,
    ),
]
LogDays = Annotated[
    int | None,
    typer.Option(
        min=1,
        max=3650,
        metavar="DAYS",
        help="Keep sign-ins and stewards' acts for so many days; 90 unless said.",
        show_default=False,
    ),
]
NO_ADDRESS, PORT_TAKEN = 15, 16
"""Exit statuses, beside those of `TrainwrightError`s."""
HERE = ("localhost", "127.0.0.1", "::1")


def host(
    database: Database,
    address: Address,
    port: Annotated[
        int, typer.Option(min=0, max=65535, help="Listen on this port; the proxy knows it.")
    ] = DEFAULT_HOSTED_PORT,
    bind: Annotated[
        str, typer.Option(metavar="ADDRESS", help="Listen on this machine's address.")
    ] = "127.0.0.1",
    workers: Annotated[int, typer.Option(min=1, max=64, help="So many processes answer.")] = 1,
    long: Annotated[
        int, typer.Option(min=1, max=16, help="So many processes beside work out what takes long.")
    ] = 1,
    trust: Trusted = None,
    door: Annotated[
        Literal["open", "closed"], typer.Option(help="Whether a stranger may ask to be let in.")
    ] = "closed",
    log: Annotated[
        Literal["lines", "json"], typer.Option(help="How the log is written; nobody's data are in it.")
    ] = "lines",
    metrics: MetricsPort = None,
    mail: MailServer = None,
    mail_from: Annotated[
        str | None, typer.Option(metavar="ADDRESS", help="Whom mail comes from.", show_default=False)
    ] = None,
    log_days: LogDays = None,
    data: DataFolder = None,
) -> None:
    """Open Trainwright to a club, with accounts. Ctrl-C stops it.

    What keeps it from starting is said in a sentence, and by the exit status: 10 no database answers, 11 it
    does not take the name or the password, 12 it was made by a newer Trainwright, 13 it is not migrated, 14 a
    clock is off, 15 the address is none, or not safe, 16 a port is taken.
    """
    settings = settings_of_kind(
        HostedSettings,
        place=database,
        public=checked_address(address),
        port=port,
        bind=bind,
        trust=tuple(trust or ()),
        door=door,
        log=log,
        metrics=metrics,
        mail=mail,
        mail_from=mail_from,
        log_days=log_days,
        data=data,
    )
    serve_until_stopped(lambda: _host(settings, workers, long))


def migrate(database: Database) -> None:
    """Make a club's database, or bring it to the newest schema."""
    from server.store import prepare_database

    try:
        done = prepare_database(database)
    except TrainwrightError as error:
        refuse(str(error), error.exit_status)
    if done.created:
        typer.echo("A new, empty club was made.")
    elif done.migrated_from is None:
        typer.echo("The database is of the newest schema already.")
    else:
        typer.echo(
            f"The data was brought up to date; as it was before, it is kept in {done.copied_to}."
            if done.copied_to
            else "The data was brought up to date."
        )


def invite(
    database: Database,
    address: Address,
    steward: Annotated[bool, typer.Option("--steward", help="The new member looks after the club.")] = False,
    observer: Annotated[
        str | None,
        typer.Option(
            metavar="NAME",
            help="The account is for this observer, whom the database has already.",
            show_default=False,
        ),
    ] = None,
) -> None:
    """Make an invitation and print its link, which is good once and for seven days."""
    public = checked_address(address)
    _demand_extra()
    from server.domain.account import login_key
    from server.flow.accounts import Club
    from server.hosted import open_hosted
    from server.web.account.urls import ACCOUNT_URLS

    try:
        stores = open_hosted(database)
    except TrainwrightError as error:
        refuse(str(error), error.exit_status)
    number = None
    if observer is not None:
        with stores.reading() as store:
            known = {login_key(one.name): one.id for one in store.observers()}
        number = known.get(login_key(observer))
        if number is None:
            refuse(f"There is no observer “{observer}” in this database.")
    try:
        token = Club(stores).invite(None, "steward" if steward else "member", number)
    except RefusedError as error:
        refuse(str(error))
    stores.close()
    typer.echo(public + ACCOUNT_URLS.invitation(token))


def _demand_extra() -> None:
    """Ends the command where what the hosted form needs beside is not installed."""
    if any(
        find_spec(name) is None for name in ("argon2", "httpx", "prometheus_client", "webauthn", "zxcvbn")
    ):
        refuse("What the hosted form needs is not installed. Run: pip install 'trainwright[host]'")


def _check_mail(settings: HostedSettings) -> None:
    """Ends the command where mail is asked for and could not be sent."""
    from server.flow.lost_passwords import is_mail
    from server.web.account.post import PASSWORD_VARIABLE, mail_password, mail_server

    if bool(settings.mail) != bool(settings.mail_from):
        refuse("Give --mail and --mail-from together.")
    if not settings.mail:
        return
    try:
        server = mail_server(settings.mail)
    except ValueError as error:
        refuse(str(error))
    if not is_mail(settings.mail_from):
        refuse(f"{settings.mail_from!r} is no address that mail comes from.")
    if server.user and not mail_password():
        refuse(f"The mail server's password is missing. Put it into {PASSWORD_VARIABLE}.")


def checked_address(address: str) -> str:
    """A public address without a slash at its end. Ends the command where it is none, or not safe."""
    trimmed = address.rstrip("/")
    try:
        parts = urlsplit(trimmed)
        _ = parts.port
    except ValueError:
        parts = urlsplit("")
    if (
        parts.scheme not in ("http", "https")
        or not parts.hostname
        or parts.path
        or parts.query
        or "@" in trimmed
    ):
        refuse(
            f"{address!r} is no address that a browser opens. Give one like https://rigs.example.", NO_ADDRESS
        )
    if parts.scheme == "http" and parts.hostname not in HERE:
        refuse(
            f"{address} would send passwords in the clear: give an address with https, and let a proxy on "
            "this machine keep its certificate. Only localhost may do without.",
            NO_ADDRESS,
        )
    usual = ":443" if parts.scheme == "https" else ":80"
    # Browsers leave out the usual port and write a host in small letters, and what they send is compared.
    return f"{parts.scheme}://{parts.netloc.lower().removesuffix(usual)}"


def _host(settings: HostedSettings, workers: int, long: int) -> bool:
    _demand_extra()
    _check_mail(settings)
    try:
        listener = open_listener(settings.bind, settings.port)
    except OSError as error:
        refuse(
            f"Port {settings.port} of {settings.bind} cannot be used: {error.strerror}. Choose another.",
            PORT_TAKEN,
        )
    if settings.port not in (0, port_of(listener)):
        listener.close()
        refuse(
            f"Port {settings.port} is taken by another program. Choose another one with --port.", PORT_TAKEN
        )

    from server.cli.serving import serve_workers
    from server.hosted import HANDED_DOWN, open_hosted

    try:
        stores = open_hosted(settings.place)
    except TrainwrightError as error:
        listener.close()
        refuse(str(error), error.exit_status)

    def announce() -> None:
        typer.echo(
            f"The club is open at {settings.address}/, listening on {settings.bind}, port "
            f"{port_of(listener)}  (Ctrl-C stops it)"
        )

    stores.close()
    keep_log(settings.log)
    # Nobody else's processes may ask there: the folder is its owner's alone.
    with TemporaryDirectory(prefix="trainwright-") as folder:
        sockets = tuple(str(Path(folder) / f"long-{number}") for number in range(long))
        os.environ[HANDED_DOWN] = settings.model_copy(update={"sockets": sockets}).model_dump_json()
        if settings.metrics is not None:
            # Before the library is loaded, here and in the processes that are started.
            os.environ["PROMETHEUS_MULTIPROC_DIR"] = folder
            from server.web.account.metrics import serve_metrics

            try:
                serve_metrics(settings.metrics)
            except OSError as error:
                refuse(
                    f"Port {settings.metrics} cannot be used ({error.strerror}): choose another one.",
                    PORT_TAKEN,
                )
        beside = dict.fromkeys(sockets, "server.hosted:long_app")
        return serve_workers("server.hosted:worker_app", listener, workers, beside, announce)
