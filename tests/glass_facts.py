"""An invented screen, arm and wiper that the tests of the glass start from."""

import math

from tubing.glass import Glass, Wiper
from tubing.inputs.catalogue import Arm
from tubing.inputs.records import FittedArm, Screen
from tubing.units import quantity

SCREEN = Screen(
    ((-640.0, 0.0), (640.0, 0.0), (560.0, 500.0), (-560.0, 500.0)),
    {"A": ((-350.0, 80.0), (350.0, 80.0), (320.0, 380.0), (-320.0, 380.0))},
)
ON_OFFER = tuple(
    Arm(f"arm-{length}", quantity(length, "mm"), quantity(length - 20, "mm"), "invented", "I")
    for length in (200, 250, 300, 350)
)


def arm(on="near", length=300, blade=280, crank=8, parked=None):
    """A fitted arm; lengths in mm, angles in degrees."""
    length, blade = (None if x is None else quantity(x, "mm") for x in (length, blade))
    return FittedArm(
        on=on,
        length=length,
        blade=blade,
        crank=quantity(crank, "deg"),
        parked=None if parked is None else quantity(parked, "deg"),
    )


def wiper(name="near", at=(0.0, -30.0), sweep=110, lost=0, turning=-1):
    """A wiper; angles in degrees."""
    return Wiper(name, at, math.radians(sweep), math.radians(lost), turning)


def glass(wipers=None, arms=None, screen=SCREEN, on_offer=ON_OFFER, clearance=5):
    """A comparison's input; None: one wiper, one arm."""
    wipers = [wiper()] if wipers is None else wipers
    arms = [arm()] if arms is None else arms
    return Glass(screen, tuple(wipers), tuple(arms), on_offer, clearance)
