"""Searching a large catalogue: the page's answer against the bare full-text query and ten bare routes."""

from __future__ import annotations

import sqlite3
import time
from contextlib import closing
from pathlib import Path

from server.store.searching import match_expression
from server.web.shelf.page import LINES_A_PAGE
from server.web.urls import with_query
from tests.bench.data import make_workshop
from tests.bench.measure import Line, Times
from tests.bench.serving import Served

QUERIES: tuple[dict[str, str], ...] = (
    {"q": "lan"},
    {"q": "lantern"},
    {"q": "lantern 12"},
    {"q": "brindle"},
    {"q": "brindlewick halo"},
    {"q": "spacer ring"},
    {"q": "ring"},
    {"q": "M48x0.75"},
    {"q": "m48 tarn"},
    {"q": "mer 21 light"},
    {"q": "adapter M54x0.75"},
    {"q": "quillmoor vesper 3"},
    {"q": "halo", "kind": "filter"},
    {"q": "o", "kind": "camera"},
    {"q": "newtonian sable"},
    {"q": "ring", "mates": "M48x0.75 male"},
    {"q": "tarnholt", "mates": "M54x0.75 male"},
    {"q": "calipers ember", "kind": "spacer_ring"},
    {"q": "sennlicht vigil"},
    {"q": "nosuchword"},
)
"""Beginnings of words, one and two words, common words, and words with filters; asked in turn."""

BARE_ROUTES = 10


def run(folder: Path, *, parts: int = 100_000, rounds: int = 10, warm_up: int = 2) -> list[Line]:
    """Asks each query of the whole catalogue; after each the same words of the index, and ten bare routes.

    The raw query gives the numbers of the first page of hits in the index's own order, the cheapest there
    is; ordered by relevance, which the page does not do, it stands in the table for comparison.
    """
    shop = make_workshop(folder, parts)
    pages: list[float] = []
    raws: list[float] = []
    ranked: list[float] = []
    tens: list[float] = []
    with Served(folder, shop.observer_id) as served, closing(sqlite3.connect(shop.settings.database)) as raw:
        for number in range(warm_up + rounds):
            for query in QUERIES:
                took, content = served.ask(with_query("/shelf", {**query, "holding": "catalogue"}))
                if (b"Nothing" in content) and query["q"] != "nosuchword":
                    raise RuntimeError(f"{query} found nothing")
                expression = match_expression(query["q"])
                bare = sum(served.bare(len(content)) for _ in range(BARE_ROUTES))
                times = (took, _raw(raw, expression, ""), _raw(raw, expression, "ORDER BY rank"), bare)
                if number >= warm_up:
                    for kept, one in zip((pages, raws, ranked, tens), times, strict=True):
                        kept.append(one)
    page, ten = Times(tuple(pages)), Times(tuple(tens))
    # Sums of one round each, so that both sides met the same machine.
    allowed = Times(tuple(one + other for one, other in zip(raws, tens, strict=True)))
    asked = len(pages)
    return [
        Line(f"a search of the shelf, {parts:,} parts, ms", asked, page.text),
        Line("  the raw full-text query, ms", asked, Times(tuple(raws)).text),
        Line("  the same ordered by relevance, ms", asked, Times(tuple(ranked)).text),
        Line("  ten bare routes, as many bytes each, ms", asked, ten.text),
        Line(
            "  95th percentile against query and ten routes, ms",
            asked,
            f"{page.p95 * 1000:.2f} : {allowed.p95 * 1000:.2f}",
            "no more",
            page.p95 <= allowed.p95,
        ),
    ]


def _raw(database: sqlite3.Connection, expression: str, order: str) -> float:
    begun = time.perf_counter()
    database.execute(
        f"SELECT rowid FROM part_search WHERE part_search MATCH ? {order} LIMIT {LINES_A_PAGE}", (expression,)
    ).fetchall()
    return time.perf_counter() - begun
