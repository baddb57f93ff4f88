"""How near two blades on one rack come, lost motion counted, on plain floats.

Fraction: how far the rack has gone from the park's dead end to the other, 0 to 1. Where both arms stand is two
          fractions, for each may lag; they are kept as their mean and their difference.
Cell:     a rectangle of means and differences.
Way:      the shortest straight line from the first blade to the second.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Iterator
from typing import NamedTuple

from tubing.geometry.vectors import Point2
from tubing.glass.blade import Blade, Segment

DISTANCE_ERROR_MM = 0.1  # tolerance: the true least distance is at most this much less than the one returned
FIRST_CELLS = 4


def least_distance_mm(first: Blade, second: Blade) -> float:
    """Least distance of two blades on one rack through the whole cycle; 0: they meet.

    Either may lag by up to its lost motion, in both strokes, and neither passes its dead ends: the fractions at
    which they stand differ by at most the greater of lost motion / sweep. The true least is at most
    DISTANCE_ERROR_MM less than what is given.
    """
    for low_mm, least_mm in _Pair(first, second).narrowed():
        if least_mm - low_mm <= DISTANCE_ERROR_MM:
            return least_mm
    raise AssertionError("the narrowing never ends by itself")


def keep_apart(first: Blade, second: Blade, wanted_mm: float) -> bool:
    """Whether ``least_distance_mm`` is at least ``wanted_mm``, as soon as that is known."""
    for low_mm, least_mm in _Pair(first, second).narrowed():
        if least_mm < wanted_mm:
            return False
        if low_mm >= wanted_mm or least_mm - low_mm <= DISTANCE_ERROR_MM:
            return True
    raise AssertionError("the narrowing never ends by itself")


class _Cell(NamedTuple):
    """Positions about a middle one; ordered by the first field."""

    low_mm: float  # at no position in the cell are the blades nearer; inf: it holds none between the dead ends
    found_mm: float  # the distance at one position in it
    mean: float  # of the two fractions
    difference: float  # first less second
    half: float  # of the cell's width in the mean
    half_difference: float


class _Pair:
    """Two blades on one rack, with the constants that the bounds of every cell need."""

    def __init__(self, first: Blade, second: Blade) -> None:
        self.first, self.second = first, second
        self.apart = max(first.lost_rad / first.sweep_rad, second.lost_rad / second.sweep_rad)
        self.pivots = (second.pivot_mm[0] - first.pivot_mm[0], second.pivot_mm[1] - first.pivot_mm[1])
        self.reaches_mm = (math.hypot(*self.pivots), first.reach_mm, second.reach_mm)
        # How fast the glass and both arms turn with the mean and with the difference, radians per fraction.
        one, two = first.turning * first.sweep_rad, second.turning * second.sweep_rad
        self.turns = ((0.0, 0.0), (one, one / 2), (two, -two / 2))

    def narrowed(self) -> Iterator[tuple[float, float]]:
        """Yield pairs (lower bound, least distance found so far) that close in on each other; never ends by itself.

        Branch and bound: of all cells, the one that may hold the least is halved.
        """
        half = 0.5 / FIRST_CELLS
        cells = [self.cell((2 * k + 1) * half, 0.0, half, self.apart) for k in range(FIRST_CELLS)]
        heapq.heapify(cells)
        least_mm = min(cell.found_mm for cell in cells)
        while True:
            yield cells[0].low_mm, least_mm
            for cell in self.halves(heapq.heappop(cells)):
                least_mm = min(least_mm, cell.found_mm)
                if cell.low_mm < math.inf:
                    heapq.heappush(cells, cell)

    def halves(self, cell: _Cell) -> tuple[_Cell, _Cell]:
        """Halve a cell along the side over which the arms turn farther."""
        _, _, mean, difference, half, half_difference = cell
        if half >= half_difference / 2:
            half /= 2
            return (
                self.cell(mean - half, difference, half, half_difference),
                self.cell(mean + half, difference, half, half_difference),
            )
        half_difference /= 2
        return (
            self.cell(mean, difference - half_difference, half, half_difference),
            self.cell(mean, difference + half_difference, half, half_difference),
        )

    def cell(self, mean: float, difference: float, half: float, half_difference: float) -> _Cell:
        """A cell with its bounds.

        A cell may reach past the dead ends: its low bound holds for what lies beyond too, but what is found is held
        between them.
        """
        over = max(0.0, abs(difference) - half_difference) / 2
        if mean + half < over or mean - half > 1 - over:
            return _Cell(math.inf, math.inf, mean, difference, half, half_difference)
        ends_1, ends_2 = self.ends_mm(mean, difference)
        way = _way(ends_1, ends_2)
        found_mm = math.hypot(*way)
        low_mm = self.low_mm(ends_1, ends_2, way, half, half_difference) if found_mm > 0 else 0.0
        inside = min(1 - abs(difference) / 2, max(abs(difference) / 2, mean))
        if inside != mean:
            found_mm = segment_distance_mm(*self.ends_mm(inside, difference))
        return _Cell(low_mm, found_mm, mean, difference, half, half_difference)

    def ends_mm(self, mean: float, difference: float) -> tuple[Segment, Segment]:
        """Both blades."""
        return self.first.ends_mm(mean + difference / 2), self.second.ends_mm(mean - difference / 2)

    def low_mm(self, ends_1: Segment, ends_2: Segment, way: Point2, half: float, half_difference: float) -> float:
        """Lower bound on the blades' distance within a cell, from the shortest way between them at its middle.

        Two lines across that way keep the blades apart. As the arms turn, an end comes nearer to its line by its speed
        along the way, and by what its arc curves: half its radius times the square of the angle. The two lines may
        stand still on the glass or turn with either arm about the first pivot; the best of the three counts, for
        a tip that slides along a blade only keeps its distance from lines that turn with that blade.
        """
        at_mm = math.hypot(*way)
        x, y = way[0] / at_mm, way[1] / at_mm

        def along(blade: Blade, end: Point2) -> tuple[float, float]:
            """An end's place along the way, and how fast turning carries it along, per radian."""
            return x * end[0] + y * end[1], y * (end[0] - blade.pivot_mm[0]) - x * (end[1] - blade.pivot_mm[1])

        ones, twos = [along(self.first, end) for end in ends_1], [along(self.second, end) for end in ends_2]
        pivots_speed = y * self.pivots[0] - x * self.pivots[1]
        low_mm = 0.0  # a distance is never less
        for mean_rad, difference_rad in self.turns:
            turned = [(turn[0] - mean_rad, turn[1] - difference_rad) for turn in self.turns]
            (glass, glass_d), (one, one_d), (two, two_d) = turned
            curved_mm = sum(
                reach_mm * (abs(mean) * half + abs(difference) * half_difference) ** 2 / 2
                for reach_mm, (mean, difference) in zip(self.reaches_mm, turned, strict=True)
            )
            carried, carried_d = pivots_speed * glass, pivots_speed * glass_d
            kept_mm = min(
                there
                - here
                - abs(there_speed * two + carried - here_speed * one) * half
                - abs(there_speed * two_d + carried_d - here_speed * one_d) * half_difference
                for here, here_speed in ones
                for there, there_speed in twos
            )
            low_mm = max(low_mm, kept_mm - curved_mm)
        return low_mm


def segment_distance_mm(first: Segment, second: Segment) -> float:
    """Least distance of two straight lines in the plane; 0 where they cross.

    >>> segment_distance_mm(((0, 0), (10, 0)), ((4, 3), (4, 9)))
    3.0
    >>> segment_distance_mm(((0, 0), (10, 0)), ((4, -3), (4, 9)))
    0.0
    """
    return math.hypot(*_way(first, second))


def _way(first: Segment, second: Segment) -> Point2:
    """The shortest way from one straight line to another."""
    (a, b), (c, d) = first, second
    if _side(a, b, c) * _side(a, b, d) < 0 and _side(c, d, a) * _side(c, d, b) < 0:
        return (0.0, 0.0)
    from_first = min(_to_segment(a, c, d), _to_segment(b, c, d), key=_squared)
    from_second = min(_to_segment(c, a, b), _to_segment(d, a, b), key=_squared)
    if _squared(from_first) <= _squared(from_second):
        return from_first
    return (-from_second[0], -from_second[1])


def _squared(way: Point2) -> float:
    return way[0] * way[0] + way[1] * way[1]


def _side(a: Point2, b: Point2, p: Point2) -> float:
    return (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])


def _to_segment(p: Point2, a: Point2, b: Point2) -> Point2:
    """The shortest way from a point to a straight line."""
    along_x, along_y = b[0] - a[0], b[1] - a[1]
    from_x, from_y = p[0] - a[0], p[1] - a[1]
    squared = along_x * along_x + along_y * along_y
    part = min(1.0, max(0.0, (from_x * along_x + from_y * along_y) / squared)) if squared else 0.0
    return (part * along_x - from_x, part * along_y - from_y)
