"""A light page while others wait for stars: eight requests for them, one after another without end."""

from __future__ import annotations

import threading
from pathlib import Path

from tests.bench.data import make_workshop
from tests.bench.measure import Line, Times
from tests.bench.serving import Served

STAR_REQUESTS = 8
AIM = 3.0
"""How many times its time alone a light page may take at the median."""


def run(folder: Path, *, parts: int = 2000, rounds: int = 100, warm_up: int = 5) -> list[Line]:
    """Asks for the list of rigs, alone and then while eight clients ask for a rig's stars all the time."""
    shop = make_workshop(folder, parts)
    page, stars = "/bench", f"/bench/{shop.rig_id}/stars"
    taken: list[float] = []
    over = threading.Event()
    with Served(folder, shop.observer_id) as served:

        def ask_for_stars() -> None:
            with served.another() as ask:
                while not over.is_set():
                    taken.append(ask(stars))

        content = served.ask(stars)[1]
        if b"<img" not in content and b"<image" not in content:
            raise RuntimeError("the rig draws no stars")
        alone = [served.ask(page)[0] for _ in range(warm_up + rounds)][warm_up:]
        others = [threading.Thread(target=ask_for_stars) for _ in range(STAR_REQUESTS)]
        for other in others:
            other.start()
        served.ask(stars)
        beside = [served.ask(page)[0] for _ in range(rounds)]
        over.set()
        for other in others:
            other.join()
    light, busy = Times(tuple(alone)), Times(tuple(beside))
    ratio = busy.median / light.median
    return [
        Line("a light page alone, ms", rounds, light.text),
        Line(f"  while {STAR_REQUESTS} requests for stars run, ms", rounds, busy.text),
        Line("  one of these requests, ms", len(taken), Times(tuple(taken)).text),
        Line("  times its time alone", rounds, f"{ratio:.1f}", f"within {AIM:g}", ratio <= AIM),
    ]
