"""The plane of the glass, through three points of it or nearest to more.

Origin: the first point, brought on to the plane. Across: towards the second, to the driver's right. Up: along the glass
at a right angle to it. Misfit: how far a point lies off the plane, positive towards the driver.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from msgspec import Struct

from tubing.errors import JobError
from tubing.geometry.vectors import Point2, Vector, across, add, angle_rad, cross, dot, norm, scale, sub, unit

THINNEST_MM2 = 1.0  # first three points that span less lie in one line
MOST_ROUNDS, SETTLED_RAD = 50, 1e-14


class GlassPlane(Struct, frozen=True):
    """The plane with its frame."""

    origin_mm: Vector
    across: Vector
    up: Vector
    inwards: Vector
    misfit_mm: float  # the farthest that a point it was laid through lies off it; 0 for three

    def on_glass_mm(self, point_mm: Vector) -> tuple[Point2, float]:
        """A point of the vehicle in the outline's coordinates, and its misfit."""
        way = sub(point_mm, self.origin_mm)
        return (dot(way, self.across), dot(way, self.up)), dot(way, self.inwards)


def plane_through(points_mm: Sequence[Vector]) -> GlassPlane:
    """The plane through three points, or with the least sum of squared distances to more.

    The first is the outline's origin, the second lies to the driver's right, the third up the glass, the others
    anywhere on it. Raises JobError: the first three in one line, or not in that order.
    """
    first, second, third = points_mm[:3]
    normal = cross(sub(second, first), sub(third, first))
    if norm(normal) < THINNEST_MM2:
        raise _wrong("its first three points lie in one line")
    if second[0] <= first[0]:
        raise _wrong("its second point lies to the left of its first")
    inwards = unit(normal)
    if cross(inwards, unit(sub(second, first)))[2] <= 0:
        raise _wrong("its third point lies below the line through the first two")
    middle = scale(_total(points_mm), 1 / len(points_mm))
    inwards = _nearest(points_mm, middle, inwards)
    origin = add(first, inwards, -dot(sub(first, middle), inwards))
    along = unit(across(sub(second, first), inwards))
    misfit_mm = max(abs(dot(sub(p, middle), inwards)) for p in points_mm) if len(points_mm) > 3 else 0.0
    return GlassPlane(origin, along, cross(inwards, along), inwards, misfit_mm)


def _nearest(points_mm: Sequence[Vector], middle: Vector, normal: Vector) -> Vector:
    """The normal of the plane with the least sum of squared distances.

    Heights over a plane are fitted to a slope and the plane is tilted by it until no slope is left: then the heights go
    with neither direction in the plane, which is what the least sum asks.
    """
    if len(points_mm) == 3:
        return normal
    ways = [sub(p, middle) for p in points_mm]
    for _ in range(MOST_ROUNDS):
        u = unit(across(sub(points_mm[1], points_mm[0]), normal))
        v = cross(normal, u)
        rows = [(dot(way, u), dot(way, v), dot(way, normal)) for way in ways]
        uu, uv, vv, uh, vh = (
            math.fsum(row[i] * row[j] for row in rows) for i, j in ((0, 0), (0, 1), (1, 1), (0, 2), (1, 2))
        )
        spread = uu * vv - uv * uv
        slope_u, slope_v = (uh * vv - vh * uv) / spread, (vh * uu - uh * uv) / spread
        tilted = unit(add(add(normal, u, -slope_u), v, -slope_v))
        turned_rad, normal = angle_rad(tilted, normal), tilted
        if turned_rad < SETTLED_RAD:
            break
    return normal


def _total(points_mm: Sequence[Vector]) -> Vector:
    x, y, z = (math.fsum(p[k] for p in points_mm) for k in range(3))
    return x, y, z


def _wrong(found: str) -> JobError:
    return JobError(
        "screen, plane",
        found,
        "the first must be the outline's origin, the second to the driver's right, the third up the glass",
        "measure three points of the glass in that order",
    )
