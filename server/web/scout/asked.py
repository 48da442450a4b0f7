"""What an address of the Scout asks for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from fastapi import Request
from starlette.datastructures import QueryParams

from server.domain.scout.candidates import Choice
from server.domain.scout.needs import Needs
from server.domain.sky.site import StoredSite
from server.domain.sky.target import Target
from server.flow.scout import Answer, ask, meant_by
from server.flow.workbench import Workbench
from server.rim.scout_needs import NEED_SPECS, need_texts, read_needs

LONGEST = 80
MOST = 20
MOST_OPENED = 100
ALL_TUBES = "tubes"
"""What an address opens to have every tube of the front."""


@dataclass(frozen=True)
class Asked:
    """An address, read.

    Attributes:
        needs: as far as they can be read. typed, errors: the form.
        site: None where the observer has none. targets: what is to be photographed.
        opened: what of the answer is opened: numbers of tubes with all their lines, `ALL_TUBES`.
        query: the address's own choices, for further addresses.
    """

    needs: Needs
    typed: Mapping[str, str]
    errors: Mapping[str, str]
    site: StoredSite | None
    targets: tuple[Target, ...]
    opened: tuple[str, ...]
    query: Mapping[str, Any]


def asked_of(request: Request, bench: Workbench, given: QueryParams | None = None) -> Asked:
    """Read an address, or a query that is given. One that was asked leaves open what it does not name; any
    other asks as is usual.
    """
    given = request.query_params if given is None else given
    sent = "asked" in given
    usual = {spec.name: "" for spec in NEED_SPECS} if sent else need_texts(Needs())
    typed = {spec.name: given.get(spec.name, usual[spec.name])[:LONGEST] for spec in NEED_SPECS}

    def numbers(name: str) -> tuple[int, ...]:
        texts = given.getlist(name)[:MOST]
        return tuple(int(text) for text in texts if text.isascii() and text.isdigit() and len(text) < 16)

    likes = tuple(given.getlist("like")[:MOST]) if sent else Needs().like
    more: dict[str, Any] = {
        "targets": tuple(text[:LONGEST] for text in given.getlist("target")[:MOST]),
        "site_id": next(iter(numbers("site")), None),
        "cameras": numbers("camera"),
        "mounts": numbers("mount"),
        "considered": "catalogue" in given,
    }
    needs, errors = read_needs(typed, likes, given.getlist("front")[:MOST], more)
    site, targets = meant_by(bench.store, bench.observer.id, needs)
    # What was typed goes on in the units it was typed in.
    kept = {name: text for name, text in typed.items() if text.strip() and name not in errors}
    opened = tuple(dict.fromkeys(text[:LONGEST] for text in given.getlist("open")[:MOST_OPENED]))
    query = query_of(needs) | kept | ({"open": list(opened)} if opened else {})
    return Asked(needs, typed, errors, site, targets, opened, query)


def query_of(needs: Needs) -> dict[str, Any]:
    """The query of an address that asks for these needs."""
    query: dict[str, Any] = {"asked": True} | {name: text for name, text in need_texts(needs).items() if text}
    lists = {
        "target": needs.targets,
        "camera": needs.cameras,
        "mount": needs.mounts,
        "like": needs.like,
        "front": needs.front,
    }
    query |= {name: list(values) for name, values in lists.items() if values}
    return {**query, "site": needs.site_id, "catalogue": needs.considered}


def answer_of(bench: Workbench, asked: Asked) -> tuple[Choice, Answer | None]:
    """What is chosen from, and the answer; None where there is nothing to choose. Raises RefusedError."""
    return ask(bench.store, bench.observer.id, asked.needs)
