"""Best-fit decreasing: a plan at once, good but not proved."""

from __future__ import annotations

from collections.abc import Sequence

from tubing.nesting.problem import Pattern, Problem


def greedy_plan(
    problem: Problem, demand: Sequence[int] | None = None, bars: Sequence[int] | None = None
) -> tuple[Pattern, ...] | None:
    """Fill bar after bar with the best of one greedy pattern per stock; None where the bars run out.

    ``demand`` and ``bars``: what remains to cut and of each stock, when it is not the whole problem.
    """
    rest = list(demand if demand is not None else (kind.demand for kind in problem.kinds))
    there = list(bars if bars is not None else (stock.limit for stock in problem.stocks))
    plan: list[Pattern] = []
    while any(rest):
        filled = [
            pattern
            for stock in range(len(problem.stocks))
            if there[stock] > 0 and (pattern := _filled(problem, stock, rest)) is not None
        ]
        if not filled:
            return None
        best = min(filled, key=lambda p: (_cost_per_length(problem, p), p.stock))
        times = min([there[best.stock], *(rest[k] // n for k, n in best.pieces)])
        plan += [best] * times
        there[best.stock] -= times
        for k, n in best.pieces:
            rest[k] -= n * times
    return tuple(plan)


def _cost_per_length(problem: Problem, pattern: Pattern) -> float:
    return pattern.cost / sum(problem.kinds[k].length * n for k, n in pattern.pieces)


def _filled(problem: Problem, stock: int, rest: list[int]) -> Pattern | None:
    """Longest pieces first, each as often as it fits."""
    spare = problem.most_room(stock)
    pieces: list[tuple[int, int]] = []
    best: Pattern | None = None
    for kind, count in enumerate(rest):
        step = problem.kinds[kind].length + problem.kerf
        n = min(count, spare // step)
        while n > 0:
            pattern = problem.pattern(stock, (*pieces, (kind, n)))
            if pattern is not None:
                pieces.append((kind, n))
                spare -= n * step
                best = pattern
                break
            n -= 1
    return best
