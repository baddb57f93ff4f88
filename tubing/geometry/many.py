"""A quick look at many tubes at once: every heading of one port against every heading of the next.

The same rules as for a single tube, worked on arrays, but for gentle bends alone, none over a right angle; a test
holds both to the same answers. What it finds is what to choose by, never what is cut.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from msgspec import Struct

from tubing.geometry.vectors import Vector

NONE = 9  # bends of a pair that no gentle tube joins
ROUNDS = 60
ROOM_MM = 1e-6


class Rules(Struct, frozen=True):
    """What every tube must keep: radius, straights at its start, between bends and at its end, fit-up."""

    radius_mm: float
    start_hold_mm: float
    grip_mm: float
    end_hold_mm: float
    fit_up_mm: float
    fit_up_rad: float


class Look(Struct, frozen=True):
    """What one pair of headings would cost."""

    bends: int
    turn_rad: float  # bends and pull-in together
    length_mm: float


def quick_look(
    starts: Sequence[tuple[Vector, Vector]], ends: Sequence[tuple[Vector, Vector]], rules: Rules
) -> list[list[Look | None]]:
    """For every start (datum, heading) and every end: the tube that would join them; None: no gentle one does."""
    p, u = (np.array([s[k] for s in starts])[:, None, :] for k in (0, 1))
    q, v = (np.array([e[k] for e in ends])[None, :, :] for k in (0, 1))
    p, u, q, v = np.broadcast_arrays(p, u, q, v)
    shape = p.shape[:2]
    bends, turn, length = np.full(shape, NONE), np.zeros(shape), np.zeros(shape)
    with np.errstate(divide="ignore", invalid="ignore"):
        _take(bends, turn, length, 0, *_straight(p, u, q, v, rules))
        in_line = bends == 0
        too_short = in_line & (length < rules.start_hold_mm + rules.end_hold_mm - ROOM_MM)
        _take(bends, turn, length, 1, *_one_bend(p, u, q, v, rules))
        rest = np.nonzero(bends == NONE)
        if rest[0].size:
            found = _two_bends(p[rest], u[rest], q[rest], v[rest], rules)
            bends[rest] = np.where(found[0], 2, NONE)
            turn[rest], length[rest] = found[1], found[2]
    bends[too_short] = NONE
    return [
        [
            Look(int(bends[i, j]), float(turn[i, j]), float(length[i, j])) if bends[i, j] < NONE else None
            for j in range(shape[1])
        ]
        for i in range(shape[0])
    ]


def _take(bends: Any, turn: Any, length: Any, count: int, fits: Any, its_turn: Any, its_length: Any) -> None:
    """Note the tubes of ``count`` bends where they fit and none with fewer is known."""
    new = fits & (bends == NONE)
    bends[new], turn[new], length[new] = count, its_turn[new], its_length[new]


def _norm(a: Any) -> Any:
    return np.sqrt((a * a).sum(-1))


def _dot(a: Any, b: Any) -> Any:
    return (a * b).sum(-1)


def _angle(a: Any, b: Any) -> Any:
    return np.arctan2(_norm(_cross(a, b)), _dot(a, b))


def _cross(a: Any, b: Any) -> Any:
    ax, ay, az, bx, by, bz = a[..., 0], a[..., 1], a[..., 2], b[..., 0], b[..., 1], b[..., 2]
    return np.stack([ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx], axis=-1)


def _straight(p: Any, u: Any, q: Any, v: Any, rules: Rules) -> tuple[Any, Any, Any]:
    way = q - p
    off_mm = np.maximum(_norm(_cross(way, u)), _norm(_cross(way, v)))
    off_rad = np.maximum(_angle(u, way), _angle(way, v))
    return (off_mm <= rules.fit_up_mm) & (off_rad <= rules.fit_up_rad), off_rad, _norm(way)


def _one_bend(p: Any, u: Any, q: Any, v: Any, rules: Rules) -> tuple[Any, Any, Any]:
    way, cos, sin2 = q - p, _dot(u, v), _dot(_cross(u, v), _cross(u, v))
    ahead = (_dot(way, u) - cos * _dot(way, v)) / sin2
    behind = (_dot(way, v) - cos * _dot(way, u)) / sin2
    on_start, on_end = p + ahead[..., None] * u, q - behind[..., None] * v
    corner = on_start + (on_end - on_start) * (ahead / (ahead + behind))[..., None]
    first, second = corner - p, q - corner
    off_rad = np.maximum(_angle(u, first), _angle(second, v))
    turn = _angle(first, second)
    setback = rules.radius_mm * np.tan(turn / 2)
    a, b = max(rules.start_hold_mm, rules.grip_mm), max(rules.end_hold_mm, rules.grip_mm)
    fits = (
        (sin2 > 1e-18)
        & (turn <= math.pi / 2)
        & (np.minimum(ahead, behind) > 0)
        & (_norm(on_end - on_start) <= rules.fit_up_mm)
        & (off_rad <= rules.fit_up_rad)
        & (_norm(first) - setback >= a - ROOM_MM)
        & (_norm(second) - setback >= b - ROOM_MM)
    )
    length = _norm(first) + _norm(second) - 2 * setback + rules.radius_mm * turn
    return fits, turn + off_rad, length


def _two_bends(p: Any, u: Any, q: Any, v: Any, rules: Rules) -> tuple[Any, Any, Any]:
    """Least outer straights, tangents by iteration, both bends under a right angle."""
    a, b = max(rules.start_hold_mm, rules.grip_mm), max(rules.end_hold_mm, rules.grip_mm)
    count = p.shape[0]
    setbacks = np.zeros((2, count))
    live = np.arange(count)
    settled = np.zeros(count, dtype=bool)
    for _ in range(ROUNDS):
        way = (
            q[live] - p[live] - (a + setbacks[0, live])[:, None] * u[live] - (b + setbacks[1, live])[:, None] * v[live]
        )
        angles = np.stack([_angle(u[live], way), _angle(v[live], way)])
        following = rules.radius_mm * np.tan(angles / 2)
        moved = np.abs(following - setbacks[:, live]).sum(0)
        gentle = angles.max(0) <= math.pi / 2
        setbacks[:, live] = following
        settled[live[gentle & (moved < 1e-12 * (rules.radius_mm + 1))]] = True
        live = live[gentle & ~settled[live]]
        if not live.size:
            break
    way = q - p - (a + setbacks[0])[:, None] * u - (b + setbacks[1])[:, None] * v
    turn = _angle(u, way) + _angle(v, way)
    straight = _norm(way) - setbacks[0] - setbacks[1]
    length = a + b + straight + rules.radius_mm * turn
    return settled & (straight >= rules.grip_mm), turn, length
