"""All cutting patterns of a problem, where they are few."""

from __future__ import annotations

from tubing.nesting.problem import Pattern, Problem


class TooManyPatterns(Exception):
    """There are more patterns than asked for."""


def all_patterns(problem: Problem, most: int) -> list[Pattern]:
    """Every pattern of at least one piece on every stock, in a fixed order.

    Raises TooManyPatterns beyond ``most``.
    """
    found: list[Pattern] = []
    for stock in range(len(problem.stocks)):
        if problem.stocks[stock].limit > 0:
            _patterns_on(problem, stock, found, most)
    return found


def _patterns_on(problem: Problem, stock: int, found: list[Pattern], most: int) -> None:
    """Add the patterns on one stock: depth first, kinds from the longest."""
    room = problem.most_room(stock)
    pieces: list[tuple[int, int]] = []
    shortest_after = [0] * len(problem.kinds)
    steps = [kind.length + problem.kerf for kind in problem.kinds]
    for index in range(len(steps) - 1, -1, -1):
        after = shortest_after[index + 1] if index + 1 < len(steps) else steps[index]
        shortest_after[index] = min(steps[index], after)

    def extend(first: int, spare: int) -> None:
        for index in range(first, len(steps)):
            if shortest_after[index] > spare:
                return
            for count in range(1, min(problem.kinds[index].demand, spare // steps[index]) + 1):
                pieces.append((index, count))
                pattern = problem.pattern(stock, tuple(pieces))
                if pattern is not None:
                    found.append(pattern)
                    if len(found) > most:
                        raise TooManyPatterns
                extend(index + 1, spare - count * steps[index])
                pieces.pop()

    extend(0, room)
