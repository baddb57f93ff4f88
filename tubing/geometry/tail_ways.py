"""Tubes with a free end, led clear of what is in the way: of many with one bend or two the gentlest that keeps clear.

Every tube here is exact and has the length asked for; only the choice is a grid, and the best of it is improved step by
step. A tube is told by its shape: first straight, first bend's angle and clock, second straight, second bend's angle
and clock, [mm] and [rad]. Clock: round the tube where the bend begins.
"""

from __future__ import annotations

import itertools
import math
from typing import Any

import numpy as np
from msgspec import Struct

from tubing.geometry.bends import LEAST_BEND_RAD
from tubing.geometry.centre_lines import GRAZE_MM, Ways, keeps_clear, worst_mm
from tubing.geometry.solids import Keepout
from tubing.geometry.vectors import Vector

ONE_RAD = [math.radians(a) for a in (*range(2, 30, 2), *range(30, 95, 5))]
TWO_RAD = [math.radians(a) for a in (4, 10, 18, 28, 40, 60)]
CHUNK = 500
STEP_MM = 20.0
STEPS = np.array([20.0, 0.1, 0.3, 20.0, 0.1, 0.3])  # the first ones of the improvement, mm and rad
HALVED = 8  # times
BETTER_RAD = 1e-6


class FreeEnd(Struct, frozen=True):
    """A port, and what every tube from it must keep."""

    start_mm: Vector
    leave: Vector
    length_mm: float  # of the whole tube along its centre line
    least_mm: tuple[float, float]  # straight at the port; between bends and behind the last
    radius_mm: float
    toward: Vector | None = None  # direction of its last straight; None: any


def led_clear(free: FreeEnd, keepout: Keepout) -> tuple[Vector, ...] | None:
    """Corners and end of the gentlest clear tube with the fewest bends, at most two; None: none is found."""
    for bends in (1, 2):
        shapes = _shapes(free, bends)
        points, lasts = _points(free, shapes)
        fits = lasts >= free.least_mm[1]
        shapes, points = shapes[fits], points[fits]
        order = Ways(points, free.radius_mm).in_order() if len(points) else []
        for k in range(0, len(order), CHUNK):
            chosen = order[k : k + CHUNK]
            best = _first_clear(points[chosen], free, keepout)
            if best is not None:
                return _corners(_improved(free, keepout, shapes[chosen][best]))
    return None


def _first_clear(points: Any, free: FreeEnd, keepout: Keepout) -> int | None:
    """The first of these tubes that keeps clear."""
    if not len(points):
        return None
    worst, _ = worst_mm(Ways(points, free.radius_mm), keepout, STEP_MM)
    for k in np.nonzero(worst >= -GRAZE_MM)[0].tolist():
        if keeps_clear(points[k].tolist(), free.radius_mm, keepout):
            return int(k)
    return None


def _shapes(free: FreeEnd, bends: int) -> Any:
    """A grid of shapes, (n, 3 bends)."""
    spare_mm = max(0.0, free.length_mm - free.least_mm[0] - free.least_mm[1])
    clock = np.linspace(0, 2 * math.pi, 48 // bends, endpoint=False)
    if bends == 1:
        firsts = free.least_mm[0] + spare_mm * np.linspace(0, 0.9, 7)
        if free.toward is not None:
            return np.array([(first, 0.0, 0.0) for first in free.least_mm[0] + spare_mm * np.linspace(0, 1, 50)])
        return np.array(list(itertools.product(firsts, ONE_RAD, clock)))
    firsts = free.least_mm[0] + spare_mm * np.array([0.0, 0.25, 0.5])
    seconds = free.least_mm[1] + spare_mm * np.array([0.0, 0.25])
    if free.toward is not None:
        return np.array(list(itertools.product(firsts, ONE_RAD, clock, seconds, [0.0], [0.0])))
    turns = np.linspace(0, 2 * math.pi, 8, endpoint=False)
    return np.array(list(itertools.product(firsts, TWO_RAD, clock[::2], seconds, TWO_RAD, turns)))


def _points(free: FreeEnd, shapes: Any) -> tuple[Any, Any]:
    """Start, corners and end of each shape, and its last straight, [mm]: (n, bends + 2, 3) and (n)."""
    along = np.broadcast_to(np.array(free.leave), (len(shapes), 3))
    helper = np.eye(3)[int(np.abs(np.array(free.leave)).argmin())]
    inside = np.cross(along, helper)
    inside = inside / np.linalg.norm(inside, axis=-1, keepdims=True)
    here = np.broadcast_to(np.array(free.start_mm), (len(shapes), 3))
    points, left = [here], np.full(len(shapes), free.length_mm)
    reach = np.zeros(len(shapes))
    count = shapes.shape[1] // 3
    for k in range(count):
        straight, angle, clock = shapes[:, 3 * k], shapes[:, 3 * k + 1], shapes[:, 3 * k + 2]
        across = np.cross(along, inside)
        inside = np.cos(clock)[:, None] * inside + np.sin(clock)[:, None] * across
        if k == count - 1 and free.toward is not None:
            angle, inside = _towards(along, np.array(free.toward))
        tangent = free.radius_mm * np.tan(angle / 2)
        here = here + (reach + straight + tangent)[:, None] * along
        points.append(here)
        cos, sin = np.cos(angle)[:, None], np.sin(angle)[:, None]
        along, inside = cos * along + sin * inside, cos * inside - sin * along
        reach, left = tangent, left - straight - free.radius_mm * angle
        left = np.where(angle >= LEAST_BEND_RAD - 1e-12, left, -np.inf)
    points.append(here + (reach + np.maximum(left, 0.0))[:, None] * along)
    return np.stack(points, axis=1), left


def _towards(along: Any, toward: Any) -> tuple[Any, Any]:
    """The bends that turn directions to one: their angles, and the sides they turn to."""
    cos = along @ toward
    aside = toward - cos[:, None] * along
    sine = np.linalg.norm(aside, axis=-1)
    return np.arctan2(sine, cos), aside / np.maximum(sine, 1e-12)[:, None]


def _improved(free: FreeEnd, keepout: Keepout, shape: Any) -> Any:
    """Start, corners and end of the tube that small steps from a shape make gentlest."""
    steps = STEPS[: len(shape)]
    points, _ = _points(free, shape[None])
    for _ in range(HALVED):
        better = True
        while better:
            better = False
            tries = np.concatenate([shape + np.diag(steps), shape - np.diag(steps)])
            tries[:, 0::3] = np.maximum(tries[:, 0::3], free.least_mm[: tries.shape[1] // 3])
            tried, lasts = _points(free, tries)
            turns = Ways(tried, free.radius_mm).turn_rad
            gained = Ways(points, free.radius_mm).turn_rad[0] - turns
            for k in np.argsort(-gained, kind="stable").tolist():
                if gained[k] < BETTER_RAD:
                    break
                if lasts[k] >= free.least_mm[1] and keeps_clear(tried[k].tolist(), free.radius_mm, keepout):
                    shape, points, better = tries[k], tried[k : k + 1], True
                    break
        steps = steps / 2
    return points[0]


def _corners(points: Any) -> tuple[Vector, ...]:
    return tuple((float(x), float(y), float(z)) for x, y, z in points[1:])
