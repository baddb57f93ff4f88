"""The cutting patterns that a best plan can need, where they are few."""

from __future__ import annotations

from collections.abc import Iterator

from tubing.nesting.problem import Pattern, Problem

Pieces = tuple[tuple[int, int], ...]  # kind and how many, by rising kind


class TooManyPatterns(Exception):
    """There are more patterns than asked for."""


def needed_patterns(problem: Problem, most: int) -> list[Pattern]:
    """The patterns that suffice for a best plan, in a fixed order.

    Of patterns of the same pieces only those on the best stocks are kept, as many as there could be bars in a plan:
    whatever its other bars take, one of these is left, and no other stock is better. Raises TooManyPatterns where more
    than ``most`` are kept.
    """
    stocks = _stocks_there(problem)
    longest = max(problem.most_room(stock) for stock in stocks)
    found: list[Pattern] = []
    for pieces in _fillings(problem, longest):
        found += _on_best_stocks(problem, pieces, stocks)
        if len(found) > most:
            raise TooManyPatterns
    return sorted(found, key=lambda pattern: pattern.stock)


def _stocks_there(problem: Problem) -> list[int]:
    return [stock for stock in range(len(problem.stocks)) if problem.stocks[stock].limit > 0]


def _on_best_stocks(problem: Problem, pieces: Pieces, stocks: list[int]) -> Iterator[Pattern]:
    """These pieces on the cheapest stocks, then on those with most left, until any plan has enough of them."""
    fitting = [pattern for stock in stocks if (pattern := problem.pattern(stock, pieces)) is not None]
    bars = 0
    for pattern in sorted(fitting, key=lambda pattern: (pattern.cost, -pattern.left, pattern.stock)):
        yield pattern
        bars += problem.stocks[pattern.stock].limit
        if bars >= problem.pieces:
            return


def _fillings(problem: Problem, room: int) -> Iterator[Pieces]:
    """Every choice of pieces that takes no more than so many ticks: depth first, kinds from the longest."""
    steps = [kind.length + problem.kerf for kind in problem.kinds]
    shortest_after = [0] * len(steps)
    for index in range(len(steps) - 1, -1, -1):
        after = shortest_after[index + 1] if index + 1 < len(steps) else steps[index]
        shortest_after[index] = min(steps[index], after)

    def extend(first: int, spare: int, pieces: Pieces) -> Iterator[Pieces]:
        for index in range(first, len(steps)):
            if shortest_after[index] > spare:
                return
            for count in range(1, min(problem.kinds[index].demand, spare // steps[index]) + 1):
                more = (*pieces, (index, count))
                yield more
                yield from extend(index + 1, spare - count * steps[index], more)

    return extend(0, room, ())
