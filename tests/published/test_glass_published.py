"""Wiped shares that rules of law want, and the area that a segment sweeps.

Sources: 49 CFR 571.104 S4.1.2 (value from memory); Regulation (EU) 1008/2010 Annex III 1.1 (read in the source); the
area of an annular sector (derived, no published source).
"""

import math

import pytest
from msgspec.structs import replace

from tubing.glass import Glass, Wiper, as_data, at_sweep, comparisons
from tubing.inputs.records import FittedArm, Screen
from tubing.units import quantity

ZONES = dict.fromkeys("ABC", ((-100.0, 200.0), (100.0, 200.0), (100.0, 300.0), (-100.0, 300.0)))


def sweep_over(zones):
    """One arm over a square screen."""
    screen = Screen(((-500.0, 0.0), (500.0, 0.0), (500.0, 600.0), (-500.0, 600.0)), zones)
    wiper = Wiper("near", (0.0, -30.0), math.radians(110), 0.0, -1)
    arm = FittedArm(
        on="near",
        length=quantity(300, "mm"),
        blade=quantity(280, "mm"),
        crank=quantity(8, "deg"),
        parked=quantity(35, "deg"),
    )
    return at_sweep(Glass(screen, (wiper,), (arm,), (), 5.0), quantity(110, "deg"))


def test_limits_of_three_zones():
    """80, 94 and 99 % of A, B and C (49 CFR 571.104 S4.1.2, value from memory); 98 and 80 % of A and B (EU, read)."""
    found = [(c.limit.rule, c.limit.zone, c.limit.least_percent, c.limit.sure) for c in comparisons(sweep_over(ZONES))]
    assert found == [
        ("49 CFR 571.104 S4.1.2", "A", 80.0, "M"),
        ("49 CFR 571.104 S4.1.2", "B", 94.0, "M"),
        ("49 CFR 571.104 S4.1.2", "C", 99.0, "M"),
        ("Regulation (EU) 1008/2010 Annex III 1.1", "A", 98.0, "S"),
        ("Regulation (EU) 1008/2010 Annex III 1.1", "B", 80.0, "S"),
    ]


def test_only_zones_that_the_job_names_are_compared():
    """A zone of another name is measured but belongs to no rule, and without a rule there is no caution."""
    other = sweep_over({"mirror": ZONES["A"]})
    assert comparisons(other) == ()
    assert as_data(other, {})["caution"] is None
    assert list(as_data(other, {})["wiped_percent"]["zones"]) == ["mirror"]
    assert "approves nothing" in as_data(sweep_over({"A": ZONES["A"]}), {})["caution"]


@pytest.mark.parametrize(
    ("wiped", "lagging", "reached"), [(80.0, 80.0, True), (79.9, 79.9, False), (81.0, 79.9, False)]
)
def test_a_limit_is_reached_only_with_lost_motion_counted(wiped, lagging, reached):
    """80 % of A is reached at 80, and not when lost motion leaves less (49 CFR 571.104 S4.1.2, value from memory)."""
    one = replace(sweep_over({"A": ZONES["A"]}), zones_percent={"A": wiped}, lagging_zones_percent={"A": lagging})
    assert comparisons(one)[0].reached is reached
