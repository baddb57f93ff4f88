"""Patterns that fill a bar to the last ticks, where there are few of them.

On a short bar hardly any pieces add up to its length, so what it must waste can be known; on a long one nearly every
sum can be had, and listing the patterns would tell nothing.
"""

from __future__ import annotations

from collections.abc import Sequence

from msgspec import Struct

from tubing.nesting.problem import Problem

MOST_TICKS = 200_000
MOST_STEPS = 20_000  # of the search, for one stock

Pieces = tuple[tuple[int, int], ...]


class Tight(Struct, frozen=True):
    """The patterns of one stock that leave less than ``others`` ticks; all others leave that or more."""

    fillings: tuple[tuple[int, Pieces], ...]  # what is left over, the pieces
    others: int
    keeping: tuple[tuple[int, Pieces], ...] | None  # the patterns that leave enough to keep; None: too many


class _TooMany(Exception):
    """This much left over can be had in too many ways."""


def tight_fillings(problem: Problem, most: int) -> dict[int, Tight]:
    """The tight patterns of each stock, at most so many; without the stocks that have more of the very tightest."""
    longest = max(problem.room(stock) for stock in range(len(problem.stocks)))
    if longest > MOST_TICKS:
        return {}
    sums = _sums_from(problem, longest)
    found = {}
    for stock, bar in enumerate(problem.stocks):
        if bar.limit > 0 and not bar.ready:
            tight = _of_stock(problem, stock, sums, most)
            if tight.others > 0:
                found[stock] = tight
    return found


def _sums_from(problem: Problem, longest: int) -> list[int]:
    """For each kind the lengths that it and later kinds can fill, as bits."""
    mask = (1 << longest + 1) - 1
    sums = [1]
    for kind in reversed(problem.kinds):
        step, now, times = kind.length + problem.kerf, sums[-1], 1
        most = min(kind.demand, longest // step)
        while most > 0:
            times = min(times, most)
            now = (now | now << step * times) & mask
            most -= times
            times *= 2
        sums.append(now)
    sums.reverse()
    return sums


def _of_stock(problem: Problem, stock: int, sums: Sequence[int], most: int) -> Tight:
    room = problem.room(stock)
    enough = max(problem.keep_from, 1) + problem.kerf if problem.offcuts_have_value else room
    tight, others = _leaving(problem, sums, room, range(min(enough, room)), most)
    keeping: tuple[tuple[int, Pieces], ...] | None = ()
    if problem.offcuts_have_value:
        keeping, seen = _leaving(problem, sums, room, range(enough, room), 4 * most)
        keeping = keeping if seen >= room else None
    return Tight(tight, others, keeping)


def _leaving(
    problem: Problem, sums: Sequence[int], room: int, lefts: range, most: int
) -> tuple[tuple[tuple[int, Pieces], ...], int]:
    """The patterns that leave so many ticks of a bar, and from where on they are not all known."""
    fillings: list[tuple[int, Pieces]] = []
    search = _Search(problem, sums)
    for left in lefts:
        if sums[0] >> room - left & 1:
            try:
                same = search.exact(room - left, most - len(fillings))
            except _TooMany:
                return tuple(fillings), left
            fillings += [(left, pieces) for pieces in same]
    return tuple(fillings), max(lefts.stop, lefts.start)


class _Search:
    """All ways to fill a bar to an exact tick."""

    def __init__(self, problem: Problem, sums: Sequence[int]) -> None:
        self.steps = [kind.length + problem.kerf for kind in problem.kinds]
        self.demand = [kind.demand for kind in problem.kinds]
        self.sums = sums
        self.steps_left = MOST_STEPS

    def exact(self, cell: int, most: int) -> list[Pieces]:
        found: list[Pieces] = []

        def extend(kind: int, cell: int, pieces: Pieces) -> None:
            if cell == 0:
                found.append(pieces)
                if len(found) > most:
                    raise _TooMany
                return
            self.steps_left -= 1
            if self.steps_left < 0:
                raise _TooMany
            for index in range(kind, len(self.steps)):
                if not self.sums[index] >> cell & 1:
                    return
                step = self.steps[index]
                for count in range(1, min(self.demand[index], cell // step) + 1):
                    if self.sums[index + 1] >> cell - count * step & 1:
                        extend(index + 1, cell - count * step, (*pieces, (index, count)))

        extend(0, cell, ())
        return found
