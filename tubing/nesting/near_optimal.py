"""All patterns that a plan of at most some cost can use.

At worths that give a bound, a plan's cost is the bound plus what its patterns cost above their worth (their reduced
costs). So a plan within ``gap`` of the bound uses no pattern whose reduced cost is above the gap. Several sets of
worths are tried at once as their mean: where the gap is nothing, a pattern passes the mean only if it passes each.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from tubing.nesting.column_generation import Duals
from tubing.nesting.patterns import TooManyPatterns
from tubing.nesting.pricing import Ending, Grid, Numbers, with_kind
from tubing.nesting.problem import Pattern

SAFE = 1e-6  # of a cost; floats must never lose a pattern
MOST_STEPS_PER_PATTERN = 60


def nearly_best(grid: Grid, duals: Sequence[Duals], cost: int, most: int) -> list[Pattern]:
    """Every pattern that a plan of at most ``cost`` can use, in a fixed order. Raises TooManyPatterns."""
    mean = mean_of(duals)
    found: dict[tuple[int, tuple[tuple[int, int], ...]], Pattern] = {}
    walk = _Walk(grid, mean, cost - mean.bound + SAFE * max(1.0, abs(mean.bound)), found, most)
    for ending in grid.endings:
        walk.on(ending)
    return [found[key] for key in sorted(found)]


def mean_of(duals: Sequence[Duals]) -> Duals:
    """The mean of several sets of worths; it gives at least the mean of their bounds."""
    count = len(duals)
    return Duals(
        worths=sum((d.worths for d in duals[1:]), duals[0].worths) / count,
        bar_worths=duals[0].bar_worths,
        least={stock: sum(d.least[stock] for d in duals) / count for stock in duals[0].least},
        bound=sum(d.bound for d in duals) / count,
    )


def _rest_tables(grid: Grid, worths: Numbers, more: int) -> list[list[float]]:
    """What the rest of a bar can still be worth, by the kinds yet to come and the cells left."""
    problem = grid.problem
    left = np.arange(grid.cells + 1) * grid.ticks_per_cell - problem.kerf + more
    worth = problem.cents_per_tick
    value = np.maximum(left, 0) * worth.numerator // worth.denominator
    value[(left < problem.keep_from) | (left <= 0)] = 0
    rows = [value.astype(float)]
    for index in range(len(problem.kinds) - 1, -1, -1):
        bound = problem.kinds[index].demand
        rows.append(with_kind(rows[-1], grid.steps[index], bound, float(worths[index])))
    return [row.tolist() for row in reversed(rows)]


class _Walk:
    """Depth first over the kinds, cutting off where no pattern passes any more."""

    def __init__(
        self,
        grid: Grid,
        duals: Duals,
        gap: float,
        found: dict[tuple[int, tuple[tuple[int, int], ...]], Pattern],
        most: int,
    ) -> None:
        self.grid, self.problem, self.duals, self.gap = grid, grid.problem, duals, gap
        self.worths = [float(worth) for worth in duals.worths]
        self.bounds = [kind.demand for kind in self.problem.kinds]
        self.found, self.most = found, most
        self.steps_left = most * MOST_STEPS_PER_PATTERN
        self.tables: dict[int, list[list[float]]] = {}

    def on(self, ending: Ending) -> None:
        """Add the patterns that end so."""
        self.stock, more = ending.stock, self.problem.kept_more(ending.stock, len(ending.used))
        if more not in self.tables:
            self.tables[more] = _rest_tables(self.grid, self.duals.worths, more)
        self.table = self.tables[more]
        self.low = self.problem.stocks[ending.stock].price - self.duals.least[ending.stock] - self.gap
        self._put_on_ends(ending, ending.cells, 0.0, [])

    def _put_on_ends(self, ending: Ending, cells: int, worth: float, kinds: list[int]) -> None:
        """Pieces on the ready ends in use first."""
        if len(kinds) == len(ending.used):
            self._extend(0, cells, worth, [(kind, 1) for kind in kinds])
            return
        for kind, step in self.grid.on_end[ending.used[len(kinds)]]:
            if step <= cells and kinds.count(kind) < self.bounds[kind]:
                self._put_on_ends(ending, cells - step, worth + self.worths[kind], [*kinds, kind])

    def _extend(self, kind: int, cells: int, worth: float, pieces: list[tuple[int, int]]) -> None:
        self.steps_left -= 1
        if self.steps_left < 0:
            raise TooManyPatterns
        if pieces and worth + self.table[-1][cells] >= self.low:
            self._keep(pieces)
        for index in range(kind, len(self.worths)):
            if worth + self.table[index][cells] < self.low:
                return
            step, more, rest, after = self.grid.steps[index], worth, cells, self.table[index + 1]
            for count in range(1, min(self.bounds[index], cells // step) + 1):
                more += self.worths[index]
                rest -= step
                if more + after[rest] >= self.low:
                    self._extend(index + 1, rest, more, [*pieces, (index, count)])

    def _keep(self, pieces: list[tuple[int, int]]) -> None:
        counts: dict[int, int] = {}
        for kind, count in pieces:
            counts[kind] = counts.get(kind, 0) + count
        if any(count > self.bounds[kind] for kind, count in counts.items()):
            return
        key = (self.stock, tuple(sorted(counts.items())))
        if key in self.found:
            return
        pattern = self.problem.pattern(*key)
        if pattern is not None:
            self.found[key] = pattern
            if len(self.found) > self.most:
                raise TooManyPatterns
