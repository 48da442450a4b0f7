"""Seeded random drawers and rigs for the Bridge: threads, adapters, rings, shims, prices, as a dealer's
list has them.
"""

import random
from collections.abc import Sequence
from dataclasses import replace

from server.search.problem import Arc, Piece, Problem, Required

ERROR = 10  # Tolerance of 0.10 mm each way, in hundredths.


def node(thread: int, outer: bool) -> int:
    """A connection: a thread and its gender."""
    return 2 * thread + outer


def _thread(rng: random.Random, threads: int) -> int:
    """A thread: 72 % of the parts carry one of the four popular ones."""
    if threads <= 4 or rng.random() < 0.72:
        return rng.randrange(min(4, threads))
    return rng.randrange(4, threads)


def _length(rng: random.Random, longest: int) -> int:
    """58 % whole mm, 20 % half, 17 % tenths, 5 % odd hundredths."""
    draw = rng.random()
    whole = rng.randint(1, longest)
    if draw < 0.58:
        return 100 * whole
    if draw < 0.78:
        return 100 * whole + 50 * rng.randint(0, 1)
    if draw < 0.95:
        return 10 * rng.randint(10, 10 * longest)
    return rng.randint(100, 100 * longest)


def piece(
    rng: random.Random, number: int, threads: int, owned: bool, longest: int = 40, ways: float = 0.15
) -> Piece:
    """One part: 15 % adapters (``ways``), 4 % gender changers, 8 % shims, the rest rings, most of these
    reversible.
    """
    draw = rng.random()
    thread = _thread(rng, threads)
    outer = rng.random() < 0.5
    here = node(thread, outer)
    other = node(thread, not outer)
    shim = False
    if draw < ways:
        to = node(_thread(rng, threads), rng.random() < 0.5)
        arcs = [Arc(here, to)]
        if rng.random() < 0.4:
            # Turned round it takes what it showed, in the other gender.
            arcs.append(Arc(to ^ 1, here ^ 1))
        length = _length(rng, 12)
    elif draw < ways + 0.04:
        arcs = [Arc(here, other)]
        length = _length(rng, 8)
    elif draw < ways + 0.12:
        arcs = [Arc(here, here), Arc(other, other)]
        length = rng.choice((10, 20, 30, 50, 100, 15, 33))
        shim = True
    else:
        arcs = [Arc(here, here)]
        if rng.random() < 0.7:
            arcs.append(Arc(other, other))
        length = _length(rng, longest)
    copies = rng.choice((1, 1, 1, 2, 3))
    price = rng.randint(8, 60) * 100 + rng.choice((0, 0, 50, 90))
    mass = 5 + length // rng.randint(20, 60)
    for_sale = rng.choice((0, 1, 2)) if owned else copies
    return Piece(
        number, tuple(arcs), length, copies if owned else 0, for_sale,
        None if owned and rng.random() < 0.5 else price, mass, shim,
    )  # fmt: skip


def drawer(
    seed: int, parts: int, owned: int, threads: int = 25, longest: int = 40, ways: float = 0.15
) -> tuple[Piece, ...]:
    """``parts`` pieces of which the first ``owned`` are owned: the same ones whatever the size of the
    catalogue.
    """
    mine = random.Random(f"owned {seed}")
    market = random.Random(f"market {seed}")
    return tuple(
        piece(mine if at < owned else market, 100 + at, threads, at < owned, longest, ways)
        for at in range(parts)
    )


def rig(
    seed: int,
    pieces: Sequence[Piece],
    threads: int = 25,
    target: int | None = None,
    parts: int = 8,
    want: int = 20,
    reach: bool = False,
) -> Problem:
    """A rig: start, end, target, none to two required items, both of their orders or one.

    With ``reach`` the end and the target are those of a random chain of the drawer, so that most rigs have
    a stack.
    """
    rng = random.Random(f"rig {seed}")
    start, end = (node(rng.randrange(min(4, threads)), rng.random() < 0.5) for _ in range(2))
    if target is None:
        target = rng.choice((5533, 5567, 5600)) + rng.choice((0, 0, 0, 5000))
    required = []
    for at in range(rng.choice((0, 1, 1, 2))):
        here = node(rng.randrange(min(4, threads)), rng.random() < 0.5)
        there = here if rng.random() < 0.5 else node(rng.randrange(min(4, threads)), rng.random() < 0.5)
        arcs = [Arc(here, there)]
        if rng.random() < 0.3:
            arcs.append(Arc(there ^ 1, here ^ 1))
        required.append(
            Required(at + 1, tuple(arcs), rng.choice((1650, 2000, 1200)) if target > 3000 else 200, 300)
        )
    order = tuple(range(len(required)))
    if reach:
        if random.Random(f"order {seed}").random() < 0.5:
            order = order[::-1]
        end, target = _chain(rng, start, pieces, required, parts, order)
    orders: tuple[tuple[int, ...], ...] = ()
    if len(required) == 2 and rng.random() < 0.5:
        orders = (order,)
    return Problem(
        2 * threads,
        start,
        end,
        target,
        (ERROR, ERROR),
        tuple(pieces),
        tuple(required),
        orders,
        parts,
        want=want,
    )


def _chain(
    rng: random.Random,
    start: int,
    pieces: Sequence[Piece],
    required: list[Required],
    parts: int,
    order: tuple[int, ...],
) -> tuple[int, int]:
    """The end and the length of a random chain; what is required is moved to where the chain passes."""
    at, length, most = start, 0, rng.randint(len(required), parts)
    places = sorted(rng.sample(range(most), len(required)))
    waiting = list(order)
    for step in range(most):
        if step in places:
            item = waiting.pop(0)
            old = required[item]
            shift = [Arc(at, at if arc.start == arc.end else arc.end) for arc in old.arcs[:1]]
            required[item] = Required(old.number, (*shift, *old.arcs[1:]), old.length, old.mass)
            at, length = shift[0].end, length + old.length
            continue
        options = [(piece, arc.end) for piece in pieces for arc in piece.arcs if arc.start == at]
        if not options:
            continue
        ways = [option for option in options if option[1] != at]
        chosen, at = rng.choice(ways if ways and rng.random() < 0.5 else options)
        length += chosen.length
    return at, length + rng.randint(-ERROR, ERROR)


def threaded(seed: int) -> Problem:
    """A small drawer, its threads of some lengths and depths or unknown. An even node shows male threads."""
    rng = random.Random(f"threads {seed}")

    def thread(node_: int, shows: bool) -> int | None:
        """What a part has at a node: an even one shows a male thread, and takes a female one."""
        male = (node_ % 2 == 0) is shows
        return rng.choice((None, 400, 400, 440, 600) if male else (None, -500, -500, -400, -380))

    def known(arc: Arc) -> Arc:
        return replace(arc, threads=(thread(arc.start, False), thread(arc.end, True)))

    problem = small(seed)
    return replace(
        problem,
        pieces=tuple(
            piece if piece.shim else replace(piece, arcs=tuple(map(known, piece.arcs)))
            for piece in problem.pieces
        ),
        required=tuple(replace(item, arcs=tuple(map(known, item.arcs))) for item in problem.required),
        threads=(thread(problem.start, True), thread(problem.end, False)),
    )


def small(seed: int) -> Problem:
    """A drawer of 4 to 40 parts with a rig that plain enumeration can still take in."""
    rng = random.Random(seed)
    threads, count = rng.choice((2, 3, 4)), rng.randint(4, 40)
    longest, ways = rng.choice((4, 12, 20)), rng.choice((0.15, 0.3, 0.5))
    pieces = drawer(seed, count, rng.randint(0, count), threads, longest, ways)
    target = rng.choice((rng.randint(0, 4500), rng.randint(300, 2500), 100 * rng.randint(5, 30)))
    parts = rng.choice((4, 5, 6)) if count > 20 else rng.choice((4, 6, 7))
    problem = rig(seed, pieces, threads, target, parts, reach=rng.random() < 0.75)
    if rng.random() < 0.3:
        problem = replace(problem, lead=tuple(rng.sample(("money", "joints", "error"), 3)))
    if rng.random() < 0.15:
        problem = replace(problem, greatest_mass=rng.randint(50, 900))
    if rng.random() < 0.15:
        problem = replace(problem, most_shims=rng.choice((0, 1, 3)))
    if rng.random() < 0.15:
        problem = replace(problem, lead=(*problem.lead, "mass"))
    return problem
