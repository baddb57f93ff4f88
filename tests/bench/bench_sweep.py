"""How long the comparison of six sweeps takes with three arms, every length given and every length left free.

Run from the project's root: ``PYTHONPATH=. python tests/bench/bench_sweep.py``; to stay under 2 s. The screen is
invented.
"""

from __future__ import annotations

import math
import time

from tubing.glass import Glass, SweepTable, Wiper, sweep_table
from tubing.inputs.catalogue import Arm
from tubing.inputs.records import FittedArm, Screen
from tubing.units import Quantity, quantity

ON_OFFER = tuple(
    Arm(f"arm-{length}", quantity(length, "mm"), quantity(length - 20, "mm"), "invented", "I")
    for length in range(200, 401, 50)
)
OUTLINE = ((-640.0, 0.0), (0.0, -20.0), (640.0, 0.0), (560.0, 470.0), (0.0, 500.0), (-560.0, 470.0))
ZONES = {
    "A": ((-350.0, 80.0), (350.0, 80.0), (320.0, 380.0), (-320.0, 380.0)),
    "B": ((-450.0, 60.0), (450.0, 60.0), (400.0, 420.0), (-400.0, 420.0)),
}


def glass(length: Quantity | None, blade: Quantity | None, lost_deg: float) -> Glass:
    """Three arms in tandem that park left; lengths None: left free."""
    wipers = tuple(
        Wiper(name, (x, -45.0), math.radians(110), math.radians(lost_deg), -1)
        for name, x in (("near", -230.0), ("middle", 40.0), ("far", 310.0))
    )
    arms = tuple(FittedArm(wiper.name, length, blade, quantity(12, "deg"), None) for wiper in wipers)
    return Glass(Screen(OUTLINE, ZONES), wipers, arms, ON_OFFER, 5.0)


def measure(title: str, subject: Glass) -> None:
    """Print how long one comparison takes, and what it says."""
    start = time.perf_counter()
    table: SweepTable = sweep_table(subject)
    print(f"{title:<32} {time.perf_counter() - start:6.3f} s   {table.reason}")


if __name__ == "__main__":
    measure("lengths given", glass(quantity(250, "mm"), quantity(250, "mm"), 0.0))
    measure("lengths given, lost motion 2 deg", glass(quantity(250, "mm"), quantity(250, "mm"), 2.0))
    measure("blades left free", glass(quantity(250, "mm"), None, 2.0))
    measure("arms and blades left free", glass(None, None, 2.0))
