"""Parts that were entered twice, for stewards: likely ones, two side by side, one in the place of both."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, ClassVar, cast

from fastapi import Form, Query, Request
from fastapi.responses import Response

from server.domain.errors import RefusedError, StaleVersionError
from server.domain.parts import CataloguedPart
from server.flow.doubles import Doubles, Merged, Pair
from server.handed import LARGEST_NUMBER, Number
from server.handed.routing import pages
from server.rim.changes import ValueLine
from server.rim.part_history import written_fields
from server.web.account.deps import Steward
from server.web.account.page import AccountPage
from server.web.errors import trouble_of
from server.web.rendering import URLS, go_to, reading_of, render_page

router = pages("/members/doubles")

Searched = Annotated[str, Query(max_length=300)]
Sent = Annotated[int, Form(ge=1, le=LARGEST_NUMBER)]


@dataclass(frozen=True)
class DoublesPage(AccountPage):
    """Parts that may have been entered twice."""

    template: ClassVar[str] = "account/doubles.html"

    groups: tuple[tuple[CataloguedPart, ...], ...]


@dataclass(frozen=True)
class BesidePage(AccountPage):
    """A part, and others of its kind that may be its doubles.

    Attributes:
        text: what was looked for, "" for its own name.
    """

    template: ClassVar[str] = "account/beside.html"

    item: CataloguedPart
    found: tuple[CataloguedPart, ...]
    text: str


@dataclass(frozen=True)
class PairPage(AccountPage):
    """Two parts side by side.

    Attributes:
        values: the fields in which they differ; joints: the labels of connections among them.
        seen: whether it was ticked that they are one part though these differ.
    """

    template: ClassVar[str] = "account/pair.html"

    pair: Pair
    values: tuple[ValueLine, ...]
    joints: tuple[str, ...]
    seen: bool = False


def _doubles(request: Request) -> Doubles:
    return cast(Doubles, request.app.state.doubles)


def _pair_page(request: Request, pair: Pair, error: str = "", seen: bool = False) -> PairPage:
    values = written_fields(pair.differ, reading_of(request).units)
    joints = tuple(change.label for change in pair.joints)
    return PairPage(pair, values, joints, seen, errors={"": error} if error else {})


@router.get("")
def show_likely(request: Request, by: Steward) -> Response:
    """Those whose names are the same but for how they are written."""
    return render_page(request, DoublesPage(_doubles(request).likely(by)))


@router.get("/{part_id}")
def look_for(request: Request, by: Steward, part_id: Number, q: Searched = "") -> Response:
    """Others that may be the same as one part."""
    item, found = _doubles(request).beside(by, part_id, q.strip())
    return render_page(request, BesidePage(item, found, q.strip()))


@router.get("/{part_id}/{other_part_id}")
def show_pair(request: Request, by: Steward, part_id: Number, other_part_id: Number) -> Response:
    """Two parts side by side."""
    return render_page(request, _pair_page(request, _doubles(request).pair(by, part_id, other_part_id)))


@router.post("/{part_id}/{other_part_id}")
def merge(
    request: Request,
    by: Steward,
    part_id: Number,
    other_part_id: Number,
    keep: Sent,
    revision: Sent,
    other_revision: Sent,
    joints: Annotated[str, Form(max_length=10)] = "",
) -> Response:
    """Let one of them stand for both."""
    one, other = (part_id, revision), (other_part_id, other_revision)
    gone, kept = (other, one) if keep == part_id else (one, other)
    try:
        stays = _doubles(request).merge(by, Merged(*gone, *kept, joints_seen=bool(joints)))
    except (RefusedError, StaleVersionError) as error:
        trouble = trouble_of(error)
        pair = _doubles(request).pair(by, part_id, other_part_id)
        page = _pair_page(request, pair, trouble.sentence, bool(joints))
        return render_page(request, page, trouble.status)
    return go_to(request, URLS.part(stays.id, said="merged"))
