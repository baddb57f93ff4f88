"""What a few trials say and how sure it is: a straight line through points, and Student's t for small samples."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence

from msgspec import Struct

HALVINGS = 60  # of the interval in which Student's t is sought: to the last digit
RISK = 0.05  # that a trial is called off the others though it is not


def student(freedom: int, risk: float = 0.05) -> float:
    """Student's t that is passed, either way, with so much risk; ``freedom`` of 1 or more, 0 < ``risk`` < 1.

    Source of the distribution: Abramowitz and Stegun, Handbook of Mathematical Functions, 26.7.3 and 26.7.4.

    >>> round(student(2), 4)
    4.3027
    """
    low, high = 0.0, math.pi / 2
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if 1 - _within(middle, freedom) > risk else (low, middle)
    return math.sqrt(freedom) * math.tan(low)


def _within(angle: float, freedom: int) -> float:
    """The share of Student's distribution within t = sqrt(freedom) tan(angle), either way."""
    cos, sin = math.cos(angle), math.sin(angle)
    term, total = (cos, 0.0) if freedom % 2 else (1.0, 0.0)
    for k in range(2 if freedom % 2 else 1, freedom, 2):
        total += term
        term *= cos * cos * k / (k + 1)
    return 2 / math.pi * (angle + sin * total) if freedom % 2 else sin * total


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


def off_the_line(points: Sequence[tuple[float, float]], reading_sd: float) -> int | None:
    """The one of four points or more that lies off the line through the others; None: none does.

    ``reading_sd``: how well a height can be read at all. Every point is held against the line through the others, with
    Student's t for a new point, its risk shared among the points. Source: externally studentised residuals with
    Bonferroni's bound, as in Cook and Weisberg, Residuals and Influence in Regression, 1982 (from memory).
    """
    if len(points) < 4:
        return None
    ratios = []
    for k, (x, y) in enumerate(points):
        others = [*points[:k], *points[k + 1 :]]
        mean_x = math.fsum(each for each, _ in others) / len(others)
        spread = math.fsum((each - mean_x) ** 2 for each, _ in others)
        if spread == 0:
            ratios.append(0.0)
            continue
        line = straight_line(others)
        sd = max(line.residual_sd, reading_sd) * math.sqrt(1 + 1 / len(others) + (x - mean_x) ** 2 / spread)
        ratios.append(abs(y - line.at(x)) / sd / student(len(others) - 2, RISK / len(points)))
    return _worst(ratios)


def off_the_mean(values: Sequence[float], reading_sd: float) -> int | None:
    """The one of three values or more that lies off the mean of the others; None: none does.

    With ``reading_sd`` 0 this is Grubbs's test, either way, at 5 %. F. E. Grubbs, Technometrics 11 (1969).
    """
    if len(values) < 3:
        return None
    ratios = []
    for k, value in enumerate(values):
        others = [*values[:k], *values[k + 1 :]]
        sd = max(statistics.stdev(others), reading_sd) * math.sqrt(1 + 1 / len(others))
        ratios.append(abs(value - statistics.fmean(others)) / sd / student(len(others) - 1, RISK / len(values)))
    return _worst(ratios)


def _worst(ratios: Sequence[float]) -> int | None:
    worst = max(range(len(ratios)), key=lambda k: ratios[k], default=None)
    return None if worst is None or ratios[worst] <= 1 else worst
