"""An arc-flow programme (Valerio de Carvalho 1999) over the arcs that a cheap enough plan can use.

A bar is a way from cell 0 over arcs, each as long as a piece, to an arc that ends it on some stock; that last arc bears
the price less the value of what is left. An arc is in only if, at every known set of worths, some pattern over it costs
at most the gap above its worth: what a plan costs is the bound plus what its patterns cost above their worth.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np

from tubing.nesting.column_generation import Duals
from tubing.nesting.covering import meets_demand
from tubing.nesting.integer_programme import Programme
from tubing.nesting.near_optimal import SAFE
from tubing.nesting.pricing import Grid, Numbers, with_kind
from tubing.nesting.problem import Pattern, Problem
from tubing.nesting.records import Proof
from tubing.nesting.watch import Watch

MOST_ARCS = 12_000

Arc = tuple[int, int, int]  # kind, from cell, to cell
Last = tuple[int, int, int]  # stock, cell, cost


class TooManyArcs(Exception):
    """The programme would be too large."""


def arcs_apply(grid: Grid) -> bool:
    """Whether bars are ways from one end: not where pieces lie on ready ends, nor on cells that are not exact."""
    return grid.ticks_per_cell == 1 and not any(ending.used for ending in grid.endings)


def cheapest_flow(
    grid: Grid, duals: Sequence[Duals], cost: int, step: int, watch: Watch
) -> tuple[tuple[Pattern, ...] | None, int | None]:
    """The cheapest plan of at most ``cost``, and what no plan is below.

    None for the plan: there is none so cheap (then the bound is above ``cost``) or none was found in time (no bound).
    Raises TooManyArcs.
    """
    problem = grid.problem
    arcs, last = _passing(grid, duals, cost)
    tops = [problem.kinds[kind].demand for kind, _, _ in arcs] + [problem.stocks[s].limit for s, _, _ in last]
    programme = Programme([0] * len(arcs) + [c // step for _, _, c in last], tops)
    through: dict[int, list[tuple[int, int]]] = {}
    of_kind: list[list[tuple[int, int]]] = [[] for _ in problem.kinds]
    for index, (kind, start, end) in enumerate(arcs):
        through.setdefault(start, []).append((index, -1))
        through.setdefault(end, []).append((index, 1))
        of_kind[kind].append((index, 1))
    for index, (_, cell, _) in enumerate(last, len(arcs)):
        through.setdefault(cell, []).append((index, -1))
    for cell in sorted(through):
        if cell:
            programme.row(through[cell], "=", 0)
    for kind, terms in enumerate(of_kind):
        programme.row(terms, "=", problem.kinds[kind].demand)
    for stock in problem.limited:
        ends = [(index, 1) for index, (s, _, _) in enumerate(last, len(arcs)) if s == stock]
        if ends:
            programme.row(ends, "<", problem.stocks[stock].limit)
    programme.row([(index, c // step) for index, (_, _, c) in enumerate(last, len(arcs))], "<", cost // step)
    proof, values = programme.solve(watch.left_s, waiting=watch.look, doubted=True)
    if proof is Proof.IMPOSSIBLE:
        return None, cost + step
    plan = _bars(problem, arcs, last, values) if values is not None else None
    if plan is None:
        return None, None
    return plan, sum(p.cost for p in plan) if proof is Proof.OPTIMAL else None


def _passing(grid: Grid, duals: Sequence[Duals], cost: int) -> tuple[list[Arc], list[Last]]:
    """The arcs and last arcs that pass at every set of worths."""
    problem = grid.problem
    passing = [np.ones(max(0, grid.cells + 1 - step), dtype=bool) for step in grid.steps]
    ending = [np.ones(end.cells + 1, dtype=bool) for end in grid.endings]
    for worths in duals:
        gap = cost - worths.bound + SAFE * max(1.0, abs(worths.bound))
        _filter(grid, worths, gap, passing, ending)
        if sum(int(p.sum()) for p in passing) == 0:
            break
    arcs = [
        (kind, int(cell), int(cell) + grid.steps[kind])
        for kind, passes in enumerate(passing)
        for cell in np.flatnonzero(passes)
    ]
    if len(arcs) > MOST_ARCS:
        raise TooManyArcs
    last = []
    for end, passes in zip(grid.endings, ending, strict=True):
        price = problem.stocks[end.stock].price
        for cell in np.flatnonzero(passes):
            if cell:
                last.append((end.stock, int(cell), price - (0 if end.value is None else int(end.value[cell]))))
    return arcs, last


def _filter(grid: Grid, duals: Duals, gap: float, passing: list[Numbers], ending: list[Numbers]) -> None:
    """Strike out what costs more than the gap above its worth at these worths."""
    problem, steps = grid.problem, grid.steps
    demand = [kind.demand for kind in problem.kinds]
    ends = np.full(grid.cells + 1, -np.inf)
    gains = []
    for end in grid.endings:
        price = problem.stocks[end.stock].price - duals.least.get(end.stock, 0.0)
        gain = (np.zeros(end.cells + 1) if end.value is None else end.value.astype(float)) - price
        gains.append(gain)
        np.maximum(ends[: end.cells + 1], gain, out=ends[: end.cells + 1])
    after = [ends]  # what is still to gain from a cell with the kinds yet to come
    for kind in range(len(steps) - 1, -1, -1):
        worth = float(duals.worths[kind])
        after.append(with_kind(after[-1][::-1], steps[kind], demand[kind], worth)[::-1])
    before = np.full(grid.cells + 1, -np.inf)
    before[0] = 0.0
    for kind, step in enumerate(steps):
        worth, one_less = float(duals.worths[kind]), demand[kind] - 1
        start = with_kind(before, step, one_less, worth)
        end_at = with_kind(after[len(steps) - 1 - kind][::-1], step, one_less, worth)[::-1]
        if len(passing[kind]):
            passing[kind] &= start[: len(passing[kind])] + worth + end_at[step:] >= -gap
        before = with_kind(before, step, demand[kind], worth)
    for passes, gain in zip(ending, gains, strict=True):
        passes &= before[: len(gain)] + gain >= -gap


def _bars(
    problem: Problem, arcs: Sequence[Arc], last: Sequence[Last], values: Sequence[int]
) -> tuple[Pattern, ...] | None:
    """The flow taken apart into bars; None where rounded values are no flow."""
    out: dict[int, Counter[tuple[int, int, bool]]] = {}
    for (kind, start, end), times in zip(arcs, values, strict=False):
        out.setdefault(start, Counter())[kind, end, False] += times
    for (stock, cell, _), times in zip(last, values[len(arcs) :], strict=True):
        out.setdefault(cell, Counter())[stock, 0, True] += times
    plan = []
    for _ in range(sum(values[len(arcs) :])):
        cell, pieces = 0, Counter[int]()
        while True:
            step = next((step for step in sorted(out.get(cell, {})) if out[cell][step] > 0), None)
            if step is None:
                return None
            out[cell][step] -= 1
            what, cell, ends = step
            if ends:
                break
            pieces[what] += 1
        pattern = problem.pattern(what, tuple(sorted(pieces.items())))
        if pattern is None:
            return None
        plan.append(pattern)
    return tuple(plan) if meets_demand(problem, plan, [1] * len(plan)) else None
