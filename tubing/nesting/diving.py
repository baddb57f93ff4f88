"""From the linear programme down to whole bars: fix patterns, price again for what remains, repeat."""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from math import ceil

from tubing.nesting.column_generation import generate
from tubing.nesting.greedy import greedy_plan
from tubing.nesting.master import DUAL, Master, Relaxed, Span
from tubing.nesting.pricing import Grid
from tubing.nesting.problem import Pattern
from tubing.nesting.watch import Watch

NEARLY = 1e-6
CLOSE_TO_ONE = 0.85
COARSE_CLOSE = 0.5
COARSE_ROUNDS = 2


class Dive:
    """One way down; ``choice`` breaks ties and, in later dives, prefers less obvious patterns."""

    def __init__(
        self,
        master: Master,
        grid: Grid,
        bars: Sequence[Span],
        choice: random.Random | None,
        watch: Watch,
        target: int,
        *,
        coarse: bool = False,
    ) -> None:
        self.master, self.grid, self.choice, self.watch, self.target = master, grid, choice, watch, target
        self.problem, self.coarse = master.problem, coarse
        self.rest = [kind.demand for kind in self.problem.kinds]
        self.bars = list(bars)
        self.plan: list[Pattern] = []
        self.cost = 0

    def down(self, relaxed: Relaxed, look: Callable[[], None]) -> None:
        """Go down until no better plan can come of it; plans found on the way are kept in the watch."""
        while self._fix(relaxed):
            rest = greedy_plan(self.problem, self.rest, [most for _, most in self.bars])
            if rest is not None:
                self.watch.better((*self.plan, *rest))
            if not any(self.rest) or self._hopeless(0.0):
                return
            self.master.allow(self.rest, self.bars)
            got = generate(
                self.master,
                self.grid,
                self.rest,
                self.bars,
                enough=lambda cost, bound: self._hopeless(bound),
                waiting=look,
                simplex=DUAL,
                rounds=COARSE_ROUNDS if self.coarse else 1_000_000,
            )
            if got is None or self._hopeless(got.duals.bound):
                return
            relaxed = got.relaxed

    def _hopeless(self, bound: float) -> bool:
        """Whether no plan from here beats the best so far, or none is needed."""
        best = self.watch.cost
        return best is not None and (best <= self.target or self.cost + ceil(bound - NEARLY) >= best)

    def _fix(self, relaxed: Relaxed) -> bool:
        """Fix what the linear programme takes whole, or else what it takes most of."""
        values = relaxed.values
        order = sorted(range(len(values)), key=lambda i: (-values[i], i))
        fixed = False
        for index in order:
            if values[index] < 1 - NEARLY:
                break
            fixed = self._take(index, int(values[index] + NEARLY)) or fixed
        if fixed:
            return True
        close = [i for i in order if values[i] > (COARSE_CLOSE if self.coarse else CLOSE_TO_ONE)]
        if close and self.choice is None:
            taken = [self._take(i, 1) for i in close]
            return any(taken)
        some = [i for i in order if values[i] > NEARLY]
        if self.choice is not None and some:
            first = values[some[0]]
            some = [i for i in some if values[i] > 0.7 * first][:6]
            self.choice.shuffle(some)
        return any(self._take(i, 1) for i in some)

    def _take(self, index: int, times: int) -> bool:
        """DualBound a pattern so often, or as often as what remains allows."""
        pattern = self.master.patterns[index]
        times = min([times, self.bars[pattern.stock][1]] + [self.rest[k] // n for k, n in pattern.pieces])
        if times <= 0:
            return False
        for kind, count in pattern.pieces:
            self.rest[kind] -= count * times
        least, most = self.bars[pattern.stock]
        self.bars[pattern.stock] = (max(0, least - times), most - times)
        self.plan += [pattern] * times
        self.cost += pattern.cost * times
        return True
