"""One kit for several rigs that are not used at the same time.

**The problem.** Every rig is a problem of its own (two connections, a distance, its required items), all
from one drawer, whose copies every rig may use in turn. (a) A kit is a multiset of parts to buy so that
each rig has a stack; the cheapest one is asked for. (b) Of the kits that cost no more, and of the stacks
that can be built with them, those are asked for that need the fewest joints undone to change from one rig
to another.

A joint is a pair of neighbours in a stack, each with the way in which it is put in; what stands in front of
the first piece and behind the last counts as a neighbour (the same thing in two rigs where the rigs say
so). Equal copies count as the same piece. To change from rig A to rig B every joint of A that B does not
have is undone; the measure is the sum over all ordered pairs of rigs, so that it does not matter which rig
follows which.

**The method.** (a) is NP-hard (each rig is a knapsack on a path) and goes to a library's branch and cut
(HiGHS: Huangfu, Q., Hall, J., Parallelizing the dual revised simplex method, Math. Prog. Comp. 10 (2018),
119-142), well prepared:

1. The exact search gives each rig's own optimum: their greatest is a lower bound of the kit.
2. In every order of the rigs (a sample of orders where there are many) the rigs are solved one after
   another, with what has been bought at price 0 from then on: the cheapest of these is an upper bound.
3. Prices split between the rigs give a much better lower bound, and the stacks met on the way combine to a
   better kit (``kit_prices``).
4. Where the two differ, one integer model with the purchases shared (``kit_models``) is asked for a kit
   that is cheaper than the upper bound; parts that cannot lie on any chain of a rig within it are left out
   (reduced-cost fixing at the split prices, ``kit_fixing``). No answer proves the upper bound; an answer is
   optimal.

(b) All kits of exactly that money are listed by the same model, each found one forbidden for the next. With
each kit's parts at price 0 the drawer is small: an integer model of positions and neighbours minimises the
joints undone, started from the best combination of each rig's stacks with the fewest joints.

Nothing is called proven that the solver has not closed within ``seconds``; the bound that was reached is
given.
"""

from collections.abc import Sequence

from server.search.kit_models import fewest_undone, kits_of
from server.search.kit_planner import KitOutcome, Planner, Progress, Rig


def plan_kit(rigs: Sequence[Rig], *, seconds: float = 20.0, progress: Progress | None = None) -> KitOutcome:
    """The cheapest kit for the rigs, and with that money the fewest joints undone.

    ``rigs``: at least one; their problems share the numbering of nodes and pieces. ``seconds`` limits the
    solver (the bounds and first answers are quick and not counted). ``progress`` is called whenever a stage
    is done; when it returns False the planning stops with what there is. Pieces at price 0 count as owned.
    Raises ValueError where a piece differs between rigs.
    """
    if not rigs:
        raise ValueError("There is no rig to plan a kit for; give at least one.")
    planner = Planner(rigs, seconds, progress)
    alone = planner.alone()
    impossible = tuple(at for at, stack in enumerate(alone) if stack is None)
    stacks = [stack for stack in alone if stack is not None]
    if impossible:
        return KitOutcome(None, money_proven=True, impossible=impossible)
    floor = max(stack.money for stack in stacks)
    buy = planner.greedy(stacks)
    outcome = KitOutcome(planner.combine(buy), planner.money(buy) == floor, floor)
    if not planner.show(outcome):
        return outcome
    found = kits_of(planner, [stack.money for stack in stacks], buy)
    best = min((planner.combine(one) for one in found.kits), key=lambda kit: (kit.joints_undone, kit.buy))
    outcome = KitOutcome(best, found.proven, found.bound, False, 0)
    if not found.proven or not planner.show(outcome):
        return outcome
    proven, bound = found.all_kits, best.joints_undone
    for one in found.kits:
        kit, closed, least = fewest_undone(planner, one, best)
        if kit is not None and kit.joints_undone < best.joints_undone:
            best = kit
        proven, bound = proven and closed, min(bound, least)
    bound = min(bound, best.joints_undone) if found.all_kits else 0
    # A bound that was reached is a proof, also where the time was up before the solver said so.
    proven = proven or (found.all_kits and bound >= best.joints_undone)
    return KitOutcome(best, found.proven, found.bound, proven, bound)
