"""All patterns that a plan of at most some cost can use.

At worths that give a bound, a plan's cost is the bound plus what its patterns cost above their worth (their reduced
costs). So a plan within ``gap`` of the bound uses no pattern whose reduced cost is above the gap. With several sets of
worths a pattern must pass each of them, which leaves few.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tubing.nesting.columns import Duals
from tubing.nesting.patterns import TooManyPatterns
from tubing.nesting.pricing import Ending, Grid
from tubing.nesting.problem import Pattern, Problem

SAFE = 1e-6  # of a cost; floats must never lose a pattern
MOST_STEPS_PER_PATTERN = 60


@dataclass(frozen=True, slots=True)
class Sieve:
    """One set of worths with the gap to its bound, and what the rest of a bar can still be worth."""

    worths: list[float]
    least: dict[int, float]  # by stock: what a pattern costs above its worth at least
    gap: float
    rest: dict[int, list[list[float]]]  # by ticks that an unused ready end leaves; kind; cells


def nearly_best(
    grid: Grid, duals: Sequence[Duals], cost: int, most: int, demand: Sequence[int] | None = None
) -> list[Pattern]:
    """Every pattern that a plan of at most ``cost`` can use, in a fixed order. Raises TooManyPatterns."""
    problem = grid.problem
    bounds = list(demand if demand is not None else (kind.demand for kind in problem.kinds))
    sieves = [_sieve(grid, d, cost, bounds) for d in duals]
    found: dict[tuple[int, tuple[tuple[int, int], ...]], Pattern] = {}
    walk = _Walk(grid, sieves, bounds, found, most)
    for ending in grid.endings:
        walk.on(ending)
    return [found[key] for key in sorted(found)]


def _sieve(grid: Grid, duals: Duals, cost: int, bounds: Sequence[int]) -> Sieve:
    problem = grid.problem
    rest = {}
    for more in sorted({_kept_more(problem, ending) for ending in grid.endings}):
        left = np.arange(grid.cells + 1) * grid.ticks_per_cell - problem.kerf + more
        worth = problem.cents_per_tick
        value = np.maximum(left, 0) * worth.numerator // worth.denominator
        value[(left < problem.keep_from) | (left <= 0)] = 0
        rows = [value.astype(float)]
        for kind in range(len(problem.kinds) - 1, -1, -1):
            rows.append(_with_kind(rows[-1], grid.steps[kind], bounds[kind], float(duals.worths[kind])))
        rest[more] = [row.tolist() for row in reversed(rows)]
    gap = cost - duals.bound + SAFE * max(1.0, abs(duals.bound))
    return Sieve([float(w) for w in duals.worths], duals.least, gap, rest)


def _with_kind(best: np.ndarray, step: int, bound: int, worth: float) -> np.ndarray:
    """The table with up to ``bound`` pieces of one more kind."""
    best = best.copy()
    most, times = min(bound, (len(best) - 1) // step), 1
    while most > 0:
        times = min(times, most)
        np.maximum(best[step * times :], best[: len(best) - step * times] + worth * times, out=best[step * times :])
        most -= times
        times *= 2
    return best


def _kept_more(problem: Problem, ending: Ending) -> int:
    """Ticks that an unused ready end leaves on the rest of a bar."""
    return problem.trim if len(ending.used) < len(problem.stocks[ending.stock].ready) else 0


class _Walk:
    """Depth first over the kinds, cutting off where some sieve lets nothing through any more."""

    def __init__(
        self,
        grid: Grid,
        sieves: Sequence[Sieve],
        bounds: list[int],
        found: dict[tuple[int, tuple[tuple[int, int], ...]], Pattern],
        most: int,
    ) -> None:
        self.grid, self.problem, self.sieves, self.bounds = grid, grid.problem, sieves, bounds
        self.found, self.most = found, most
        self.steps_left = most * MOST_STEPS_PER_PATTERN

    def on(self, ending: Ending) -> None:
        """Add the patterns that end so."""
        price = self.problem.stocks[ending.stock].price
        self.stock, self.more = ending.stock, _kept_more(self.problem, ending)
        self.tables = [sieve.rest[self.more] for sieve in self.sieves]
        least = [price - sieve.least[ending.stock] - sieve.gap for sieve in self.sieves]
        self._put_on_ends(ending, 0, ending.cells, [0.0] * len(self.sieves), least, [])

    def _put_on_ends(
        self, ending: Ending, place: int, cells: int, worth: list[float], least: list[float], pieces: list[int]
    ) -> None:
        if place == len(ending.used):
            self._extend(0, cells, worth, least, [(kind, 1) for kind in pieces])
            return
        for kind, step in self.grid.on_end[ending.used[place]]:
            if step <= cells and pieces.count(kind) < self.bounds[kind]:
                more = [w + sieve.worths[kind] for w, sieve in zip(worth, self.sieves, strict=True)]
                self._put_on_ends(ending, place + 1, cells - step, more, least, [*pieces, kind])

    def _extend(
        self, kind: int, cells: int, worth: list[float], least: list[float], pieces: list[tuple[int, int]]
    ) -> None:
        self.steps_left -= 1
        if self.steps_left < 0:
            raise TooManyPatterns
        self._keep(worth, least, cells, pieces)
        for index in range(kind, len(self.grid.steps)):
            if any(w + table[index][cells] < low for w, table, low in zip(worth, self.tables, least, strict=True)):
                return
            step = self.grid.steps[index]
            more = worth
            for count in range(1, min(self.bounds[index], cells // step) + 1):
                more = [w + sieve.worths[index] for w, sieve in zip(more, self.sieves, strict=True)]
                rest = cells - count * step
                if all(
                    w + table[index + 1][rest] >= low for w, table, low in zip(more, self.tables, least, strict=True)
                ):
                    self._extend(index + 1, rest, more, least, [*pieces, (index, count)])

    def _keep(self, worth: list[float], least: list[float], cells: int, pieces: list[tuple[int, int]]) -> None:
        """Keep the pattern when its own cost passes every sieve."""
        ended = len(self.grid.steps)
        if not pieces or any(
            w + table[ended][cells] < low for w, table, low in zip(worth, self.tables, least, strict=True)
        ):
            return
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
