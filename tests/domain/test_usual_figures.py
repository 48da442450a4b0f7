"""Every figure that is shown of the usual rigs, as it is shown, held against what it was.

No proof that a figure is right, which the tests of each check are: it tells that one has changed. Where it is
meant to, `python -m tests.domain.test_usual_figures` writes the file anew.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from server.domain.findings import Amount, Finding
from server.rim.wording import write_amount, write_figure
from tests.domain.test_usual_rigs import SAID
from tests.told import run_checks

FILE = Path(__file__).with_name("usual_figures.txt")


def _shown(amounts: dict[str, Amount]) -> str:
    return "; ".join(f"{name} {write_amount(one, 'metric')}" for name, one in sorted(amounts.items()))


def _lines(found: Finding) -> Iterator[str]:
    figure = "" if found.figure is None else f" {write_figure(found.figure, 'metric')}"
    yield f"{found.code} {found.weight}{figure}: {_shown(found.phrase.amounts)}".rstrip(": ")
    for remedy in found.remedies:
        if remedy.phrase.amounts:
            yield f"  remedy: {_shown(remedy.phrase.amounts)}"
    known = [f"{write_amount(one.amount, 'metric')} {one.basis}" for one in found.inputs if one.amount]
    if known:
        yield f"  from: {'; '.join(known)}"


def figures() -> str:
    lines = []
    for make in SAID:
        lines.append(make.__name__)
        lines += [line for found in run_checks(make()) for line in _lines(found)]
    return "\n".join(lines) + "\n"


def test_no_figure_of_the_usual_rigs_changes_unseen():
    assert figures().splitlines() == FILE.read_text(encoding="utf-8").splitlines()


if __name__ == "__main__":
    FILE.write_text(figures(), encoding="utf-8")
