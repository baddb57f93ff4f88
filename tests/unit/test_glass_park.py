"""How a parked blade lies on the glass."""

import math

import pytest

from tests.glass_facts import arm, glass, wiper
from tubing.errors import JobError
from tubing.glass import at_sweep
from tubing.inputs.records import Screen
from tubing.units import quantity


@pytest.mark.parametrize(("turning", "direction"), [(-1, 172), (1, 8)])
def test_by_default_the_parked_blade_lies_along_the_lower_edge(turning, direction):
    """A level edge: the arm stands up from it by the crank, on the side where it parks."""
    row = at_sweep(glass([wiper(turning=turning)]), quantity(110, "deg"))
    assert row.fitted[0].parked_deg == pytest.approx(direction)
    assert row.fitted[0].raised_deg == 0
    height = 300 * math.sin(math.radians(8)) - 30
    assert row.fitted[0].inner_tip_mm == pytest.approx(height, abs=0.011)


def test_a_sloping_lower_edge_turns_the_parked_blade_with_it():
    """An edge that falls 1 in 10 to the right of a pivot lowers an arm that parks right by atan 0.1."""
    screen = Screen(((-600.0, 0.0), (0.0, 0.0), (600.0, -60.0), (600.0, 500.0), (-600.0, 500.0)))
    row = at_sweep(glass([wiper(turning=1)], screen=screen), quantity(110, "deg"))
    assert row.fitted[0].parked_deg == pytest.approx(8 - math.degrees(math.atan(0.1)))


def test_a_blade_that_would_park_off_the_glass_is_raised_until_it_is_on_it():
    """Without crank it would lie 30 mm under the edge; 160 sin a must be 35 mm: 12.64, in steps of 1/2: 13."""
    row = at_sweep(glass(arms=[arm(crank=0)]), quantity(110, "deg"))
    assert math.degrees(math.asin(35 / 160)) == pytest.approx(12.64, abs=0.005)
    assert row.fitted[0].raised_deg == 13
    assert row.fitted[0].parked_deg == pytest.approx(180 - 13)


@pytest.mark.parametrize(
    ("turning", "parked", "direction"), [(-1, 2, 178), (-1, 178, 178), (1, 2, 2), (1, -3, 357), (-1, -3, 183)]
)
def test_the_angle_at_park_counts_from_the_side_where_the_arm_parks(turning, parked, direction):
    """Less than a right angle: upwards from the x axis on that side; otherwise as it is."""
    row = at_sweep(glass([wiper(turning=turning)], [arm(parked=parked)]), quantity(110, "deg"))
    assert row.fitted[0].parked_deg == pytest.approx(direction)


def test_no_edge_to_park_along_is_an_error():
    """A pivot in the upper half needs its angle."""
    with pytest.raises(JobError) as error:
        at_sweep(glass([wiper(at=(0.0, 520.0))]), quantity(110, "deg"))
    assert str(error.value) == (
        "arm on 'near': 'parked' is not given and its pivot is in the upper half of the screen; the parked blade must "
        "lie along the lower edge, or at an angle of its own; give 'parked', the arm's angle at park from the "
        "screen's x axis"
    )
