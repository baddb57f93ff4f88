"""Boxes, cylinders and spheres, and how far points lie from them.

Distance: positive outside, exact; negative inside, to the nearest point of the surface. It never changes faster than
the point moves, so a few points tell of all between them.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from msgspec import Struct

from tubing.geometry.vectors import Vector, across, add, angle_rad, cross, dot, norm, scale, sub, unit

UNUSED_MM = 1e12  # half side of a direction that a cylinder does not use


class TurnedBox(Struct, frozen=True):
    """A box with its faces across three directions."""

    centre_mm: Vector
    axes: tuple[Vector, Vector, Vector]  # perpendicular to each other
    half_mm: Vector  # half its size along each


class Rod(Struct, frozen=True):
    """A cylinder with flat ends."""

    centre_mm: Vector
    axis: Vector
    half_mm: float  # half its length
    radius_mm: float


class Ball(Struct, frozen=True):
    """A sphere."""

    centre_mm: Vector
    radius_mm: float


Solid = TurnedBox | Rod | Ball


def reach_mm(solid: Solid, direction: Vector) -> float:
    """How far a solid reaches from its centre along a direction, [mm].

    >>> round(reach_mm(Rod((0.0, 0.0, 0.0), (0.0, 0.0, 1.0), 40.0, 30.0), (0.6, 0.0, 0.8)), 9)
    50.0
    """
    if isinstance(solid, Ball):
        return solid.radius_mm
    if isinstance(solid, TurnedBox):
        return sum(half * abs(dot(axis, direction)) for axis, half in zip(solid.axes, solid.half_mm, strict=True))
    along = abs(dot(solid.axis, direction))
    return solid.half_mm * along + solid.radius_mm * norm(across(direction, solid.axis))


def overlap_mm(one: TurnedBox, other: TurnedBox) -> float:
    """How far one box must move to leave the other, [mm]; 0 or less: they are apart.

    Two boxes are apart when a plane parts them that lies along two faces or along an edge of each (the theorem of the
    separating axis).

    >>> axes = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
    >>> one = TurnedBox((0.0, 0.0, 0.0), axes, (45.0, 28.0, 20.0))
    >>> overlap_mm(one, TurnedBox((85.0, 10.0, 0.0), axes, (45.0, 28.0, 20.0)))
    5.0
    """
    crossed = [cross(a, b) for a in one.axes for b in other.axes]
    ways = [*one.axes, *other.axes, *(unit(way) for way in crossed if norm(way) > 1e-6)]
    gap = sub(other.centre_mm, one.centre_mm)
    return min(reach_mm(one, way) + reach_mm(other, way) - abs(dot(gap, way)) for way in ways)


def sideways(solid: Solid, way: Vector, seen_from_mm: Vector, also: Vector) -> list[Vector]:
    """Directions across a way in which one may go round a solid: its own, and round the clock.

    The clock starts where the solid's centre lies off the way; where it lies on it, at the solid's own directions, and
    where it has none, at ``also``.
    """
    own = _own_directions(solid)
    aside = [unit(d) for d in (across(axis, way) for axis in own) if norm(d) > 1e-3]
    off = across(sub(solid.centre_mm, seen_from_mm), way)
    starts = [off, *aside, across(also, way), across((1.0, 0.0, 0.0), way), across((0.0, 1.0, 0.0), way)]
    first = unit(next(s for s in starts if norm(s) > 1e-3))
    second = cross(way, first)
    clock = [
        add(scale(first, float(np.cos(turn))), second, float(np.sin(turn)))
        for turn in np.linspace(0, 2 * np.pi, 16, endpoint=False)
    ]
    found: list[Vector] = []
    for direction in [*clock, *aside, *(scale(d, -1.0) for d in aside)]:
        if all(angle_rad(direction, f) > 0.02 for f in found):
            found.append(direction)
    return found


def _own_directions(solid: Solid) -> tuple[Vector, ...]:
    if isinstance(solid, TurnedBox):
        return solid.axes
    return (solid.axis,) if isinstance(solid, Rod) else ()


class Keepout:
    """Solids, and how far a tube's centre line must keep from each."""

    def __init__(self, solids: Sequence[Solid], needed_mm: Sequence[float]) -> None:
        self.count = len(solids)
        self.which = np.arange(self.count)  # place of each in the list given
        rows = [_row(solid) for solid in solids]
        self._needed = np.array(needed_mm, dtype=float)
        self._centre = np.array([r[0] for r in rows], dtype=float).reshape(-1, 3)
        self._axes = np.array([r[1] for r in rows], dtype=float).reshape(-1, 3, 3)
        self._half = np.array([r[2] for r in rows], dtype=float).reshape(-1, 3)
        self._round = np.array([r[3] for r in rows], dtype=float)
        self._rod = np.array([isinstance(solid, Rod) for solid in solids], dtype=bool)
        self._set_up()

    def _set_up(self) -> None:
        self._columns = self._axes.reshape(-1, 3).T
        self._offsets = (self._axes @ self._centre[:, :, None]).reshape(-1)
        self._rods = np.nonzero(self._rod)[0]
        sides = np.where(self._half < UNUSED_MM, self._half, self._half[:, 1:2])
        self._girth = np.sqrt((sides**2).sum(-1)) + self._round + self._needed

    def only(self, chosen: Any) -> Keepout:
        """The chosen ones of these; ``chosen``: a mask or places among these."""
        part = object.__new__(Keepout)
        part.which = self.which[chosen]
        part.count = len(part.which)
        for name in ("_needed", "_centre", "_axes", "_half", "_round", "_rod"):
            setattr(part, name, getattr(self, name)[chosen])
        part._set_up()
        return part

    def near(self, points_mm: Any) -> Keepout:
        """Those that a centre line within the box round these points may come too near to."""
        flat = np.asarray(points_mm, dtype=float).reshape(-1, 3)
        low, high = flat.min(0), flat.max(0)
        beyond = np.maximum(np.maximum(low - self._centre, self._centre - high), 0.0)
        return self.only((beyond**2).sum(-1) < self._girth**2)

    def slacks_mm(self, points_mm: Any) -> Any:
        """For points (..., 3) how much further than needed each lies from each solid, [mm]: (..., count)."""
        points = np.asarray(points_mm, dtype=float)
        flat = points.reshape(-1, 3)
        local = np.abs(flat @ self._columns - self._offsets).reshape(len(flat), self.count, 3)
        if self._rods.size:
            local[:, self._rods, 1] = np.hypot(local[:, self._rods, 1], local[:, self._rods, 2])
        local -= self._half
        inside = np.minimum(np.maximum(np.maximum(local[..., 0], local[..., 1]), local[..., 2]), 0.0)
        np.maximum(local, 0.0, out=local)
        outside = np.sqrt(np.einsum("ijk,ijk->ij", local, local))
        return (inside + outside - (self._round + self._needed)).reshape(*points.shape[:-1], self.count)


def distances_mm(solid: Solid, points_mm: Sequence[Vector]) -> list[float]:
    """How far each point lies from the solid, [mm]; negative inside.

    >>> distances_mm(Ball((0.0, 0.0, 0.0), 10.0), [(3.0, 4.0, 0.0), (0.0, 0.0, 12.0)])
    [-5.0, 2.0]
    """
    return [float(d) for d in Keepout([solid], [0.0]).slacks_mm(np.array(points_mm, dtype=float))[:, 0]]


def _row(solid: Solid) -> tuple[Vector, tuple[Vector, ...], Vector, float]:
    """Centre, axes, half sides and rounding of the one formula that does for all three."""
    if isinstance(solid, TurnedBox):
        return solid.centre_mm, solid.axes, solid.half_mm, 0.0
    if isinstance(solid, Ball):
        return solid.centre_mm, ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)), (0.0, 0.0, 0.0), solid.radius_mm
    helper = (1.0, 0.0, 0.0) if abs(solid.axis[0]) < 0.8 else (0.0, 1.0, 0.0)
    first = unit(across(helper, solid.axis))
    half = (solid.half_mm, solid.radius_mm, UNUSED_MM)
    return solid.centre_mm, (solid.axis, first, cross(solid.axis, first)), half, 0.0
