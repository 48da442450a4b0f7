"""Shows a page, or one block of it. A page is a frozen dataclass that names its template."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import cache, lru_cache
from typing import Any, ClassVar, Literal, Protocol, TypeVar, cast

from fastapi import Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from jinja2 import FileSystemLoader, StrictUndefined, pass_context
from jinja2.runtime import Context

from server import paths
from server.domain.connections import Connection
from server.domain.fields import FieldSpec
from server.domain.findings import WEIGHT_WORDS, Amount, Figure, Phrase, ShortFinding
from server.domain.measure import BASIS_WORDS, Measure, Money
from server.domain.observer import Observer, UnitSystem
from server.domain.said import Missing, Said, said
from server.rim.glossary import WORDS, word_at
from server.rim.phrasebook.tell import phrase_of, plain
from server.rim.wording import (
    default_unit_words,
    write_amount,
    write_connection,
    write_field,
    write_figure,
    write_measure,
    write_money,
    write_phrase,
)
from server.web import plain_output
from server.web.compiled import Compiled
from server.web.urls import Urls, page_before, with_query

Theme = Literal["system", "light", "dark", "red"]
THEMES: dict[Theme, str] = {"system": "As this device", "light": "Light", "dark": "Dark", "red": "Red"}
"""Each theme with the words of the menu."""

UNITS: dict[UnitSystem, str] = {"metric": "Metric", "imperial": "Imperial"}

Found = TypeVar("Found", bound=ShortFinding)

URLS = Urls()

TOKEN_FIELD, TOKEN_HEADER = "form_token", "Trainwright-Token"
"""Where a request of the hosted form says that it comes of a page of ours."""
_POSTS = re.compile(r'<form\b[^>]*\bmethod="post"[^>]*>')


class Page(Protocol):
    """What can be shown: templates see it as `page`."""

    template: ClassVar[str]


@dataclass(frozen=True)
class Reading:
    """Who reads a page, and how. Every template sees it as `reading`.

    Attributes:
        observer: the observer at the bench, None on pages that need none and where none is chosen.
        units: the units that numbers are written in.
        theme: the chosen theme; "system" follows the device.
        path: the path of this page, for marking where one is.
        guest: whether the page stands where there is nothing but shared entries: on the network, or before
            the sign-in of the hosted form.
        hosted: whether one signs in here.
        token: what every form of the hosted form carries, "" elsewhere.
        as_club: whether a steward works as the club.
    """

    observer: Observer | None
    units: UnitSystem
    theme: Theme
    path: str
    guest: bool
    hosted: bool = False
    token: str = ""
    as_club: bool = False


def reading_of(request: Request) -> Reading:
    """Who reads, from what the dependencies have found out and from the cookies of this browser."""
    observer: Observer | None = getattr(request.state, "observer", None)
    theme = request.cookies.get("theme", "")
    units = request.cookies.get("units", "")
    hosted = bool(getattr(request.app.state, "hosted", False))
    return Reading(
        observer=observer,
        units=observer.units if observer else units if units in UNITS else "metric",
        theme=theme if theme in THEMES else "system",
        path=request.url.path,
        guest=bool(getattr(request.app.state, "guest", False)) or (hosted and observer is None),
        hosted=hosted,
        token=getattr(request.state, "form_token", ""),
        as_club=getattr(getattr(request.state, "signed_in", None), "club_id", None) is not None,
    )


def _units(context: Context) -> UnitSystem:
    return cast(Reading, context["reading"]).units


@pass_context
def _amount(context: Context, amount: Amount) -> str:

    return write_amount(amount, _units(context))


@pass_context
def _mass_text(context: Context, mass_kg: float) -> str:

    return write_amount(Amount(value=mass_kg, dimension="mass", digits=2), _units(context))


@pass_context
def _way_text(context: Context, length_mm: float) -> str:

    return write_amount(Amount(value=length_mm, dimension="way"), _units(context))


@pass_context
def _phrase(context: Context, phrase: Phrase) -> str:

    return write_phrase(phrase, _units(context))


@pass_context
def _measure(context: Context, measure: Measure | None, dimension: str, unknown: str = "not known") -> str:

    return unknown if measure is None else write_measure(measure, cast(Any, dimension), _units(context))


def _money(money: Money | None, unknown: str = "not known") -> str:

    return unknown if money is None else write_money(money)


def _connection(connection: Connection | None, unknown: str = "not known") -> str:

    return unknown if connection is None else write_connection(connection)


@pass_context
def _figure(context: Context, figure: Figure) -> str:

    return write_figure(figure, _units(context))


@pass_context
def _field_text(context: Context, spec: FieldSpec, value: object, unknown: str = "not known") -> str:

    return write_field(spec, value, _units(context)) or unknown


@pass_context
def _default_unit(context: Context, spec: FieldSpec) -> str:

    return default_unit_words(spec, _units(context))


def _when(moment: datetime) -> str:
    """A moment as the logbook writes it, in this machine's time: "3 May 2026, 21:40"."""
    here = moment.astimezone()
    return f"{here.day} {here:%B %Y, %H:%M}"


def _day(moment: datetime) -> str:
    here = moment.astimezone()
    return f"{here.day} {here:%B %Y}"


def _words(key: str) -> str:
    """The words for a finding's weight or a figure's basis; any other key with its underscores as spaces."""
    return WEIGHT_WORDS.get(key) or BASIS_WORDS.get(key) or key.replace("_", " ")


def _counted(number: int, one: str, many: str = "") -> str:
    """A number with its noun: "1 part", "3 parts", "no parts"."""
    noun = one if number == 1 else many or f"{one}s"
    return f"{number or 'no'} {noun}"


def _asked(one: Missing) -> str:
    return plain(one.says)


@pass_context
def _said(context: Context, says: Said | tuple[Said, ...]) -> str:
    return write_phrase(phrase_of(says if isinstance(says, tuple) else (says,)), _units(context))


def _clause(key: str) -> str:
    """A clause of the phrasebook that needs no facts."""
    return plain(said(key))


def numbered(findings: Iterable[Found]) -> list[tuple[Found, int]]:
    """Each finding with its number among those of its code and place: two lifts are judged by one code."""
    met: Counter[tuple[str, int | None]] = Counter()
    found = []
    for finding in findings:
        met[finding.code, finding.place] += 1
        found.append((finding, met[finding.code, finding.place]))
    return found


def _pressed(values: Mapping[str, object]) -> str:
    """What a button says when it is pressed, as an address says a query."""
    return _query_of(tuple(values.items()))


@lru_cache(4096)
def _query_of(values: tuple[tuple[str, object], ...]) -> str:
    # Most buttons of a bench are those of the answer before.
    return with_query("", dict(values))[1:]


@cache
def environment() -> plain_output.PlainOutput:
    """The templates' environment, made when the first page is shown."""
    made = plain_output.PlainOutput(
        loader=FileSystemLoader(paths.TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        bytecode_cache=Compiled.by(__file__, plain_output.__file__),
    )
    made.filters.update(
        amount=_amount,
        mass_text=_mass_text,
        way_text=_way_text,
        phrase=_phrase,
        said=_said,
        clause=_clause,
        asked=_asked,
        measure=_measure,
        money=_money,
        connection=_connection,
        figure=_figure,
        field_text=_field_text,
        default_unit=_default_unit,
        when=_when,
        day=_day,
        words=_words,
        counted=_counted,
        numbered=numbered,
        pressed=_pressed,
        word_at=word_at,
    )
    made.globals.update(urls=URLS, themes=THEMES, unit_systems=UNITS, glossary=WORDS)
    return made


def wants_block(request: Request) -> bool:
    """Whether htmx asks for a block. A page fetched again by the Back button is asked for whole."""
    headers = request.headers
    return headers.get("HX-Request") == "true" and headers.get("HX-History-Restore-Request") != "true"


def _answer(text: str, status: int) -> HTMLResponse:
    return HTMLResponse(text, status, headers={"Vary": "HX-Request, Cookie"})


def render_page(request: Request, page: Page, status: int = 200) -> HTMLResponse:
    """Show the whole page."""
    return _answer(page_text(page, reading_of(request)), status)


def page_text(page: Page, reading: Reading) -> str:
    """The whole page's text."""
    return with_token(environment().shown(page.template, page=page, reading=reading), reading.token)


def with_token(text: str, token: str) -> str:
    """A page's text in which every form that posts carries the token; "" for none. All that people typed
    stands escaped in it, so what looks like a form is one of ours.
    """
    return (
        _POSTS.sub(rf'\g<0><input type="hidden" name="{TOKEN_FIELD}" value="{token}">', text)
        if token
        else text
    )


def block_text(request: Request, page: Page, block: str) -> str:
    """One named block of the page's template, as it stands within the page. Raises KeyError without one."""
    reading = reading_of(request)
    text = environment().shown(page.template, block, page=page, reading=reading)
    return with_token(text, reading.token)


def render_block(request: Request, page: Page, block: str, status: int = 200) -> HTMLResponse:
    """Show one named block, or several in one answer: "run findings"."""
    return _answer("\n".join(block_text(request, page, name) for name in block.split()), status)


def go_to(request: Request, url: str) -> Response:
    """Send the browser to another page after a change: htmx loads it whole, a plain form gets a 303."""
    if wants_block(request):
        return Response(status_code=200, headers={"HX-Redirect": url, "Vary": "HX-Request"})
    return RedirectResponse(url, status_code=303)


def came_from(request: Request) -> str:
    """The page of this server that a form was on, else the first page."""
    return page_before(request.headers) or URLS.home()
