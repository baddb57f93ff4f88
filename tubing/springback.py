"""How a bend springs back: how far to set the bender, and the radius that the bend ends up at.

Proportional: degrees to add per degree of bend; the tube's own part.
Fixed:        degrees to add to every bend, whatever its angle; the bender's play.
As bent:      as it stays, off the former. The formed arc keeps its length, so its radius grows as its angle falls.
Trial:        a bend that was made to see this: how far the bender was set, and what angle stayed.

set = got x (1 + proportional) + fixed. Play forms no arc, so radius as bent = former's radius x (1 + proportional).
Springback grows with radius over diameter, so a trial holds for its own tube and former only.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from msgspec import Struct

from tubing.inputs.catalogue import Former, Tube
from tubing.inputs.records import Shop, TrialBend
from tubing.units import mm, rad


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


class Springback(Struct, frozen=True):
    """What a tube does on a former, and how it is known."""

    proportional: float
    fixed_rad: float = 0.0
    trials: int = 0  # 0: the bench's own figure, not tried
    tried_rad: tuple[float, float] | None = None  # least and greatest angle that stayed
    line: Line | None = None  # of set less got on got, rad; None: fewer than three trials, or no line was laid

    def set_rad(self, angle_rad: float) -> float:
        """How far to turn the bender, [rad], so that ``angle_rad`` stays. Common practice, no source.

        >>> round(math.degrees(Springback(0.05, math.radians(1.5)).set_rad(math.radians(90))), 9)
        96.0
        """
        return angle_rad * (1 + self.proportional) + self.fixed_rad


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


def learned(trials: Sequence[TrialBend]) -> Springback:
    """What trials of one tube on one former say; one at least, and of several not all of one angle.

    One trial gives the proportional part alone, two solve both parts, more are fitted by a straight line. Neither part
    is below nothing: such a line is laid through the origin, or level.
    """
    points = [(rad(trial.got), rad(trial.set) - rad(trial.got)) for trial in trials]
    angles = [angle for angle, _ in points]
    count, tried = len(points), (min(angles), max(angles))
    if count == 1:
        return Springback(slope_through_origin(points), 0.0, 1, tried)
    line = straight_line(points)
    if line.slope < 0:
        return Springback(0.0, math.fsum(back for _, back in points) / count, count, tried)
    if line.intercept < 0:
        return Springback(slope_through_origin(points), 0.0, count, tried)
    return Springback(line.slope, line.intercept, count, tried, line if count > 2 else None)


def springback_of(tube: Tube | None, former: Former, shop: Shop) -> Springback:
    """What a tube does on a former: by trials of this pair, else by the bench's own figure."""
    of_pair = [t for t in shop.trial_bends if tube is not None and (t.tube, t.former) == (tube.stock, former.name)]
    return learned(of_pair) if of_pair else Springback(shop.bench.springback)


def as_bent_mm(tube: Tube | None, former: Former, shop: Shop) -> float:
    """The radius that a bend on a former ends up at, to the tube's centre line, [mm].

    Derived: the formed arc, radius x angle, is the same before and after. A former whose stated radius is what it
    gives opens no further.
    """
    opens = 0.0 if former.radius_is == "as bent" else springback_of(tube, former, shop).proportional
    return mm(former.radius) * (1 + opens)
