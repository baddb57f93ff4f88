"""Many tubes at once, each over as many corners: straights, turns, lengths, points along them, and what they come near.

Way:  one centre line, as start, corners and end.
Room: what its straights are longer than they must be.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from tubing.geometry.bends import LEAST_BEND_RAD
from tubing.geometry.solids import Keepout, Solid
from tubing.geometry.vectors import Vector

GRAZE_MM = 0.001  # a centre line that is nearer than needed by less is clear
SURE_MM = 0.009  # and so well its least distance is known: together a tube enters by 0.01 mm at most
STEP_MM = 16.0  # of the first look along a centre line
CLOSE_STEP_MM = 0.25  # to tell how near a line comes
NO_BEND_RAD = 1e-9  # two legs that differ by less are one
SECTIONS = 8  # of many ways, each looked at only for the solids near it
ROOM_MM = 1e-6  # a straight may be short of its least by rounding


class Ways:
    """Centre lines over corners, every bend of one radius; points of shape (ways, corners + 2, 3)."""

    def __init__(self, points_mm: Any, radius_mm: float) -> None:
        self.points_mm = np.asarray(points_mm, dtype=float)
        self.radius_mm = radius_mm
        legs = self.points_mm[:, 1:] - self.points_mm[:, :-1]
        spans = np.sqrt((legs * legs).sum(-1))
        with np.errstate(divide="ignore", invalid="ignore"):
            self.along = np.where(spans[..., None] > 0, legs / spans[..., None], 0.0)
        before, after = self.along[:, :-1], self.along[:, 1:]
        self._cos = (before * after).sum(-1)
        aside = after - self._cos[..., None] * before
        self._sine = np.sqrt((aside * aside).sum(-1))
        self.turns_rad = np.arctan2(self._sine, self._cos)
        self.tangents_mm = radius_mm * np.tan(self.turns_rad / 2)
        padded = np.pad(self.tangents_mm, ((0, 0), (1, 1)))
        self.straights_mm = spans - padded[:, :-1] - padded[:, 1:]
        self.turn_rad = self.turns_rad.sum(-1)
        self.length_mm = self.straights_mm.sum(-1) + radius_mm * self.turn_rad
        with np.errstate(divide="ignore", invalid="ignore"):
            self._inside = np.where(self._sine[..., None] > 1e-12, aside / self._sine[..., None], 0.0)

    def taken(self, chosen: Any) -> Ways:
        """The chosen ones of these."""
        return Ways(self.points_mm[chosen], self.radius_mm)

    def fit(self, least_mm: Sequence[float], sharpest_rad: float) -> Any:
        """Which of them leave every straight its least, bend nowhere sharper, and by no less than can be set."""
        turns = self.turns_rad
        can_be_set = (turns >= LEAST_BEND_RAD) | (turns <= NO_BEND_RAD)
        roomy = (self.straights_mm >= np.array(least_mm) - ROOM_MM).all(-1)
        return roomy & (can_be_set & (turns <= sharpest_rad)).all(-1)

    def in_order(self) -> Any:
        """Their places by least turn (to 1e-7 rad), then length."""
        return np.lexsort((self.length_mm, np.round(self.turn_rad, 7)))

    def places_mm(self, along_mm: Any) -> Any:
        """Points at distances (ways, n) along the centre lines: (ways, n, 3)."""
        count, corners = self.turns_rad.shape
        pieces = np.zeros((count, 2 * corners + 1))
        pieces[:, 0::2], pieces[:, 1::2] = self.straights_mm, self.radius_mm * self.turns_rad
        ends = np.cumsum(pieces, axis=1)[:, :-1]
        piece = (along_mm[:, :, None] > ends[:, None, :]).sum(-1)
        starts = np.concatenate([np.zeros((count, 1)), ends], axis=1)
        origin = np.empty((count, 2 * corners + 1, 3))
        origin[:, 0] = self.points_mm[:, 0]
        corner, setback = self.points_mm[:, 1:-1], self.tangents_mm[..., None]
        origin[:, 1::2] = corner - setback * self.along[:, :-1]
        origin[:, 2::2] = corner + setback * self.along[:, 1:]
        inside = np.zeros_like(origin)
        inside[:, 1::2] = self._inside
        heading = np.empty_like(origin)
        heading[:, 0::2], heading[:, 1::2] = self.along, self.along[:, :-1]
        rows = np.arange(count)[:, None]
        gone = along_mm - starts[rows, piece]
        turned = np.where(piece % 2 == 1, gone / self.radius_mm, 0.0)
        ahead = np.where(piece % 2 == 1, self.radius_mm * np.sin(turned), gone)
        aside = 2 * self.radius_mm * np.sin(turned / 2) ** 2
        return origin[rows, piece] + ahead[..., None] * heading[rows, piece] + aside[..., None] * inside[rows, piece]

    def evenly_mm(self, step_mm: float) -> Any:
        """Points along them no further apart than a step, the same number on each."""
        steps = max(1, math.ceil(float(self.length_mm.max()) / step_mm))
        return self.places_mm(np.linspace(0.0, 1.0, steps + 1)[None, :] * self.length_mm[:, None])


def worst_mm(ways: Ways, keepout: Keepout, step_mm: float) -> tuple[Any, Any]:
    """For each way the least slack of points a step apart, [mm], and of which solid (its place in the first list).

    What lies between the points may be worse by half a step. Solids that no point can be too near to do not count.
    """
    count = len(ways.points_mm)
    worst, which = np.full(count, np.inf), np.zeros(count, dtype=int)
    near = keepout.near(ways.points_mm)
    if not near.count:
        return worst, which
    points = ways.evenly_mm(step_mm)
    for section in np.array_split(points, max(1, min(SECTIONS, points.shape[1] // 2)), axis=1):
        here = near.near(section)
        if here.count:
            slacks = here.slacks_mm(section).min(1)
            least = slacks.min(-1)
            which = np.where(least < worst, here.which[slacks.argmin(-1)], which)
            worst = np.minimum(worst, least)
    return worst, which


def least_distances_mm(points_mm: Sequence[Vector], radius_mm: float, solids: Sequence[Solid]) -> list[float]:
    """How near a centre line over these points comes to each solid, [mm]; negative inside.

    It is looked at every :data:`CLOSE_STEP_MM`, so what is given is at most half of that too large; where the line
    passes a solid by, far less.

    >>> from tubing.geometry.solids import Ball
    >>> ball = Ball((50.0, 30.0, 0.0), 10.0)
    >>> least_distances_mm([(0.0, 0.0, 0.0), (100.0, 0.0, 0.0)], 1.0, [ball])
    [20.0]
    """
    points = Ways([points_mm], radius_mm).evenly_mm(CLOSE_STEP_MM)[0]
    slacks = Keepout(solids, [0.0] * len(solids)).slacks_mm(points)
    return [float(least) for least in slacks.min(0)]


def entered(points_mm: Sequence[Vector], radius_mm: float, keepout: Keepout) -> list[tuple[int, float]]:
    """The solids that one centre line comes too near to, and by how much, [mm], the worst first.

    Sure to :data:`SURE_MM`: distance cannot change faster than one goes along the line, so between two points it is at
    least half their sum less half the way between them; what may still be too near is looked at closer and closer.
    """
    near = keepout.near(points_mm)
    if not near.count:
        return []
    way = Ways([list(points_mm)], radius_mm)
    stations = np.linspace(0.0, float(way.length_mm[0]), max(2, math.ceil(float(way.length_mm[0]) / STEP_MM) + 1))
    slacks = near.slacks_mm(way.places_mm(stations[None, :])[0])
    lowest = ((slacks[1:] + slacks[:-1] - np.diff(stations)[:, None]) / 2).min(0)
    found = []
    for k in np.nonzero(lowest < -SURE_MM)[0]:
        least = _least_mm(way, near.only([int(k)]), stations, slacks[:, k])
        if least < -GRAZE_MM:
            found.append((int(near.which[k]), -least))
    return sorted(found, key=lambda f: (-f[1], f[0]))


def keeps_clear(points_mm: Sequence[Vector], radius_mm: float, keepout: Keepout) -> bool:
    """Whether one centre line comes too near to nothing: as :func:`entered`, but it stops at the first that is."""
    near = keepout.near(points_mm)
    if not near.count:
        return True
    way = Ways([list(points_mm)], radius_mm)
    stations = np.linspace(0.0, float(way.length_mm[0]), max(2, math.ceil(float(way.length_mm[0]) / STEP_MM) + 1))
    slacks = near.slacks_mm(way.places_mm(stations[None, :])[0])
    left, right, at_left, at_right = stations[:-1], stations[1:], slacks[:-1], slacks[1:]
    while not (at_left < -GRAZE_MM).any() and not (at_right < -GRAZE_MM).any():
        open_ = (at_left + at_right - (right - left)[:, None]) / 2 < -SURE_MM
        rows, solids = open_.any(1), open_.any(0)
        if not rows.any():
            return True
        near = near.only(solids)
        left, right = left[rows], right[rows]
        at_left, at_right = at_left[rows][:, solids], at_right[rows][:, solids]
        middle = (left + right) / 2
        at_middle = near.slacks_mm(way.places_mm(middle[None, :])[0])
        left, right = np.concatenate([left, middle]), np.concatenate([middle, right])
        at_left, at_right = np.concatenate([at_left, at_middle]), np.concatenate([at_middle, at_right])
    return False


def _least_mm(way: Ways, solid: Keepout, stations: Any, slacks: Any) -> float:
    """The least slack along one way: to SURE_MM where it is negative, or not below -SURE_MM."""
    left, right, at_left, at_right = stations[:-1], stations[1:], slacks[:-1], slacks[1:]
    best = float(slacks.min())
    while True:
        open_ = (at_left + at_right - (right - left)) / 2 < min(best, 0.0) - SURE_MM
        if not open_.any():
            return best
        left, right, at_left, at_right = left[open_], right[open_], at_left[open_], at_right[open_]
        middle = (left + right) / 2
        at_middle = solid.slacks_mm(way.places_mm(middle[None, :])[0])[:, 0]
        best = min(best, float(at_middle.min()))
        left, right = np.concatenate([left, middle]), np.concatenate([middle, right])
        at_left, at_right = np.concatenate([at_left, at_middle]), np.concatenate([at_middle, at_right])
