"""The rack's motion over one turn of the motor's crank: crank, connecting rod, slider. On pint quantities.

Dead ends: the crank's angle is 0 pushed out and 180 degrees pulled in; the crank's centre lies in line with the rack.
Cycle:     one turn of the crank: out and back.
"""

from __future__ import annotations

import math

from msgspec import Struct

from tubing.drive.rack import sweep_of
from tubing.errors import DriveError
from tubing.units import RAD, Quantity, checked, mm, quantity, rad

TURN_PER_CYCLE = quantity(2 * math.pi, "rad/cycle")
LEAST_FAST_RATE = quantity(45, "cycle/min")  # 49 CFR 571.104 S4.1.1: one speed at least this
STEP_DEG = 30  # of the crank, in the table
HALF_TURN_DEG = 180


@checked("mm", crank="mm", crank_per_rod="", angle="rad")
def travel_from_pulled_in(crank: Quantity, crank_per_rod: float, angle: Quantity) -> Quantity:
    """How far the rack stands out of its pulled-in dead end, for ``0 <= crank_per_rod < 1`` (0: endless rod); exact.

    The slider stands r cos a + sqrt(l^2 - r^2 sin^2 a) from the crank's centre; less l - r, and written so that it
    holds for an endless rod too.

    >>> round(mm(travel_from_pulled_in(quantity(50, "mm"), 0.25, quantity(60, "deg"))) + 200 - 50, 2)
    220.26
    """
    sin2 = math.sin(rad(angle)) ** 2
    slant = crank_per_rod * sin2 / (1 + math.sqrt(1 - crank_per_rod**2 * sin2))
    result: Quantity = crank * (1 + math.cos(rad(angle)) - slant)
    return result


@checked("mm/s", crank="mm", crank_per_rod="", angle="rad", rate="cycle/s")
def rack_speed(crank: Quantity, crank_per_rod: float, angle: Quantity, rate: Quantity) -> Quantity:
    """Speed of the rack, outwards positive, for ``0 <= crank_per_rod < 1``: the travel's derivative; exact."""
    sin, cos = math.sin(rad(angle)), math.cos(rad(angle))
    slant = crank_per_rod * cos / math.sqrt(1 - crank_per_rod**2 * sin**2)
    result: Quantity = (-crank * sin * (1 + slant) * rate * TURN_PER_CYCLE / RAD).to("mm/s")
    return result


@checked("rad/s", speed="mm/s", pitch_radius="mm")
def arm_speed(speed: Quantity, pitch_radius: Quantity) -> Quantity:
    """Speed of an arm whose gear runs on the rack."""
    result: Quantity = speed / pitch_radius * RAD
    return result


class MotionPoint(Struct, frozen=True):
    """Where rack and first spindle are at one angle of the crank."""

    crank_rad: float  # 0 pushed out, pi pulled in
    rack_mm: float  # out of the pulled-in dead end
    spindle_rad: float  # of the first box, from where it stands pulled in
    rack_mm_per_s: float  # outwards positive
    arm_rad_per_s: float  # of the first box


class Motion(Struct, frozen=True):
    """One turn of the crank."""

    crank_mm: float  # its throw
    rod_mm: float | None  # None: taken as endless
    pitch_radius_mm: float  # of the first box
    rate_per_min: float  # working cycles

    @property
    def crank_per_rod(self) -> float:
        """Throw by length of the rod, 0 for an endless one."""
        return 0.0 if self.rod_mm is None else self.crank_mm / self.rod_mm

    @property
    def fastest(self) -> MotionPoint:
        """Where rack and arm are fastest on their way out; on the way in, as fast at 360 degrees less that angle."""
        return self.at(quantity(2 * math.pi - fastest_crank_rad(self.crank_per_rod), "rad"))

    def at(self, angle: Quantity) -> MotionPoint:
        """Rack and first arm at an angle of the crank."""
        crank, pitch_radius = quantity(self.crank_mm, "mm"), quantity(self.pitch_radius_mm, "mm")
        out = travel_from_pulled_in(crank, self.crank_per_rod, angle)
        speed = rack_speed(crank, self.crank_per_rod, angle, quantity(self.rate_per_min, "cycle/min"))
        return MotionPoint(
            crank_rad=rad(angle),
            rack_mm=mm(out),
            spindle_rad=rad(sweep_of(out, pitch_radius)),
            rack_mm_per_s=float(speed.to("mm/s").magnitude),
            arm_rad_per_s=float(arm_speed(speed, pitch_radius).to("rad/s").magnitude),
        )

    def on_the_way_in(self) -> tuple[MotionPoint, ...]:
        """A point every 30 degrees of the crank, from pushed out to pulled in; the way out is the same backwards."""
        return tuple(self.at(quantity(step, "deg")) for step in range(0, HALF_TURN_DEG + 1, STEP_DEG))


def motion(crank: Quantity, rod: Quantity | None, pitch_radius: Quantity, rate: Quantity | None) -> Motion:
    """Rack and arm through one turn of the crank. Raises DriveError: a rod no longer than the crank, no speed."""
    rate = LEAST_FAST_RATE if rate is None else rate
    if rod is not None and mm(rod) <= mm(crank):
        raise DriveError(
            "connecting rod",
            f"it is {mm(rod):.6g} mm",
            f"it must be longer than the crank's throw, {mm(crank):.6g} mm",
            "measure the rod between its two pins",
        )
    if rate.magnitude <= 0:
        raise DriveError(
            "working speed",
            f"it is {float(rate.to('cycle/min').magnitude):.6g} cycles/min",
            "it must be above 0",
            "give the cycles per minute",
        )
    return Motion(
        crank_mm=mm(crank),
        rod_mm=None if rod is None else mm(rod),
        pitch_radius_mm=mm(pitch_radius),
        rate_per_min=float(rate.to("cycle/min").magnitude),
    )


def fastest_crank_rad(crank_per_rod: float) -> float:
    """Angle of the crank from the pushed-out dead end where the slider is fastest, [rad], by bisection.

    The slider's acceleration changes sign once between 0 and a quarter turn for ``0 <= crank_per_rod < 1``.

    >>> round(math.degrees(fastest_crank_rad(0.0)), 9)
    90.0
    """
    low, high = 0.0, math.pi / 2
    for _ in range(60):
        middle = (low + high) / 2
        sin2 = math.sin(middle) ** 2
        slowing = math.cos(middle) * (1 - crank_per_rod**2 * sin2) ** 1.5 + crank_per_rod * (
            1 - 2 * sin2 + crank_per_rod**2 * sin2**2
        )
        low, high = (middle, high) if slowing > 0 else (low, middle)
    return (low + high) / 2
