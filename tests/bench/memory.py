"""The memory of the serving process after a hundred requests of all sorts, with the demo club loaded: at the
first start ever, and at a later one, as an installed program starts.
"""

from __future__ import annotations

import html
import re
from pathlib import Path

import httpx
import psutil

from tests.bench.measure import Line
from tests.running import OPEN_AT, THE_SERVER, Running, compiled_in

AIM_MB = 140
NOT_VISITED = ("/static/", "/sky", "/scout", "/frames")
"""Who does not ask for the sky, the Scout or frames does not pay for their libraries."""
LINK = re.compile(r'href="(/[^"#]*)')
VERSION = re.compile(r'data-version="(\d+)"')
MOVE = re.compile(r'name="press" value="(verb=move&amp;place=\d+&amp;to=\d+)"')


def run(folder: Path, *, requests: int = 100) -> list[Line]:
    """Loads the demo club, changes its rigs and follows the links of its pages until `requests` are made."""
    asked, _, compiling = _measured(folder, "first", requests)
    _, before, after = _measured(folder, "later", requests)
    return [
        Line("memory when started, MB", 1, f"{before / 1e6:.0f}"),
        Line(
            f"  after {asked} requests with the demo club, MB",
            1,
            f"{after / 1e6:.0f}",
            f"under {AIM_MB}",
            after / 1e6 < AIM_MB,
        ),
        Line("  the same where all was compiled for it, MB", 1, f"{compiling / 1e6:.0f}"),
    ]


def _measured(folder: Path, data: str, requests: int) -> tuple[int, int, int]:
    """How many requests were made, and the memory before and after them, bytes."""
    arguments = ("--no-browser", "--port", "0", "--data", str(folder / data))
    with Running("serve", *arguments, program=THE_SERVER, environment=compiled_in(folder)) as running:
        address = running.wait_for(OPEN_AT)[1]
        process = psutil.Process(running.process.pid)
        before = process.memory_info().rss
        with httpx.Client(base_url=address, timeout=60) as client:
            asked, failed = _visit(client, requests)
        after = process.memory_info().rss
        running.stop()
    if failed:
        raise RuntimeError(f"these requests failed: {', '.join(failed)}")
    return asked, before, after


def _visit(client: httpx.Client, requests: int) -> tuple[int, list[str]]:
    """Makes the requests; gives how many there were, and those that were answered by an error."""
    demo = client.post("/demo")
    people = client.get("/observers").text
    chosen = client.post("/observers/choose", data={"observer": re.findall(r'value="(\d+)"', people)[0]})
    failed = [str(one.url) for one in (demo, chosen) if one.status_code != 303]
    asked = 3
    waiting = ["/", "/shelf", "/bench", "/logbook", "/shelf?holding=catalogue&q=ri", "/api/openapi.json"]
    waiting += [f"/shelf/understood?kind=spacer_ring&length_mm={typed}" for typed in ("7.5+mm", "0.3in")]
    seen = set(waiting)
    while asked < requests and waiting:
        # From either end in turn: the oldest links are the places, the newest the pages below them.
        path = waiting.pop(0 if asked % 2 else -1)
        answer = client.get(path, follow_redirects=True)
        asked += 1
        if answer.status_code != 200:
            failed.append(path)
        found = [html.unescape(one) for one in LINK.findall(answer.text)]
        new = [one for one in dict.fromkeys(found) if one not in seen and not one.startswith(NOT_VISITED)]
        seen.update(new)
        waiting.extend(new)
        move, version = MOVE.search(answer.text), VERSION.search(answer.text)
        if move and version and asked < requests:
            form = {"version": version[1], "press": html.unescape(move[1])}
            changed = client.post(f"{path.split('?')[0]}/change", data=form, headers={"HX-Request": "true"})
            asked += 1
            if changed.status_code != 200:
                failed.append(f"{path}/change")
    return asked, failed
