"""A blade on its arm as it turns over the glass, on plain floats: where it is, what it sweeps, how near two come.

Blade:   a straight line centred on the arm's tip, turned from the arm by the crank angle.
Inner and outer tip: the blade's ends nearer to the pivot and farther from it.
Fraction: how far the rack has gone from the park's dead end to the other, 0 to 1; one for all boxes.
Anticlockwise is as seen from the driver's seat, x to the right and y up the glass.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

from tubing.errors import JobError
from tubing.job.records import Point2

CHORD_HEIGHT_MM = 0.01  # an arc and the chords it is drawn with are never farther apart than this
DISTANCE_ERROR_MM = 0.1  # how much less the least distance of two blades may be than what is given

Segment = tuple[Point2, Point2]


@dataclass(frozen=True, slots=True)
class Blade:
    """One blade, its arm and its motion. Raises JobError: a blade or a sweep that cannot be."""

    name: str  # of the wheelbox
    pivot_mm: Point2
    arm_mm: float  # pivot to the middle of the blade
    blade_mm: float
    crank_rad: float  # from the arm to the blade, anticlockwise positive
    parked_rad: float  # the arm's direction at park, anticlockwise from the x axis
    sweep_rad: float  # 0 < sweep < 2 pi
    turning: int  # out of park: +1 anticlockwise, -1 clockwise
    lost_rad: float = 0.0  # the arm's lost motion, as an angle at its spindle

    def __post_init__(self) -> None:
        check_sweep(self.name, self.sweep_rad)
        if self.arm_mm <= 0 or self.blade_mm <= 0:
            raise JobError(
                f"arm on {self.name!r}",
                f"its arm is {self.arm_mm:g} mm and its blade {self.blade_mm:g} mm long",
                "both must be longer than 0",
                "give the lengths as measured",
            )
        if self.blade_mm > 2 * self.arm_mm:
            raise JobError(
                f"arm on {self.name!r}",
                f"a blade of {self.blade_mm:g} mm on an arm of {self.arm_mm:g} mm would pass the pivot",
                f"this arm takes at most {2 * self.arm_mm:g} mm",
                "choose a shorter blade or a longer arm",
            )

    def arm_rad(self, fraction: float) -> float:
        """The arm's direction when the rack has gone ``fraction`` of its stroke out of park."""
        return self.parked_rad + self.turning * self.sweep_rad * fraction

    def ends_mm(self, fraction: float) -> Segment:
        """Inner and outer tip at a fraction of the stroke."""
        arm = self.arm_rad(fraction)
        x = self.pivot_mm[0] + self.arm_mm * math.cos(arm)
        y = self.pivot_mm[1] + self.arm_mm * math.sin(arm)
        half_x = self.blade_mm / 2 * math.cos(arm + self.crank_rad)
        half_y = self.blade_mm / 2 * math.sin(arm + self.crank_rad)
        return (x - half_x, y - half_y), (x + half_x, y + half_y)

    def point_mm(self, along_mm: float, fraction: float) -> Point2:
        """The blade's point ``along_mm`` outwards from its middle."""
        arm = self.arm_rad(fraction)
        blade = arm + self.crank_rad
        return (
            self.pivot_mm[0] + self.arm_mm * math.cos(arm) + along_mm * math.cos(blade),
            self.pivot_mm[1] + self.arm_mm * math.sin(arm) + along_mm * math.sin(blade),
        )

    def radius_mm(self, along_mm: float) -> float:
        """Distance from the pivot to the blade's point ``along_mm`` outwards from its middle.

        >>> Blade("near", (0, 0), 300, 280, 0.0, 0.0, 1.0, 1).radius_mm(140.0)
        440.0
        """
        return math.hypot(self.arm_mm + along_mm * math.cos(self.crank_rad), along_mm * math.sin(self.crank_rad))

    @property
    def reach_mm(self) -> float:
        """The farthest that any point of the blade is from the pivot."""
        return max(self.radius_mm(self.blade_mm / 2), self.radius_mm(-self.blade_mm / 2))

    def lagging(self) -> Blade | None:
        """The sweep that lost motion leaves: half of it is lost at each dead end. None: it leaves nothing."""
        left_rad = self.sweep_rad - self.lost_rad
        if left_rad <= 0:
            return None
        start_rad = self.parked_rad + self.turning * self.lost_rad / 2
        return replace(self, parked_rad=start_rad, sweep_rad=left_rad)

    def path_mm(self, along_mm: float) -> list[Point2]:
        """The arc of one point of the blade from park to the other dead end, as chords."""
        radius_mm = self.radius_mm(along_mm)
        if radius_mm <= CHORD_HEIGHT_MM:
            return [self.point_mm(along_mm, 0.0), self.point_mm(along_mm, 1.0)]
        chords = math.ceil(self.sweep_rad / (2 * math.acos(1 - CHORD_HEIGHT_MM / radius_mm)))
        return [self.point_mm(along_mm, k / chords) for k in range(chords + 1)]

    def rings_mm(self) -> list[list[Point2]]:
        """What the blade sweeps, as one closed ring; two that overlap where the crank brings its middle nearest.

        Along a ring's part of the blade the distance from the pivot only grows, so every distance is swept over
        one arc of the sweep's angle and the ring cannot cross itself: blade at park, outer arc, blade at the
        other dead end, inner arc. A ring's area is sweep/2 (R2^2 - R1^2), with or without crank; the chords
        change it by at most 2/3 CHORD_HEIGHT_MM times the length of its arcs.
        """
        half = self.blade_mm / 2
        nearest = -self.arm_mm * math.cos(self.crank_rad)  # foot of the perpendicular from the pivot
        if not -half < nearest < half:
            return [self._ring_mm(-half, half)]
        return [self._ring_mm(nearest, half), self._ring_mm(nearest, -half)]

    def _ring_mm(self, inner_mm: float, outer_mm: float) -> list[Point2]:
        return self.path_mm(outer_mm) + self.path_mm(inner_mm)[::-1]


def check_sweep(name: str, sweep_rad: float) -> None:
    """Raise JobError unless 0 < sweep < 360 degrees."""
    if not 0 < sweep_rad < 2 * math.pi:
        raise JobError(
            f"sweep of {name!r}",
            f"it is {math.degrees(sweep_rad):g} deg",
            "it must be more than 0 and less than 360 deg",
            "choose one such as '110 deg'",
        )


def segment_distance_mm(first: Segment, second: Segment) -> float:
    """Least distance of two straight lines in the plane; 0 where they cross.

    >>> segment_distance_mm(((0, 0), (10, 0)), ((4, 3), (4, 9)))
    3.0
    >>> segment_distance_mm(((0, 0), (10, 0)), ((4, -3), (4, 9)))
    0.0
    """
    (a, b), (c, d) = first, second
    if _side(a, b, c) * _side(a, b, d) < 0 and _side(c, d, a) * _side(c, d, b) < 0:
        return 0.0
    return min(_to_segment(a, c, d), _to_segment(b, c, d), _to_segment(c, a, b), _to_segment(d, a, b))


def _side(a: Point2, b: Point2, p: Point2) -> float:
    return (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])


def _to_segment(p: Point2, a: Point2, b: Point2) -> float:
    along_x, along_y = b[0] - a[0], b[1] - a[1]
    from_x, from_y = p[0] - a[0], p[1] - a[1]
    squared = along_x * along_x + along_y * along_y
    part = min(1.0, max(0.0, (from_x * along_x + from_y * along_y) / squared)) if squared else 0.0
    return math.hypot(from_x - part * along_x, from_y - part * along_y)


def least_distance_mm(first: Blade, second: Blade) -> float:
    """Least distance of two blades on one rack through the whole cycle; 0: they meet.

    Either may lag by up to its lost motion, in both strokes, and neither passes its dead ends: the fractions at
    which they stand differ by at most the greater of lost motion / sweep. The true least is at most
    DISTANCE_ERROR_MM less than what is given.
    """
    for low_mm, least_mm in _narrowed(first, second):
        if least_mm - low_mm <= DISTANCE_ERROR_MM:
            return least_mm
    raise AssertionError("the narrowing never ends by itself")


def keep_apart(first: Blade, second: Blade, wanted_mm: float) -> bool:
    """Whether ``least_distance_mm`` is at least ``wanted_mm``, as soon as that is known."""
    for low_mm, least_mm in _narrowed(first, second):
        if least_mm < wanted_mm:
            return False
        if low_mm >= wanted_mm or least_mm - low_mm <= DISTANCE_ERROR_MM:
            return True
    raise AssertionError("the narrowing never ends by itself")


def _narrowed(first: Blade, second: Blade) -> Iterator[tuple[float, float]]:
    """Pairs (no less than this, least found so far) that close in on the least distance.

    Best-first halving of cells in (mean fraction, difference of fractions). A cell holds nothing less than the
    distance at its middle less what the blades can move within the cell. That is the lesser of two bounds: each
    blade's tip on its own; or, as seen from the first blade, the second's pivot going round plus its own turning.
    """
    apart = max(first.lost_rad / first.sweep_rad, second.lost_rad / second.sweep_rad)
    pivots_mm = math.dist(first.pivot_mm, second.pivot_mm)
    turn_1, turn_2 = first.turning * first.sweep_rad, second.turning * second.sweep_rad
    tips = first.reach_mm * first.sweep_rad + second.reach_mm * second.sweep_rad

    def seen(own: Blade, own_turn: float, other_turn: float, other: Blade) -> tuple[float, float]:
        relative = other.reach_mm
        return (
            pivots_mm * abs(own_turn) + relative * abs(other_turn - own_turn),
            (pivots_mm * abs(own_turn) + relative * (abs(own_turn) + abs(other_turn))) / 2,
        )

    slopes = [(tips, tips / 2), seen(first, turn_1, turn_2, second), seen(second, turn_2, turn_1, first)]

    def middle_mm(mean: float, difference: float) -> float:
        one = min(1.0, max(0.0, mean + difference / 2))
        two = min(1.0, max(0.0, mean - difference / 2))
        return segment_distance_mm(first.ends_mm(one), second.ends_mm(two))

    def cell(mean: float, difference: float, half: float, half_difference: float) -> tuple[float, ...]:
        at_mm = middle_mm(mean, difference)
        # Fractions are held at the dead ends, where only one of the two goes on: there the first bound counts.
        held = mean - half - abs(difference) / 2 - half_difference < 0 or (
            mean + half + abs(difference) / 2 + half_difference > 1
        )
        bounds = [a * half + b * half_difference for a, b in (slopes[:1] if held and apart else slopes)]
        return (at_mm - min(bounds), at_mm, mean, difference, half, half_difference)

    cells = [cell((k + 0.5) / 8, 0.0, 1 / 16, apart) for k in range(8)]
    heapq.heapify(cells)
    least_mm = min(c[1] for c in cells)
    while True:
        low_mm, _, mean, difference, half, half_difference = cells[0]
        yield max(0.0, low_mm), least_mm  # a distance is never less than 0
        if half >= half_difference / 2:
            halves = [cell(mean + k * half / 2, difference, half / 2, half_difference) for k in (-1, 1)]
        else:
            halves = [cell(mean, difference + k * half_difference / 2, half, half_difference / 2) for k in (-1, 1)]
        heapq.heapreplace(cells, halves[0])
        heapq.heappush(cells, halves[1])
        least_mm = min(least_mm, halves[0][1], halves[1][1])
