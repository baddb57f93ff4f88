"""Lists of points, each checked as a whole: corners of a tube, an outline on the glass, points of its plane."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Annotated

from pydantic import AfterValidator

from tubing.errors import JobError
from tubing.geometry.vectors import Point2, Vector, cross, distance_mm, norm, sub
from tubing.inputs.fields import SAME_POINT_MM, Point, PointOnGlass, TupleOf


def _corners(points: tuple[Vector, ...]) -> tuple[Vector, ...]:
    if not points:
        raise JobError("", "it is empty", "it must list a corner", "leave corners out")
    for count, (point, following) in enumerate(pairwise(points), start=1):
        if distance_mm(point, following) < SAME_POINT_MM:
            raise JobError(
                "", f"{count} and {count + 1} are the same point", "each corner must lie apart", "take one out"
            )
    return points


def _outline(points: tuple[Point2, ...]) -> tuple[Point2, ...]:
    if len(points) < 3:
        raise JobError("", f"it is a list of {len(points)}", "it must have three points at least", "add the others")
    for count, point in enumerate(points):
        for other_count, other in enumerate(points[:count]):
            if math.dist(point, other) < SAME_POINT_MM:
                raise JobError(
                    "",
                    f"points {other_count + 1} and {count + 1} are the same",
                    "each point must stand once",
                    "take one out; the outline closes by itself",
                )
    return points


def _plane(points: tuple[Vector, ...]) -> tuple[Vector, ...]:
    if len(points) < 3:
        raise JobError(
            "", f"it is a list of {len(points)}", "it must be three points or more", "give three points of the glass"
        )
    first, second, third = points[:3]
    a, b = sub(second, first), sub(third, first)
    if norm(cross(a, b)) <= 1e-3 * norm(a) * norm(b):
        raise JobError(
            "", "the first three points lie in one line", "they must span the glass", "move one of them aside"
        )
    return points


Corners = Annotated[tuple[Vector, ...], TupleOf(Point), AfterValidator(_corners)]
Outline = Annotated[tuple[Point2, ...], TupleOf(PointOnGlass), AfterValidator(_outline)]
PointsOfPlane = Annotated[tuple[Vector, ...], TupleOf(Point), AfterValidator(_plane)]
