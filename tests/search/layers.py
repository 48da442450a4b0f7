"""A chain as an integer model for OR-Tools CP-SAT, shared by the tests of several chains from one drawer.

One layer for each position, in each position one way of one piece or nothing more: no order is assumed, no
connection is passed once only, and nothing is shared with the search.
"""

from typing import Any

from ortools.sat.python import cp_model

from server.search.problem import Arc, Piece, Problem


class Layers:
    """The variables of one chain: length, parts, copies used by number, and the length behind an item."""

    def __init__(self, model: cp_model.CpModel, problem: Problem, cut: int | None = None) -> None:
        self.used: dict[int, Any] = {piece.number: 0 for piece in problem.pieces}
        self.length: Any = 0
        self.parts: Any = 0
        self.behind: Any = 0
        node: dict[int, Any] = {at: int(at == problem.start) for at in range(problem.nodes)}
        place: list[Any] = [0] * len(problem.required)
        times: list[Any] = [0] * len(problem.required)
        before: Any = 1
        last: Any = 0
        all_shims: Any = 0
        for layer in range(problem.most_parts):
            here: list[tuple[Any, Arc, int, Piece | None, int]] = []
            for piece in problem.pieces:
                here += [(model.new_bool_var(""), arc, piece.length, piece, -1) for arc in piece.arcs]
            for item, required in enumerate(problem.required):
                here += [(model.new_bool_var(""), arc, required.length, None, item) for arc in required.arcs]
            going = sum(one[0] for one in here)
            model.add(going <= before)
            before = going
            following: dict[int, Any] = {}
            for at in range(problem.nodes):
                leaving = sum(one[0] for one in here if one[1].start == at)
                model.add(leaving <= node[at])
                # Where the chain has ended it stays.
                following[at] = model.new_bool_var("")
                arriving = sum(one[0] for one in here if one[1].end == at)
                model.add(following[at] == node[at] - leaving + arriving)
            past = times[cut] if cut is not None else 0
            for var, _, length, whole, item in here:
                # Not "+=", which changes the expression that others hold.
                self.length = self.length + length * var
                self.parts = self.parts + var
                if whole is not None:
                    self.used[whole.number] = self.used[whole.number] + var
                else:
                    times[item] = times[item] + var
                    place[item] = place[item] + layer * var
                if cut is not None:
                    both = model.new_bool_var("")
                    model.add(both <= var)
                    model.add(both <= past)
                    model.add(both >= var + past - 1)
                    self.behind = self.behind + length * both
            shims = sum(one[0] for one in here if one[3] is not None and one[3].shim)
            model.add(shims + last <= 1)
            last = shims
            all_shims = all_shims + shims
            node = following
        model.add(node[problem.end] == 1)
        model.add(all_shims <= problem.most_shims)
        for one in times:
            model.add(one == 1)
        orders = problem.allowed_orders()
        if len(place) == 2 and len(orders) == 1:
            model.add(place[orders[0][0]] < place[orders[0][1]])
        for piece in problem.pieces:
            model.add(self.used[piece.number] <= piece.copies)


def size(model: cp_model.CpModel, off: Any, tolerance: tuple[int, int]) -> Any:
    """A variable for the size of an error that is held within the tolerance."""
    model.add(off >= -tolerance[0])
    model.add(off <= tolerance[1])
    error = model.new_int_var(0, max(tolerance), "")
    model.add(error >= off)
    model.add(error >= -off)
    return error


def smallest(model: cp_model.CpModel, total: Any, values: tuple[Any, ...]) -> tuple[int, ...] | None:
    """The values where ``total`` is smallest, proven; None where there is no answer."""
    model.minimize(total)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    status = solver.solve(model)
    if status == cp_model.INFEASIBLE:
        return None
    assert status == cp_model.OPTIMAL
    return tuple(int(solver.value(value)) for value in values)
