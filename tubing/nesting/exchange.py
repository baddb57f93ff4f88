"""A plan made better two bars at a time: all ways to share out what lies on both, by subset sums.

For two bars everything depends on how much of the common pieces goes on the first; every sum that can be had is a bit
of one whole number. A plan that wastes a few millimetres here and there is mended so in a moment.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable

import numpy as np

from tubing.nesting.pricing import Numbers
from tubing.nesting.problem import Pattern, Problem

MOST_TICKS = 400_000
MOST_BARS = 120
MOST_PIECES = 60  # on two bars
ROUNDS = 2
PARTNERS = 60


def exchanged(
    problem: Problem, plan: tuple[Pattern, ...], target: int, look: Callable[[], None]
) -> tuple[Pattern, ...]:
    """A plan that costs no more, and ``target`` where exchanges lead there."""
    if len(plan) > MOST_BARS or max(stock.length for stock in problem.stocks) > MOST_TICKS:
        return plan
    return Exchange(problem, plan).improve(target, ROUNDS, look)


def with_longer_offcut(problem: Problem, plan: tuple[Pattern, ...], look: Callable[[], None]) -> tuple[Pattern, ...]:
    """A plan of the same cost and bars at most, its longest single offcut no shorter."""
    if max(stock.length for stock in problem.stocks) > MOST_TICKS:
        return plan
    exchange = Exchange(problem, plan)
    exchange.lengthen(look)
    longer = exchange.plan()
    if sum(p.cost for p in longer) > sum(p.cost for p in plan):
        return plan
    return longer if max(p.left for p in longer) > max(p.left for p in plan) else plan


class Exchange:
    """Bars of a plan, without those that have ready ends, which stay as they are."""

    def __init__(self, problem: Problem, plan: tuple[Pattern, ...], seed: int = 0) -> None:
        self.problem = problem
        self.fixed = [p for p in plan if problem.stocks[p.stock].ready]
        self.bars = [(p.stock, Counter(dict(p.pieces))) for p in plan if not problem.stocks[p.stock].ready]
        self.steps = [kind.length + problem.kerf for kind in problem.kinds]
        self.random = random.Random(seed)
        self.tables: dict[int, tuple[Numbers, Numbers]] = {}

    def improve(self, target: int, rounds: int, look: Callable[[], None]) -> tuple[Pattern, ...]:
        """Exchange until the plan costs no more than ``target``, or nothing has come of ``rounds`` rounds."""
        without = 0
        best = self.plan()
        while sum(p.cost for p in best) > target and without < rounds:
            look()
            before = self._score()
            self._round(shaken=without > 0)
            without = 0 if self._score() < before else without + 1
            if self._score()[0] < sum(p.cost for p in best):
                best = self.plan()
        return best

    def lengthen(self, look: Callable[[], None]) -> None:
        """Move what is left of other bars to the bar that has most left, while that gains anything."""
        before = None
        while self.bars and self._score() != before:
            look()
            before = self._score()
            lefts = [self._left(bar) for bar in self.bars]
            longest = max(range(len(self.bars)), key=lambda i: (lefts[i], -i))
            others = sorted((i for i in range(len(self.bars)) if i != longest), key=lambda i: (-lefts[i], i))
            for other in others[:PARTNERS]:
                look()
                self._pair(longest, other, shaken=False)
            self.bars = [bar for bar in self.bars if bar[1]]

    def _left(self, bar: tuple[int, Counter[int]]) -> int:
        return int(self._tables(bar[0])[1][sum(self.steps[k] * n for k, n in bar[1].items())])

    def plan(self) -> tuple[Pattern, ...]:
        """The bars as they are now."""
        made = [self.problem.pattern(stock, tuple(sorted(pieces.items()))) for stock, pieces in self.bars]
        return (*self.fixed, *(p for p in made if p is not None))

    def _score(self) -> tuple[int, int]:
        costs, lefts = [], [0]
        for stock, pieces in self.bars:
            cost, left = self._tables(stock)
            filled = sum(self.steps[k] * n for k, n in pieces.items())
            costs.append(int(cost[filled]))
            lefts.append(int(left[filled]))
        return sum(costs) + sum(p.cost for p in self.fixed), -max(lefts)

    def _tables(self, stock: int) -> tuple[Numbers, Numbers]:
        """Cost and what is left of a bar, by ticks filled; an empty bar costs nothing."""
        if stock not in self.tables:
            problem = self.problem
            room = problem.room(stock)
            left = np.maximum(room - problem.kerf - np.arange(room + 1, dtype=np.int64), 0)
            worth = problem.cents_per_tick
            value = left * worth.numerator // worth.denominator
            value[(left < problem.keep_from) | (left <= 0)] = 0
            cost = problem.stocks[stock].price - value
            cost[0] = 0
            self.tables[stock] = (cost, left)
        return self.tables[stock]

    def _round(self, *, shaken: bool) -> None:
        """Each bar that wastes anything with every other; ``shaken``: then pieces change places at no gain."""
        order = list(range(len(self.bars)))
        if shaken:
            self.random.shuffle(order)
            for first, second in zip(order[::2], order[1::2], strict=False):
                self._pair(first, second, shaken=True)
        for first in order:
            for second in order:
                if not self._wastes(first):
                    break
                if first != second:
                    self._pair(first, second, shaken=shaken)
        self.bars = [bar for bar in self.bars if bar[1]]

    def _wastes(self, index: int) -> bool:
        """Whether a bar is neither full nor keeps all that is left of it."""
        stock, pieces = self.bars[index]
        spare = self.problem.room(stock) - sum(self.steps[k] * n for k, n in pieces.items())
        return bool(pieces) and spare > 0 and not (self.problem.offcuts_have_value and self.problem.kept(spare))

    def _pair(self, first: int, second: int, shaken: bool) -> None:
        (stock_a, a), (stock_b, b) = self.bars[first], self.bars[second]
        pool = [k for k, n in (a + b).items() for _ in range(n)]
        if not pool or len(pool) > MOST_PIECES:
            return
        if shaken:
            self.random.shuffle(pool)
        total = sum(self.steps[k] for k in pool)
        cost_a, left_a = self._tables(stock_a)
        cost_b, left_b = self._tables(stock_b)
        low, high = max(0, total - len(cost_b) + 1), min(total, len(cost_a) - 1)
        if low > high:
            return
        sums = [1]
        mask = (1 << (high + 1)) - 1
        for kind in pool:
            sums.append((sums[-1] | sums[-1] << self.steps[kind]) & mask)
        bits = np.unpackbits(
            np.frombuffer(sums[-1].to_bytes(high // 8 + 1, "little"), dtype=np.uint8), bitorder="little"
        )
        cells = low + np.flatnonzero(bits[low : high + 1])
        now = sum(self.steps[k] * n for k, n in a.items())
        cost = cost_a[cells] + cost_b[total - cells]
        longest = np.maximum(left_a[cells], left_b[total - cells])
        best = int(cost.min())
        now_cost = int(cost_a[now] + cost_b[total - now])
        tied = np.flatnonzero(cost == best)
        chosen = int(cells[tied[longest[tied].argmax()]])
        gained = best < now_cost or int(longest[tied].max()) > max(int(left_a[now]), int(left_b[total - now]))
        if not gained and not shaken:
            return
        self._share(first, second, pool, sums, chosen if gained else now)

    def _share(self, first: int, second: int, pool: list[int], sums: list[int], cell: int) -> None:
        """Put pieces that fill ``cell`` ticks on the first bar, the others on the second."""
        a, b = Counter[int](), Counter[int]()
        for index in range(len(pool) - 1, -1, -1):
            if sums[index] >> cell & 1:
                b[pool[index]] += 1
            else:
                a[pool[index]] += 1
                cell -= self.steps[pool[index]]
        self.bars[first], self.bars[second] = (self.bars[first][0], a), (self.bars[second][0], b)
