"""An invented twin that the tests of the drive start from; round figures, so that sums can be done by hand."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from msgspec.structs import replace

from tubing.drive import BendOnWay, DriveFacts, PathToBox
from tubing.inputs.catalogue import Motor, Wheelbox
from tubing.inputs.records import DriveSettings, FittedArm, Rack
from tubing.units import Quantity, quantity


def length(text: str) -> Quantity:
    """Millimetres, exactly as written."""
    return quantity(Fraction(text), "mm")


def angle(text: str) -> Quantity:
    """Degrees, exactly as written."""
    return quantity(Fraction(text), "deg")


def force(text: str) -> Quantity:
    """Newtons, exactly as written."""
    return quantity(Fraction(text), "N")


def box(**changed: Any) -> Wheelbox:
    """Pitch radius 20, groove 25 and end face 45 mm from the spindle, bush 16, stem 32."""
    whole = Wheelbox(
        "box", length("28"), length("20"), length("25"), length("45"), length("3"), length("16"), length("32"),
        length("6"), None, "invented", "I",
    )  # fmt: skip
    return replace(whole, **changed)


USUAL = length("90")  # a margin that leaves the usual overhang on a sweep of 90 degrees: 70 + 31.4 mm


def settings(**changed: Any) -> DriveSettings:
    """Friction 0.2, engagement 25, margin 60, tip clearance 10; 20 N/m on rubber 0.4 wet and 1 dry."""
    whole = DriveSettings(
        friction=0.2,
        engagement=length("25"),
        margin=length("60"),
        tip_clearance=length("10"),
        blade_load=quantity(20, "N/m"),
        rubber_wet=0.4,
        rubber_dry=1.0,
    )
    return replace(whole, **changed)


def arm(on: str, **changed: Any) -> FittedArm:
    """300 mm of arm with 250 mm of blade in line."""
    return replace(FittedArm(on=on, length=length("300"), blade=length("250"), crank=angle("0")), **changed)


FIRST = BendOnWay("nose-near", 1, angle("30"))
SECOND = BendOnWay("near-far", 1, angle("60"))
SPINDLE = (0.0, 0.6, 0.8)


def path(name: str, **changed: Any) -> PathToBox:
    """``near`` 400 mm on after one bend of 30 degrees; ``far`` 1000 mm on after another of 60."""
    centreline, bends = {"near": (length("400"), (FIRST,)), "far": (length("1000"), (FIRST, SECOND))}[name]
    whole = PathToBox(name, centreline, bends, box(), 1, SPINDLE, SPINDLE, length("1.2"), length("6"))
    return replace(whole, **changed)


def facts(**changed: Any) -> DriveFacts:
    """A twin with a sweep of 90 degrees: a stroke of 31.416 mm."""
    whole = DriveFacts(
        sweep=angle("90"),
        park="left",
        motor=Motor("motor", length("110"), length("14"), force("450"), "invented", "I"),
        rack=Rack(length("5.6"), length("2.5")),
        bore=length("6.4"),
        settings=settings(),
        boxes=(path("near"), path("far")),
        arms=(arm("near"), arm("far")),
        rod=length("80"),
        rate=quantity(60, "cycle/min"),
    )
    return replace(whole, **changed)
