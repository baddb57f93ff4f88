"""Patterns with what they must meet, as an integer programme: every kind cut as often as wanted, limits kept."""

from __future__ import annotations

from collections.abc import Sequence

from tubing.nesting.integer_programme import Programme
from tubing.nesting.problem import Pattern, Problem
from tubing.nesting.records import Proof
from tubing.nesting.watch import Watch


def cheapest_of(
    problem: Problem, patterns: Sequence[Pattern], most: int, step: int, watch: Watch
) -> tuple[tuple[Pattern, ...] | None, int | None]:
    """The cheapest plan of these patterns, if it costs at most ``most``, and what no plan of them is below.

    None for the plan: there is none so cheap (then the bound is above ``most``) or none was found in time (no bound).
    """
    if not patterns:
        return None, most + step
    costs = [p.cost // step for p in patterns]
    programme = covering(problem, patterns, costs)
    programme.row(list(enumerate(costs)), "<", most // step)
    proof, values = programme.solve(watch.left_s, waiting=watch.look, doubted=True)
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


def covering(problem: Problem, patterns: Sequence[Pattern], costs: Sequence[int]) -> Programme:
    """Every kind cut exactly as often as wanted, limits kept."""
    most = [min(problem.kinds[k].demand // n for k, n in p.pieces) for p in patterns]
    programme = Programme(costs, most)
    demand_rows(programme, problem, patterns)
    return programme


def demand_rows(programme: Programme, problem: Problem, patterns: Sequence[Pattern]) -> None:
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
