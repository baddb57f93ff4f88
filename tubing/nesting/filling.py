"""Bars filled one after another, each as full as what remains allows, by subset sums.

Every length that the remaining pieces can fill is a bit of one whole number, so the best filling of a bar is found in
a moment. Short bars go first, while there is most to choose from; the last bar takes what remains, and what is left of
it is kept in one piece. Where many pieces lie on a bar this alone often reaches the bound.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Sequence

from tubing.nesting.problem import Pattern, Problem

MOST_TICKS = 2_000_000
KEPT_BACK = 4  # with a seed, a filling is cut a quarter as often as could be, so that the end still has a choice


def filled_plan(
    problem: Problem,
    bars: Sequence[int],
    chosen: Sequence[Pattern] = (),
    partly: int | None = None,
    seed: int = 0,
) -> tuple[Pattern, ...] | None:
    """All pieces on at most so many bars of each stock; None where they do not fit so, or ticks are too fine.

    ``chosen``: patterns that the plan starts with. ``partly``: a stock of which one bar takes all that is to be left;
    otherwise a longest bar does. Without a seed the longest pieces go first.
    """
    if max(stock.length for stock in problem.stocks) > MOST_TICKS:
        return None
    rest = [kind.demand for kind in problem.kinds]
    there = list(bars)
    for pattern in chosen:
        there[pattern.stock] -= 1
        for kind, count in pattern.pieces:
            rest[kind] -= count
    if min([*rest, *there]) < 0:
        return None
    chance = random.Random(seed) if seed else None
    plan = list(chosen)
    if partly is not None and there[partly] > 0:
        room = sum(problem.room(stock) * count for stock, count in enumerate(there))
        spare = room - sum((kind.length + problem.kerf) * n for kind, n in zip(problem.kinds, rest, strict=True))
        there[partly] -= _cut_fullest(problem, partly, problem.room(partly) - spare, 1, rest, plan, chance)
    for stock in sorted(range(len(there)), key=lambda s: (problem.room(s), s)):
        while there[stock] > 0 and any(rest):
            there[stock] -= _cut_fullest(problem, stock, problem.room(stock), there[stock], rest, plan, chance)
    return None if any(rest) else tuple(plan)


def _cut_fullest(
    problem: Problem,
    stock: int,
    room: int,
    bars: int,
    rest: list[int],
    plan: list[Pattern],
    chance: random.Random | None,
) -> int:
    """Add the bar that fills most of the room to the plan, so often as may be, and take its pieces; bars used up."""
    pieces = _fullest(problem, room, rest, chance) if room > 0 else ()
    pattern = problem.pattern(stock, pieces) if pieces else None
    if pattern is None:
        return bars  # nothing that remains fits this stock
    times = min([bars, *(rest[kind] // count for kind, count in pieces)])
    if chance is not None:
        times = max(1, times // KEPT_BACK)
    for kind, count in pieces:
        rest[kind] -= count * times
    plan += [pattern] * times
    return times


def _fullest(
    problem: Problem, room: int, rest: Sequence[int], chance: random.Random | None
) -> tuple[tuple[int, int], ...]:
    """The remaining pieces that fill most of so many ticks; those that come first in the order are preferred."""
    steps = [kind.length + problem.kerf for kind in problem.kinds]
    kinds = [kind for kind, count in enumerate(rest) if count]
    if chance is not None:
        weight = {kind: steps[kind] * chance.uniform(0.5, 1.5) for kind in kinds}
        kinds.sort(key=lambda kind: -weight[kind])
    mask = (1 << room + 1) - 1
    moves: list[tuple[int, int]] = []
    sums = [1]
    for kind in kinds:
        most, times = min(rest[kind], room // steps[kind]), 1
        while most > 0:
            times = min(times, most)
            moves.append((kind, times))
            sums.append((sums[-1] | sums[-1] << steps[kind] * times) & mask)
            most -= times
            times *= 2
    cell = sums[-1].bit_length() - 1
    pieces = Counter[int]()
    for index in range(len(moves) - 1, -1, -1):
        if not sums[index] >> cell & 1:
            kind, times = moves[index]
            pieces[kind] += times
            cell -= steps[kind] * times
    return tuple(sorted(pieces.items()))
