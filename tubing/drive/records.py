"""What the drive has to be told of a run: plain facts, so that no stage before it need be known here."""

from __future__ import annotations

from typing import Literal

from msgspec import Struct

from tubing.geometry.vectors import Vector
from tubing.inputs.catalogue import Motor, Wheelbox
from tubing.inputs.records import DriveSettings, FittedArm, Rack
from tubing.units import Quantity, quantity

Side = Literal["left", "right"]

USUAL_WEDGE = quantity(45, "deg")  # common practice, no source


class BendOnWay(Struct, frozen=True):
    """One bend that the rack passes."""

    piece: str  # id of the tube it is in
    number: int  # from 1, along the piece
    turn: Quantity  # change of direction


class PathToBox(Struct, frozen=True):
    """One wheelbox, and the rack's way to it. Everything counts from the nose's seat."""

    name: str
    centreline: Quantity  # nose's seat to this spindle, through all boxes between
    bends: tuple[BendOnWay, ...]  # all that the rack passes up to this box, in order
    model: Wheelbox
    side: int  # +1 the rack passes on the right of the spindle seen from outside, -1 on the left
    spindle: Vector  # unit vector out of the panel
    panel: Vector | None  # the panel's normal, outwards; None: the lean counts as 0
    panel_thickness: Quantity
    spacer: Quantity  # inner spacer, along the spindle

    @property
    def turn(self) -> Quantity:
        """Total turn that the rack has made when it comes to this box."""
        return sum((bend.turn for bend in self.bends), quantity(0, "rad"))


class DriveFacts(Struct, frozen=True):
    """All that the drive is worked out from."""

    sweep: Quantity  # of the first box
    park: Side  # of the first box's arm; in opposed motion the arms park on both sides
    motor: Motor
    rack: Rack
    bore: Quantity  # of the guide tube
    settings: DriveSettings
    boxes: tuple[PathToBox, ...]  # in order from the motor
    arms: tuple[FittedArm, ...] = ()
    rod: Quantity | None = None  # connecting rod between crank and rack; None: taken as long
    rate: Quantity | None = None  # working speed, cycles per time; None: the least fast speed of the rule book
    wedge: Quantity = USUAL_WEDGE  # angle that wedge spacers are cut to
