"""The linear programme over the patterns known so far, kept warm between rounds. It is highspy's only user here.

Rows: each kind is cut at least as often as wanted (a piece too many never costs less); so many bars of each
stock. A column per pattern; a dear stand-in column per kind keeps the programme solvable.
"""

from __future__ import annotations

from collections.abc import Sequence

import highspy
import numpy as np
from msgspec import Struct

from tubing.nesting.integer_programme import QuietHighs
from tubing.nesting.pricing import Numbers
from tubing.nesting.problem import Pattern, Problem

Span = tuple[int, int]  # least and most bars of a stock
PRIMAL, DUAL = 4, 1
LP_ITERATIONS = 50_000  # one programme may stall in the simplex; not a time, so that plans do not depend on it


class Relaxed(Struct, frozen=True):
    """A solution of the linear programme."""

    cost: float
    values: Numbers  # per pattern
    worths: Numbers  # per kind, cents
    bar_worths: Numbers  # per stock, cents: what one bar more of it would save or cost
    unmet: float  # pieces that only stand-ins cover


class Master:
    """The warm linear programme."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.patterns: list[Pattern] = []
        self.index: dict[tuple[int, tuple[tuple[int, int], ...]], int] = {}
        self.model = QuietHighs()  # type: ignore[no-untyped-call]
        for option, value in (("presolve", "off"), ("threads", 1), ("solver", "simplex"), ("random_seed", 0)):
            self.model.setOptionValue(option, value)
        self.model.setOptionValue("simplex_iteration_limit", LP_ITERATIONS)
        for kind in problem.kinds:
            self.model.addRow(float(kind.demand), highspy.kHighsInf, 0, [], [])
        several = len(problem.stocks) > 1 or problem.offcuts_have_value
        counted = range(len(problem.stocks)) if several else problem.limited
        self.row_of_stock = {stock: len(problem.kinds) + i for i, stock in enumerate(counted)}
        for stock in counted:
            self.model.addRow(0.0, float(problem.stocks[stock].limit), 0, [], [])
        dearest = 1 + max(stock.price for stock in problem.stocks)
        self.stand_ins = len(problem.kinds)
        for row in range(self.stand_ins):
            self.model.addCol(10.0 * dearest, 0.0, highspy.kHighsInf, 1, [row], [1.0])

    def add(self, pattern: Pattern) -> bool:
        """Add a pattern; False where it is there already."""
        key = (pattern.stock, pattern.pieces)
        if key in self.index:
            return False
        self.index[key] = len(self.patterns)
        self.patterns.append(pattern)
        rows = [kind for kind, _ in pattern.pieces]
        counts = [float(n) for _, n in pattern.pieces]
        if pattern.stock in self.row_of_stock:
            rows.append(self.row_of_stock[pattern.stock])
            counts.append(1.0)
        self.model.addCol(float(pattern.cost), 0.0, highspy.kHighsInf, len(rows), rows, counts)
        return True

    def allow(self, rest: Sequence[float], bars: Sequence[Span]) -> None:
        """Ask for these pieces on so many bars; patterns that hold more of a kind than is wanted are out."""
        for kind, count in enumerate(rest):
            self.model.changeRowBounds(kind, float(count), highspy.kHighsInf)
        for stock, row in self.row_of_stock.items():
            self.model.changeRowBounds(row, float(bars[stock][0]), float(bars[stock][1]))
        for index, pattern in enumerate(self.patterns):
            fits = all(n <= rest[kind] for kind, n in pattern.pieces)
            self.model.changeColBounds(self.stand_ins + index, 0.0, highspy.kHighsInf if fits else 0.0)

    def solve(self, simplex: int = PRIMAL) -> Relaxed | None:
        """The least cost; None where the solver stalled."""
        self.model.setOptionValue("simplex_strategy", simplex)
        self.model.run()
        if self.model.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            return None
        solution = self.model.getSolution()
        values = np.array(solution.col_value)
        duals = np.array(solution.row_dual)
        kinds = len(self.problem.kinds)
        bars = np.zeros(len(self.problem.stocks))
        for stock, row in self.row_of_stock.items():
            bars[stock] = duals[row]
        return Relaxed(
            cost=self.model.getInfo().objective_function_value,
            values=values[self.stand_ins :],
            worths=np.maximum(duals[:kinds], 0.0),
            bar_worths=bars,
            unmet=float(values[: self.stand_ins].sum()),
        )
