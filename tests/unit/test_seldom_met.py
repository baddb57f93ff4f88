"""What few vehicles meet: short boxes, sideways spindles, edges with a kink, arms that cannot keep apart."""

import math

import pytest
import shapely
from msgspec.structs import replace

from tests.drive_facts import path
from tests.glass_facts import arm, glass, wiper
from tubing.drive.park import doubt, park
from tubing.errors import FitError
from tubing.glass import at_sweep, best_sweep, crank_sizes, sweep_table
from tubing.glass.surface import surface
from tubing.inputs.job_file import read_job
from tubing.inputs.records import Screen
from tubing.inputs.shop_file import data_folder, read_shop
from tubing.run.placing import box_hold_mm, nose_hold_mm
from tubing.units import quantity

SHOP = read_shop(None)
TWIN = read_job(data_folder() / "jobs" / "lined-up-twin.toml", SHOP)
SWEEP = quantity(110, "deg")
KINKED = Screen(((-640.0, 60.0), (0.0, 0.0), (640.0, 60.0), (560.0, 500.0), (-560.0, 500.0)))


def sizes(subject):
    return crank_sizes(subject, at_sweep(subject, SWEEP))


def test_a_box_that_holds_more_than_the_flaring_tool_decides_the_straight():
    """Groove 25 mm and end face 65 mm from the spindle: 40 mm lie in the box, and the tool grips 25.

    With the face at 45 mm it is 20 against 25, and the tool decides; a plain end needs the box's share alone.
    """
    near, bench = TWIN.mountings["near"], replace(SHOP.bench, flare_grip=quantity(25, "mm"))

    def with_face(at_mm):
        model = replace(near.model, groove_offset=quantity(25, "mm"), mouth_offset=quantity(at_mm, "mm"))
        return replace(near, model=model)

    assert box_hold_mm(with_face(65), bench, "single") == 40
    assert box_hold_mm(with_face(45), bench, "single") == 25
    assert box_hold_mm(with_face(45), bench, "plain") == 20


def test_the_nose_holds_flare_and_nut_but_a_plain_end_nothing():
    """25 mm of grip and a nut of 14 mm."""
    nose = replace(TWIN.nose, model=replace(TWIN.nose.model, nut_length=quantity(14, "mm")))
    bench = replace(SHOP.bench, flare_grip=quantity(25, "mm"))
    assert nose_hold_mm(nose, bench, "double") == 39
    assert nose_hold_mm(nose, bench, "plain") == 0


def test_of_a_sideways_spindle_left_and_right_are_in_doubt():
    """A spindle that points to the right, neither forward nor back: the driver cannot tell by it."""
    sideways = (1.0, 0.0, 0.0)
    assert doubt("near", sideways) == (
        "wheelbox 'near': its spindle does not say which way is up the glass; left and right are as seen from inside, "
        "facing the glass; try the direction by hand"
    )
    assert doubt("near", (0.2, 0.6, 0.77)) is None
    left = park("left", [path("near", spindle=sideways)])
    assert left.arms[0].parks == "left"
    assert park("right", [path("near", spindle=sideways)]).at != left.at


def test_no_crank_lays_a_blade_along_an_edge_out_of_reach():
    """A pivot 310 mm below the edge and an arm of 300 mm: its blade cannot be laid above the edge at any angle."""
    [one] = sizes(glass([wiper(at=(0.0, -310.0))], [arm(length=300, blade=200)]))
    assert (one.crank_deg, one.hand, one.parked_deg, one.clearance_mm) == (None, None, None, None)


@pytest.mark.parametrize("turning", [-1, 1])
def test_a_crank_on_an_edge_with_a_kink_keeps_the_clearance_and_no_more(turning):
    """The lower edge falls to its middle and rises again. Half a degree lower the blade would come too near to it."""
    subject = glass([wiper(at=(0.0, -60.0), turning=turning)], [arm(length=300, blade=240)], KINKED, clearance=8)
    [one] = sizes(subject)
    assert one.crank_deg is not None
    assert one.clearance_mm == pytest.approx(8, abs=1e-6)
    on = surface(KINKED)
    way = 1 if one.hand == "left" else -1

    def clearance_at(parked_deg):
        arm_rad, blade_rad = math.radians(parked_deg), math.radians(parked_deg + way * one.crank_deg)
        x, y = 300 * math.cos(arm_rad), -60 + 300 * math.sin(arm_rad)
        aside, up = 120 * math.cos(blade_rad), 120 * math.sin(blade_rad)
        return on.clearance_mm(shapely.LineString([(x - aside, y - up), (x + aside, y + up)]))

    assert clearance_at(one.parked_deg) == pytest.approx(8, abs=1e-6)
    assert clearance_at(one.parked_deg - 0.5 * turning) < 8


def test_arms_that_no_choice_of_lengths_keeps_apart_are_shown_with_what_they_break():
    """Pivots 60 mm from each other, turning opposite ways: all arms on offer meet, and no sweep keeps clear."""
    pair = [wiper("a", at=(-30.0, -30.0), turning=-1), wiper("b", at=(30.0, -30.0), turning=1)]
    subject = glass(pair, [arm("a", None, None, 0), arm("b", None, None, 0)])
    shown = at_sweep(subject, SWEEP)
    assert len(shown.fitted) == 2
    assert shown.breaks == ("the blades on 'a' and 'b' meet",)
    with pytest.raises(FitError):
        best_sweep(sweep_table(subject))
