"""One change on the bench: stored durably, checked, drawn and answered, against a bare route."""

from __future__ import annotations

from pathlib import Path

from tests.bench.data import make_workshop
from tests.bench.measure import Line, Times
from tests.bench.serving import Served

AIM = 10.0
"""How many times the bare route's median one change may take."""


def run(folder: Path, *, parts: int = 20_000, rounds: int = 200, warm_up: int = 30) -> list[Line]:
    """Moves a ring of a train of fourteen there and back; each move is followed by the bare route.

    The bare route is asked with the same form and answers with as many bytes. One of the two places breaks
    two joints, so that half of the changes also look on the shelf for what would mend them.
    """
    shop = make_workshop(folder, parts)
    path, version = f"/bench/{shop.rig_id}/change", shop.version
    changes: list[float] = []
    bares: list[float] = []
    sizes: list[int] = []
    with Served(folder, shop.observer_id) as served:
        for number in range(warm_up + rounds):
            to = shop.ring_at[1 - number % 2]
            form = {"version": version, "verb": "move", "place": shop.ring, "to": to}
            took, content = served.ask(path, form)
            version += 1
            if f'data-version="{version}"'.encode() not in content or b"<svg" not in content:
                raise RuntimeError("the answer does not show the new version with its drawing")
            bare = served.bare(len(content), form)
            if number >= warm_up:
                changes.append(took)
                bares.append(bare)
                sizes.append(len(content))
    change, reference = Times(tuple(changes)), Times(tuple(bares))
    ratio = change.median / reference.median
    size = sum(sizes) / len(sizes) / 1000
    return [
        Line(f"a change on the bench, {parts:,} parts, ms", rounds, change.text),
        Line(f"  the bare route, {size:.0f} kB too, ms", rounds, reference.text),
        Line(
            "  ratio at the median (95th percentile)",
            rounds,
            f"{ratio:.1f} ({change.p95 / reference.p95:.1f})",
            f"under {AIM:g}",
            ratio < AIM,
        ),
    ]
