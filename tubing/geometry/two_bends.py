"""The shortest tube of two bends between two ports.

Reach: how far along a port's own line the corner lies. Two reaches decide the whole tube: the corners, the direction
between them, both angles, all straights. So nothing has to be solved, only searched: over the two reaches, for the
shortest tube whose three straights are long enough. Along a branch of tubes the length falls as the outer straights
shrink (its slope is 1 - cos of the bend's angle), so the shortest tube has its least straights, or the shortest
middle one allowed.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from msgspec import Struct

from tubing.geometry.vectors import Vector, add, angle_rad, norm, scale, sub

ALONG = 1500  # reaches looked at along one port's line
REACHES = 140  # of the coarse look over both lines, along each
ZOOMS = 40  # each narrows the window to six tenths
GRID = 9  # reaches a side in a window
PEAKS = 6  # places of the coarse look that are followed up
ALIKE = 1.05  # places no longer than so many times the shortest are followed along the edges of what fits
SLIDES = 60  # steps along an edge, at most
FARTHEST = 13.0  # longest reach looked at, in sizes of the problem: what bends up to the sharpest can need
SHARPEST_RAD = math.radians(170)  # of a bend that the program adds by itself
TOLERANCE_MM = 1e-9


class TwoPorts(Struct, frozen=True):
    """Two ports as seen from the first: where the second is, and the straights that must be left."""

    gap_mm: Vector  # from the first port's datum to the second's
    leave: Vector  # heading at the first port
    arrive: Vector  # heading at the second port
    start_mm: float  # least straight at the first port
    middle_mm: float  # least straight between the bends
    end_mm: float  # least straight at the second port


class Reaches(Struct, frozen=True):
    """How far the two corners lie from their ports, along the ports' lines, [mm]."""

    first_mm: float
    second_mm: float


def corners_mm(ports: TwoPorts, reaches: Reaches) -> tuple[Vector, Vector]:
    """The two corners, counted from the first port's datum, [mm]."""
    return scale(ports.leave, reaches.first_mm), add(ports.gap_mm, ports.arrive, -reaches.second_mm)


def margins_mm(ports: TwoPorts, reaches: Reaches, radius_mm: float) -> tuple[float, float, float]:
    """By how much the three straights are longer than they must be, [mm]; a negative one is too short."""
    first, second = corners_mm(ports, reaches)
    way = sub(second, first)
    tangents = [radius_mm * math.tan(angle_rad(side, way) / 2) for side in (ports.leave, ports.arrive)]
    return (
        reaches.first_mm - tangents[0] - ports.start_mm,
        norm(way) - tangents[0] - tangents[1] - ports.middle_mm,
        reaches.second_mm - tangents[1] - ports.end_mm,
    )


def fits(ports: TwoPorts, reaches: Reaches, radius_mm: float) -> bool:
    """Whether every straight has its least and no bend is too sharp."""
    first, second = corners_mm(ports, reaches)
    way = sub(second, first)
    sharpest = max(angle_rad(ports.leave, way), angle_rad(ports.arrive, way))
    return sharpest <= SHARPEST_RAD and min(margins_mm(ports, reaches, radius_mm)) >= -TOLERANCE_MM


def shortest(ports: TwoPorts, radius_mm: float, thorough: bool = True) -> Reaches | None:
    """The reaches of the shortest tube of two bends that leaves every straight its least; None: there is none.

    Bends up to 170 degrees are looked at; where not ``thorough``, only gentle ones, each under a right angle.
    Source of the shape: L. E. Dubins, American Journal of Mathematics 79 (1957); the search is our own.
    """
    quick = _by_fixed_point(ports, radius_mm)
    if quick is not None or not thorough:
        return quick
    field = _Field(ports, radius_mm)
    found = [*_with_least_straights(ports, radius_mm, field.size_mm), *field.shortest()]
    return min((r for r in found if fits(ports, r, radius_mm)), key=field.length_mm, default=None)


def largest_radius_mm(ports: TwoPorts, too_large_mm: float) -> float:
    """The largest radius with which a tube of two bends fits, [mm]; 0: none does.

    ``too_large_mm``: a radius for which :func:`shortest` found no tube.
    """
    return max((radius for radius, _ in _Field(ports, too_large_mm).roomiest()), default=0.0)


def _by_fixed_point(ports: TwoPorts, radius_mm: float) -> Reaches | None:
    """Least outer straights, tangents found by iteration from no bend at all; None where that says nothing.

    Accepted only where both bends are under a right angle: no other tube can then be shorter.
    """
    reaches = Reaches(ports.start_mm, ports.end_mm)
    for _ in range(60):
        first, second = corners_mm(ports, reaches)
        way = sub(second, first)
        angles = angle_rad(ports.leave, way), angle_rad(ports.arrive, way)
        if max(angles) > math.pi / 2:
            return None
        following = Reaches(
            ports.start_mm + radius_mm * math.tan(angles[0] / 2),
            ports.end_mm + radius_mm * math.tan(angles[1] / 2),
        )
        moved = abs(following.first_mm - reaches.first_mm) + abs(following.second_mm - reaches.second_mm)
        reaches = following
        if moved < 1e-12 * (radius_mm + 1):
            middle = margins_mm(ports, reaches, radius_mm)[1]
            return reaches if middle >= 0 else None
    return None


def _with_least_straights(ports: TwoPorts, radius_mm: float, size_mm: float) -> list[Reaches]:
    """Every tube whose outer straights are the least and whose middle one is long enough.

    The first corner decides the second: from it, the tube runs on the tangent to the circle that leads into the second
    port. What is left is one equation in the first reach.
    """
    steps = np.concatenate([[0.0], np.geomspace(1e-5, FARTHEST, ALONG)]) * size_mm
    first = ports.start_mm + steps
    left = _left_over(ports, radius_mm, first)[0]
    with np.errstate(invalid="ignore"):
        changes = np.nonzero(np.signbit(left[:-1]) != np.signbit(left[1:]))[0]
    found = []
    for k in changes:
        low, high = float(first[k]), float(first[k + 1])
        at_low = float(left[k])
        if not (math.isfinite(at_low) and math.isfinite(float(left[k + 1]))):
            continue
        for _ in range(80):
            middle = (low + high) / 2
            here = float(_left_over(ports, radius_mm, np.array(middle))[0])
            low, high = (middle, high) if (here < 0) == (at_low < 0) else (low, middle)
        place = Reaches(low, float(_left_over(ports, radius_mm, np.array(low))[1]))
        if fits(ports, place, radius_mm):
            found.append(place)
    return found


def _left_over(ports: TwoPorts, radius_mm: float, first_mm: Any) -> tuple[Any, Any]:
    """First straight beyond its least, and the second reach, for first reaches of any shape; nan: no tangent."""
    gap, leave, arrive = (np.array(v) for v in (ports.gap_mm, ports.leave, ports.arrive))
    corner = first_mm[..., None] * leave
    back = corner - (gap - ports.end_mm * arrive)  # from where the second bend has to end
    along = -(back @ arrive)
    aside = np.linalg.norm(back + along[..., None] * arrive, axis=-1) - radius_mm
    with np.errstate(invalid="ignore"):
        straight = np.sqrt(along**2 + aside**2 - radius_mm**2)
        turn = (np.arctan2(aside, along) + np.arctan2(radius_mm, straight)) % (2 * math.pi)
        turn = np.where(turn < math.pi, turn, np.nan)
        second = ports.end_mm + radius_mm * np.tan(turn / 2)
        way = gap - second[..., None] * arrive - corner
        half = _half_turn(leave, way, np.sqrt((way * way).sum(-1)))
        return first_mm - ports.start_mm - radius_mm * half, second


def _half_turn(side: Any, way: Any, span: Any) -> Any:
    """Tangent of half the angle between a direction and the ways of length ``span``."""
    x, y, z = way[..., 0], way[..., 1], way[..., 2]
    sine = np.sqrt(
        (side[1] * z - side[2] * y) ** 2 + (side[2] * x - side[0] * z) ** 2 + (side[0] * y - side[1] * x) ** 2
    )
    cosine = way @ side
    # Of the two forms the one that loses no digits: nearly straight back, the other is nought by nought.
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(cosine >= 0, sine / (span + cosine), (span - cosine) / sine)


class _Field:
    """Length and margins over a grid of reaches, looked at coarsely and then closer and closer."""

    def __init__(self, ports: TwoPorts, radius_mm: float) -> None:
        self.ports, self.radius_mm = ports, radius_mm
        self.size_mm = norm(ports.gap_mm) + radius_mm + ports.start_mm + ports.middle_mm + ports.end_mm
        steps = np.concatenate([[0.0], np.geomspace(1e-4, FARTHEST, REACHES)]) * self.size_mm
        self.coarse = (ports.start_mm + steps, ports.end_mm + steps)

    def measure(self, first_mm: Any, second_mm: Any) -> tuple[Any, Any]:
        """Length of the tube and the largest radius that fits, for reaches of any equal shape."""
        gap, leave, arrive = (np.array(v) for v in (self.ports.gap_mm, self.ports.leave, self.ports.arrive))
        way = gap - first_mm[..., None] * leave - second_mm[..., None] * arrive
        span = np.sqrt((way * way).sum(-1))
        with np.errstate(divide="ignore", invalid="ignore"):
            halves = [_half_turn(side, way, span) for side in (leave, arrive)]
            fits = np.minimum(
                np.minimum((first_mm - self.ports.start_mm) / halves[0], (second_mm - self.ports.end_mm) / halves[1]),
                (span - self.ports.middle_mm) / (halves[0] + halves[1]),
            )
            gains = sum(2 * (half - np.arctan(half)) for half in halves)
            length = first_mm + second_mm + span - self.radius_mm * gains
        sharpest = math.tan(SHARPEST_RAD / 2)
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
        near = [place for place in exact if self.length_mm(place) < ALIKE * self.length_mm(exact[0])]
        return [self._slid(place, which) for place in near for which in range(3)]

    def roomiest(self) -> list[tuple[float, Reaches]]:
        """Places where the largest radius fits, each followed to its top."""
        first, second, _, room = self.coarse_look()
        starts = [Reaches(float(first[i, j]), float(second[i, j])) for i, j in _low_places(-room)]
        return [(float(self._at(place)[1]), place) for place in self._zoomed(starts, for_room=True)]

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

    def _at(self, place: Reaches) -> tuple[Any, Any]:
        return self.measure(np.array(place.first_mm), np.array(place.second_mm))

    def length_mm(self, place: Reaches) -> float:
        """Length of the tube with these reaches, [mm]."""
        return float(self._at(place)[0])

    def _polished(self, place: Reaches) -> Reaches:
        """The same tube to full precision: the two straights that are nearest to their least brought there exactly."""
        found = [place]
        for pair in ((0, 2), (0, 1), (1, 2)):
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
        if abs(margins_mm(self.ports, place, self.radius_mm)[which]) > 1e-3 * self.size_mm:
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
        return found if math.isfinite(x + y) and fits(self.ports, found, self.radius_mm) else None

    def _margin(self, x: float, y: float, which: int) -> float:
        return margins_mm(self.ports, Reaches(x, y), self.radius_mm)[which]

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
        return exact if near and fits(self.ports, exact, self.radius_mm) else None

    def _pair(self, x: float, y: float, pair: tuple[int, int]) -> tuple[float, float]:
        margins = margins_mm(self.ports, Reaches(x, y), self.radius_mm)
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
