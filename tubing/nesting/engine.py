"""From items and stock to the plan: each size by itself, the cheapest sufficient method first."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence

from tubing.nesting.bar_layout import bars_of
from tubing.nesting.exhaustive import best_of_few
from tubing.nesting.greedy import greedy_plan
from tubing.nesting.length_bound import length_bound
from tubing.nesting.patterns import TooManyPatterns, needed_patterns
from tubing.nesting.problem import Problem, problem_of_size
from tubing.nesting.records import Cutting, Item, Nest, Progress, Proof, Stock
from tubing.nesting.validate import check_fit, check_input, no_plan_in_time, too_few_bars
from tubing.nesting.watch import OutOfTime, Watch

MOST_PATTERNS = 5000
COST_SHARE = 0.8  # of the time left, while later aims of other sizes wait

LaterAims = Callable[[], list[str]]  # betters a plan at its proved cost; says what of it is not proved


def nest(
    items: Sequence[Item],
    stocks: Sequence[Stock],
    *,
    cutting: Cutting,
    time_limit_s: float = 60.0,
    progress: Callable[[Progress], None] | None = None,
) -> Nest:
    """The plan for the bars that costs least: stock bought less the value of offcuts kept.

    Then fewest bars, then the longest single offcut. Sizes are never mixed. Lengths in mm, exact; money in whole
    cents. An interrupt from the keyboard gives the best plan so far. Raises InputError for figures that mean nothing,
    StockError where a piece fits no bar or there are too few bars.
    """
    check_input(items, stocks, cutting, time_limit_s)
    end_by_s = time.monotonic() + time_limit_s
    problems = []
    for size in sorted({item.size for item in items}):
        of_size = [item for item in items if item.size == size]
        there = [stock for stock in stocks if stock.size == size]
        problem = problem_of_size(of_size, there, cutting)
        check_fit(problem)
        problems.append(problem)
    return _nest_all(problems, end_by_s, progress)


def _nest_all(problems: list[Problem], end_by_s: float, progress: Callable[[Progress], None] | None) -> Nest:
    watches = [Watch(end_by_s, progress) for _ in problems]
    for problem, watch in zip(problems, watches, strict=True):
        plan = greedy_plan(problem)
        if plan is not None:
            watch.better(plan)
        watch.raised(length_bound(problem))
    notes: list[str] = []
    interrupted = False
    try:
        if _solve_in_turn(problems, watches, end_by_s, notes):
            notes.append("the time allowed is over")
    except KeyboardInterrupt:
        interrupted = True
        notes.append("interrupted")
    for problem, watch in zip(problems, watches, strict=True):
        if watch.plan is None:
            raise no_plan_in_time(problem)
    cost = sum(watch.cost or 0 for watch in watches)
    bound = sum(min(watch.bound or 0, watch.cost or 0) for watch in watches)
    bars = [bar for p, w in zip(problems, watches, strict=True) for bar in bars_of(p, w.plan or ())]
    proof = Proof.OPTIMAL if bound == cost else Proof.FEASIBLE
    return Nest(tuple(bars), cost, bound, proof, "; ".join(dict.fromkeys(notes)), interrupted)


def _solve_in_turn(problems: list[Problem], watches: list[Watch], end_by_s: float, notes: list[str]) -> bool:
    """The cost of each size in its share of the time, those of fewest kinds first, then the later aims of those whose
    cost is proved; whether the time was too short for some.

    What a size does not need goes to those after it, and at last to those that were stopped.
    """
    waiting = sorted(range(len(problems)), key=lambda i: (len(problems[i].kinds), problems[i].pieces, i))
    cut_short = started = False
    while waiting and not (started and time.monotonic() >= end_by_s):
        started = True
        stopped: list[int] = []
        later: list[tuple[Watch, LaterAims]] = []
        for turn, index in enumerate(waiting):
            share = (COST_SHARE if later else 1.0) / (len(waiting) - turn)
            _give_time(watches[index], watches, end_by_s, share)
            try:
                aims = _solve(problems[index], watches[index], notes)
                if not watches[index].proved:
                    watches[index].look()
                if aims is not None:
                    later.append((watches[index], aims))
            except OutOfTime:
                stopped.append(index)
        for turn, (watch, aims) in enumerate(later):
            _give_time(watch, watches, end_by_s, 1.0 / (len(later) - turn))
            try:
                notes += aims()
            except OutOfTime:
                cut_short = True
        waiting = stopped
    return bool(waiting) or cut_short


def _give_time(watch: Watch, watches: list[Watch], end_by_s: float, share: float) -> None:
    """Let a size have this share of the time that is left, and know what the others cost so far."""
    now = time.monotonic()
    watch.end_by_s = now + (end_by_s - now) * share
    others = [w for w in watches if w is not watch]
    watch.other_cost = sum(w.cost or 0 for w in others)
    watch.other_bound = sum(min(w.bound or 0, w.cost or w.bound or 0) for w in others)


def _solve(problem: Problem, watch: Watch, notes: list[str]) -> LaterAims | None:
    """The cheapest plan of one size, into its watch; the aims that are left. Raises StockError for too few bars,
    OutOfTime.
    """
    few = best_of_few(problem)
    if few is not None:
        if not few:
            raise too_few_bars(problem)
        watch.plan = few
        watch.raised(sum(pattern.cost for pattern in few))
        return None
    try:
        patterns = needed_patterns(problem, MOST_PATTERNS)
    except TooManyPatterns:
        return _solve_with_many_patterns(problem, watch, notes)
    from tubing.nesting.remainder_states import best_of_remainders

    plan = best_of_remainders(problem, patterns, watch.look)
    if plan is not None:
        watch.plan = plan
        watch.raised(sum(pattern.cost for pattern in plan))
        return None
    from tubing.nesting.pattern_choice import best_of_patterns

    return best_of_patterns(problem, patterns, watch)


def _solve_with_many_patterns(problem: Problem, watch: Watch, notes: list[str]) -> LaterAims | None:
    from tubing.nesting.hardly_any_waste import patterns_of_little_waste

    patterns = patterns_of_little_waste(problem)
    if patterns is None:
        return _solve_large(problem, watch, notes)
    if not patterns:
        raise too_few_bars(problem)
    from tubing.nesting.pattern_choice import best_of_patterns

    return best_of_patterns(problem, patterns, watch)


def _solve_large(problem: Problem, watch: Watch, notes: list[str]) -> LaterAims | None:
    from tubing.nesting.closing_the_gap import Closing
    from tubing.nesting.exchange import with_longer_offcut
    from tubing.nesting.tie_breaks import later_aims, notes_of

    closing = Closing(problem, watch)
    if closing.grid.ticks_per_cell > 1:
        cell_mm = float(closing.grid.ticks_per_cell * problem.tick_mm)
        notes.append(f"searched on a grid of {cell_mm:.4g} mm, pieces rounded up and bars down")
    if not closing.closed():
        closing.solve()
    if closing.impossible:
        raise too_few_bars(problem)
    if closing.closed():
        return lambda: notes_of(later_aims(problem, watch, closing.tight, closing.dual_bounds))
    if watch.plan is not None:
        watch.plan = with_longer_offcut(problem, watch.plan, watch.look)
    return None
