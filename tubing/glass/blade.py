"""A blade on its arm as it turns over the glass, on plain floats: where it is and what it sweeps.

Blade:   a straight line centred on the arm's tip, turned from the arm by the crank angle.
Inner and outer tip: the blade's ends nearer to the pivot and farther from it.
Fraction: how far the rack has gone from the park's dead end to the other, 0 to 1; one for all boxes.
Anticlockwise is as seen from the driver's seat, x to the right and y up the glass.
"""

from __future__ import annotations

import math

from msgspec import Struct
from msgspec.structs import replace

from tubing.errors import JobError
from tubing.geometry.vectors import Point2

CHORD_HEIGHT_MM = 0.01  # an arc and the chords it is drawn with are
THINNEST_MM = 1e-5  # of what is swept
SHORTEST_MM = 10  # of arms and blades; invented: nothing shorter wipes a screen
MOST_CRANK_DEG = 60  # invented: beyond it the blade no longer lies along its arm
Segment = tuple[Point2, Point2]


class Blade(Struct, frozen=True):
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
        check_lengths(self.name, self.arm_mm, self.blade_mm)
        if abs(self.crank_rad) > math.radians(MOST_CRANK_DEG):
            raise JobError(
                f"arm on {self.name!r}",
                f"its crank is {math.degrees(abs(self.crank_rad)):g} deg",
                f"it must be at most {MOST_CRANK_DEG} deg either way",
                "measure the angle of the blade to the arm",
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

    def path_mm(self, along_mm: float, chord_height_mm: float = CHORD_HEIGHT_MM) -> list[Point2]:
        """The arc of one point of the blade from park to the other dead end, as chords; one point at the pivot."""
        radius_mm = self.radius_mm(along_mm)
        if radius_mm <= chord_height_mm:
            return [self.pivot_mm]
        chords = math.ceil(self.sweep_rad / (2 * math.acos(1 - chord_height_mm / radius_mm)))
        (x, y), (start_x, start_y) = self.pivot_mm, self.point_mm(along_mm, 0.0)
        start_rad, chord_rad = math.atan2(start_y - y, start_x - x), self.turning * self.sweep_rad / chords
        turned = [start_rad + k * chord_rad for k in range(chords + 1)]
        return [(x + radius_mm * math.cos(a), y + radius_mm * math.sin(a)) for a in turned]

    def rings_mm(self) -> list[list[Point2]]:
        """What the blade sweeps, as one closed ring; two that overlap where the crank brings its middle nearest.

        Along a ring's part of the blade the distance from the pivot only grows, so every distance is swept over
        one arc of the sweep's angle and the ring cannot cross itself: blade at park, outer arc, blade at the
        other dead end, inner arc. A ring's area is sweep/2 (R2^2 - R1^2), with or without crank; the chords
        change it by at most 2/3 CHORD_HEIGHT_MM times the length of its arcs. The chords of a thin ring are half as
        high as it is thick; one thinner than THINNEST_MM is left out.
        """
        half = self.blade_mm / 2
        nearest = -self.arm_mm * math.cos(self.crank_rad)  # foot of the perpendicular from the pivot
        parts = ((nearest, half), (nearest, -half)) if -half < nearest < half else ((-half, half),)
        rings = []
        for inner_mm, outer_mm in parts:
            thick_mm = self.radius_mm(outer_mm) - self.radius_mm(inner_mm)
            if thick_mm > THINNEST_MM:
                chord_height_mm = min(CHORD_HEIGHT_MM, thick_mm / 2)
                outer, inner = (self.path_mm(along_mm, chord_height_mm) for along_mm in (outer_mm, inner_mm))
                rings.append(outer + inner[::-1])
        return rings


def check_sweep(name: str, sweep_rad: float) -> None:
    """Raise JobError unless 0 < sweep < 360 degrees."""
    if not 0 < sweep_rad < 2 * math.pi:
        raise JobError(
            f"sweep of {name!r}",
            f"it is {math.degrees(sweep_rad):g} deg",
            "it must be more than 0 and less than 360 deg",
            "choose one such as '110 deg'",
        )


def check_lengths(name: str, arm_mm: float, blade_mm: float) -> None:
    """Raise JobError unless the arm can carry the blade: the inner end must not pass the pivot."""
    if min(arm_mm, blade_mm) < SHORTEST_MM:
        raise JobError(
            f"arm on {name!r}",
            f"its arm is {arm_mm:g} mm and its blade {blade_mm:g} mm long",
            f"both must be at least {SHORTEST_MM} mm",
            "give the lengths as measured",
        )
    if blade_mm > 2 * arm_mm:
        raise JobError(
            f"arm on {name!r}",
            f"a blade of {blade_mm:g} mm on an arm of {arm_mm:g} mm would pass the pivot",
            f"this arm takes at most {2 * arm_mm:g} mm",
            "choose a shorter blade or a longer arm",
        )
