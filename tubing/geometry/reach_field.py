"""All tubes of two bends between two ports, looked at coarsely and then closer and closer.

The field spans both reaches. Where a straight is at its least an edge of what fits runs through it; the shortest tube
lies on an edge, or where two of them meet.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from tubing.geometry.two_reaches import (
    FARTHEST,
    SHARPEST_RAD,
    Reaches,
    TwoPorts,
    all_margins_mm,
    fits,
    half_turn,
    length_mm,
)
from tubing.geometry.vectors import norm

REACHES = 140  # of the coarse look over both lines, along each
ZOOMS = 40  # each narrows the window to six tenths
GRID = 9  # reaches a side in a window
PEAKS = 6  # places of the coarse look that are followed up
ALIKE = 1.05  # places no longer than so many times the shortest are followed along the edges of what fits
STRAIGHTS = (0, 1, 2)
EDGES = (*STRAIGHTS, 3, 4)  # of what fits: a straight at its least, or a bend at its greatest
NEAR_EDGE = 1e-3  # of the size: a tube nearer to an edge may lie on it
SLIDES = 60  # steps along an edge, at most


class Field:
    """Length and margins over a grid of reaches, looked at coarsely and then closer and closer."""

    def __init__(self, ports: TwoPorts, radius_mm: float, most_rad: float = SHARPEST_RAD) -> None:
        self.ports, self.radius_mm, self.most_rad = ports, radius_mm, most_rad
        self.size_mm = norm(ports.gap_mm) + radius_mm + ports.start_mm + ports.middle_mm + ports.end_mm
        steps = np.concatenate([[0.0], np.geomspace(1e-4, FARTHEST, REACHES)]) * self.size_mm
        self.coarse = (ports.start_mm + steps, ports.end_mm + steps)

    def measure(self, first_mm: Any, second_mm: Any) -> tuple[Any, Any]:
        """Length of the tube and the largest radius that fits, for reaches of any equal shape."""
        gap, leave, arrive = (np.array(v) for v in (self.ports.gap_mm, self.ports.leave, self.ports.arrive))
        way = gap - first_mm[..., None] * leave - second_mm[..., None] * arrive
        span = np.sqrt((way * way).sum(-1))
        with np.errstate(divide="ignore", invalid="ignore"):
            halves = [half_turn(side, way, span) for side in (leave, arrive)]
            fits = np.minimum(
                np.minimum((first_mm - self.ports.start_mm) / halves[0], (second_mm - self.ports.end_mm) / halves[1]),
                (span - self.ports.middle_mm) / (halves[0] + halves[1]),
            )
            gains = sum(2 * (half - np.arctan(half)) for half in halves)
            length = first_mm + second_mm + span - self.radius_mm * gains
        sharpest = math.tan(self.most_rad / 2)
        fits = np.where((halves[0] <= sharpest) & (halves[1] <= sharpest), fits, 0.0)
        fits, length = np.nan_to_num(fits, nan=0.0, posinf=1e12), np.nan_to_num(length, nan=np.inf)
        return length, fits

    def coarse_look(self) -> tuple[Any, Any, Any, Any]:
        """Reaches, length and fitting radius over the whole coarse grid."""
        first, second = np.meshgrid(*self.coarse, indexing="ij")
        return first, second, *self.measure(first, second)

    def shortest(self) -> list[Reaches]:
        """The reaches of tubes that fit and are shorter than all near them."""
        first, second, length, room = self.coarse_look()
        starts = [
            Reaches(float(first[i, j]), float(second[i, j]))
            for i, j in _low_places(np.where(room >= self.radius_mm, length, np.inf))
        ]
        if not starts:
            starts = [place for radius, place in self.roomiest() if radius >= self.radius_mm]
        exact = sorted((self._polished(place) for place in self._zoomed(starts)), key=self.length_mm)
        near: list[Reaches] = []
        for place in exact:
            if self.length_mm(place) < ALIKE * self.length_mm(exact[0]) and not any(self._same(place, n) for n in near):
                near.append(place)
        return [
            *(place for place in near if self._held(place)),
            *(self._slid(place, which) for place in near if not self._held(place) for which in EDGES),
        ]

    def _held(self, place: Reaches) -> bool:
        """Whether two straights at their least hold the tube: no step that leaves both long enough makes it shorter.

        Then the slope of its length is a sum of the two straights' slopes, neither taken less than no times.
        """
        margins = self._margins(place)
        pair = [k for k in EDGES if abs(margins[k]) < 1e-9 * self.size_mm]
        if len(pair) != 2:
            return False
        step = 1e-6 * self.size_mm
        sides = [Reaches(place.first_mm + way * step, place.second_mm) for way in (1, -1)]
        sides += [Reaches(place.first_mm, place.second_mm + way * step) for way in (1, -1)]
        rows = [[self.length_mm(p), *(self._margins(p)[k] for k in pair)] for p in sides]
        (length_x, a_x, b_x), (length_y, a_y, b_y) = (
            [one - other for one, other in zip(rows[k], rows[k + 1], strict=True)] for k in (0, 2)
        )
        det = a_x * b_y - a_y * b_x
        return (length_x * b_y - length_y * b_x) * det > 0 and (a_x * length_y - a_y * length_x) * det > 0

    def _same(self, one: Reaches, other: Reaches) -> bool:
        return abs(one.first_mm - other.first_mm) + abs(one.second_mm - other.second_mm) < 1e-6 * self.size_mm

    def roomiest(self) -> list[tuple[float, Reaches]]:
        """Places where the largest radius fits, each followed to its top."""
        first, second, _, room = self.coarse_look()
        starts = [Reaches(float(first[i, j]), float(second[i, j])) for i, j in _low_places(-room)]
        return [
            (float(self.measure(np.array(place.first_mm), np.array(place.second_mm))[1]), place)
            for place in self._zoomed(starts, for_room=True)
        ]

    def _zoomed(self, places: Sequence[Reaches], for_room: bool = False) -> list[Reaches]:
        """Follow each place to the shortest tube near it, or to the one with the most room for a radius."""
        best = np.array([(place.first_mm, place.second_mm) for place in places]).reshape(-1, 2)
        window = 0.1 * np.maximum(best, 1e-3 * self.size_mm)
        steps = np.linspace(-1.0, 1.0, GRID)
        aside, along = (a.ravel() for a in np.meshgrid(steps, steps, indexing="ij"))
        rows = np.arange(len(best))
        for _ in range(ZOOMS):
            first = np.maximum(best[:, :1] + window[:, :1] * aside, self.ports.start_mm)
            second = np.maximum(best[:, 1:] + window[:, 1:] * along, self.ports.end_mm)
            length, room = self.measure(first, second)
            score = -room if for_room else np.where(room >= self.radius_mm, length, np.inf)
            at = score.argmin(1)
            found = np.stack([first[rows, at], second[rows, at]], axis=1)
            best = np.where(np.isfinite(score[rows, at])[:, None], found, best)
            edges = np.isin(at // GRID, (0, GRID - 1)) | np.isin(at % GRID, (0, GRID - 1))
            window = np.where(edges[:, None], window, window * 0.6)
        return [Reaches(float(x), float(y)) for x, y in best]

    def _margins(self, place: Reaches) -> tuple[float, ...]:
        """By how much each straight is longer than its least, and each bend's tangent shorter than its most, [mm]."""
        return all_margins_mm(self.ports, place, self.radius_mm, self.most_rad)

    def length_mm(self, place: Reaches) -> float:
        """Length of the tube with these reaches, [mm]."""
        return length_mm(self.ports, place, self.radius_mm)

    def _polished(self, place: Reaches) -> Reaches:
        """The same tube to full precision: the two straights that are nearest to their least brought there exactly."""
        found, margins = [place], self._margins(place)
        near = [k for k in EDGES if k in STRAIGHTS or abs(margins[k]) < NEAR_EDGE * self.size_mm]
        for pair in itertools.combinations(near, 2):
            exact = self._both_at_least(place, pair)
            if exact is not None:
                found.append(exact)
        return min(found, key=self.length_mm)

    def _slid(self, place: Reaches, which: int) -> Reaches:
        """The shortest tube near one, along the edge of what fits where one straight is at its least.

        The windows of ``_zoomed`` stop short where that edge lies aslant and is nearly level. Where another straight is
        at its least, the tube comes back as it is.
        """
        best = place
        if abs(self._margins(place)[which]) > NEAR_EDGE * self.size_mm:
            return best
        reach = 0.1 * self.size_mm
        for _ in range(SLIDES):
            along, inwards = self._edge(best, which)
            here = self._on_edge(best, along, inwards, 0.0, which) or best
            tries = [
                self._on_edge(here, along, inwards, step, which) for step in (-reach, -reach / 2, reach / 2, reach)
            ]
            best = min([here, *(t for t in tries if t is not None)], key=self.length_mm)
            if best not in (tries[0], tries[-1]):
                reach *= 0.4
            if reach < 1e-7 * self.size_mm:
                break
        return best

    def _edge(self, place: Reaches, which: int) -> tuple[tuple[float, float], tuple[float, float]]:
        """Unit directions in the field of reaches: along the edge where one margin stays as it is, and into it."""
        step = 1e-6 * self.size_mm
        x, y = place.first_mm, place.second_mm
        slope = [
            self._margin(x + step, y, which) - self._margin(x - step, y, which),
            self._margin(x, y + step, which) - self._margin(x, y - step, which),
        ]
        steep = math.hypot(*slope) or 1.0
        return (-slope[1] / steep, slope[0] / steep), (slope[0] / steep, slope[1] / steep)

    def _on_edge(
        self, place: Reaches, along: tuple[float, float], inwards: tuple[float, float], step_mm: float, which: int
    ) -> Reaches | None:
        """The tube on the edge, one step along it; None where none fits there."""
        x, y = place.first_mm + along[0] * step_mm, place.second_mm + along[1] * step_mm
        small = 1e-6 * self.size_mm
        for _ in range(8):
            here = self._margin(x, y, which)
            slope = (self._margin(x + inwards[0] * small, y + inwards[1] * small, which) - here) / small
            if abs(here) < 1e-11 * self.size_mm or abs(slope) < 1e-9:
                break
            x, y = x - inwards[0] * here / slope, y - inwards[1] * here / slope
        found = Reaches(x, y)
        return found if math.isfinite(x + y) and fits(self.ports, found, self.radius_mm, self.most_rad) else None

    def _margin(self, x: float, y: float, which: int) -> float:
        return self._margins(Reaches(x, y))[which]

    def _both_at_least(self, place: Reaches, pair: tuple[int, int]) -> Reaches | None:
        """Newton's method on two of the margins; None where it does not arrive nearby on a tube that fits."""
        x, y = place.first_mm, place.second_mm
        step = 1e-6 * self.size_mm
        for _ in range(30):
            here = self._pair(x, y, pair)
            if max(abs(m) for m in here) < 1e-11 * self.size_mm:
                break
            dx = [
                (b - a) / (2 * step)
                for a, b in zip(self._pair(x - step, y, pair), self._pair(x + step, y, pair), strict=True)
            ]
            dy = [
                (b - a) / (2 * step)
                for a, b in zip(self._pair(x, y - step, pair), self._pair(x, y + step, pair), strict=True)
            ]
            det = dx[0] * dy[1] - dx[1] * dy[0]
            if abs(det) < 1e-14:
                return None
            x -= (here[0] * dy[1] - here[1] * dy[0]) / det
            y -= (dx[0] * here[1] - dx[1] * here[0]) / det
            if not (math.isfinite(x) and math.isfinite(y)):
                return None
        exact = Reaches(x, y)
        near = abs(x - place.first_mm) + abs(y - place.second_mm) < 1e-3 * self.size_mm
        return exact if near and fits(self.ports, exact, self.radius_mm, self.most_rad) else None

    def _pair(self, x: float, y: float, pair: tuple[int, int]) -> tuple[float, float]:
        margins = self._margins(Reaches(x, y))
        return margins[pair[0]], margins[pair[1]]


def _low_places(values: Any) -> list[tuple[int, int]]:
    """Cells lower than all their neighbours, the lowest first, at most PEAKS; cells at infinity do not count."""
    padded = np.pad(values, 1, constant_values=np.inf)
    lowest_near = np.min(
        [
            padded[1 + di : 1 + di + values.shape[0], 1 + dj : 1 + dj + values.shape[1]]
            for di in (-1, 0, 1)
            for dj in (-1, 0, 1)
            if (di, dj) != (0, 0)
        ],
        axis=0,
    )
    cells = np.argwhere((values <= lowest_near) & np.isfinite(values))
    order = np.argsort(values[tuple(cells.T)], kind="stable")
    return [(int(cells[k][0]), int(cells[k][1])) for k in order[:PEAKS]]
