"""One bend round a former: what it takes from the legs, what it lays down, what it gains."""

from __future__ import annotations

import math

LEAST_BEND_RAD = math.radians(1)  # a fitter cannot set a bend of less; common practice, no source


def tangent_mm(radius_mm: float, angle_rad: float) -> float:
    """Distance from a bend's tangent point to its corner, [mm]: R tan(theta / 2), 0 <= theta < pi.

    Exact, from the right triangle of centre, tangent point and corner.

    >>> round(tangent_mm(radius_mm=230.0, angle_rad=math.pi / 2), 9)
    230.0
    """
    return radius_mm * math.tan(angle_rad / 2)


def arc_mm(radius_mm: float, angle_rad: float) -> float:
    """Tube laid round a bend, along its centre line, [mm]: R theta.

    >>> round(arc_mm(radius_mm=60.0, angle_rad=math.pi / 2), 1)
    94.2
    """
    return radius_mm * angle_rad


def gain_mm(radius_mm: float, angle_rad: float) -> float:
    """How much shorter the way round a bend is than the way over its corner, [mm]: 2 T - arc."""
    return 2 * tangent_mm(radius_mm, angle_rad) - arc_mm(radius_mm, angle_rad)


def longest_way_mm(apart_mm: float, radius_mm: float) -> float:
    """The longest tube that a fitter would lead round something between two ports so far apart, [mm].

    Three times the straight way and eight radii more; common practice, no source.

    >>> longest_way_mm(100.0, 50.0)
    700.0
    """
    return 3 * apart_mm + 8 * radius_mm
