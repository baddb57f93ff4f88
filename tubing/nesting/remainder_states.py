"""All patterns and not too many remainders: the best way to cut each remainder, one after another.

The same argument as for few pieces, in arrays: what is best for a remainder depends on nothing else, as long as no
limit of a stock is reached. All three aims are exact.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

from tubing.nesting.pricing import Numbers
from tubing.nesting.problem import Pattern, Problem

MOST_REMAINDERS = 30_000
MOST_WORK = 20_000_000  # remainders times patterns
FAR = np.iinfo(np.int64).max // 4


def best_of_remainders(
    problem: Problem, patterns: Sequence[Pattern], look: Callable[[], None]
) -> tuple[Pattern, ...] | None:
    """The best plan of these patterns, which are all there are; None: too much work, or it would break a limit."""
    radix = [kind.demand + 1 for kind in problem.kinds]
    weights = [1] * len(radix)
    for index in range(len(radix) - 2, -1, -1):
        weights[index] = weights[index + 1] * radix[index + 1]
    total = weights[0] * radix[0]
    bars = problem.pieces + 1
    if total > MOST_REMAINDERS or total * len(patterns) > MOST_WORK * len(radix):
        return None
    if max(abs(p.cost) for p in patterns) * bars * bars >= FAR:
        return None
    with_longest = _by_longest_piece(patterns, len(radix), bars, np.array(weights, dtype=np.int64))
    best, longest = np.full(total, FAR, dtype=np.int64), np.zeros(total, dtype=np.int64)
    best[0] = 0
    chosen = np.zeros(total, dtype=np.int64)
    for state in range(1, total):
        if state % 1000 == 0:
            look()
        rest = [state // w % r for w, r in zip(weights, radix, strict=True)]
        kind = next(index for index, count in enumerate(rest) if count)
        _, counts, offset, score, left = with_longest[kind]
        rows = np.flatnonzero((counts <= rest).all(axis=1))
        if not len(rows):
            continue
        before = state - offset[rows]
        scores = best[before] + score[rows]
        least = scores.min()
        tied = np.flatnonzero(scores == least)
        lefts = np.maximum(longest[before[tied]], left[rows[tied]])
        pick = int(lefts.argmax())
        best[state], longest[state], chosen[state] = min(least, FAR), lefts[pick], rows[tied[pick]]
    if best[-1] >= FAR // 2:
        return None
    return _within_limits(problem, [same for same, *_ in with_longest], chosen, weights, radix)


def _by_longest_piece(patterns: Sequence[Pattern], kinds: int, bars: int, weights: Any) -> list[tuple[Any, ...]]:
    """For each kind the patterns whose longest piece it is: themselves, counts, places, scores, what they leave."""
    with_longest = []
    for kind in range(kinds):
        same = [p for p in patterns if p.pieces[0][0] == kind]
        counts = np.zeros((len(same), kinds), dtype=np.int64)
        for row, pattern in enumerate(same):
            for piece, count in pattern.pieces:
                counts[row, piece] = count
        score = np.array([p.cost * bars + 1 for p in same], dtype=np.int64)  # cost, then bars
        left = np.array([p.left for p in same], dtype=np.int64)
        with_longest.append((same, counts, counts @ weights, score, left))
    return with_longest


def _within_limits(
    problem: Problem, with_longest: list[list[Pattern]], chosen: Numbers, weights: list[int], radix: list[int]
) -> tuple[Pattern, ...] | None:
    """The chosen plan, read back from the whole demand; None where it uses more of a stock than there is."""
    plan: list[Pattern] = []
    state = weights[0] * radix[0] - 1
    while state:
        kind = next(i for i, (w, r) in enumerate(zip(weights, radix, strict=True)) if state // w % r)
        pattern = with_longest[kind][int(chosen[state])]
        plan.append(pattern)
        state -= sum(n * weights[k] for k, n in pattern.pieces)
    for index, stock in enumerate(problem.stocks):
        if sum(p.stock == index for p in plan) > stock.limit:
            return None
    return tuple(plan)
