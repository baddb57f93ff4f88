"""Where a wheelbox's ports lie, and which headings are worth trying where the fitter left one free."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from msgspec import Struct

from tubing.centreline.between import PortAt
from tubing.errors import GeometryError, JobError
from tubing.geometry.vectors import (
    Vector,
    across,
    add,
    angle_rad,
    cross,
    distance_mm,
    dot,
    norm,
    scale,
    sub,
    turned,
    unit,
)
from tubing.inputs.records import Bench, Flare, Job, Mounting, Nose
from tubing.units import mm

PROJECTED_RAD = math.radians(5)  # a given heading may be this far from perpendicular to the spindle
SAME_RAD = 1e-7  # headings that differ by less are one
FAN_RAD = tuple(math.radians(s * a) for a in (5, 10, 20, 35) for s in (1, -1))
MOST_HEADINGS = 60  # candidates of one wheelbox
SIDE_NAMES = {1: "right", -1: "left"}


class PlacedBox(Struct, frozen=True):
    """A wheelbox with its heading and side decided."""

    mounting: Mounting
    heading: Vector  # perpendicular to the spindle
    side: int  # +1 the rack passes on the right of the spindle, -1 on the left
    off_rad: float  # how far the given heading was from perpendicular; 0 of a chosen one

    @property
    def name(self) -> str:
        """The wheelbox's name."""
        return self.mounting.name

    @property
    def pitch_point_mm(self) -> Vector:
        """Where the rack's centre line passes the spindle: c = h - D a + s r (d x a)."""
        seat = self.mounting.seat
        return add(seat.rack_centre_mm, cross(self.heading, self.mounting.spindle), self.side * seat.pitch_radius_mm)

    @property
    def groove_in_mm(self) -> Vector:
        """Centre of the groove where the rack comes in."""
        return add(self.pitch_point_mm, self.heading, -self.mounting.seat.groove_offset_mm)

    @property
    def groove_out_mm(self) -> Vector:
        """Centre of the groove where the rack goes out."""
        return add(self.pitch_point_mm, self.heading, self.mounting.seat.groove_offset_mm)


def with_heading(mounting: Mounting, heading: Vector, side: int) -> PlacedBox:
    """The wheelbox with a heading, made perpendicular to the spindle where it is within 5 degrees of it.

    Raises JobError beyond that.
    """
    off_rad = abs(math.pi / 2 - angle_rad(heading, mounting.spindle))
    if off_rad > PROJECTED_RAD:
        raise JobError(
            f"wheelbox {mounting.name!r}, heading",
            f"it is {math.degrees(off_rad):.1f} degrees from perpendicular to the spindle",
            "the rack passes a wheelbox at a right angle to its spindle, within 5 degrees",
            "measure the heading or the spindle again",
        )
    return PlacedBox(mounting, unit(across(heading, mounting.spindle)), side, off_rad if off_rad > SAME_RAD else 0.0)


def check_nose(job: Job, names: Sequence[str]) -> None:
    """Raise GeometryError where the motor's nose lies within a wheelbox: nearer to its spindle than its end faces."""
    for name in names:
        mounting = job.mountings[name]
        apart_mm = distance_mm(job.nose.position_mm, mounting.seat.rack_centre_mm)
        least_mm = mm(mounting.model.mouth_offset)
        if apart_mm < least_mm:
            raise GeometryError(
                f"motor nose and wheelbox {name!r}",
                f"the nose lies {apart_mm:.1f} mm from where the rack passes the spindle",
                f"the box's end face is {least_mm:g} mm from there, so the nose would stand in the box",
                "measure the nose and the hole again",
            )


def nose_hold_mm(nose: Nose, bench: Bench, flare: Flare) -> float:
    """Straight tube that the flare and the nut at the nose need, [mm]."""
    return 0.0 if flare == "plain" else mm(bench.flare_grip) + mm(nose.model.nut_length)


def nose_port(nose: Nose, hold_mm: float) -> PortAt:
    """The motor's nose as a port that holds so much of the tube."""
    return PortAt("nose", nose.position_mm, nose.heading, hold_mm)


def box_hold_mm(mounting: Mounting, bench: Bench, flare: Flare) -> float:
    """Straight tube that a wheelbox and the flare in its groove need, from the groove, [mm]."""
    in_box_mm = mm(mounting.model.holds)
    return in_box_mm if flare == "plain" else max(mm(bench.flare_grip), in_box_mm)


def box_port(box: PlacedBox, hold_mm: float, out: bool) -> PortAt:
    """A wheelbox's groove in, or out, as a port that holds so much of the tube."""
    return PortAt(box.name, box.groove_out_mm if out else box.groove_in_mm, box.heading, hold_mm)


def sides_to_try(order: Sequence[Mounting], motion: str) -> list[tuple[int, ...]]:
    """The sides that the motion allows: all alike in tandem, in turn in opposed motion; both choices.

    Raises JobError where the sides given in the job contradict the motion.
    """
    tries = []
    for first in (1, -1):
        sides = tuple(first * (-1 if motion == "opposed" and k % 2 else 1) for k in range(len(order)))
        if all(m.side in (None, side) for m, side in zip(order, sides, strict=True)):
            tries.append(sides)
    if not tries:
        given = ", ".join(f"{m.name} {SIDE_NAMES[m.side]}" for m in order if m.side is not None)
        rule = "all boxes have the rack on one side" if motion == "tandem" else "the rack's side alternates"
        raise JobError(
            "side",
            f"the job says {given}",
            f"in {motion} motion {rule}",
            "change a side, or drive.motion, or leave sides out",
        )
    return tries


class Aim(Struct, frozen=True):
    """What a free heading may aim at: a point, or another box's pitch circle (its centre, side times radius)."""

    at_mm: Vector
    offset_mm: float = 0.0


def heading_past(mounting: Mounting, side: int, aim: Aim, ahead: bool) -> Vector | None:
    """The heading whose rack line passes the aim, behind the box or ahead of it; None: it lies within the circle."""
    spindle = mounting.spindle
    way = across(sub(aim.at_mm, mounting.seat.rack_centre_mm), spindle)
    if not ahead:
        way = scale(way, -1.0)
    reach_mm = norm(way)
    shift_mm = side * mounting.seat.pitch_radius_mm - aim.offset_mm
    if reach_mm <= abs(shift_mm):
        return None
    along = unit(way)
    sine = (shift_mm if ahead else -shift_mm) / reach_mm
    return unit(add(scale(along, math.sqrt(1 - sine * sine)), cross(along, spindle), -sine))


def pierced_mm(mounting: Mounting, on_line_mm: Vector, heading: Vector, ahead: bool) -> Vector | None:
    """Where a port's line pierces the plane in which the box's rack can lie, ahead of the port or behind it.

    Every rack line of a box lies in the plane through its rack centre, perpendicular to its spindle; so a tube with a
    single bend has its corner just there. None: the line runs along the plane, or away from it.
    """
    slope = dot(heading, mounting.spindle)
    if abs(slope) < 1e-9:
        return None
    along_mm = dot(sub(mounting.seat.rack_centre_mm, on_line_mm), mounting.spindle) / slope
    return add(on_line_mm, heading, along_mm) if (along_mm > 0) == ahead else None


def bisectors(headings: Sequence[Vector]) -> list[Vector]:
    """The bisector of each two headings that do not point against each other."""
    return [unit(add(a, b)) for i, a in enumerate(headings) for b in headings[i + 1 :] if angle_rad(a, b) < 3.0]


def fan(mounting: Mounting, headings: Iterable[Vector]) -> list[Vector]:
    """A fan around each heading, about the spindle."""
    return [turned(heading, mounting.spindle, by_rad) for heading in headings for by_rad in FAN_RAD]


def without_repeats(headings: Iterable[Vector]) -> list[Vector]:
    """Each heading once, in order, no more than are worth trying."""
    kept: list[Vector] = []
    for heading in headings:
        if len(kept) < MOST_HEADINGS and all(math.dist(heading, k) > SAME_RAD for k in kept):
            kept.append(heading)
    return kept
