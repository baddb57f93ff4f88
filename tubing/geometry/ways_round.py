"""Tubes that go round something: of many over two corners and more, the gentlest that keeps clear.

Reach: how far along a port's own line the first or last corner lies.
Lead:  the first or last corner of a tube that turns towards the next corner as soon as its least straight allows.

Every tube here is exact, only the choice of corners is a grid; the best of it is then improved step by step until no
step of half a millimetre makes it gentler. Order: least turn, then length.
"""

from __future__ import annotations

import itertools
import math
from collections import Counter
from collections.abc import Sequence
from typing import Any

import numpy as np

from tubing.geometry.centre_lines import GRAZE_MM, STEP_MM, Ways, entered, keeps_clear, worst_mm
from tubing.geometry.corner_aims import Ends, leads_mm
from tubing.geometry.solids import Keepout
from tubing.geometry.two_reaches import SHARPEST_RAD
from tubing.geometry.vectors import Vector, norm, sub

GRID = 26  # reaches a side of tubes of two bends
CHUNK = 400  # tubes looked at together
COARSE_MM = 50.0  # step of the first look at a chunk
MOST_TRIED = 12000  # tubes looked at in one search, the gentlest first
FIRST_STEP_MM, LAST_STEP_MM = 80.0, 0.5
MOST_STEPS = 60  # of improving one tube
FEW = 16  # tubes looked at together while improving
BETTER_RAD, BETTER_MM = 1e-6, 1e-3  # an improvement by less is none
LEADS = 4  # grids of leads and reaches at each end: the lead itself and so many less one along the port's line

Corners = tuple[Vector, ...]


class Search:
    """Looks for tubes between two ports that keep clear, and remembers the nearest miss."""

    def __init__(self, ends: Ends, keepout: Keepout) -> None:
        self.ends, self.keepout = ends, keepout
        self.missed_mm = math.inf  # clearance missing on the best tube that is not clear
        self.missed_over: Corners = ()
        self.known: list[int] = []  # solids that are sure to matter: looked at first
        self.hit: list[int] = []  # others that tubes clear of these came too near to, the most often hit first
        self._p, self._u = np.array(ends.start_mm), np.array(ends.leave)
        self._q, self._v = np.array(ends.end_mm), np.array(ends.arrive)

    def two_bends(self) -> Corners | None:
        """Over a grid of both reaches."""
        span = norm(sub(self.ends.end_mm, self.ends.start_mm)) + self.ends.radius_mm
        steps = np.concatenate([[0.0], np.geomspace(4e-3, 1.6, GRID)]) * span
        first, second = (a.reshape(-1) for a in np.meshgrid(steps, steps, indexing="ij"))
        return self._best(
            self._between(self.ends.least_mm[0] + first, self.ends.least_mm[2] + second, np.empty((first.size, 0, 3)))
        )

    def round_one(self, aims: Sequence[Vector]) -> Corners | None:
        """Three bends: over one aim, with leads or reaches at both ends."""
        return self._best(self._with_ends(np.array(aims, dtype=float).reshape(-1, 1, 3)))

    def over(self, aims: Sequence[Vector]) -> Corners | None:
        """Over given aims in order, with leads or reaches at both ends."""
        return self._best(self._with_ends(np.array([aims], dtype=float)))

    def shortened(self, corners: Corners) -> Corners:
        """A clear tube made gentler, and given a corner less as long as one without it is found to be clear."""
        best = self._improved(self._points(corners))
        while len(best) > 3:
            without = [self.over([*best[1:k], *best[k + 1 : -1]]) for k in range(1, len(best) - 1)]
            found = [self._points(tube) for tube in without if tube is not None]
            if not found:
                break
            best = _corners(found[int(Ways(found, self.ends.radius_mm).in_order()[0])])
        return best

    def wrong_with(self, corners: Corners) -> list[tuple[int, float]]:
        """The solids that the tube over these corners comes too near to, and by how much, the worst first."""
        return entered(self._points(corners).tolist(), self.ends.radius_mm, self.keepout)

    def _points(self, corners: Corners) -> Any:
        return np.array([self.ends.start_mm, *corners, self.ends.end_mm])

    def _between(self, first_mm: Any, second_mm: Any, middle: Any) -> Any:
        """Points of tubes with these reaches and corners (n, k, 3) between."""
        shape = (len(first_mm), 1, 3)
        ends = (
            np.broadcast_to(self._p, shape),
            self._p + first_mm[:, None, None] * self._u,
            middle,
            self._q - second_mm[:, None, None] * self._v,
            np.broadcast_to(self._q, shape),
        )
        return np.concatenate(ends, axis=1)

    def _with_ends(self, middle: Any) -> Any:
        """Tubes over corners (n, k, 3) with every pair of lead or reach at both ends."""
        firsts = self._starts(self._p, self._u, middle[:, 0], self.ends.least_mm[0])
        seconds = self._starts(self._q, -self._v, middle[:, -1], self.ends.least_mm[2])
        pairs = itertools.product(firsts, seconds)
        points = np.concatenate([self._between(a, b, middle) for a, b in pairs])
        return points[np.isfinite(points).all((1, 2))]

    def _starts(self, datum: Any, away: Any, aim: Any, least_mm: float) -> list[Any]:
        """The lead towards each aim, and reaches on the way to being level with it."""
        along = (aim - datum) @ away - least_mm
        return [
            least_mm + leads_mm(aim - datum, away, least_mm, self.ends.radius_mm),
            *(np.where(along > 0, least_mm + share * along, np.nan) for share in np.linspace(0, 1, LEADS + 1)[1:-1]),
        ]

    def _fitting(self, points: Any) -> Any:
        """Those of the tubes whose straights have their least, the gentlest first."""
        ways = Ways(points, self.ends.radius_mm)
        start, middle, end = self.ends.least_mm
        least = (start, *[middle] * (points.shape[1] - 3), end)
        order = ways.in_order()
        return points[order[ways.fit(least, SHARPEST_RAD)[order]]]

    def _best(self, points: Any) -> Corners | None:
        points = self._fitting(points)[:MOST_TRIED] if len(points) else points
        hits: Counter[int] = Counter()
        found = None
        for k in range(0, len(points), CHUNK):
            found = self._first_clear(points[k : k + CHUNK], hits)
            if found is not None:
                break
        self.hit = [k for k, _ in sorted(hits.items(), key=lambda h: (-h[1], h[0])) if k not in self.known]
        return None if found is None else self._improved(found)

    def _first_clear(self, points: Any, hits: Counter[int]) -> Any:
        """The first of these tubes that keeps clear; None: none does. Counts the solids that the others hit."""
        points = self._sieved(points, self.keepout.only(self.known), COARSE_MM, Counter())
        points = self._sieved(points, self.keepout, COARSE_MM, hits)
        points = self._sieved(points, self.keepout, STEP_MM, hits)
        for tube in points:
            if keeps_clear(tube.tolist(), self.ends.radius_mm, self.keepout):
                return tube
            wrong = entered(tube.tolist(), self.ends.radius_mm, self.keepout)
            self._note_miss(wrong[0][1], tube)
            hits[wrong[0][0]] += 1
        return None

    def _sieved(self, points: Any, keepout: Keepout, step_mm: float, hits: Counter[int]) -> Any:
        """Those of the tubes that keep clear at points a step apart."""
        if not len(points):
            return points
        worst, which = worst_mm(Ways(points, self.ends.radius_mm), keepout, step_mm)
        clear = worst >= -GRAZE_MM
        hits.update(which[~clear].tolist())
        if not clear.any() and -float(worst.max()) < self.missed_mm:
            best = points[int(worst.argmax())]
            self._note_miss(self.wrong_with(_corners(best))[0][1], best)
        return points[clear]

    def _note_miss(self, missing_mm: float, points: Any) -> None:
        if missing_mm < self.missed_mm:
            self.missed_mm, self.missed_over = missing_mm, _corners(points)

    def _improved(self, points: Any) -> Corners:
        """Move the corners step by step as long as the tube gets gentler, or as gentle and shorter, and keeps clear."""
        here, step = points, FIRST_STEP_MM
        for _ in range(MOST_STEPS):
            if step < LAST_STEP_MM:
                break
            better = self._better(here, step)
            if better is None:
                step /= 2
            else:
                here = better
        return _corners(here)

    def _better(self, here: Any, step_mm: float) -> Any:
        """The best clear tube within a step of this one; None: there is no better one."""
        now = Ways(here[None], self.ends.radius_mm)
        tries = self._fitting(self._moved(here, now, step_mm))
        if not len(tries):
            return None
        ways = Ways(tries, self.ends.radius_mm)
        gained = now.turn_rad[0] - ways.turn_rad
        shorter = now.length_mm[0] - ways.length_mm
        better = (gained > BETTER_RAD) | ((np.abs(gained) <= BETTER_RAD) & (shorter > BETTER_MM))
        tries = tries[better]
        for k in range(0, len(tries), FEW):
            for tube in self._sieved(tries[k : k + FEW], self.keepout, COARSE_MM, Counter()):
                if keeps_clear(tube.tolist(), self.ends.radius_mm, self.keepout):
                    return tube
        return None

    def _moved(self, here: Any, now: Ways, step_mm: float) -> Any:
        """The tubes that one step of one corner makes, its port's lead following it or not."""
        least = self.ends.least_mm
        reaches = np.array([(here[1] - self._p) @ self._u, (self._q - here[-2]) @ self._v])
        middle = here[2:-2]
        if not len(middle):
            moves = [m for m in itertools.product((-step_mm, 0.0, step_mm), repeat=2) if any(m)]
            new = np.maximum(reaches + np.array(moves), [least[0], least[2]])
            return self._between(new[:, 0], new[:, 1], np.empty((len(new), 0, 3)))
        middles = [middle]
        for k in range(len(middle)):
            for direction in self._frame(here, now, k + 1):
                for sign in (step_mm, -step_mm):
                    moved = middle.copy()
                    moved[k] += sign * direction
                    middles.append(moved)
        stacked = np.array(middles)
        count = len(stacked)
        follow = (
            least[0] + leads_mm(stacked[:, 0] - self._p, self._u, least[0], self.ends.radius_mm),
            least[2] + leads_mm(stacked[:, -1] - self._q, -self._v, least[2], self.ends.radius_mm),
        )
        kept = [(lead, np.full(count, reach)) for lead, reach in zip(follow, reaches, strict=True)]
        points = [self._between(a, b, stacked) for a, b in itertools.product(*kept)]
        shifts = np.array([(step_mm, 0.0), (-step_mm, 0.0), (0.0, step_mm), (0.0, -step_mm)])
        shifted = np.maximum(reaches + shifts, [least[0], least[2]])
        points.append(self._between(shifted[:, 0], shifted[:, 1], np.repeat(middle[None], len(shifts), axis=0)))
        every = np.concatenate(points)
        return every[np.isfinite(every).all((1, 2))]

    def _frame(self, here: Any, now: Ways, corner: int) -> list[Any]:
        """Directions to move a corner in: along its bend, towards its inside, and across its plane."""
        before, after = now.along[0, corner], now.along[0, corner + 1]
        along = before + after
        along = along / np.linalg.norm(along)
        inside = after - before
        size = float(np.linalg.norm(inside))
        if size < 1e-6:
            inside, size = self._u - (self._u @ along) * along, 1.0
            if np.linalg.norm(inside) < 1e-6:
                inside = np.cross(along, np.eye(3)[int(np.abs(along).argmin())])
        inside = inside / np.linalg.norm(inside)
        return [along, inside, np.cross(along, inside)]


def _corners(points: Any) -> Corners:
    return tuple((float(x), float(y), float(z)) for x, y, z in points[1:-1])
