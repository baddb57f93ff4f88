"""Where the arms park, which way each turns, and which hand its crank is.

Left and right are the driver's, seated: x to the right, y forward, z up. Clockwise is as seen from outside, facing
the panel along minus the spindle axis. With the arm up the glass and the rack on the right of the spindle (side +1),
pushing the rack out turns the spindle counter-clockwise and moves the arm to the driver's right.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal

from msgspec import Struct

from tubing.drive.rack import DeadEnd
from tubing.drive.records import PathToBox, Side
from tubing.errors import DriveError
from tubing.geometry.vectors import Vector

Turning = Literal["clockwise", "counter-clockwise"]

NEAR = math.sin(math.radians(10.0))  # a spindle this near to straight up, or to straight sideways, is in doubt


class ArmAtPark(Struct, frozen=True):
    """One arm."""

    name: str  # of its wheelbox
    rack_on: Side  # of the spindle, seen from outside, looking the way the rack is pushed
    parks: Side
    turns: Turning  # on its way to park, seen from outside
    crank_hand: Side  # to which side the blade is cranked from the arm, with the arm up the glass


class Park(Struct, frozen=True):
    """One way of parking."""

    side: Side  # of the first box's arm
    at: DeadEnd  # the dead end that parks
    arms: tuple[ArmAtPark, ...]

    @property
    def motor_gear(self) -> str:
        """How the motor's gear has to stand when its park switch opens."""
        if self.at == "in":
            return "rack pulled in: the crank pin on the far side from the nose"
        return "rack pushed out: the crank pin on the side of the nose"


def outward_right(spindle: Vector) -> int:
    """Which way an arm that stands up the glass moves when its spindle turns counter-clockwise: +1 driver's right.

    The way up the glass is z, made perpendicular to the spindle; the arm's tip moves along spindle x up, whose x
    component has the sign of the spindle's y. Within 10 degrees of straight up or of straight sideways that sign
    is chance; there it is +1, as for a deck before the driver whose glass rises towards him, and for a side window
    seen from inside; ``doubt`` says so.

    >>> outward_right((0.0, 0.6, 0.8)), outward_right((0.0, -0.6, 0.8)), outward_right((0.0, 0.0, 1.0))
    (1, -1, 1)
    """
    return -1 if spindle[1] < 0 and not _by_chance(spindle) else 1


def doubt(name: str, spindle: Vector) -> str | None:
    """What the fitter must know about left and right at a box whose spindle does not point forward; None: nothing.

    >>> doubt("near", (0.0, 0.7, 0.7))
    >>> doubt("rear", (0.0, -0.7, 0.7))
    "wheelbox 'rear': its spindle points to the rear; left and right are the driver's as he sits facing forward"
    """
    if _by_chance(spindle):
        if math.hypot(spindle[0], spindle[1]) < NEAR and spindle[1] >= 0:
            return None
        return (
            f"wheelbox {name!r}: its spindle does not say which way is up the glass; left and right are as seen "
            "from inside, facing the glass; try the direction by hand"
        )
    if spindle[1] < 0:
        return (
            f"wheelbox {name!r}: its spindle points to the rear; left and right are the driver's as he sits facing "
            "forward"
        )
    return None


def _by_chance(spindle: Vector) -> bool:
    """Whether the sign of the spindle's y says nothing: nearly straight up, or nearly straight sideways."""
    level = math.hypot(spindle[0], spindle[1])
    return level < NEAR or abs(spindle[1]) < NEAR * level


def park(side: Side, boxes: Sequence[PathToBox]) -> Park:
    """Which dead end parks the first box's arm on ``side``, and what that means for every arm.

    A crank of the hand of the side an arm parks on lays the blade along the lower edge of the screen, when the arm
    itself stops above that edge. Raises DriveError: a side that is neither +1 nor -1.
    """
    for box in boxes:
        if box.side not in (1, -1):
            raise DriveError(
                f"wheelbox {box.name!r}", f"its side is {box.side}", "it must be 1 or -1", "settle its side first"
            )  # fmt: skip
    first = boxes[0]
    out_parks = (first.side * outward_right(first.spindle) > 0) == (side == "right")
    return Park(side, "out" if out_parks else "in", tuple(_arm(box, out_parks) for box in boxes))


def _arm(box: PathToBox, out_parks: bool) -> ArmAtPark:
    """One arm, when the rack moves to the dead end that parks."""
    turning = box.side if out_parks else -box.side  # +1 counter-clockwise
    parks: Side = "right" if turning * outward_right(box.spindle) > 0 else "left"
    return ArmAtPark(
        name=box.name,
        rack_on="right" if box.side > 0 else "left",
        parks=parks,
        turns="counter-clockwise" if turning > 0 else "clockwise",
        crank_hand=parks,
    )
