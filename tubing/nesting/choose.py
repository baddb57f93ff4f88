"""All patterns known: an integer programme chooses among them, one aim after another."""

from __future__ import annotations

from collections.abc import Sequence

from tubing.nesting.covering import covering, demand_rows, meets_demand, plan_of
from tubing.nesting.exchange import with_longer_offcut
from tubing.nesting.large import Closing
from tubing.nesting.problem import Pattern, Problem
from tubing.nesting.programme import Programme
from tubing.nesting.records import Proof
from tubing.nesting.validate import too_few_bars
from tubing.nesting.watch import Watch

# Later aims are not worth long searches; counted in nodes, so that the plan does not depend on the machine.
MOST_NODES = 20


def best_of_patterns(problem: Problem, patterns: Sequence[Pattern], watch: Watch) -> None:
    """The best plan of these patterns, which are all there are, and its bound, into the watch.

    Raises StockError where the limits allow no plan, OutOfTime.
    """
    closing = Closing(problem, watch)
    closing.solve_quickly()
    if closing.impossible:
        raise too_few_bars(problem)
    step = closing.step
    costs = [p.cost // step for p in patterns]
    bound = watch.bound or 0
    if watch.plan is None or watch.cost != bound:
        programme = covering(problem, patterns, costs)
        programme.row(list(enumerate(costs)), ">", -(-bound // step))
        if watch.cost is not None:
            programme.row(list(enumerate(costs)), "<", watch.cost // step)
        proof, values = programme.solve(watch.left_s, waiting=watch.look)
        if proof is Proof.IMPOSSIBLE:
            raise too_few_bars(problem)
        if values is not None and meets_demand(problem, patterns, values):
            watch.better(plan_of(patterns, values))
        if proof is not Proof.OPTIMAL:
            return
        watch.raised(watch.cost or 0)
    assert watch.plan is not None
    watch.plan = with_longer_offcut(problem, watch.plan, watch.look)
    cost = (watch.cost or 0) // step
    index = {(p.stock, p.pieces): i for i, p in enumerate(patterns)}
    values = [0] * len(patterns)
    for pattern in watch.plan:
        values[index[pattern.stock, pattern.pieces]] += 1
    values = _fewest_bars(problem, patterns, costs, cost, values, watch)
    watch.plan = plan_of(patterns, values)
    watch.plan = plan_of(patterns, _longest_offcut(problem, patterns, costs, cost, values, watch))


def _fewest_bars(
    problem: Problem,
    patterns: Sequence[Pattern],
    costs: Sequence[int],
    cost: int,
    values: list[int],
    watch: Watch,
) -> list[int]:
    """Of the plans at this cost, one with fewest bars."""
    if len(set(costs)) == 1 or sum(values) == _least_bars(problem):
        return values
    programme = covering(problem, patterns, [1] * len(patterns))
    programme.row(list(enumerate(costs)), "=", cost)
    _, better = programme.solve(watch.left_s, waiting=watch.look, nodes=MOST_NODES)
    if better is None or not meets_demand(problem, patterns, better) or sum(better) > sum(values):
        return values
    return better if sum(c * x for c, x in zip(costs, better, strict=True)) == cost else values


def _least_bars(problem: Problem) -> int:
    """Bars of the longest stock that the pieces' length alone needs."""
    return -(-_needed(problem) // max(problem.most_room(s) for s in range(len(problem.stocks))))


def _longest_possible(problem: Problem, bars: int) -> int:
    """What is left of so many bars of the only stock, if all of it were on one."""
    return max(0, bars * problem.most_room(0) - _needed(problem) - problem.kerf)


def _needed(problem: Problem) -> int:
    return sum((kind.length + problem.kerf) * kind.demand for kind in problem.kinds)


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
    if len(problem.stocks) == 1 and has == _longest_possible(problem, sum(values)):
        return values
    longer = [index for index, p in enumerate(patterns) if p.left > has]
    if not longer:
        return values
    lefts = sorted({patterns[i].left for i in longer})
    # One marker per length of offcut: it may be 1 only where such a bar is cut.
    programme = Programme(
        [0] * len(patterns) + [-rank - 1 for rank in range(len(lefts))],
        [min(problem.kinds[k].demand // n for k, n in p.pieces) for p in patterns] + [1] * len(lefts),
    )
    demand_rows(programme, problem, patterns)
    programme.row(list(enumerate(costs)), "=", cost)
    programme.row([(i, 1) for i in range(len(patterns))], "=", sum(values))
    for rank, left in enumerate(lefts):
        marker = len(patterns) + rank
        programme.row([(marker, 1), *((i, -1) for i in longer if patterns[i].left == left)], "<", 0)
    programme.row([(len(patterns) + rank, 1) for rank in range(len(lefts))], "<", 1)
    _, better = programme.solve(watch.left_s, waiting=watch.look, nodes=MOST_NODES)
    if better is None:
        return values
    if not any(better[len(patterns) :]):
        return values
    chosen = better[: len(patterns)]
    if not meets_demand(problem, patterns, chosen) or sum(chosen) != sum(values):
        return values
    return chosen if sum(c * x for c, x in zip(costs, chosen, strict=True)) == cost else values
