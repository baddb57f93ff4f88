"""From items and stock to the plan: each size by itself, the cheapest sufficient method first."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from fractions import Fraction

from tubing.nesting.bounds import length_bound
from tubing.nesting.few import best_of_few
from tubing.nesting.greedy import greedy_plan
from tubing.nesting.layout import bars_of
from tubing.nesting.patterns import TooManyPatterns, all_patterns
from tubing.nesting.problem import Problem, problem_of_size
from tubing.nesting.records import Item, Nest, OffcutRule, Progress, Proof, Stock
from tubing.nesting.validate import check_fit, check_input, no_plan_in_time, too_few_bars
from tubing.nesting.watch import OutOfTime, Watch

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
    cents. An interrupt from the keyboard gives the best plan so far. Raises InputError for figures that mean nothing,
    StockError where a piece fits no bar or there are too few bars.
    """
    check_input(items, stocks, kerf_mm, end_trim_mm, offcuts, time_limit_s)
    end_by_s = time.monotonic() + time_limit_s
    problems = []
    for size in sorted({item.size for item in items}):
        of_size = [item for item in items if item.size == size]
        there = [stock for stock in stocks if stock.size == size]
        problem = problem_of_size(of_size, there, Fraction(kerf_mm), Fraction(end_trim_mm), offcuts)
        check_fit(problem)
        problems.append(problem)
    return _nest_all(problems, end_by_s, progress)


def _nest_all(problems: list[Problem], end_by_s: float, progress: Callable[[Progress], None] | None) -> Nest:
    watches = [Watch(end_by_s, progress) for _ in problems]
    notes: list[str] = []
    interrupted = False
    for problem, watch in zip(problems, watches, strict=True):
        plan = greedy_plan(problem)
        if plan is not None:
            watch.better(plan)
        watch.raised(length_bound(problem))
    for problem, watch in zip(problems, watches, strict=True):
        others = [w for w in watches if w is not watch]
        watch.other_cost = sum(w.cost or 0 for w in others)
        watch.other_bound = sum(min(w.bound or 0, w.cost or w.bound or 0) for w in others)
        try:
            if not interrupted:
                _solve(problem, watch, notes)
        except OutOfTime:
            notes.append("the time allowed is over")
        except KeyboardInterrupt:
            interrupted = True
            notes.append("interrupted")
        if watch.plan is None:
            raise no_plan_in_time(problem)
    cost = sum(watch.cost or 0 for watch in watches)
    bound = sum(min(watch.bound or 0, watch.cost or 0) for watch in watches)
    bars = [bar for p, w in zip(problems, watches, strict=True) for bar in bars_of(p, w.plan or ())]
    proof = Proof.OPTIMAL if bound == cost else Proof.FEASIBLE
    return Nest(tuple(bars), cost, bound, proof, "; ".join(dict.fromkeys(notes)), interrupted)


def _solve(problem: Problem, watch: Watch, notes: list[str]) -> None:
    """The best plan of one size, into its watch. Raises StockError for too few bars, OutOfTime."""
    few = best_of_few(problem)
    if few is not None:
        if not few:
            raise too_few_bars(problem)
        watch.plan = few
        watch.raised(sum(pattern.cost for pattern in few))
        return
    try:
        patterns = all_patterns(problem, MOST_PATTERNS)
    except TooManyPatterns:
        _solve_large(problem, watch, notes)
        return
    from tubing.nesting.remainders import best_of_remainders

    plan = best_of_remainders(problem, patterns, watch.look)
    if plan is not None:
        watch.plan = plan
        watch.raised(sum(pattern.cost for pattern in plan))
        return
    from tubing.nesting.choose import best_of_patterns

    notes += best_of_patterns(problem, patterns, watch)


def _solve_large(problem: Problem, watch: Watch, notes: list[str]) -> None:
    from tubing.nesting.aims import later_aims, notes_of
    from tubing.nesting.exchange import with_longer_offcut
    from tubing.nesting.large import Closing

    closing = Closing(problem, watch)
    if closing.grid.ticks_per_cell > 1:
        cell_mm = float(closing.grid.ticks_per_cell * problem.tick_mm)
        notes.append(f"searched on a grid of {cell_mm:.4g} mm, pieces rounded up and bars down")
    if not closing.closed():
        closing.solve()
    if closing.impossible:
        raise too_few_bars(problem)
    if closing.closed():
        notes += notes_of(later_aims(problem, watch, closing.tight, closing.cuts))
    elif watch.plan is not None:
        watch.plan = with_longer_offcut(problem, watch.plan, watch.look)
