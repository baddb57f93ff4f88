"""All patterns known: an integer programme chooses among them, one aim after another."""

from __future__ import annotations

import time
from collections.abc import Sequence
from functools import reduce
from math import gcd

from tubing.nesting.greedy import greedy_plan
from tubing.nesting.problem import Pattern, Problem
from tubing.nesting.programme import Programme
from tubing.nesting.records import Proof
from tubing.nesting.validate import too_few_bars


def best_of_patterns(problem: Problem, patterns: Sequence[Pattern], end_by_s: float) -> tuple[tuple[Pattern, ...], int]:
    """The best plan of these patterns, which are all there are, and its proven bound."""
    step = reduce(gcd, (p.cost for p in patterns), 0) or 1
    costs = [p.cost // step for p in patterns]
    programme = _covering(problem, patterns, costs)
    proof, values = programme.solve(end_by_s - time.monotonic())
    if proof is Proof.IMPOSSIBLE:
        raise too_few_bars(problem)
    if values is None or not meets_demand(problem, patterns, values):
        plan = greedy_plan(problem)
        if plan is None:
            raise too_few_bars(problem)
        return plan, min(0, min(p.cost for p in patterns)) * problem.pieces
    cost = sum(c * x for c, x in zip(costs, values, strict=True))
    if proof is Proof.FEASIBLE:
        return plan_of(patterns, values), min(0, min(costs)) * problem.pieces * step
    values = _fewest_bars(problem, patterns, costs, cost, values, end_by_s)
    values = _longest_offcut(problem, patterns, costs, cost, values, end_by_s)
    return plan_of(patterns, values), cost * step


def plan_of(patterns: Sequence[Pattern], values: Sequence[int]) -> tuple[Pattern, ...]:
    """The patterns, each as often as its value says."""
    return tuple(p for p, x in zip(patterns, values, strict=True) for _ in range(x))


def meets_demand(problem: Problem, patterns: Sequence[Pattern], values: Sequence[int]) -> bool:
    """Whether rounded values cut each kind as often as it is wanted, in whole numbers, within the limits."""
    cut, used = [0] * len(problem.kinds), [0] * len(problem.stocks)
    for pattern, times in zip(patterns, values, strict=True):
        used[pattern.stock] += times
        for kind, count in pattern.pieces:
            cut[kind] += count * times
    return cut == [kind.demand for kind in problem.kinds] and all(
        there.limit >= n for there, n in zip(problem.stocks, used, strict=True)
    )


def _covering(problem: Problem, patterns: Sequence[Pattern], costs: Sequence[int]) -> Programme:
    """Every kind cut exactly as often as wanted, limits kept."""
    most = [min(problem.kinds[k].demand // n for k, n in p.pieces) for p in patterns]
    programme = Programme(costs, most)
    _demand_rows(programme, problem, patterns)
    return programme


def _demand_rows(programme: Programme, problem: Problem, patterns: Sequence[Pattern]) -> None:
    terms: list[list[tuple[int, int]]] = [[] for _ in problem.kinds]
    on_stock: list[list[tuple[int, int]]] = [[] for _ in problem.stocks]
    for index, pattern in enumerate(patterns):
        on_stock[pattern.stock].append((index, 1))
        for kind, count in pattern.pieces:
            terms[kind].append((index, count))
    for kind, row in enumerate(terms):
        programme.row(row, "=", problem.kinds[kind].demand)
    for stock in problem.limited:
        if on_stock[stock]:
            programme.row(on_stock[stock], "<", problem.stocks[stock].limit)


def _fewest_bars(
    problem: Problem,
    patterns: Sequence[Pattern],
    costs: Sequence[int],
    cost: int,
    values: list[int],
    end_by_s: float,
) -> list[int]:
    """Of the plans at this cost, one with fewest bars."""
    if len(set(costs)) == 1:
        return values
    programme = _covering(problem, patterns, [1] * len(patterns))
    programme.row(list(enumerate(costs)), "=", cost)
    _, better = programme.solve(end_by_s - time.monotonic())
    if better is None or not meets_demand(problem, patterns, better) or sum(better) > sum(values):
        return values
    return better if sum(c * x for c, x in zip(costs, better, strict=True)) == cost else values


def _longest_offcut(
    problem: Problem,
    patterns: Sequence[Pattern],
    costs: Sequence[int],
    cost: int,
    values: list[int],
    end_by_s: float,
) -> list[int]:
    """Of the plans at this cost with so many bars, one with the longest single offcut."""
    has = max(p.left for p, x in zip(patterns, values, strict=True) if x)
    longer = [index for index, p in enumerate(patterns) if p.left > has]
    if not longer:
        return values
    lefts = sorted({patterns[i].left for i in longer})
    # One marker per length of offcut: it may be 1 only where such a bar is cut.
    programme = Programme(
        [0] * len(patterns) + [-rank - 1 for rank in range(len(lefts))],
        [min(problem.kinds[k].demand // n for k, n in p.pieces) for p in patterns] + [1] * len(lefts),
    )
    _demand_rows(programme, problem, patterns)
    programme.row(list(enumerate(costs)), "=", cost)
    programme.row([(i, 1) for i in range(len(patterns))], "=", sum(values))
    for rank, left in enumerate(lefts):
        marker = len(patterns) + rank
        programme.row([(marker, 1), *((i, -1) for i in longer if patterns[i].left == left)], "<", 0)
    programme.row([(len(patterns) + rank, 1) for rank in range(len(lefts))], "<", 1)
    _, better = programme.solve(end_by_s - time.monotonic())
    if better is None:
        return values
    chosen = better[: len(patterns)]
    if not meets_demand(problem, patterns, chosen) or sum(chosen) != sum(values):
        return values
    return chosen if sum(c * x for c, x in zip(costs, chosen, strict=True)) == cost else values
