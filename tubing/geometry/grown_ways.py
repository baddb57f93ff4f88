"""Ways through a crowded place, grown from both ports over corners drawn at random.

Stem:  a way from one port over its corners, whose last leg has some straight left for the next bend.
Grow:  give stems one corner more, where the new bend and the new leg keep clear.
Graft: join a stem from the first port and one from the second by a leg between their last corners.

Two trees grown towards each other are the rapidly-exploring random trees of J. Kuffner and S. LaValle, "RRT-Connect"
(2000; from memory); here a node is a corner with the direction of its leg, so that every bend has the former's radius.
The numbers are drawn from fixed seeds: the same ports and solids always give the same way. It is clear and no more;
to make it gentler is left to :class:`tubing.geometry.ways_round.Search`.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from msgspec import Struct

from tubing.geometry.bends import LEAST_BEND_RAD, longest_way_mm
from tubing.geometry.centre_lines import GRAZE_MM, STEP_MM, Ways, keeps_clear, worst_mm
from tubing.geometry.corner_aims import Ends
from tubing.geometry.solids import Keepout
from tubing.geometry.vectors import Vector, distance_mm
from tubing.geometry.ways_round import Corners

TRIES = 4  # times that both trees are grown from the start, each with numbers of its own
ROUNDS = 30  # times that stems are grown and grafted, in one try
DRAWN = 40  # corners drawn in a round, for each port
NEAR = 20  # and as many more near the port, where the way out may be narrow
BOXED_IN = 3  # a port from which fewer than so many times its first legs grew is given up after two tries
AHEAD = 6  # times as many stems as the other port has are enough
JOINED = 3  # stems that each corner drawn is tried on
GRAFTED = 240  # grafts looked at together, the gentlest
MOST_BENDS = 3  # of one stem
SHARPEST_RAD = math.radians(100)  # of a bend at a free corner
FIRST_LEGS = 14  # legs on a port's own line, from which stems grow
BEND_RAD = math.radians(25)  # what one bend more counts beside turn, when stems are chosen
NARROW = 2.0  # every other try draws more of its corners near the straight way


class Stems:
    """The ways grown from one port, as arrays: one row a stem."""

    def __init__(
        self, datum: Any, away: Any, least_mm: float, grip_mm: float, radius_mm: float, most_mm: float
    ) -> None:
        first = np.concatenate([[1e-3], np.geomspace(0.05 * radius_mm, 0.6 * most_mm, FIRST_LEGS - 1)])
        count = len(first)
        self.datum, self.radius_mm, self.grip_mm = datum, radius_mm, grip_mm
        self.corner = datum + (least_mm + first)[:, None] * away  # the last one, (n, 3)
        self.along = np.repeat(away[None], count, axis=0)  # direction of the leg into it, (n, 3)
        self.room_mm = first  # of that leg, for the next bend
        self.turn_rad = np.zeros(count)
        self.bends = np.zeros(count, dtype=int)
        self.grew_from = np.full(count, -1)
        self.grafted = 0  # how many have been tried as grafts

    def grow(self, drawn: Any, keepout: Keepout) -> None:
        """Give each corner drawn, (n, 3), to the stems that reach it most gently, where bend and leg keep clear."""
        way = drawn[None] - self.corner[:, None]
        span = np.linalg.norm(way, axis=-1)
        turn = _turns_rad(self.along[:, None], way, span)
        tangent = _tangents_mm(turn, self.radius_mm)
        room = span - tangent - self.grip_mm
        fits = _can_be_bent(turn) & (tangent <= self.room_mm[:, None]) & (room >= 0)
        fits &= self.bends[:, None] < MOST_BENDS
        gentle = (self.turn_rad + BEND_RAD * self.bends)[:, None] + turn + span / (4 * self.radius_mm)
        cost = np.where(fits, gentle, np.inf)
        stem = np.argsort(cost, axis=0, kind="stable")[:JOINED]
        corner = np.broadcast_to(np.arange(len(drawn)), stem.shape)
        tried = np.isfinite(cost[stem, corner])
        stem, corner = stem[tried], corner[tried]
        if not len(stem):
            return
        points = np.stack([self._before(stem, tangent[stem, corner]), self.corner[stem], drawn[corner]], axis=1)
        clear = worst_mm(Ways(points, self.radius_mm), keepout, STEP_MM)[0] >= -GRAZE_MM
        stem, corner = stem[clear], corner[clear]
        self.corner = np.concatenate([self.corner, drawn[corner]])
        self.along = np.concatenate([self.along, way[stem, corner] / span[stem, corner][:, None]])
        self.room_mm = np.concatenate([self.room_mm, room[stem, corner]])
        self.turn_rad = np.concatenate([self.turn_rad, self.turn_rad[stem] + turn[stem, corner]])
        self.bends = np.concatenate([self.bends, self.bends[stem] + 1])
        self.grew_from = np.concatenate([self.grew_from, stem])

    def near_mm(self, random: np.random.Generator) -> Any:
        """Corners drawn near the port, ahead of it: (NEAR, 3)."""
        ahead = random.uniform(0.2, 3.0, size=NEAR)
        return self.datum + self.radius_mm * (ahead[:, None] * self.along[0] + random.normal(size=(NEAR, 3)))

    def corners(self, stem: int) -> list[Vector]:
        """The corners of a stem, from its port on."""
        found: list[Vector] = []
        while stem >= 0:
            x, y, z = self.corner[stem].tolist()
            found.append((x, y, z))
            stem = int(self.grew_from[stem])
        return found[::-1]

    def _before(self, stem: Any, tangent_mm: Any) -> Any:
        """Where the next bend starts on a stem's last leg; on the port's own line the port, for what follows is new."""
        bend = self.corner[stem] - np.maximum(tangent_mm, 1e-6)[:, None] * self.along[stem]
        return np.where((self.grew_from[stem] < 0)[:, None], self.datum, bend)

    def graft(self, other: Stems, mine: slice, others: slice, keepout: Keepout) -> list[tuple[int, int]]:
        """Pairs of a stem of these and one of the other port's that a clear leg joins, the gentlest first."""
        way = other.corner[None, others] - self.corner[mine, None]
        span = np.linalg.norm(way, axis=-1)
        turns = _turns_rad(self.along[mine, None], way, span), _turns_rad(other.along[None, others], -way, span)
        tangents = [_tangents_mm(turn, self.radius_mm) for turn in turns]
        fits = _can_be_bent(turns[0]) & _can_be_bent(turns[1]) & (span - tangents[0] - tangents[1] >= self.grip_mm)
        fits &= (tangents[0] <= self.room_mm[mine, None]) & (tangents[1] <= other.room_mm[None, others])
        so_far = (self.turn_rad + BEND_RAD * self.bends)[mine, None] + (other.turn_rad + BEND_RAD * other.bends)[others]
        cost = np.where(fits, so_far + turns[0] + turns[1], np.inf).reshape(-1)
        count = min(GRAFTED, int(np.isfinite(cost).sum()))
        if not count:
            return []
        best = np.argpartition(cost, count - 1)[:count]
        best = best[np.lexsort((best, cost[best]))]
        i, j = np.unravel_index(best, fits.shape)
        first, second = i + (mine.start or 0), j + (others.start or 0)
        outer = self._before(first, tangents[0][i, j]), other._before(second, tangents[1][i, j])
        points = np.stack([outer[0], self.corner[first], other.corner[second], outer[1]], axis=1)
        clear = worst_mm(Ways(points, self.radius_mm), keepout, STEP_MM)[0] >= -GRAZE_MM
        return list(zip(first[clear].tolist(), second[clear].tolist(), strict=True))


class Grown(Struct, frozen=True):
    """What came of growing ways between two ports."""

    corners: Corners | None  # of a clear tube of two bends or more, [mm]; None: none was found
    drawn: int  # corners that were tried


def grown_way(ends: Ends, keepout: Keepout) -> Grown:
    """A clear tube between two ports, or after how many corners it was given up."""
    drawn = 0
    for k in range(TRIES):
        trees = Trees(ends, keepout, np.random.default_rng(k), NARROW if k % 2 else 1.0)
        corners = trees.joined()
        drawn += trees.drawn
        if corners is not None or (k > 0 and trees.boxed_in):
            return Grown(corners, drawn)
    return Grown(None, drawn)


class Trees:
    """The stems of both ports, grown towards each other."""

    def __init__(self, ends: Ends, keepout: Keepout, random: np.random.Generator, narrow: float) -> None:
        self.ends, self.keepout, self.random, self.narrow = ends, keepout, random, narrow
        self.most_mm = longest_way_mm(distance_mm(ends.start_mm, ends.end_mm), ends.radius_mm)
        datums, aways = (ends.start_mm, ends.end_mm), (np.array(ends.leave), -np.array(ends.arrive))
        self.first, self.second = (
            Stems(np.array(datum), away, least_mm, ends.least_mm[1], ends.radius_mm, self.most_mm)
            for datum, away, least_mm in zip(datums, aways, ends.least_mm[::2], strict=True)
        )
        self.drawn = 0

    @property
    def boxed_in(self) -> bool:
        """Whether hardly anything grew from one of the ports."""
        return min(len(self.first.turn_rad), len(self.second.turn_rad)) < BOXED_IN * FIRST_LEGS

    def joined(self) -> Corners | None:
        """The corners of the first clear way that joins both ports; None: none did."""
        first, second = self.first, self.second
        for _ in range(ROUNDS):
            self._grow(first, second)
            self._grow(second, first)
            old, new = slice(first.grafted), slice(first.grafted, None)
            for mine, others in ((new, slice(None)), (old, slice(second.grafted, None))):
                for pair in first.graft(second, mine, others, self.keepout):
                    corners = (*first.corners(pair[0]), *second.corners(pair[1])[::-1])
                    points = [self.ends.start_mm, *corners, self.ends.end_mm]
                    if keeps_clear(points, self.ends.radius_mm, self.keepout):
                        return corners
            first.grafted, second.grafted = len(first.turn_rad), len(second.turn_rad)
        return None

    def _grow(self, stems: Stems, other: Stems) -> None:
        if len(stems.turn_rad) <= AHEAD * len(other.turn_rad):
            drawn = np.concatenate([self._drawn_mm(), stems.near_mm(self.random)])
            self.drawn += len(drawn)
            keeps = self.keepout.slacks_mm(drawn).min(-1, initial=np.inf) >= -0.4 * self.ends.radius_mm
            stems.grow(drawn[keeps], self.keepout)  # a corner may lie in a solid: the bend cuts it

    def _drawn_mm(self) -> Any:
        """Corners at random, each in an ellipsoid of its own size with both ports as its foci: (DRAWN, 3)."""
        ends, random = self.ends, self.random
        start, end = np.array(ends.start_mm), np.array(ends.end_mm)
        apart_mm = float(np.linalg.norm(end - start))
        axis = (end - start) / apart_mm if apart_mm else np.array(ends.leave)
        half_mm = ends.radius_mm * (0.05 + 2.95 * random.uniform(size=DRAWN) ** self.narrow)
        over_mm = np.minimum(np.hypot(apart_mm, 2 * half_mm), self.most_mm)
        ball = random.normal(size=(DRAWN, 3))
        ball *= (np.cbrt(random.uniform(size=DRAWN)) / np.linalg.norm(ball, axis=1))[:, None]
        along = ball @ axis
        aside = ball - along[:, None] * axis
        return (start + end) / 2 + (over_mm / 2 * along)[:, None] * axis + half_mm[:, None] * aside


def _turns_rad(along: Any, way: Any, span: Any) -> Any:
    """Angles between unit directions and ways; straight back where a way has no length."""
    with np.errstate(divide="ignore", invalid="ignore"):
        cosine = (along * way).sum(-1) / span
    return np.arccos(np.clip(np.nan_to_num(cosine, nan=-1.0), -1.0, 1.0))


def _tangents_mm(turn_rad: Any, radius_mm: float) -> Any:
    return radius_mm * np.tan(np.minimum(turn_rad, SHARPEST_RAD) / 2)


def _can_be_bent(turn_rad: Any) -> Any:
    return (turn_rad >= LEAST_BEND_RAD) & (turn_rad <= SHARPEST_RAD)
