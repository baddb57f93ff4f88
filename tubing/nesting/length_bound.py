"""Bounds at once, before any solver."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from math import ceil

from tubing.nesting.problem import Problem

Point = tuple[int, Fraction]  # ticks taken of a bar, cents it costs at least


def length_bound(problem: Problem) -> int:
    """Cents that no plan can be below, in exact arithmetic.

    One stock length and no value of offcuts: the price times L2. Otherwise what the pieces' length costs at least,
    the cheapest lengths first and no more bars of a stock than there are.
    """
    if len(problem.stocks) == 1 and not problem.offcuts_have_value and not problem.stocks[0].ready:
        return problem.stocks[0].price * l2_bars(problem, problem.room(0))
    # A plan takes exactly ``needed`` ticks of its bars. What a bar costs is never below a convex curve over the ticks
    # taken of it, so the plan is never below the same ticks taken where all the curves together are flattest.
    needed = sum((kind.length + problem.kerf) * kind.demand for kind in problem.kinds)
    stretches = [
        (_slope(before, after), (after[0] - before[0]) * stock.limit)
        for index, stock in enumerate(problem.stocks)
        if stock.limit > 0
        for before, after in pairwise(_least_costs(problem, index, needed))
    ]
    bound = Fraction(0)
    for cents_per_tick, ticks in sorted(stretches):
        bound += cents_per_tick * min(ticks, needed)
        needed -= min(ticks, needed)
    return ceil(bound)


def _least_costs(problem: Problem, stock: int, needed: int) -> list[Point]:
    """The corners of the convex curve under what one bar costs, by the ticks that pieces and kerfs take of it.

    Nothing taken costs nothing. Otherwise at least the shortest piece is, at most all that is needed, and what is left
    has its value as long as it is kept. Ready ends count as if they saved all they can.
    """
    room = problem.most_room(stock)
    most = min(room, needed)
    shortest = min(kind.length for kind in problem.kinds) + problem.kerf
    if shortest > most:
        return [(0, Fraction(0))]
    price, worth = Fraction(problem.stocks[stock].price), problem.cents_per_tick
    left = room - problem.kerf  # with nothing taken; an end that is not cut off leaves no more than one in use
    kept_to = min(most, left - max(problem.keep_from, 1))
    corners: list[Point] = [(0, Fraction(0)), (most, price)]
    if worth and kept_to >= shortest:
        corners += [(taken, price - worth * (left - taken)) for taken in (shortest, kept_to)]
    else:
        corners.append((shortest, price))
    return _under(corners)


def _under(points: list[Point]) -> list[Point]:
    """The lower convex hull of points, from the left.

    >>> _under([(4, Fraction(3)), (0, Fraction(0)), (2, Fraction(2)), (4, Fraction(4)), (1, Fraction(-1))])
    [(0, Fraction(0, 1)), (1, Fraction(-1, 1)), (4, Fraction(3, 1))]
    """
    hull: list[Point] = []
    for point in sorted(points):
        if hull and point[0] == hull[-1][0]:
            continue  # sorted, so the lower one came first
        while len(hull) > 1 and _slope(hull[-2], point) <= _slope(hull[-2], hull[-1]):
            hull.pop()
        hull.append(point)
    return hull


def _slope(before: Point, after: Point) -> Fraction:
    return (after[1] - before[1]) / (after[0] - before[0])


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
