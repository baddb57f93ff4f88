"""What the sheet says of pull, motion, stems and park, beside sums by hand."""

from __future__ import annotations

import math

import pytest
from msgspec.structs import replace

from tubing.inputs.job_file import read_job
from tubing.inputs.records import FittedArm
from tubing.inputs.shop_file import data_folder, read_shop
from tubing.plan import plan
from tubing.sheet.content import job_sheet
from tubing.sheet.words import cell_text
from tubing.units import quantity

SHOP = read_shop(None)


def job(name="round-the-corner"):
    """A demo with arms of 300 mm and blades of 280 mm on every box."""
    read = read_job(data_folder() / "jobs" / f"{name}.toml", SHOP)
    arms = tuple(
        FittedArm(on=box, length=quantity(300, "mm"), blade=quantity(280, "mm"), crank=quantity(0, "deg"))
        for box in read.mountings
    )
    return replace(read, arms=arms)


def drive_rows(sheet):
    """Figure and remark by what they are of."""
    rows = {}
    for what, figure, remark in sheet.drive.rows:
        text = cell_text(figure, sheet.drive.columns[1], "mm")
        rows[what] = (text, remark)
    return rows


def measured(newtons):
    """A shop that measured the pull at the motor."""
    return replace(SHOP, drive=replace(SHOP.drive, measured_pull=quantity(newtons, "N")))


def test_the_pull_has_its_margin_dry_and_wet():
    """Per box 17 N/m x 0.28 m x 300/16 = 89.25 N dry, all of it times exp(0.15 x turn); rated at 700 N."""
    planned = plan(job(), SHOP)
    ratio = math.exp(0.15 * math.fsum(a for tube in planned.run.tubes[:1] for a in tube.bend_angles_rad))
    assert planned.run.tubes[1].bend_angles_rad == ()  # so both boxes have one ratio
    rows = drive_rows(job_sheet(planned))
    dry, wet = 2 * 89.25 * ratio, 2 * 89.25 * 0.35 * ratio
    assert rows["pull needed, rubber dry"] == (
        f"{dry:.0f} N",
        f"by the capstan relation, an estimate; {700 - dry:.0f} N to spare",
    )
    assert rows["pull needed, rubber wet"][0] == f"{wet:.0f} N"
    assert rows["pull needed, rubber wet"][1].endswith(f"{700 - wet:.0f} N to spare")


def test_a_measured_pull_comes_first_and_the_computed_ones_stand_beside_it():
    rows = drive_rows(job_sheet(plan(job(), measured(720))))
    assert rows["pull needed, as measured"] == ("720 N", "20 N too much for the motor")
    assert rows["pull needed, rubber dry"][1].startswith("for comparison, by the capstan relation; ")


def test_a_measured_pull_needs_no_arms():
    rows = drive_rows(job_sheet(plan(replace(job(), arms=()), measured(180))))
    assert rows["pull needed, as measured"] == ("180 N", "520 N to spare")
    assert "pull needed, rubber dry" not in rows


def test_what_each_bend_costs_is_told_the_costliest_first():
    """All boxes lie behind both bends, so without one the pull is less by 1 - exp(-0.15 x its angle)."""
    planned = plan(job(), SHOP)
    angles = sorted(planned.run.tubes[0].bend_angles_rad, reverse=True)
    assert len(angles) == 2
    remarks = [row[2] for row in job_sheet(planned).drive.rows if row[0] in ("bend that costs most pull", "and next")]
    assert remarks == [
        f"{math.degrees(a):.1f} deg; without it {100 * (1 - math.exp(-0.15 * a)):.0f} % less pull" for a in angles
    ]


def test_shares_of_the_pull_are_told_where_it_is_known():
    with_arms, without = job_sheet(plan(job(), SHOP)).boxes, job_sheet(plan(replace(job(), arms=()), SHOP)).boxes
    heading = [c.heading for c in with_arms.columns].index("of the pull")
    assert [row[heading] for row in with_arms.rows] == pytest.approx([50.0, 50.0])
    assert "of the pull" not in [c.heading for c in without.columns]


def test_motion_by_hand():
    """Crank r, rod l: at 90 degrees the rack stands r - (l - root(l^2 - r^2)) out and goes at r times 2 pi a cycle."""
    planned = plan(job(), SHOP)
    r, rod, rate = planned.drive.crank_mm, 80.0, 65 / 60
    table = job_sheet(planned).motion
    rows = {row[0]: row for row in table.rows}
    assert list(rows) == pytest.approx([0, 30, 60, 90, 120, 150, 180])
    assert rows[90.0][1] == pytest.approx(r - rod + math.sqrt(rod**2 - r**2))
    assert rows[90.0][2] == pytest.approx(math.degrees(rows[90.0][1] / 16))
    assert rows[90.0][3] == pytest.approx(r * math.tau * rate)
    assert rows[90.0][4] == pytest.approx(math.degrees(r * math.tau * rate / 16))
    assert rows[0.0][2] == pytest.approx(115.0)
    assert table.before[0].startswith("At 65 cycles/min and with a connecting rod of 80.0 mm. ")


def test_boxes_that_sweep_unlike_have_a_column_each():
    """A pitch radius of 17 mm beside one of 16: sweep and speed by that much less."""
    wide = job()
    far = wide.mountings["far"]
    far = replace(far, model=replace(far.model, pitch_radius=quantity(17, "mm")))
    planned = plan(replace(wide, mountings={**wide.mountings, "far": far}), SHOP)
    table = job_sheet(planned).motion
    assert [c.heading for c in table.columns] == [
        "crank",
        "rack",
        "arm near",
        "arm far",
        "rack's speed",
        "speed of arm near",
    ]
    assert table.rows[0][3] == pytest.approx(115.0 * 16 / 17)
    near, far_speed = (math.degrees(box.fastest_arm_rad_per_s) for box in planned.drive.boxes)
    assert table.after[0].endswith(f"arms near {near:.0f} deg/s and far {far_speed:.0f} deg/s.")


def test_stem_nut_and_washer_stand_side_by_side():
    """48 of stem less 6 of spacer and the panel; 8 of nut and 1.5 of washer."""
    sheet = job_sheet(plan(job(), SHOP))
    headings = [c.heading for c in sheet.holes.columns]
    row = dict(zip(headings, sheet.holes.rows[0], strict=True))
    assert row["nut and washer"] == pytest.approx(9.5)
    assert row["stem left outside"] > row["of that for nut"] > 9.5


def test_a_nut_that_is_not_given_is_asked_for():
    sheet = job_sheet(plan(job("works-truck"), SHOP))
    assert [row[-1] for row in sheet.holes.rows] == [None] * 3
    assert (
        "left, middle and right: nut and washer are not given; hold them against the stem before drilling."
        in sheet.holes.after
    )


def test_the_other_park_needs_the_other_cranks():
    sheet = job_sheet(plan(job(), SHOP))
    assert sheet.park.after[1] == (
        "To park right the motor must stop with the rack pushed out: the crank pin on the side of the nose, and the "
        "arms must be cranked the other way."
    )


def test_the_tail_tube_stands_beside_common_practice():
    planned = plan(job(), SHOP)
    rows, cut = drive_rows(job_sheet(planned)), planned.drive.rack
    assert rows["tail tube past the rack's tip"] == (
        f"{10 - (cut.teeth * 2.5 - cut.length_mm):.1f} mm",
        "pushed out; common practice: a little longer than the rack",
    )
