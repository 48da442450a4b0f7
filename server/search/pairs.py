"""The side branch of an off-axis guider, and what comes back: a main stack with its guide stack."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from server.search.problem import Line, Nearest, Problem, Required, Stack, Threads, Work

NOTHING = 1 << 60  # A code that nothing has; three of them still fit 64 bits.


@dataclass(frozen=True, slots=True)
class Branch:
    """The side branch of a problem; lengths in 0.01 mm, all >= 0.

    ``guider`` indexes the problem's required items. ``rest`` is prism to the guider's camera-side shoulder;
    ``main_flange`` what lies between the main chain's end and the main sensor; ``port`` prism to the side
    port's shoulder; ``guide_flange`` the guide camera's shoulder to its sensor. ``start`` is the side
    port's node, ``end`` the guide camera's. ``tolerance`` (short, long) is the guide chain's own,
    ``threads`` are those of its ends, as in a problem.
    """

    guider: int
    start: int
    end: int
    rest: int
    main_flange: int
    port: int
    guide_flange: int
    tolerance: tuple[int, int]
    required: tuple[Required, ...] = ()
    most_parts: int = 6
    most_shims: int = 2
    threads: Threads | None = None

    @property
    def offset(self) -> int:
        """What the guide chain is longer than the main chain's pieces behind the guider; may be negative."""
        return self.rest + self.main_flange - self.port - self.guide_flange


@dataclass(frozen=True, slots=True)
class Pair:
    """A main stack and the guide stack that goes with it.

    ``guide.error`` is what the guide path is too long for the main path of this very stack. The measures
    are sums over both (``error`` of the sizes of both errors); the owned copies are counted to the main
    stack first. ``bill`` is for both together, without the required items.
    """

    main: Stack
    guide: Stack
    error: int
    money: int
    joints: int
    mass: int
    bill: tuple[Line, ...]

    def key(self, lead: Sequence[str]) -> tuple[int, ...]:
        """What the pair is ranked by, smallest first; ``lead`` as in a problem."""
        return tuple(int(getattr(self, name)) for name in lead)


@dataclass(frozen=True, slots=True)
class NoPair:
    """Why there is no pair.

    ``main`` is the nearest miss of the main chain where that alone has no stack. Otherwise ``stack`` is the
    best main stack by itself, ``asked`` the length that the guide chain would need with it, and ``guide``
    its nearest miss (None where the guide chain exists, but not from what the main stack leaves over).
    """

    main: Nearest | None = None
    stack: Stack | None = None
    asked: int | None = None
    guide: Nearest | None = None


@dataclass(frozen=True, slots=True)
class PairOutcome:
    """The answer of a search for pairs; the words mean what they mean in ``Outcome``."""

    best: tuple[Pair, ...]
    proven: bool
    exhausted: bool
    nearest: NoPair | None = None
    work: Work = field(default_factory=Work)


Progress = Callable[[PairOutcome], bool]


class Code:
    """Keys of money, joints and error as one whole number, so that sums of keys are sums of numbers.

    Each measure has a field wide enough for the sum over both branches; the lead decides which is on top.
    """

    def __init__(self, problem: Problem, branch: Branch) -> None:
        money = 1 << 34
        joints = problem.most_parts + branch.most_parts + 8
        error = max(problem.tolerance) + max(branch.tolerance) + 1
        sizes = {"money": money, "joints": joints, "error": error}
        self.order = problem.lead[:3]
        self.weight: dict[str, int] = {}
        weight = 1
        for name in reversed(self.order):
            self.weight[name] = weight
            weight *= sizes[name]
        if weight > NOTHING:
            raise ValueError(f"A tolerance of {error} hundredths is too wide to rank by; give less than 1 m.")

    def __call__(self, money: int, joints: int, error: int) -> int:
        """The code of a key."""
        weight = self.weight
        return money * weight["money"] + joints * weight["joints"] + error * weight["error"]
