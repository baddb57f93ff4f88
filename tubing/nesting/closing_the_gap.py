"""Many patterns: column generation for the bound, dives for a plan, and a proof that closes the gap between them."""

from __future__ import annotations

import random
from functools import reduce
from math import ceil, gcd

import numpy as np

from tubing.nesting.arc_flow import TooManyArcs, arcs_apply, cheapest_flow
from tubing.nesting.bar_counts import Counted, least_counts
from tubing.nesting.column_generation import DualBound, Duals, Generated, exact_bound, exact_dual_bound, generate
from tubing.nesting.covering import cheapest_of
from tubing.nesting.diving import Dive
from tubing.nesting.exchange import exchanged
from tubing.nesting.filling import filled_plan
from tubing.nesting.master import DUAL, Master, Span
from tubing.nesting.near_optimal import nearly_best
from tubing.nesting.patterns import TooManyPatterns
from tubing.nesting.pricing import Grid
from tubing.nesting.problem import Pattern, Problem
from tubing.nesting.random_dives import plan_among
from tubing.nesting.tight_patterns import Tight, tight_fillings
from tubing.nesting.watch import Watch

MOST_NEARLY = 6000
MOST_COUNTS = 40
COARSE_DIVES = 5
UPWARDS = 0.2  # of the gap
OTHER_DUALS = 6
DIVES = 8
FILLS = 4
MANY = 4  # pieces on a bar
AMONG_DIVES = 20
TIGHT = (15, 30, 60)  # patterns listed for a stock, in turn
LITTLE = 0.02  # a gap so small, in bars, that few patterns pass
NEARLY = 1e-6


class Closing:
    """One size being solved: the plan so far and the bound are in the watch, and are brought together here."""

    def __init__(self, problem: Problem, watch: Watch) -> None:
        self.problem, self.watch = problem, watch
        self.step = cost_step(problem)
        self.grid = Grid(problem)
        # Where cells are coarse, a bound needs a grid that rounds the other way.
        self.bound_grid = Grid(problem, optimistic=True) if self.grid.ticks_per_cell > 1 else self.grid
        self.master = Master(problem)
        self.demand = [kind.demand for kind in problem.kinds]
        self.bars = [(0, stock.limit) for stock in problem.stocks]
        self.duals: list[Duals] = []
        self.dual_bounds: list[DualBound] = []
        self._raise(watch.bound or 0)
        self.tight: dict[int, Tight] = {}
        self.impossible = False

    def solve(self) -> None:
        """Find the best plan and its proof; what is found is in the watch."""
        root = self.solve_quickly()
        if root is None or self.closed():
            return
        if not self.master.row_of_stock and self._gap_in_bars() < LITTLE:
            self._other_duals()
            self._decide(self._target())
        self._by_dives(root)
        if not self.closed() and len(self.duals) < OTHER_DUALS:
            self._other_duals()
        while not self.closed() and self.watch.cost is not None:
            if not self._decide(self._above(self._target(), self.watch.cost)):
                return

    def solve_quickly(self) -> Generated | None:
        """The bound, and plans from it where bars can differ; None where nothing more can be done."""
        if self.closed():
            return None
        self._by_filling()
        if self.closed() or self.impossible:
            return None
        for pattern in self.watch.plan or ():
            self.master.add(pattern)
        root = self._root()
        if root is None or self.closed():
            return None
        # Patterns on coarse cells are not all there are: that these hold too few pieces proves nothing.
        exact = self.grid.ticks_per_cell == 1
        self.impossible = exact and self.watch.plan is None and root.whole and root.relaxed.unmet > NEARLY
        if self.impossible:
            return None
        if self.master.row_of_stock:
            self._by_counts()
        return root

    def _by_filling(self) -> None:
        """Without a linear programme: bars filled to the last tick, against the bound that lengths alone give."""
        if not self.master.row_of_stock:
            bars = self._target() // self.problem.stocks[0].price if self.problem.stocks[0].price else 0
            self._fill(Counted(self._target(), (bars,), (), None))
            if not self.closed():
                self._of_little_waste()
            return
        self.dual_bounds.append(exact_dual_bound(self.bound_grid, self.demand, self._length_duals()))
        for most in TIGHT:
            self.tight = tight_fillings(self.problem, most)
            counted = self._count()
            if counted is None or self._fill(counted) or not self.tight:
                return

    def _length_duals(self) -> Duals:
        """Pieces worth what their length costs on the cheapest stock without limit, or on the cheapest."""
        there = [(s, stock) for s, stock in enumerate(self.problem.stocks) if stock.limit > 0]
        bought = [(s, stock) for s, stock in there if s not in self.problem.limited] or there
        rate = min(stock.price / self.problem.most_room(s) for s, stock in bought)
        worths = rate * self.bound_grid.ticks_per_cell * np.array(self.bound_grid.steps, dtype=float)
        return Duals(worths, np.zeros(len(self.problem.stocks)), {}, 0.0)

    def _of_little_waste(self) -> None:
        """Where a plan at the bound may waste almost nothing, its patterns may be few enough to list at once."""
        self._keep_duals(self._length_duals())
        if self._gap_in_bars() < LITTLE:
            try:
                patterns = nearly_best(self.bound_grid, self.duals, self._target(), MOST_NEARLY)
            except TooManyPatterns:
                return
            self._among(patterns, self._target())

    def _among(self, patterns: list[Pattern], cost: int) -> bool:
        plan = plan_among(self.problem, patterns, cost, AMONG_DIVES, self.watch.look)
        return plan is not None and self.watch.better(plan)

    def _count(self) -> Counted | None:
        """The least bars that cost less than the best plan; None where there are none, or time is over."""
        limit = sum(stock.price * stock.limit for stock in self.problem.stocks)
        below = self.watch.cost if self.watch.cost is not None else limit // self.step * self.step + self.step
        bound, counted = least_counts(self.problem, self.tight, self.dual_bounds, self.step, below, self.watch)
        self.watch.raised(bound)
        self.impossible = counted is None and self.watch.plan is None and bound >= below
        return counted

    def _fill(self, counted: Counted) -> bool:
        """Fill these bars in several orders; whether that closed the gap."""
        # With few pieces on a bar filling is no match for the linear programme: one try is enough.
        many = self.problem.pieces >= MANY * sum(counted.bars)
        for seed in range(FILLS if many else 1):
            for partly in dict.fromkeys((counted.partly, None)):
                plan = filled_plan(self.problem, counted.bars, counted.chosen, partly, seed)
                self.watch.look()
                if plan is not None:
                    self.watch.better(plan)
                if self.closed():
                    return True
        return False

    def _target(self) -> int:
        assert self.watch.bound is not None
        return self.watch.bound

    def closed(self) -> bool:
        """Whether the best plan is proved."""
        return self.watch.proved

    def _gap_in_bars(self) -> float:
        dearest = max(stock.price for stock in self.problem.stocks) or 1
        return (self._target() - max(d.bound for d in self.duals)) / dearest

    def _raise(self, bound: int) -> None:
        self.watch.raised(-(-bound // self.step) * self.step)

    def _root(self) -> Generated | None:
        """The bound of all patterns with bars in any fractions, and the worths that give it."""
        got = generate(self.master, self.grid, self.demand, self.bars, waiting=self.watch.look)
        if got is None:
            return None
        self._keep_duals(got.duals)
        self._raise(ceil(exact_bound(self.bound_grid, self.bars, self.dual_bounds[-1])[0]))
        return got

    def _keep_duals(self, duals: Duals) -> None:
        dual = exact_dual_bound(self.bound_grid, self.demand, duals)
        self.dual_bounds.append(dual)
        bound, ratio = exact_bound(self.bound_grid, self.bars, dual)
        least = {stock: reduced / dual.scale if ratio is None else 0.0 for stock, reduced in dual.per_bar.items()}
        worths = duals.worths if ratio is None else duals.worths * float(ratio)
        self.duals.append(Duals(worths, duals.bar_worths, least, float(bound)))

    def _other_duals(self) -> None:
        """More worths that give nearly the same bound: by length, and from demands that are a little different."""
        best = max(d.bound for d in self.duals)
        others = [self._length_duals().worths]
        chance = random.Random(0)
        for _ in range(OTHER_DUALS):
            self.master.allow([n + chance.random() / 4 for n in self.demand], self.bars)
            relaxed = self.master.solve(DUAL)
            if relaxed is not None:
                others.append(relaxed.worths)
        for worths in others:
            self._keep_duals(Duals(worths, self.duals[0].bar_worths, {}, 0.0))
            if self.duals[-1].bound < best - self.step / 4:
                self.duals.pop()

    def _by_counts(self) -> None:
        """Whole bars of each stock: raise the bound until the numbers that give it have a plan, or fail to."""
        tried: set[tuple[int, ...]] = set()
        for _ in range(MOST_COUNTS):
            counted = self._count()
            if counted is None or self.closed() or self._fill(counted):
                return
            bars = [(n, n) for n in counted.bars]
            got = self._at_counts(bars, counted.cost)
            if got is None:
                return
            self._keep_duals(got.duals)
            if ceil(got.relaxed.cost - NEARLY) > counted.cost and counted.bars not in tried:
                tried.add(counted.bars)
                continue
            for attempt in range(COARSE_DIVES):
                self._down(got, bars, random.Random(attempt) if attempt else None, coarse=True)
                if self.closed():
                    return
            if counted.bars in tried:
                return
            tried.add(counted.bars)

    def _above(self, low: int, top: int) -> int:
        """The next cost to ask for: near the lower end, where few arcs and patterns pass."""
        return low + int((top - self.step - low) * UPWARDS) // self.step * self.step

    def _at_counts(self, bars: list[Span], bound: int) -> Generated | None:
        below = self.watch.cost
        self.master.allow(self.demand, bars)
        return generate(
            self.master,
            self.grid,
            self.demand,
            bars,
            enough=lambda cost, bounded: (
                ceil(cost - NEARLY) <= bound or (below is not None and ceil(bounded - NEARLY) >= below)
            ),
            waiting=self.watch.look,
            simplex=DUAL,
        )

    def _by_dives(self, root: Generated) -> None:
        for attempt in range(DIVES):
            if self.closed():
                return
            self._down(root, self.bars, random.Random(attempt) if attempt else None, coarse=False)

    def _down(self, start: Generated, bars: list[Span], choice: random.Random | None, *, coarse: bool) -> None:
        """One dive, and exchanges on what it finds."""
        self.master.allow(self.demand, bars)
        found = Watch(self.watch.end_by_s, None)
        if not self.master.row_of_stock:
            found.plan = self.watch.plan  # all bars cost the same: only a better plan is of use
        dive = Dive(self.master, self.grid, bars, choice, found, self._target(), coarse=coarse)
        dive.down(start.relaxed, self.watch.look)
        better = found.plan is not None and self.watch.better(found.plan)
        if found.plan is not None and better and not self.closed() and self.master.row_of_stock:
            self.watch.better(exchanged(self.problem, found.plan, self._target(), self.watch.look))

    def _decide(self, cost: int) -> bool:
        """Whether a plan of at most ``cost`` exists, or of less where that is too much to state; False: not known."""
        low = self._target()
        while True:
            try:
                return self._by_patterns(cost)
            except TooManyPatterns:
                if arcs_apply(self.bound_grid):
                    try:
                        return self._settled(*cheapest_flow(self.bound_grid, self.duals, cost, self.step, self.watch))
                    except TooManyArcs:
                        pass
            if cost <= low:
                return False
            cost = low + (cost - low) // 2 // self.step * self.step

    def _by_patterns(self, cost: int) -> bool:
        """The same by listing all patterns that such a plan can use. Raises TooManyPatterns."""
        best = max(d.bound for d in self.duals)
        duals = [d for d in self.duals if d.bound >= best - self.step / 4]  # a mean of these has a bound as good
        patterns = nearly_best(self.bound_grid, duals, cost, MOST_NEARLY)
        if self._among(patterns, cost):
            return True
        return self._settled(*cheapest_of(self.problem, patterns, cost, self.step, self.watch))

    def _settled(self, plan: tuple[Pattern, ...] | None, bound: int | None) -> bool:
        if plan is not None:
            self.watch.better(plan)
        if bound is not None:
            self._raise(bound)
        return plan is not None or bound is not None


def cost_step(problem: Problem) -> int:
    """Cents that divide every pattern's cost."""
    if problem.offcuts_have_value:
        return 1
    return reduce(gcd, (stock.price for stock in problem.stocks), 0) or 1
