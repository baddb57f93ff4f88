"""All patterns known: an integer programme chooses among them, one aim after another."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from tubing.nesting.closing_the_gap import Closing
from tubing.nesting.covering import covering, demand_rows, meets_demand, plan_of
from tubing.nesting.integer_programme import Programme
from tubing.nesting.problem import Pattern, Problem
from tubing.nesting.records import Proof
from tubing.nesting.tie_breaks import Proved, later_aims, longest_of, notes_of
from tubing.nesting.validate import too_few_bars
from tubing.nesting.watch import Watch

# Later aims are not worth long searches; counted in nodes, so that the plan does not depend on the machine.
MOST_NODES = 20


def best_of_patterns(problem: Problem, patterns: Sequence[Pattern], watch: Watch) -> Callable[[], list[str]] | None:
    """The cheapest plan of these patterns, which are all there are, and its bound, into the watch.

    What remains to be done is to call the answer: later aims, into the watch, and what of them is not proved. None
    where the cost is not proved.

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
            return None
        watch.raised(watch.cost or 0)
    return lambda: _later_aims(problem, patterns, costs, closing, watch)


def _later_aims(
    problem: Problem, patterns: Sequence[Pattern], costs: Sequence[int], closing: Closing, watch: Watch
) -> list[str]:
    proved = later_aims(problem, watch, closing.tight, closing.dual_bounds)
    cost = (watch.cost or 0) // closing.step
    if not proved.bars:
        proved = Proved(_fewest_bars(problem, patterns, costs, cost, watch), False)
    if not proved.longest:
        proved = Proved(proved.bars, _longest_offcut(problem, patterns, costs, cost, watch))
    return notes_of(proved)


def _fewest_bars(problem: Problem, patterns: Sequence[Pattern], costs: Sequence[int], cost: int, watch: Watch) -> bool:
    """Of the plans at this cost, one with fewest bars, into the watch; whether that is proved."""
    assert watch.plan is not None
    programme = covering(problem, patterns, [1] * len(patterns))
    programme.row(list(enumerate(costs)), "=", cost)
    programme.row([(i, 1) for i in range(len(patterns))], "<", len(watch.plan))
    proof, values = programme.solve(watch.left_s, waiting=watch.look, nodes=MOST_NODES)
    if values is not None and meets_demand(problem, patterns, values):
        plan = plan_of(patterns, values)
        if len(plan) < len(watch.plan) and sum(p.cost for p in plan) == watch.cost:
            watch.plan = plan
    return proof is Proof.OPTIMAL


def _longest_offcut(
    problem: Problem, patterns: Sequence[Pattern], costs: Sequence[int], cost: int, watch: Watch
) -> bool:
    """Of the plans at this cost with so many bars, one with the longest offcut, into the watch; whether proved."""
    assert watch.plan is not None
    bars, has = len(watch.plan), longest_of(watch.plan)
    longer: dict[int, list[int]] = {}
    for index, pattern in enumerate(patterns):
        if pattern.left > has:
            longer.setdefault(pattern.left, []).append(index)
    lefts = sorted(longer)
    if not lefts:
        return True
    # One marker per length of offcut: it may be 1 only where such a bar is cut.
    programme = Programme(
        [0] * len(patterns) + [-rank - 1 for rank in range(len(lefts))],
        [min(problem.kinds[k].demand // n for k, n in p.pieces) for p in patterns] + [1] * len(lefts),
    )
    demand_rows(programme, problem, patterns)
    programme.row(list(enumerate(costs)), "=", cost)
    programme.row([(i, 1) for i in range(len(patterns))], "=", bars)
    for rank, left in enumerate(lefts):
        marker = len(patterns) + rank
        programme.row([(marker, 1), *((i, -1) for i in longer[left])], "<", 0)
    programme.row([(len(patterns) + rank, 1) for rank in range(len(lefts))], "<", 1)
    proof, values = programme.solve(watch.left_s, waiting=watch.look, nodes=MOST_NODES)
    chosen = values[: len(patterns)] if values is not None else None
    if chosen is not None and meets_demand(problem, patterns, chosen):
        plan = plan_of(patterns, chosen)
        if len(plan) == bars and sum(p.cost for p in plan) == watch.cost and longest_of(plan) > has:
            watch.plan = plan
    return proof is Proof.OPTIMAL
