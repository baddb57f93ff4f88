"""What a few trials say and how sure it is: a straight line through points, and Student's t for small samples."""

from __future__ import annotations

import math
from collections.abc import Sequence

from msgspec import Struct

STUDENT = (12.706, 4.3027, 3.1824, 2.7764, 2.5706, 2.4469, 2.3646, 2.3060, 2.2622, 2.2281)  # by degrees of freedom


def student(freedom: int) -> float:
    """Student's t for 95 % either way, ``freedom`` of 1 or more; beyond 10 that of 10, which is a little wide.

    >>> student(2)
    4.3027
    """
    return STUDENT[min(freedom, len(STUDENT)) - 1]


class Line(Struct, frozen=True):
    """A straight line through measured points, with the usual standard deviations; nan where two points gave it."""

    intercept: float
    slope: float
    intercept_sd: float
    slope_sd: float
    correlation: float  # of intercept and slope
    residual_sd: float

    def at(self, x: float) -> float:
        """The line's height at ``x``."""
        return self.intercept + self.slope * x

    def sd_at(self, x: float) -> float:
        """Standard deviation of that height. Source: GUM (JCGM 100), example H.3, equation H.15."""
        mixed = 2 * x * self.correlation * self.intercept_sd * self.slope_sd
        return math.sqrt(max(0.0, self.intercept_sd**2 + (x * self.slope_sd) ** 2 + mixed))


def straight_line(points: Sequence[tuple[float, float]]) -> Line:
    """The least-squares line through two points or more, not all of one x. Source: GUM (JCGM 100), example H.3."""
    count = len(points)
    mean_x, mean_y = (math.fsum(values) / count for values in zip(*points, strict=True))
    spread = math.fsum((x - mean_x) ** 2 for x, _ in points)
    slope = math.fsum((x - mean_x) * (y - mean_y) for x, y in points) / spread
    intercept = mean_y - slope * mean_x
    if count < 3:
        return Line(intercept, slope, math.nan, math.nan, math.nan, math.nan)
    left = math.fsum((y - intercept - slope * x) ** 2 for x, y in points)
    residual_sd = math.sqrt(left / (count - 2))
    squares = math.fsum(x * x for x, _ in points)
    return Line(
        intercept,
        slope,
        residual_sd * math.sqrt(squares / (count * spread)),
        residual_sd / math.sqrt(spread),
        -mean_x * count / math.sqrt(count * squares),
        residual_sd,
    )


def slope_through_origin(points: Sequence[tuple[float, float]]) -> float:
    """The least-squares line without intercept: the sum of x y over that of x x."""
    return math.fsum(x * y for x, y in points) / math.fsum(x * x for x, _ in points)
