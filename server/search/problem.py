"""The Bridge's problem and its answer, in small frozen types that know nothing of the domain.

Lengths are whole hundredths of a millimetre, money whole hundredths of the currency, masses whole grams. A
node is an exposed connection that faces the camera, numbered from 0. A stack begins at ``start`` (what the
corrector's side shows), every piece leads from the node that it is screwed onto to the node that it shows,
and the stack closes when ``end`` (what the camera's side takes) is shown.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import permutations

MEASURES = ("money", "joints", "error", "mass")
LONGEST = 1_000_000  # 10 m; a length beyond it is a slip of the unit.

Threads = tuple[int | None, int | None]
"""The threads at two sides: the length of a male one, less than 0 the depth of a female one, None unknown."""


@dataclass(frozen=True, slots=True)
class Arc:
    """One way to put a piece in: screwed onto ``start``, showing ``end``. A ring's arc is a loop (both the
    same). ``threads`` are those of its sides at ``start`` and at ``end``.
    """

    start: int
    end: int
    threads: Threads = (None, None)


@dataclass(frozen=True, slots=True)
class Piece:
    """A part that may be in a stack.

    ``number`` is its catalogue number, the identity of a part in a bill of materials. A reversible piece
    has two arcs, a shim (``shim=True``) a loop at every node whose thread it fits. ``length`` >= 0 in 0.01
    mm. The first ``owned`` copies cost nothing, ``for_sale`` more can be bought at ``price`` each; a price
    of None cannot be bought. ``mass`` in grams (0 where nobody asks for it).
    """

    number: int
    arcs: tuple[Arc, ...]
    length: int
    owned: int = 0
    for_sale: int = 0
    price: int | None = None
    mass: int = 0
    shim: bool = False

    def __post_init__(self) -> None:
        if not 0 <= self.length <= LONGEST:
            raise ValueError(f"Piece {self.number} is {self.length} hundredths long; give 0 to {LONGEST}.")
        if self.owned < 0 or self.for_sale < 0 or self.mass < 0 or (self.price or 0) < 0:
            raise ValueError(f"Piece {self.number} has a negative quantity, price or mass; give 0 or more.")
        if self.shim and any(arc.start != arc.end for arc in self.arcs):
            raise ValueError(
                f"Piece {self.number} is a shim and must keep the connection; give it loops only."
            )

    @property
    def buyable(self) -> int:
        """How many copies can be bought."""
        return 0 if self.price is None else self.for_sale

    @property
    def copies(self) -> int:
        """How many copies can be used, owned and bought together."""
        return self.owned + self.buyable


@dataclass(frozen=True, slots=True)
class Required:
    """An item that must be in the stack exactly once; it is in the rig already and costs nothing."""

    number: int
    arcs: tuple[Arc, ...]
    length: int
    mass: int = 0

    def __post_init__(self) -> None:
        if not 0 <= self.length <= LONGEST:
            raise ValueError(
                f"Required item {self.number} is {self.length} hundredths long; give 0 to {LONGEST}."
            )


@dataclass(frozen=True, slots=True)
class Problem:
    """A gap to close.

    ``target`` is the distance that the stack must add up to; ``tolerance`` says how much (short, long) it
    may miss it, both >= 0. ``orders`` holds the allowed orders of the required items as tuples of their
    indices (empty: every order). ``most_parts`` counts everything in the stack, required items and shims
    included; a joint takes one shim. ``lead`` orders the answers: money, joints and error in any order,
    with mass as an optional fourth at the end. ``threads`` are those that show at ``start`` and at ``end``;
    a joint whose male thread, less its shim, is longer than the female one is deep bottoms, and no stack has
    one. None: how deep threads go does not matter.
    """

    nodes: int
    start: int
    end: int
    target: int
    tolerance: tuple[int, int]
    pieces: tuple[Piece, ...]
    required: tuple[Required, ...] = ()
    orders: tuple[tuple[int, ...], ...] = ()
    most_parts: int = 8
    most_shims: int = 2
    greatest_mass: int | None = None
    lead: tuple[str, ...] = ("money", "joints", "error")
    want: int = 20
    threads: Threads | None = None

    def __post_init__(self) -> None:
        if sorted(self.lead[:3]) != ["error", "joints", "money"] or self.lead[3:] not in ((), ("mass",)):
            raise ValueError(
                f"The answers cannot be led by {', '.join(self.lead)}; give money, joints and error in any "
                "order, and mass at the end if at all."
            )
        if not (0 <= self.start < self.nodes and 0 <= self.end < self.nodes):
            raise ValueError(
                f"Start {self.start} and end {self.end} must be nodes from 0 to {self.nodes - 1}."
            )
        if min(self.tolerance) < 0:
            raise ValueError(f"The tolerance {self.tolerance} has a negative side; give 0 or more for each.")
        if self.want < 1 or self.most_parts < 0 or self.most_shims < 0:
            raise ValueError("Ask for at least 1 stack, and allow 0 or more parts and shims.")
        everything = set(range(len(self.required)))
        for order in self.orders:
            if set(order) != everything or len(order) != len(everything):
                raise ValueError(f"The order {order} must name each of the required items once.")

    def allowed_orders(self) -> tuple[tuple[int, ...], ...]:
        """The orders in which the required items may stand; all of them where none is asked for."""
        return self.orders or tuple(permutations(range(len(self.required))))


@dataclass(frozen=True, slots=True)
class Use:
    """A piece in its place. ``arc`` indexes the arcs of the piece, or of the required item."""

    number: int
    arc: int
    start: int
    end: int
    length: int
    shim: bool = False
    required: bool = False


@dataclass(frozen=True, slots=True, order=True)
class Line:
    """A line of a bill of materials: how many copies are bought and how many of the owned ones are used."""

    number: int
    bought: int
    owned: int


@dataclass(frozen=True, slots=True)
class Stack:
    """A stack in order from ``start`` to ``end``.

    ``error`` is length minus target, positive when long. ``joints`` is the number of faces screwed
    together: one more than the pieces, shims included. ``mass`` includes the required items. ``bill`` names
    the pieces by number, without the required items.
    """

    uses: tuple[Use, ...]
    length: int
    error: int
    money: int
    joints: int
    mass: int
    bill: tuple[Line, ...]

    def key(self, lead: Sequence[str]) -> tuple[int, ...]:
        """What the stack is ranked by, smallest first; ``lead`` as in a problem."""
        return tuple(abs(self.error) if name == "error" else int(getattr(self, name)) for name in lead)


@dataclass(frozen=True, slots=True)
class Closing:
    """One ring that would close the gap: its ``length``, and the ``nodes`` of ``stack`` at which it can
    sit.
    """

    length: int
    nodes: tuple[int, ...]
    stack: Stack


@dataclass(frozen=True, slots=True)
class Nearest:
    """Why no stack lies within the tolerance.

    ``why`` is one of

    - "unreachable": no chain of pieces leads from start to end through the required items, whatever its
      length. ``forward`` are the nodes that can be reached from the start and ``backward`` those from which
      the end can be reached, by pieces or required items; ``parts_needed`` is the number of parts with
      which it could be reached if the limit of parts were lifted, None where no number helps.
    - "length": chains exist, none of the right length; ``stack`` is the nearest one (of these the cheapest)
      and its ``error`` says how far off it is.
    - "mass": ``stack`` would be the best, but it and every other of the right length is too heavy.
    - "quantity": every chain uses a piece more often than there are copies, has two shims in one joint, or a
      thread that bottoms.

    ``closings`` are single lengths that would close the gap if one could buy them: the shortest one first,
    then one of at least 3 mm that goes with the cheapest stack. ``proven`` says whether nothing nearer
    exists.
    """

    why: str
    stack: Stack | None = None
    closings: tuple[Closing, ...] = ()
    forward: tuple[int, ...] = ()
    backward: tuple[int, ...] = ()
    parts_needed: int | None = None
    proven: bool = True


@dataclass(frozen=True, slots=True)
class Work:
    """What a search cost: tables built, steps of the enumeration, cells in the largest table, resources
    made exact.
    """

    passes: int = 0
    steps: int = 0
    cells: int = 0
    resources: int = 0


@dataclass(frozen=True, slots=True)
class Outcome:
    """The answer of a search.

    ``proven``: nothing better than ``best`` exists with these pieces. ``exhausted``: these are all stacks
    there are (fewer than were wanted). ``nearest`` is given where there is none.
    """

    best: tuple[Stack, ...]
    proven: bool
    exhausted: bool
    nearest: Nearest | None = None
    work: Work = field(default_factory=Work)


@dataclass(frozen=True, slots=True)
class Front:
    """Stacks of which none is beaten in every measure by another; one stack a point, in the order of the
    measures.

    ``complete`` is True only when no other point exists (with these pieces, whatever they cost, unless
    ``budget`` is given: then among the stacks that cost no more).
    """

    points: tuple[Stack, ...]
    complete: bool
    budget: int | None = None
    work: Work = field(default_factory=Work)
