"""Which arms and blades a wheelbox may carry, which hand the crank is, and where the arm parks."""

from __future__ import annotations

import math
from collections.abc import Sequence

import shapely
from msgspec import Struct
from msgspec.structs import replace

from tubing.errors import FitError, JobError
from tubing.geometry.vectors import Point2
from tubing.glass.blade import Blade, check_lengths
from tubing.glass.surface import Surface
from tubing.inputs.catalogue import Arm
from tubing.inputs.records import FittedArm
from tubing.units import Quantity, deg, mm, quantity, rad

SHORTEST_BLADE_MM = 150  # of the blade lengths tried for an arm whose blade is left free; invented
BLADE_STEP_MM = 25  # between them; about an inch, common practice, no source
RAISE_STEP_DEG = 0.5  # of a parked arm that must be raised to bring its blade on to the glass
RAISE_MOST_DEG = 30.0


class Wiper(Struct, frozen=True):
    """One wheelbox as the glass sees it: its pivot, its sweep and which way it turns."""

    name: str  # of the wheelbox
    pivot_mm: Point2  # in the plane of the glass
    sweep_rad: float  # its own, at the job's stroke: stroke / pitch radius
    lost_motion_rad: float  # at the spindle
    turning: int  # out of park, seen from the driver's seat: +1 anticlockwise, -1 clockwise


class Option(Struct, frozen=True):
    """An arm and blade that may be fitted, in mm."""

    arm_mm: float
    blade_mm: float


def options(fitted: FittedArm, on_offer: Sequence[Arm]) -> tuple[Option, ...]:
    """Arms and blades that the job leaves to choose from, shortest first.

    Both lengths free: the arms on offer with their blades. The arm alone: the arms on offer that can carry the blade.
    The blade alone: lengths by BLADE_STEP_MM from SHORTEST_BLADE_MM to what the arm can carry, and the blades on offer
    with an arm of that length. Raises FitError: nothing to choose from. Raises JobError:
    lengths given that cannot be.
    """
    offered = [Option(mm(arm.length), mm(arm.blade)) for arm in on_offer]
    if fitted.length is not None and fitted.blade is not None:
        check_lengths(fitted.on, mm(fitted.length), mm(fitted.blade))
        return (Option(mm(fitted.length), mm(fitted.blade)),)
    if fitted.length is not None:
        arm_mm = mm(fitted.length)
        steps = range(SHORTEST_BLADE_MM, math.floor(2 * arm_mm) + 1, BLADE_STEP_MM)
        found = [Option(arm_mm, float(step)) for step in steps]
        found += [option for option in offered if abs(option.arm_mm - arm_mm) < 0.5]
    elif fitted.blade is not None:
        found = [Option(option.arm_mm, mm(fitted.blade)) for option in offered]
    else:
        found = offered
    carried = sorted({(o.arm_mm, o.blade_mm) for o in found if o.blade_mm <= 2 * o.arm_mm})
    if not carried:
        raise _nothing(fitted, offered)
    for arm_mm, blade_mm in carried:
        check_lengths(fitted.on, arm_mm, blade_mm)
    return tuple(Option(arm_mm, blade_mm) for arm_mm, blade_mm in carried)


def _nothing(fitted: FittedArm, offered: Sequence[Option]) -> FitError:
    if fitted.length is not None:
        return FitError(
            f"arm on {fitted.on!r}",
            f"its arm of {mm(fitted.length):g} mm takes no blade of {SHORTEST_BLADE_MM} mm or more",
            "half a blade may not be longer than its arm",
            "give the blade's length too, or a longer arm",
        )
    longest = max((option.arm_mm for option in offered), default=None)
    blade = "" if fitted.blade is None else f" for its blade of {mm(fitted.blade):g} mm"
    return FitError(
        f"arm on {fitted.on!r}",
        f"its length is left free{blade} and "
        + ("no arm is on offer" if longest is None else f"the longest arm on offer is {longest:g} mm"),
        "an arm must be at least half as long as its blade",
        "give 'length' in the job, or add an arm to the table of arms",
    )


def signed_crank_rad(crank: Quantity, turning: int) -> float:
    """The crank from arm to blade, anticlockwise positive.

    A positive crank lays the parked blade back against the direction of turning: the arm rises from a pivot below the
    glass and the blade lies along the glass's edge.
    """
    return -turning * rad(crank)


def parked_rad(parked: Quantity, turning: int) -> float:
    """The arm's direction at park, anticlockwise from the x axis, from the angle a job gives.

    An angle less than a right angle either way counts upwards from the x axis on the side where the arm parks: left
    when it turns clockwise out of park. Any other is the direction itself.

    >>> from tubing.units import quantity
    >>> [round(math.degrees(parked_rad(quantity(a, "deg"), -1))) for a in (2, 178)]
    [178, 178]
    """
    angle_rad = rad(parked)
    return math.pi - angle_rad if turning < 0 and abs(deg(parked)) < 90 else angle_rad


def placed(on: Surface, wiper: Wiper, fitted: FittedArm, option: Option, clearance_mm: float) -> tuple[Blade, float]:
    """A blade at park, and by how much it was raised off the screen's lower edge to get there [rad].

    Where the job gives no ``parked``, the blade lies along the lower edge beneath it; where it would then be nearer to
    the edge than ``clearance_mm``, the arm is raised until it is not. If raising does not help it is left along the
    edge, and its clearance tells. Raises JobError: no lower edge to lie along.
    """
    crank_rad = signed_crank_rad(fitted.crank, wiper.turning)

    def blade(direction_rad: float) -> Blade:
        return Blade(
            wiper.name,
            wiper.pivot_mm,
            option.arm_mm,
            option.blade_mm,
            crank_rad,
            direction_rad,
            wiper.sweep_rad,
            wiper.turning,
            wiper.lost_motion_rad,
        )

    if fitted.parked is not None:
        return blade(parked_rad(fitted.parked, wiper.turning)), 0.0
    along = blade(_edge_rad(on, wiper, option) - crank_rad)
    for step in range(round(RAISE_MOST_DEG / RAISE_STEP_DEG) + 1):
        raised_rad = math.radians(step * RAISE_STEP_DEG)
        raised = replace(along, parked_rad=along.parked_rad + wiper.turning * raised_rad)
        if on.keeps(shapely.LineString(raised.ends_mm(0.0)), clearance_mm):
            return raised, raised_rad
    return along, 0.0


def _edge_rad(on: Surface, wiper: Wiper, option: Option) -> float:
    """Direction of the lower edge under the parked blade, from its inner tip to its outer."""
    x_mm, y_mm = wiper.pivot_mm
    inner_mm, outer_mm = option.arm_mm - option.blade_mm / 2, option.arm_mm + option.blade_mm / 2
    edge_rad = on.lower_edge_rad(x_mm + wiper.turning * inner_mm, x_mm + wiper.turning * outer_mm)
    _, bottom, _, top = on.outline.bounds
    if y_mm > (bottom + top) / 2:
        raise _unparked(wiper, "its pivot is in the upper half of the screen")
    if edge_rad is None:
        raise _unparked(wiper, "no edge of the screen lies under its blade")
    return edge_rad


def _unparked(wiper: Wiper, why: str) -> JobError:
    return JobError(
        f"arm on {wiper.name!r}",
        f"'parked' is not given and {why}",
        "the parked blade must lie along the lower edge, or at an angle of its own",
        "give 'parked', the arm's angle at park from the screen's x axis",
    )


def free(name: str) -> FittedArm:
    """What is fitted where the job says nothing: any arm on offer, without crank, parked along the edge."""
    return FittedArm(on=name, crank=quantity(0, "deg"))
