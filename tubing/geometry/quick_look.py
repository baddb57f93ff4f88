"""A quick look at many tubes at once: every heading of one port against every heading of the next.

The same rules as for a single tube, worked on arrays. With bends of a right angle at most, a test holds both to the
same answers; where more is allowed, a tube of two bends may be shorter than it looks. It is what to choose by, never
what is cut.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from msgspec import Struct

from tubing.geometry.centre_lines import GRAZE_MM, Ways, worst_mm
from tubing.geometry.solids import Keepout
from tubing.geometry.vectors import Vector

NONE = 9  # bends of a pair that no gentle tube joins
ROUNDS = 60
SETTLED = 1e-9  # of the radius: tangent lengths that move by less are settled
ROUGHLY = 1e-7  # and after the last round by so much: a slight bend's loses digits
LAST_ROUNDS = 3
ROOM_MM = 1e-6
STEP_MM = 16.0  # between the points at which tubes are looked at for what is in their way
CHUNK = 200  # tubes looked at together
BEND_RAD = 100.0  # what a bend counts as in a bound: more than any turn


class Rules(Struct, frozen=True):
    """What every tube must keep: radius, straights at its start, between bends and at its end, fit-up."""

    radius_mm: float
    start_hold_mm: float
    grip_mm: float
    end_hold_mm: float
    fit_up_mm: float
    fit_up_rad: float
    most_rad: float = math.pi / 2  # of a bend


class Look(Struct, frozen=True):
    """What one pair of headings would cost."""

    bends: int
    turn_rad: float  # bends and pull-in together
    length_mm: float


class Looks:
    """What every start (datum, heading) and every end cost, and the centre line that would join them.

    Made, it knows the tubes of no bend and of one, and the least that two bends can cost; :meth:`settle` finds those.
    """

    def __init__(
        self, starts: Sequence[tuple[Vector, Vector]], ends: Sequence[tuple[Vector, Vector]], rules: Rules
    ) -> None:
        self.rules = rules
        p, u = (np.array([s[k] for s in starts], dtype=float)[:, None, :] for k in (0, 1))
        q, v = (np.array([e[k] for e in ends], dtype=float)[None, :, :] for k in (0, 1))
        self._p, self._u, self._q, self._v = np.broadcast_arrays(p, u, q, v)
        shape = self._p.shape[:2]
        self.bends: Any = np.full(shape, NONE)
        self._turn, self._length = np.zeros(shape), np.zeros(shape)
        way = self._q - self._p
        self._corners: Any = np.stack([self._p + way / 3, self._q - way / 3], axis=2)
        self._first_look()

    @classmethod
    def known(cls, looks: Sequence[Sequence[Look | None]]) -> Looks:
        """Looks at tubes that are known already; nothing can be said of their centre lines."""
        made = object.__new__(cls)
        made.bends = np.array([[NONE if look is None else look.bends for look in row] for row in looks])
        made._turn = np.array([[0.0 if look is None else look.turn_rad for look in row] for row in looks])
        made._length = np.array([[0.0 if look is None else look.length_mm for look in row] for row in looks])
        made._open = np.zeros(made.bends.shape, dtype=bool)
        made._corners = None
        return made

    def at(self, start: int, end: int) -> Look | None:
        """What one pair costs; None: no gentle tube joins it."""
        bends = int(self.bends[start, end])
        return None if bends == NONE else Look(bends, float(self._turn[start, end]), float(self._length[start, end]))

    def cheapest(self) -> list[tuple[int, int]]:
        """The pairs that a tube joins, the cheapest first."""
        order = np.lexsort((self._length.ravel(), self._turn.ravel(), self.bends.ravel()))
        order = order[: int((self.bends < NONE).sum())]
        across = int(self.bends.shape[1])
        return [(int(k) // across, int(k) % across) for k in order]

    def after(self, before: Any) -> Any:
        """The least cost so far at each end, from that at each start; a bend counts as BEND_RAD, lengths as nothing."""
        return (before[:, None] + self.costs_rad()).min(0)

    def costs_rad(self, a_bend_rad: float = BEND_RAD) -> Any:
        """What each start with each end costs: so much a bend, and its turn; lengths nothing; infinite: no tube."""
        return np.where(self.bends < NONE, self.bends * a_bend_rad + self._turn, np.inf)

    def settle(self) -> None:
        """Find the tubes of two bends."""
        rest: Any = np.nonzero(self._open)
        if len(rest[0]):
            with np.errstate(divide="ignore", invalid="ignore"):
                fits, turn, length, first, second = _two_bends(
                    self._p[rest], self._u[rest], self._q[rest], self._v[rest], self.rules
                )
            self.bends[rest] = np.where(fits, 2, NONE)
            self._turn[rest], self._length[rest] = turn, length
            self._corners[(*rest, 0)], self._corners[(*rest, 1)] = first, second
            self._open[rest] = False

    def entering(self, pairs: Sequence[tuple[int, int]], keepout: Keepout) -> list[bool]:
        """For each pair whether a point of its tube, one a step, is too near to a solid; it may be so in between."""
        found: list[bool] = []
        if self._corners is None:
            return [False] * len(pairs)
        for k in range(0, len(pairs), CHUNK):
            rows: Any = tuple(np.array(pairs[k : k + CHUNK]).T)
            middle = self._corners[rows]
            points = np.concatenate([self._p[rows][:, None], middle, self._q[rows][:, None]], axis=1)
            worst, _ = worst_mm(Ways(points, self.rules.radius_mm), keepout, STEP_MM)
            found += (worst < -GRAZE_MM).tolist()
        return found

    def _first_look(self) -> None:
        p, u, q, v, rules = self._p, self._u, self._q, self._v, self.rules
        with np.errstate(divide="ignore", invalid="ignore"):
            _take(self.bends, self._turn, self._length, 0, *_straight(p, u, q, v, rules))
            in_line = self.bends == 0
            too_short = in_line & (self._length < rules.start_hold_mm + rules.end_hold_mm - ROOM_MM)
            fits, turn, length, corner = _one_bend(p, u, q, v, rules)
            new = _take(self.bends, self._turn, self._length, 1, fits, turn, length)
        self._corners[new, 0], self._corners[new, 1] = corner[new], (corner[new] + q[new]) / 2
        self._open = self.bends == NONE
        turn, length = _angle(u, v), _norm(q - p)
        _take(self.bends, self._turn, self._length, 2, self._open, turn, length)
        self.bends[too_short] = NONE


def least_rad(layers: Sequence[Looks]) -> float:
    """The least that a way through these tubes can cost, a bend counting as BEND_RAD; infinite: there is no way."""
    reached = np.zeros(1)
    for looks in layers:
        reached = looks.after(reached)
    return float(reached.min())


def _setbacks_mm(gap: Any, u: Any, v: Any, a: float, b: float, rules: Rules) -> tuple[Any, Any]:
    """Which tubes' tangent lengths settle with no bend too great, and the lengths, (2, count), [mm].

    Beyond the products of gap and headings, the middle leg's length and slopes are plain numbers of the two reaches.
    """
    radius_mm, slope, count = rules.radius_mm, math.cos(rules.most_rad), gap.shape[0]
    setbacks, settled, live = np.zeros((2, count)), np.zeros(count, dtype=bool), np.arange(count)
    here, step = np.zeros((2, count)), np.zeros((2, count))
    along, across, whole, cos = np.stack([_dot(gap, u), _dot(gap, v)]), np.array([[a], [b]]), _dot(gap, gap), _dot(u, v)
    for k in range(ROUNDS):
        reach = across + here
        ahead = along - reach - cos * reach[::-1]
        taken = reach * (along + ahead)
        span = np.sqrt(np.maximum(whole - taken[0] - taken[1], 0.0))
        following = radius_mm * np.sqrt(np.maximum(span - ahead, 0.0) / (span + ahead))
        before, step = step, following - here
        moved = np.abs(step[0]) + np.abs(step[1])
        gentle = np.minimum(ahead[0], ahead[1]) >= slope * span
        done = moved < (SETTLED if k < ROUNDS - 1 else ROUGHLY) * (radius_mm + 1)
        setbacks[:, live[done]], settled[live[gentle & done]] = following[:, done], True
        on = gentle & ~done
        if not on.any():
            break
        if k % 2:  # every second step goes as far as the last two promise, for the steps shrink about alike
            ratio = np.where(before > 0, np.minimum(np.maximum(step / before, 0.0), 0.8), 0.0)
            following = following + step * ratio / (1 - ratio)
            step = np.zeros_like(step)
        live, here, step = live[on], following[:, on], step[:, on]
        along, whole, cos = along[:, on], whole[on], cos[on]
    for _ in range(LAST_ROUNDS):  # the plain numbers lose digits where a bend is slight
        way = gap - (a + setbacks[0])[:, None] * u - (b + setbacks[1])[:, None] * v
        setbacks = radius_mm * np.tan(np.stack([_angle(u, way), _angle(v, way)]) / 2)
    return settled, setbacks


def all_costs_rad(layers: Sequence[Looks]) -> list[Any]:
    """For each end of each of these layers what the cheapest way through it costs, as :func:`least_rad` counts."""
    costs = [looks.costs_rad() for looks in layers]
    reached, left = [np.zeros(1)], [np.zeros(costs[-1].shape[1])]
    for cost in costs:
        reached.append((reached[-1][:, None] + cost).min(0))
    for cost in reversed(costs[1:]):
        left.append((cost + left[-1][None, :]).min(1))
    return [here + on for here, on in zip(reached[1:], reversed(left), strict=True)]


def cheapest_way(costs: Sequence[Any]) -> list[int] | None:
    """The end taken in each layer by the way of least cost; ``costs``: of each start with each end; None: no way."""
    reached, chosen = np.zeros(1), []
    for cost in costs:
        sums = reached[:, None] + cost
        chosen.append(sums.argmin(0))
        reached = sums.min(0)
    ends = [int(reached.argmin())]
    if not math.isfinite(float(reached[ends[0]])):
        return None
    for before in reversed(chosen[1:]):
        ends.append(int(before[ends[-1]]))
    return ends[::-1]


def _take(bends: Any, turn: Any, length: Any, count: int, fits: Any, its_turn: Any, its_length: Any) -> Any:
    """Note the tubes of ``count`` bends where they fit and none with fewer is known; which these are."""
    new = fits & (bends == NONE)
    bends[new], turn[new], length[new] = count, its_turn[new], its_length[new]
    return new


def _norm(a: Any) -> Any:
    return np.sqrt(_dot(a, a))


def _dot(a: Any, b: Any) -> Any:
    return np.einsum("...k,...k->...", a, b)


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


def _one_bend(p: Any, u: Any, q: Any, v: Any, rules: Rules) -> tuple[Any, Any, Any, Any]:
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
        & (turn <= rules.most_rad)
        & (np.minimum(ahead, behind) > 0)
        & (_norm(on_end - on_start) <= rules.fit_up_mm)
        & (off_rad <= rules.fit_up_rad)
        & (_norm(first) - setback >= a - ROOM_MM)
        & (_norm(second) - setback >= b - ROOM_MM)
    )
    length = _norm(first) + _norm(second) - 2 * setback + rules.radius_mm * turn
    return fits, turn + off_rad, length, corner


def _two_bends(p: Any, u: Any, q: Any, v: Any, rules: Rules) -> tuple[Any, Any, Any, Any, Any]:
    """Least outer straights, tangents by iteration, both bends under a right angle."""
    a, b = max(rules.start_hold_mm, rules.grip_mm), max(rules.end_hold_mm, rules.grip_mm)
    settled, setbacks = _setbacks_mm(q - p, u, v, a, b, rules)
    way = q - p - (a + setbacks[0])[:, None] * u - (b + setbacks[1])[:, None] * v
    turn = _angle(u, way) + _angle(v, way)
    straight = _norm(way) - setbacks[0] - setbacks[1]
    length = a + b + straight + rules.radius_mm * turn
    corners = p + (a + setbacks[0])[:, None] * u, q - (b + setbacks[1])[:, None] * v
    return settled & (straight >= rules.grip_mm), turn, length, *corners
