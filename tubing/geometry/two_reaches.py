"""A tube of two bends between two ports as its two reaches.

Reach: how far along a port's own line the corner lies. Two reaches decide the whole tube: the corners, the direction
between them, both angles, all straights.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from msgspec import Struct

from tubing.geometry.vectors import Vector, add, cross, dot, norm, scale, sub

FARTHEST = 13.0  # longest reach looked at, in sizes of the problem: what bends up to the sharpest can need
SHARPEST_RAD = math.radians(170)  # of a bend that the program adds by itself
TOLERANCE_MM = 1e-9
ROUNDING = 1e-10  # of the tangent of half an angle


class TwoPorts(Struct, frozen=True):
    """Two ports as seen from the first: where the second is, and the straights that must be left."""

    gap_mm: Vector  # from the first port's datum to the second's
    leave: Vector  # heading at the first port
    arrive: Vector  # heading at the second port
    start_mm: float  # least straight at the first port
    middle_mm: float  # least straight between the bends
    end_mm: float  # least straight at the second port


class Reaches(Struct, frozen=True):
    """How far the two corners lie from their ports, along the ports' lines, [mm]."""

    first_mm: float
    second_mm: float


def corners_mm(ports: TwoPorts, reaches: Reaches) -> tuple[Vector, Vector]:
    """The two corners, counted from the first port's datum, [mm]."""
    return scale(ports.leave, reaches.first_mm), add(ports.gap_mm, ports.arrive, -reaches.second_mm)


def margins_mm(ports: TwoPorts, reaches: Reaches, radius_mm: float) -> tuple[float, float, float]:
    """By how much the three straights are longer than they must be, [mm]; a negative one is too short."""
    span, *halves = middle_leg(ports, reaches)
    tangents = [radius_mm * half for half in halves]
    return (
        reaches.first_mm - tangents[0] - ports.start_mm,
        span - tangents[0] - tangents[1] - ports.middle_mm,
        reaches.second_mm - tangents[1] - ports.end_mm,
    )


def length_mm(ports: TwoPorts, reaches: Reaches, radius_mm: float) -> float:
    """Length of the tube with these reaches, [mm]; infinite where a bend would turn it straight back."""
    span, *halves = middle_leg(ports, reaches)
    if not max(halves) < math.inf:
        return math.inf
    gained = sum(2 * (half - math.atan(half)) for half in halves)
    return reaches.first_mm + reaches.second_mm + span - radius_mm * gained


def middle_leg(ports: TwoPorts, reaches: Reaches) -> tuple[float, float, float]:
    """The middle leg's length, [mm], and the tangents of half the angles of both bends."""
    first, second = corners_mm(ports, reaches)
    way = sub(second, first)
    span = norm(way)
    halves = []
    for side in (ports.leave, ports.arrive):
        ahead, aside = dot(way, side), norm(cross(way, side))
        # Of the two forms the one that loses no digits: nearly straight back, the other is nought by nought.
        if ahead >= 0:
            halves.append(aside / (span + ahead) if span else math.nan)
        else:
            halves.append((span - ahead) / aside if aside else math.inf)
    return span, halves[0], halves[1]


def fits(ports: TwoPorts, reaches: Reaches, radius_mm: float, most_rad: float = SHARPEST_RAD) -> bool:
    """Whether every straight has its least and no bend is over ``most_rad``."""
    _, *halves = middle_leg(ports, reaches)
    margins = margins_mm(ports, reaches, radius_mm)
    return max(halves) <= math.tan(most_rad / 2) + ROUNDING and min(margins) >= -TOLERANCE_MM


def half_turn(side: Any, way: Any, span: Any) -> Any:
    """Tangents of half the angles between a direction and ways (..., 3) of lengths ``span``, worked on arrays."""
    x, y, z = way[..., 0], way[..., 1], way[..., 2]
    sine = np.sqrt(
        (side[1] * z - side[2] * y) ** 2 + (side[2] * x - side[0] * z) ** 2 + (side[0] * y - side[1] * x) ** 2
    )
    cosine = way @ side
    # Of the two forms the one that loses no digits: nearly straight back, the other is nought by nought.
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(cosine >= 0, sine / (span + cosine), (span - cosine) / sine)
