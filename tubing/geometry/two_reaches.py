"""A tube of two bends between two ports as its two reaches.

Reach: how far along a port's own line the corner lies. Two reaches decide the whole tube: the corners, the direction
between them, both angles, all straights.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from msgspec import Struct

from tubing.geometry.vectors import Vector, add, scale

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
    return _margins_of(ports, reaches, radius_mm, *middle_leg(ports, reaches))


def all_margins_mm(
    ports: TwoPorts, reaches: Reaches, radius_mm: float, most_rad: float
) -> tuple[float, float, float, float, float]:
    """The straights' margins, and how far each bend's tangent length is below that of ``most_rad``, [mm]."""
    most_half = math.tan(most_rad / 2)
    span, first, second = middle_leg(ports, reaches)
    straights = _margins_of(ports, reaches, radius_mm, span, first, second)
    return (*straights, radius_mm * (most_half - first), radius_mm * (most_half - second))


def _margins_of(
    ports: TwoPorts, reaches: Reaches, radius_mm: float, span_mm: float, first: float, second: float
) -> tuple[float, float, float]:
    start, end = radius_mm * first, radius_mm * second
    return (
        reaches.first_mm - start - ports.start_mm,
        span_mm - start - end - ports.middle_mm,
        reaches.second_mm - end - ports.end_mm,
    )


def length_mm(ports: TwoPorts, reaches: Reaches, radius_mm: float) -> float:
    """Length of the tube with these reaches, [mm]; infinite where a bend would turn it straight back."""
    span, *halves = middle_leg(ports, reaches)
    if not max(halves) < math.inf:
        return math.inf
    gained = sum(2 * (half - math.atan(half)) for half in halves)
    return reaches.first_mm + reaches.second_mm + span - radius_mm * gained


def middle_leg(ports: TwoPorts, reaches: Reaches) -> tuple[float, float, float]:
    """The middle leg's length, [mm], and the tangents of half the angles of both bends.

    Written out in its coordinates, since a plan asks for it a hundred thousand times.
    """
    (gx, gy, gz), (ux, uy, uz), (vx, vy, vz) = ports.gap_mm, ports.leave, ports.arrive
    first, second = reaches.first_mm, reaches.second_mm
    x, y, z = gx - second * vx - first * ux, gy - second * vy - first * uy, gz - second * vz - first * uz
    span = math.hypot(x, y, z)
    leave = _half_of(x * ux + y * uy + z * uz, math.hypot(y * uz - z * uy, z * ux - x * uz, x * uy - y * ux), span)
    arrive = _half_of(x * vx + y * vy + z * vz, math.hypot(y * vz - z * vy, z * vx - x * vz, x * vy - y * vx), span)
    return span, leave, arrive


def _half_of(ahead: float, aside: float, span: float) -> float:
    """Tangent of half the angle to a way: of the two forms the one that loses no digits, also nearly straight back."""
    if ahead >= 0:
        return aside / (span + ahead) if span else math.nan
    return (span - ahead) / aside if aside else math.inf


def fits(ports: TwoPorts, reaches: Reaches, radius_mm: float, most_rad: float = SHARPEST_RAD) -> bool:
    """Whether every straight has its least and no bend is over ``most_rad``."""
    span, *halves = middle_leg(ports, reaches)
    margins = _margins_of(ports, reaches, radius_mm, span, *halves)
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
