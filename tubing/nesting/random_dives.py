"""A plan of known patterns only, by going down from random corners of their linear programme.

Where a plan must use patterns that waste almost nothing, every plan is as good as any other and an objective says
nothing: a random one leads to another corner each time, which is nearly whole, and few steps make it so.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence

import highspy
import numpy as np

from tubing.nesting.covering import meets_demand, plan_of
from tubing.nesting.integer_programme import QuietHighs
from tubing.nesting.master import DUAL
from tubing.nesting.problem import Pattern, Problem

NEARLY = 1e-6
MOST_STEPS = 500
LET_GO = 0.2


def plan_among(
    problem: Problem, patterns: Sequence[Pattern], cost: int, dives: int, look: Callable[[], None]
) -> tuple[Pattern, ...] | None:
    """A plan of these patterns that costs at most ``cost``, or None: none was met on the way, which proves nothing.

    A dive that ends nowhere lets go of a part of what it cut, and goes down again from there.
    """
    dive = _Dive(problem, patterns, cost)
    for _ in range(dives):
        plan = dive.down(look)
        if plan is not None or not any(dive.times):
            return plan
        dive.let_go()
    return None


class _Dive:
    """The linear programme, and what is cut so far."""

    def __init__(self, problem: Problem, patterns: Sequence[Pattern], cost: int) -> None:
        self.chance = random.Random(0)
        self.problem, self.patterns, self.cost = problem, patterns, cost
        self.rest = [kind.demand for kind in problem.kinds]
        self.times = np.zeros(len(patterns))
        self.model = QuietHighs()  # type: ignore[no-untyped-call]
        for option, value in (("presolve", "off"), ("threads", 1), ("solver", "simplex"), ("random_seed", 0)):
            self.model.setOptionValue(option, value)
        self.model.setOptionValue("simplex_strategy", DUAL)
        for count in self.rest:
            self.model.addRow(float(count), float(count), 0, [], [])
        row_of_stock = {stock: len(self.rest) + row for row, stock in enumerate(problem.limited)}
        for stock in problem.limited:
            self.model.addRow(0.0, float(problem.stocks[stock].limit), 0, [], [])
        costs = {pattern.cost for pattern in patterns}
        if len(costs) > 1:
            self.model.addRow(-highspy.kHighsInf, float(cost), 0, [], [])
        for pattern in patterns:
            rows, counts = [kind for kind, _ in pattern.pieces], [float(n) for _, n in pattern.pieces]
            if pattern.stock in row_of_stock:
                rows.append(row_of_stock[pattern.stock])
                counts.append(1.0)
            if len(costs) > 1 and pattern.cost:
                rows.append(len(self.rest) + len(row_of_stock))
                counts.append(float(pattern.cost))
            self.model.addCol(self.chance.random(), 0.0, highspy.kHighsInf, len(rows), rows, counts)

    def down(self, look: Callable[[], None]) -> tuple[Pattern, ...] | None:
        """DualBound what the programme takes whole, or else what it takes most of; solve again for what remains."""
        for _ in range(MOST_STEPS):
            look()
            self.model.run()
            if self.model.getModelStatus() != highspy.HighsModelStatus.kOptimal:
                return None
            more = np.array(self.model.getSolution().col_value) - self.times
            whole = np.flatnonzero(more > 1 - NEARLY)
            for index in whole if len(whole) else [int(more.argmax())]:
                self._cut(int(index), max(1, int(more[index] + NEARLY)))
            if not any(self.rest):
                return self._plan()
            if min(self.rest) < 0:
                return None
        return None

    def let_go(self) -> None:
        """Take back a part of what is cut, and turn to another corner."""
        for index in np.flatnonzero(self.times):
            if self.chance.random() < LET_GO:
                self._cut(int(index), -int(self.times[index]))
        count = len(self.patterns)
        costs = np.array([self.chance.random() for _ in range(count)])
        self.model.changeColsCost(count, np.arange(count, dtype=np.int32), costs)

    def _cut(self, index: int, times: int) -> None:
        for kind, count in self.patterns[index].pieces:
            self.rest[kind] -= count * times
        self.times[index] += times
        self.model.changeColBounds(index, float(self.times[index]), highspy.kHighsInf)

    def _plan(self) -> tuple[Pattern, ...] | None:
        """The patterns cut, if they cost no more than they may and keep to the limits."""
        times = [int(n) for n in self.times]
        plan = plan_of(self.patterns, times)
        cheap = sum(pattern.cost for pattern in plan) <= self.cost
        return plan if cheap and meets_demand(self.problem, self.patterns, times) else None
