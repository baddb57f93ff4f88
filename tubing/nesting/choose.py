"""All patterns known: an integer programme chooses among them, one aim after another."""

from __future__ import annotations

from collections.abc import Sequence
from functools import reduce
from math import gcd

from tubing.nesting.problem import Pattern, Problem
from tubing.nesting.programme import Programme
from tubing.nesting.records import Proof
from tubing.nesting.validate import too_few_bars
from tubing.nesting.watch import Watch


def best_of_patterns(problem: Problem, patterns: Sequence[Pattern], watch: Watch) -> None:
    """The best plan of these patterns, which are all there are, and its bound, into the watch.

    Raises StockError where the limits allow no plan, OutOfTime.
    """
    step = reduce(gcd, (p.cost for p in patterns), 0) or 1
    costs = [p.cost // step for p in patterns]
    proof, values = _covering(problem, patterns, costs).solve(watch.left_s, waiting=watch.look)
    if proof is Proof.IMPOSSIBLE:
        raise too_few_bars(problem)
    if values is None or not meets_demand(problem, patterns, values):
        return
    cost = sum(c * x for c, x in zip(costs, values, strict=True))
    watch.plan = plan_of(patterns, values)
    if proof is not Proof.OPTIMAL:
        return
    watch.raised(cost * step)
    values = _fewest_bars(problem, patterns, costs, cost, values, watch)
    watch.plan = plan_of(patterns, values)
    watch.plan = plan_of(patterns, _longest_offcut(problem, patterns, costs, cost, values, watch))


def cheapest_of(
    problem: Problem, patterns: Sequence[Pattern], most: int, step: int, watch: Watch
) -> tuple[tuple[Pattern, ...] | None, int | None]:
    """The cheapest plan of these patterns, if it costs at most ``most``, and what no plan of them is below.

    None for the plan: there is none so cheap (then the bound is above ``most``) or none was found in time (no bound).
    """
    if not patterns:
        return None, most + step
    costs = [p.cost // step for p in patterns]
    programme = _covering(problem, patterns, costs)
    programme.row(list(enumerate(costs)), "<", most // step)
    proof, values = programme.solve(watch.left_s, waiting=watch.look)
    if proof is Proof.IMPOSSIBLE:
        return None, most + step
    if values is None or not meets_demand(problem, patterns, values):
        return None, None
    plan = plan_of(patterns, values)
    return plan, sum(p.cost for p in plan) if proof is Proof.OPTIMAL else None


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
    watch: Watch,
) -> list[int]:
    """Of the plans at this cost, one with fewest bars."""
    if len(set(costs)) == 1:
        return values
    programme = _covering(problem, patterns, [1] * len(patterns))
    programme.row(list(enumerate(costs)), "=", cost)
    _, better = programme.solve(watch.left_s, waiting=watch.look)
    if better is None or not meets_demand(problem, patterns, better) or sum(better) > sum(values):
        return values
    return better if sum(c * x for c, x in zip(costs, better, strict=True)) == cost else values


def _longest_offcut(
    problem: Problem,
    patterns: Sequence[Pattern],
    costs: Sequence[int],
    cost: int,
    values: list[int],
    watch: Watch,
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
    _, better = programme.solve(watch.left_s, waiting=watch.look)
    if better is None:
        return values
    if not any(better[len(patterns) :]):
        return values
    chosen = better[: len(patterns)]
    if not meets_demand(problem, patterns, chosen) or sum(chosen) != sum(values):
        return values
    return chosen if sum(c * x for c, x in zip(costs, chosen, strict=True)) == cost else values
