"""Budgets deepened by work, and passes run again until they settle: what all searches do alike."""

from collections.abc import Callable

import numpy as np

from server.search.index import Ints
from server.search.tables import TooLargeError

FIRST_LIVE = 600  # Entries let in by the first budget; each later one lets in LIVE_GROWTH times as many.
LIVE_GROWTH = 2.2


def budgets_of(critical: Ints) -> list[int | None]:
    """The budgets to try for entries of these critical budgets, each letting in more of them; None at the
    end lets everything in.
    """
    values = np.sort(critical)
    found: list[int | None] = []
    at = float(FIRST_LIVE)
    while at < len(values):
        budget = int(values[int(at)])
        if not found or budget != found[-1]:
            found.append(budget)
        at *= LIVE_GROWTH
    found.append(None)
    return found


def settled(run: Callable[[int | None], bool | None], budget: int | None) -> bool | None:
    """What a pass within a budget comes to, once it asks for no other pass (by None) in its place. None where
    its tables are too large.
    """
    try:
        done = run(budget)
        while done is None:
            done = run(budget)
    except TooLargeError:
        return None
    return done
