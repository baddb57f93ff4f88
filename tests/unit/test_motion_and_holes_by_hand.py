"""Where the crank is fastest, what stands out of the panel, and which wedge fits: by sums worked out by hand."""

from __future__ import annotations

import math

import pytest
from msgspec.structs import replace

from tubing.drawing.pictures import shapes
from tubing.drive.motion import motion
from tubing.geometry.vectors import dot, sub, turned
from tubing.inputs.job_file import read_job
from tubing.inputs.shop_file import data_folder, read_shop
from tubing.plan import plan
from tubing.sheet.content import job_sheet
from tubing.units import quantity
from tubing.writers.plan_data import plan_data

SHOP = read_shop(None)
TWIN = read_job(data_folder() / "jobs" / "lined-up-twin.toml", SHOP)


def test_the_fastest_point_of_an_endless_rod_is_three_quarters_round():
    """Out, between 180 and 360 degrees: at 270. A throw of 50 mm, once a second: 50 x 2 pi = 314.16 mm/s outwards."""
    moving = motion(quantity(50, "mm"), None, quantity(20, "mm"), quantity(60, "cycle/min"))
    assert math.degrees(moving.fastest.crank_rad) == pytest.approx(270.0)
    assert moving.fastest.rack_mm_per_s == pytest.approx(314.159, abs=5e-4)
    assert moving.fastest.arm_rad_per_s == pytest.approx(314.159 / 20, abs=5e-5)


def test_a_rod_is_fastest_about_where_it_stands_square_to_the_crank():
    """Throw 30, rod 100: square to each other atan(100 / 30) = 73.3 degrees from pushed out, so 286.7 on the way out.

    There every point of the rod goes as fast along it as the crank's pin, 30 x 2 pi, and the slider that over the
    rod's cosine, 100 / root(100 squared + 30 squared). The greatest speed is that within a hundredth.
    """
    moving = motion(quantity(30, "mm"), quantity(100, "mm"), quantity(20, "mm"), quantity(60, "cycle/min"))
    square = 360 - math.degrees(math.atan(100 / 30))
    assert math.degrees(moving.fastest.crank_rad) == pytest.approx(square, abs=1.5)
    assert math.degrees(moving.fastest.crank_rad) > 270
    there = moving.at(quantity(square, "deg")).rack_mm_per_s
    assert there == pytest.approx(30 * math.tau * math.hypot(100, 30) / 100)
    assert there <= moving.fastest.rack_mm_per_s < 1.01 * there


def leaning(lean_deg, thickness_mm=2.0):
    """The twin with its boxes on a panel from which their spindles lean so far."""
    mountings = {
        name: replace(
            each,
            panel=turned(each.spindle, (1.0, 0.0, 0.0), math.radians(lean_deg)),
            panel_thickness=quantity(thickness_mm, "mm"),
            spacer=quantity(5, "mm"),
            model=replace(each.model, stem=quantity(40, "mm"), bush=quantity(16, "mm")),
        )
        for name, each in TWIN.mountings.items()
    }
    return plan(replace(TWIN, mountings=mountings), SHOP)


def test_of_the_stem_spacer_and_panel_take_their_share():
    """40 mm of stem less 5 of spacer less 2 / cos 60 = 4 of panel: 31 stand out. The wedge takes 8 tan 60 = 13.86.

    The picture of the run draws the stem as it is, from seat to tip: it ends 31 mm in front of the hole.
    """
    planned = leaning(60)
    box = planned.drive.boxes[0]
    assert box.hole.stem_left_mm == pytest.approx(31.0)
    assert box.hole.nut_room_mm == pytest.approx(31 - 8 * math.sqrt(3))
    row = job_sheet(planned).holes.rows[0]
    assert row[5:7] == pytest.approx((31.0, 31 - 8 * math.sqrt(3)))
    told = plan_data(planned)["drive"]["boxes"][0]["stem_mm"]
    assert (told["left"], told["for_nut"]) == pytest.approx((31.0, 31 - 8 * math.sqrt(3)), abs=1e-6)
    drawn = shapes(planned).run.boxes[0]
    assert dot(sub(drawn.tip_mm, drawn.hole_mm), planned.run.boxes[0].mounting.spindle) == pytest.approx(31.0)


@pytest.mark.parametrize(
    ("lean_deg", "said"),
    [
        (45.0, "cut to 45.0 deg; the usual 45 deg fits."),
        (45.04, "cut to 45.0 deg; the usual 45 deg fits."),
        (45.06, "cut to 45.1 deg; the usual 45 deg is 0.1 deg off."),
        (40.0, "cut to 40.0 deg; the usual 45 deg is 5.0 deg off."),
        (60.0, "cut to 60.0 deg; the usual 45 deg is 15.0 deg off."),
    ],
)
def test_the_usual_wedge_fits_or_is_off(lean_deg, said):
    """Off by less than is printed is a fit; more is told, whichever way."""
    after = job_sheet(leaning(lean_deg)).holes.after
    (line,) = (line for line in after if line.startswith("near: the slot"))
    assert line.endswith(f"A wedge spacer has to be {said}")


def test_a_spindle_square_to_its_panel_gets_a_round_hole():
    """Less than 0.05 degrees is no lean that a fitter can cut."""
    for lean_deg, round_hole in ((0.0, True), (0.04, True), (0.06, False)):
        after = job_sheet(leaning(lean_deg)).holes.after
        assert ("near: the spindle stands square to the panel: a round hole." in after) == round_hole
