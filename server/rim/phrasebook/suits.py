"""Words of what a corrector is meant for."""

from __future__ import annotations

from server.domain.parts.optical import DESIGNS
from server.rim.phrasebook.working import COMMON_PRACTICE, Working

WORDS = {
    "design": "{design=" + "|".join(f"{name}:{words}" for name, words in DESIGNS) + "}",
    "designs": "{designs}",
    "suits.design": "{corrector} is meant for another design ({meant}) than {tube} is of ({design}): the stars off the middle may come out worse than without it.",
    "suits.fast": "{corrector} is meant for {limit} or slower and gets {ratio}: the steep outer rays may not be corrected.",
    "suits.slow": "{corrector} is meant for {limit} or faster and gets {ratio}: what it corrects may not be what this tube needs.",
    "suits.sound": "{corrector} is meant for a tube like {tube}.",
    "suits.unknown": "Whether {corrector} is meant for {tube} is not wholly known yet.",
}
TITLES = {"suits": "Corrector"}
WORKINGS = {
    "suits": Working(
        "N = f / D, times the factors of correctors before this one; fastest <= N <= slowest",
        f"The corrector's own data. That a corrector is only as good as its tube is like: {COMMON_PRACTICE}",
    )
}
