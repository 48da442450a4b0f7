"""A mixed-integer model in rows and columns, solved by HiGHS: whole coefficients in, a proven answer out."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import ceil, inf, isfinite

ROUNDING = 1e-6  # What a bound of the solver may lie below a whole number by rounding.


@dataclass(frozen=True, slots=True)
class Solved:
    """What the solver found: ``values`` of the columns, rounded, or None without an answer; ``closed`` when
    that is proven (the answer the best, or that there is none); ``bound`` no answer lies below.
    """

    values: tuple[int, ...] | None
    closed: bool
    bound: float

    @property
    def least(self) -> int:
        """The bound as a whole number, 0 where there is none (every sum of costs here is 0 or more)."""
        return max(0, ceil(self.bound)) if isfinite(self.bound) else 0


class Model:
    """Columns with bounds and costs, rows with bounds and coefficients; the sum of the costs is minimised."""

    def __init__(self) -> None:
        self.costs: list[int] = []
        self.lower: list[float] = []
        self.upper: list[float] = []
        self.whole: list[bool] = []
        self.rows: list[tuple[float, float]] = []
        self.starts: list[int] = [0]
        self.columns: list[int] = []
        self.coefficients: list[float] = []

    def column(self, upper: float = 1, cost: int = 0, *, whole: bool = True) -> int:
        """A new column from 0 to ``upper``."""
        self.costs.append(cost)
        self.lower.append(0)
        self.upper.append(upper)
        self.whole.append(whole)
        return len(self.costs) - 1

    def row(
        self, lower: float, upper: float, terms: Mapping[int, float] | Iterable[tuple[int, float]]
    ) -> None:
        """A new row; several terms of one column are added up."""
        summed: dict[int, float] = {}
        for column, coefficient in terms.items() if isinstance(terms, Mapping) else terms:
            summed[column] = summed.get(column, 0) + coefficient
        self.rows.append((lower, upper))
        self.columns += summed.keys()
        self.coefficients += summed.values()
        self.starts.append(len(self.columns))

    def at_most(self, upper: float, terms: Mapping[int, float] | Iterable[tuple[int, float]]) -> None:
        """A row without a lower bound."""
        self.row(-inf, upper, terms)

    def solve(self, seconds: float) -> Solved:
        """Branch and cut by HiGHS, one thread, always the same way, to the very optimum or the time's end.

        Source: Huangfu, Q., Hall, J., Math. Prog. Comp. 10 (2018), 119-142.
        """
        import highspy
        import numpy as np

        solver = highspy.Highs()  # type: ignore[no-untyped-call]
        for name, value in (
            ("output_flag", False), ("threads", 1), ("random_seed", 1), ("time_limit", float(seconds)),
            ("mip_rel_gap", 0.0), ("mip_abs_gap", 0.5), ("mip_feasibility_tolerance", 1e-7),
        ):  # fmt: skip
            solver.setOptionValue(name, value)
        lp = highspy.HighsLp()
        lp.num_col_, lp.num_row_ = len(self.costs), len(self.rows)
        lp.col_cost_ = np.array(self.costs, dtype=np.float64)
        lp.col_lower_ = np.array(self.lower, dtype=np.float64)
        lp.col_upper_ = np.array(self.upper, dtype=np.float64)
        lp.row_lower_ = np.array([row[0] for row in self.rows], dtype=np.float64)
        lp.row_upper_ = np.array([row[1] for row in self.rows], dtype=np.float64)
        lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        lp.a_matrix_.start_ = np.array(self.starts, dtype=np.int32)
        lp.a_matrix_.index_ = np.array(self.columns, dtype=np.int32)
        lp.a_matrix_.value_ = np.array(self.coefficients, dtype=np.float64)
        kinds = (highspy.HighsVarType.kContinuous, highspy.HighsVarType.kInteger)
        lp.integrality_ = [kinds[whole] for whole in self.whole]
        solver.passModel(lp)
        solver.run()
        status, states = solver.getModelStatus(), highspy.HighsModelStatus
        if status == states.kInfeasible:
            return Solved(None, closed=True, bound=inf)
        info = solver.getInfo()
        values = None
        if info.primal_solution_status == highspy.SolutionStatus.kSolutionStatusFeasible:
            values = tuple(round(value) for value in solver.getSolution().col_value)
        return Solved(values, closed=status == states.kOptimal, bound=info.mip_dual_bound - ROUNDING)
