"""All patterns of limited bars that have hardly more length than the pieces need.

Where every stock is limited, what all bars have beyond all pieces is the most that any plan can waste. When that is
little, few patterns fill a bar so well, however fine the ticks are. They are found by meeting in the middle: the sums
that one half of the kinds can make, and for each of them those of the other half that fill the bar.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from tubing.nesting.pricing import Numbers
from tubing.nesting.problem import Pattern, Problem

MOST_SUMS = 1_000_000  # of one half
MOST_PATTERNS = 5000
MOST_CODES = 1 << 62


class _TooMany(Exception):
    """A half has too many sums, or there are too many patterns."""


def patterns_of_little_waste(problem: Problem) -> list[Pattern] | None:
    """Every pattern that a plan can use; None: some stock is without limit, or there are too many to list.

    An empty list: the pieces are longer than all bars together, or none of them fills a bar well enough.
    """
    there = [stock for stock, bar in enumerate(problem.stocks) if bar.limit > 0]
    if any(stock not in problem.limited for stock in there):
        return None
    steps = [kind.length + problem.kerf for kind in problem.kinds]
    needed = sum(step * kind.demand for step, kind in zip(steps, problem.kinds, strict=True))
    waste = sum(problem.most_room(stock) * problem.stocks[stock].limit for stock in there) - needed
    if waste < 0:
        return []
    longest = max(problem.most_room(stock) for stock in there)
    kinds = range(len(steps))
    try:
        halves = [_Half(problem, steps, half, longest) for half in (kinds[0::2], kinds[1::2])]
        return [pattern for stock in there for pattern in _patterns_on(problem, stock, halves, waste)]
    except _TooMany:
        return None


class _Half:
    """The sums that some kinds can make, up to the longest bar, in rising order."""

    def __init__(self, problem: Problem, steps: Sequence[int], kinds: Sequence[int], longest: int) -> None:
        self.kinds = kinds
        self.radix = [problem.kinds[kind].demand + 1 for kind in kinds]
        sums, codes, weight = np.zeros(1, dtype=np.int64), np.zeros(1, dtype=np.int64), 1
        for kind, radix in zip(kinds, self.radix, strict=True):
            if weight > MOST_CODES // radix:
                raise _TooMany
            grown, coded = [sums], [codes]
            for count in range(1, radix):
                fits = sums + count * steps[kind] <= longest
                grown.append(sums[fits] + count * steps[kind])
                coded.append(codes[fits] + count * weight)
            sums, codes, weight = np.concatenate(grown), np.concatenate(coded), weight * radix
            if len(sums) > MOST_SUMS:
                raise _TooMany
        order = np.argsort(sums, kind="stable")
        self.sums: Numbers = sums[order]
        self.codes: Numbers = codes[order]

    def pieces(self, place: int) -> list[tuple[int, int]]:
        """The kinds of one sum, and how many of each."""
        code, found = int(self.codes[place]), []
        for kind, radix in zip(self.kinds, self.radix, strict=True):
            code, count = divmod(code, radix)
            if count:
                found.append((kind, count))
        return found


def _patterns_on(problem: Problem, stock: int, halves: Sequence[_Half], waste: int) -> list[Pattern]:
    """The patterns of one stock that waste no more than that. Raises _TooMany."""
    one, other = halves
    room = problem.most_room(stock)
    first = np.searchsorted(other.sums, np.maximum(room - waste - one.sums, 0), side="left")
    last = np.searchsorted(other.sums, room - one.sums, side="right")
    if int(np.maximum(last - first, 0).sum()) > MOST_PATTERNS:
        raise _TooMany
    found = []
    for place in np.flatnonzero(last > first):
        for partner in range(int(first[place]), int(last[place])):
            pieces = tuple(sorted([*one.pieces(int(place)), *other.pieces(partner)]))
            pattern = problem.pattern(stock, pieces) if pieces else None
            if pattern is not None:
                found.append(pattern)
    return found
