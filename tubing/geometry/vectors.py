"""Points and directions as tuples of three floats: sums, products, angles, rotations, lines and planes.

Point:     a place in the vehicle's frame, mm.
Direction: a unit vector.
Line:      a point and a direction.
"""

from __future__ import annotations

import math

Vector = tuple[float, float, float]
Point2 = tuple[float, float]  # a place on the glass or on paper, mm


def add(a: Vector, b: Vector, times: float = 1.0) -> Vector:
    """a + times b."""
    return (a[0] + times * b[0], a[1] + times * b[1], a[2] + times * b[2])


def sub(a: Vector, b: Vector) -> Vector:
    """a - b: the way from b to a."""
    return (a[0] - b[0], a[1] - b[1], a[2] - b[2])


def scale(a: Vector, times: float) -> Vector:
    """times a."""
    return (a[0] * times, a[1] * times, a[2] * times)


def dot(a: Vector, b: Vector) -> float:
    """Scalar product."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def cross(a: Vector, b: Vector) -> Vector:
    """Vector product, right-handed.

    >>> cross((1.0, 0.0, 0.0), (0.0, 1.0, 0.0))
    (0.0, 0.0, 1.0)
    """
    return (a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0])


def norm(a: Vector) -> float:
    """Length of a vector."""
    return math.hypot(a[0], a[1], a[2])


def unit(a: Vector) -> Vector:
    """The direction of a vector. Raises ValueError for one without length."""
    length = norm(a)
    if length == 0.0:
        raise ValueError("a vector without length has no direction")
    return (a[0] / length, a[1] / length, a[2] / length)


def distance_mm(a: Vector, b: Vector) -> float:
    """Distance between two points, [mm]."""
    return norm(sub(a, b))


def angle_rad(a: Vector, b: Vector) -> float:
    """Angle between two vectors, [rad], 0 to pi; exact for small angles too, where an arc cosine is not.

    >>> math.degrees(angle_rad((1.0, 0.0, 0.0), (1.0, 1.0, 0.0)))
    45.0
    """
    return math.atan2(norm(cross(a, b)), dot(a, b))


def across(a: Vector, direction: Vector) -> Vector:
    """The part of ``a`` that stands perpendicular to a direction."""
    return add(a, direction, -dot(a, direction))


def turned(a: Vector, axis: Vector, by_rad: float) -> Vector:
    """``a`` turned about a direction through the origin, right-hand rule (Rodrigues).

    >>> tuple(round(c, 9) for c in turned((1.0, 0.0, 0.0), (0.0, 0.0, 1.0), math.pi / 2))
    (0.0, 1.0, 0.0)
    """
    cos, sin = math.cos(by_rad), math.sin(by_rad)
    along = scale(axis, dot(axis, a) * (1 - cos))
    return add(add(scale(a, cos), cross(axis, a), sin), along)


def off_line_mm(point: Vector, on_line: Vector, direction: Vector) -> float:
    """Distance of a point from a line, [mm]."""
    return norm(across(sub(point, on_line), direction))


def nearest_on_lines(p: Vector, u: Vector, q: Vector, v: Vector) -> tuple[float, float] | None:
    """How far along each of two lines (p, u) and (q, v) they come nearest to each other, [mm]; None: parallel.

    >>> nearest_on_lines((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (5.0, -3.0, 2.0), (0.0, 1.0, 0.0))
    (5.0, 3.0)
    """
    w = sub(q, p)
    cos = dot(u, v)
    sin2 = norm(cross(u, v)) ** 2
    if sin2 < 1e-18:
        return None
    along_u, along_v = dot(w, u), dot(w, v)
    return (along_u - cos * along_v) / sin2, (cos * along_u - along_v) / sin2
