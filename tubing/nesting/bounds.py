"""Bounds at once, before any solver."""

from __future__ import annotations

from tubing.nesting.problem import Problem


def length_bound(problem: Problem) -> int:
    """Cents that no plan can be below, in exact arithmetic.

    One stock length and no value of offcuts: the price times L2. Otherwise what the pieces' length costs at the
    cheapest stock by length, where nothing can be left that is worth more than that.
    """
    if len(problem.stocks) == 1 and not problem.offcuts_have_value and not problem.stocks[0].ready:
        return problem.stocks[0].price * l2_bars(problem, problem.room(0))
    room = [(problem.most_room(s), stock) for s, stock in enumerate(problem.stocks) if stock.limit > 0]
    needed = sum((kind.length + problem.kerf) * kind.demand for kind in problem.kinds)
    if problem.offcuts_have_value:
        return sum(min(0, stock.price - problem.value(stock.length)) * stock.limit for _, stock in room)
    return min(-(-stock.price * needed // length) for length, stock in room)


def l2_bars(problem: Problem, room: int) -> int:
    """Bars that are needed at least (L2 of Martello & Toth, 1990).

    For each length ``k`` up to half a bar: pieces longer than ``room - k`` have a bar of their own, those longer than
    half a bar too but may share it with shorter ones, and pieces from ``k`` on fill what these leave.
    """
    steps = [(kind.length + problem.kerf, kind.demand) for kind in problem.kinds]
    best = 0
    for k in sorted({0, *(step for step, _ in steps if 2 * step <= room)}):
        alone = sum(n for step, n in steps if step > room - k)
        halves = [(step, n) for step, n in steps if step <= room - k and 2 * step > room]
        small = sum(step * n for step, n in steps if k <= step and 2 * step <= room)
        beside = sum((room - step) * n for step, n in halves)
        more = max(0, -(-(small - beside) // room))
        best = max(best, alone + sum(n for _, n in halves) + more)
    return best
