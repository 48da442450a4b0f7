"""What an address of the Scout asks for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from fastapi import Request

from server.domain.scout.candidates import Choice
from server.domain.scout.needs import Needs
from server.domain.sky.site import StoredSite
from server.domain.sky.target import Target
from server.flow.scout import Answer, choice_of, scout
from server.flow.workbench import Workbench
from server.rim.scout_needs import NEED_SPECS, need_texts, read_needs

LONGEST = 80
MOST = 20


@dataclass(frozen=True)
class Asked:
    """An address, read.

    Attributes:
        needs: as far as they can be read. typed, errors: the form.
        site: None where the observer has none. targets: what is to be photographed.
        query: the address's own choices, for further addresses.
    """

    needs: Needs
    typed: Mapping[str, str]
    errors: Mapping[str, str]
    sites: tuple[StoredSite, ...]
    site: StoredSite | None
    targets: tuple[Target, ...]
    query: dict[str, Any]


def asked_of(request: Request, bench: Workbench) -> Asked:
    """Read an address; what it does not name is as usual, or as the observer's shelf and sites have it."""
    given = request.query_params
    usual = need_texts(Needs())
    named = {spec.name: given[spec.name][:LONGEST] for spec in NEED_SPECS if spec.name in given}
    typed = {**usual, **named}
    sent = "asked" in given

    def numbers(name: str) -> tuple[int, ...]:
        texts = given.getlist(name)[:MOST]
        return tuple(int(text) for text in texts if text.isascii() and text.isdigit() and len(text) < 16)

    keys = tuple(text[:LONGEST] for text in given.getlist("target")[:MOST])
    site_number = next(iter(numbers("site")), None)
    likes = tuple(given.getlist("like")[:MOST]) if sent else Needs().like
    more: dict[str, Any] = {
        "targets": keys,
        "site_id": site_number,
        "cameras": numbers("camera"),
        "mounts": numbers("mount"),
        "considered": "catalogue" in given,
    }
    needs, errors = read_needs(typed, likes, given.getlist("front")[:MOST], more)
    sites = bench.sites()
    site = next((one for one in sites if one.id == site_number), sites[0] if sites else None)
    listed = bench.targets()
    chosen = [one for one in listed if not keys or one.key in keys]
    query: dict[str, Any] = {name: text for name, text in named.items() if text != usual[name]}
    query |= {
        "target": list(keys),
        "site": site_number,
        "camera": list(needs.cameras),
        "mount": list(needs.mounts),
        "catalogue": needs.considered,
        "like": list(needs.like) if sent else [],
        "front": list(needs.front) if "front" in given else [],
        "asked": sent,
    }
    return Asked(
        needs,
        typed,
        errors,
        sites,
        site,
        tuple(one.seen for one in chosen),
        {k: v for k, v in query.items() if v != []},
    )


def answer_of(bench: Workbench, asked: Asked) -> tuple[Choice, Answer | None]:
    """What is chosen from, and the answer; None where there is nothing to choose. Raises RefusedError."""
    choice = choice_of(bench.store, bench.observer.id, asked.needs)
    if not choice.tubes or not choice.cameras:
        return choice, None
    place = None if asked.site is None else asked.site.site
    return choice, scout(choice, asked.needs, asked.targets, place)
