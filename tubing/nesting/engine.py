"""From items and stock to the plan: each size by itself, the cheapest sufficient method first."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from fractions import Fraction

from tubing.nesting.few import best_of_few
from tubing.nesting.greedy import greedy_plan
from tubing.nesting.layout import bars_of
from tubing.nesting.patterns import TooManyPatterns, all_patterns
from tubing.nesting.problem import Pattern, Problem, problem_of_size
from tubing.nesting.records import Item, Nest, OffcutRule, Progress, Proof, Stock
from tubing.nesting.validate import check_fit, check_input, too_few_bars

MOST_PATTERNS = 5000


def nest(
    items: Sequence[Item],
    stocks: Sequence[Stock],
    *,
    kerf_mm: Fraction,
    end_trim_mm: Fraction,
    offcuts: OffcutRule,
    time_limit_s: float = 60.0,
    progress: Callable[[Progress], None] | None = None,
) -> Nest:
    """The plan for the bars that costs least: stock bought less the value of offcuts kept.

    Then fewest bars, then the longest single offcut. Sizes are never mixed. Lengths in mm, exact; money in whole
    cents. Raises InputError for figures that mean nothing, StockError where a piece fits no bar or there are too
    few bars.
    """
    check_input(items, stocks, kerf_mm, end_trim_mm, offcuts, time_limit_s)
    end_by_s = time.monotonic() + time_limit_s
    bars, cost, bound, proof = [], 0, 0, Proof.OPTIMAL
    for size in sorted({item.size for item in items}):
        problem = problem_of_size(
            [item for item in items if item.size == size],
            [stock for stock in stocks if stock.size == size],
            Fraction(kerf_mm),
            Fraction(end_trim_mm),
            offcuts,
        )
        check_fit(problem)
        plan, below = _solve(problem, end_by_s)
        bars += bars_of(problem, plan)
        cost += sum(pattern.cost for pattern in plan)
        bound += below
    if bound < cost:
        proof = Proof.FEASIBLE
    return Nest(tuple(bars), cost, bound, proof)


def _solve(problem: Problem, end_by_s: float) -> tuple[tuple[Pattern, ...], int]:
    """A plan for one size, and what its cost cannot be below. Raises StockError for too few bars."""
    few = best_of_few(problem)
    if few is not None:
        if not few:
            raise too_few_bars(problem)
        return few, sum(pattern.cost for pattern in few)
    try:
        patterns = all_patterns(problem, MOST_PATTERNS)
    except TooManyPatterns:
        plan = greedy_plan(problem)
        if plan is None:
            raise too_few_bars(problem) from None
        return plan, 0
    from tubing.nesting.choose import best_of_patterns

    return best_of_patterns(problem, patterns, end_by_s)
