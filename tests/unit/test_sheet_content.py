"""What the sheet says: marks, sides, order of work, what was chosen."""

from __future__ import annotations

import math
import re
from fractions import Fraction

import numpy as np
import pytest
from msgspec.structs import replace

from tubing.inputs.job_file import read_job
from tubing.inputs.records import Cut, Job, Shop
from tubing.inputs.shop_file import data_folder, read_shop
from tubing.pieces.sawn import BendMark
from tubing.plan import Plan, plan
from tubing.sheet.bending import inside_text
from tubing.sheet.content import job_sheet
from tubing.sheet.cutting import places_of
from tubing.sheet.glazing import glass_table
from tubing.sheet.records import JobSheet, Table
from tubing.sheet.sections import sheet_of
from tubing.sheet.told_once import told_once
from tubing.units import Kind, exact_mm, quantity, read
from tubing.writers.terminal import draw

JOBS = data_folder() / "jobs"


def shop() -> Shop:
    return read_shop(None)


def job(name: str) -> Job:
    return read_job(JOBS / f"{name}.toml", shop())


def without_shelf(shop: Shop) -> Shop:
    """Bars with raw ends only, so that every end is flared."""
    return replace(shop, stock=tuple(bar for bar in shop.stock if not bar.on_shelf))


@pytest.fixture(scope="module")
def corner() -> Plan:
    return plan(job("round-the-corner"), without_shelf(shop()))


@pytest.fixture(scope="module")
def sheet(corner: Plan) -> JobSheet:
    return job_sheet(corner)


def column(table: Table, heading: str) -> list[object]:
    index = [c.heading for c in table.columns].index(heading)
    return [row[index] for row in table.rows]


def bend(rotation_deg: float) -> BendMark:
    return BendMark(2, 100.0, 220.0, 90.0, math.radians(30), math.radians(31), math.radians(rotation_deg), 237.0, 230.0)


@pytest.mark.parametrize(
    ("rotation_deg", "said"),
    [
        (0.0, "same side"),
        (180.0, "opposite side"),
        (90.0, "right, 6.3 mm"),
        (-45.0, "left, 3.1 mm"),
    ],
)
def test_the_side_of_the_next_bend(rotation_deg: float, said: str):
    """Clockwise, seen along the tube, is from the top to the right; a quarter round 8 mm tube is 2 pi mm."""
    assert inside_text(bend(rotation_deg), 8.0, "mm") == said
    assert inside_text(bend(rotation_deg), 8.0, "mm", first=True) == "on the line"


def test_the_side_said_is_where_the_tube_really_goes(corner: Plan):
    """By vectors from the demo's corners alone: its second bend goes to the right of the first one's inside."""
    points = np.array(corner.pieces[0].tube.shape.line.points_mm)  # type: ignore[union-attr]
    before, along, after = np.diff(points, axis=0)
    along = along / np.linalg.norm(along)
    inside = along * (before @ along) - before  # of the first bend, seen from the second leg: away from where it came
    to_the_right = np.cross(along, inside)  # of somebody who looks along the tube, the inside on top
    assert to_the_right @ after > 0
    assert column(job_sheet(corner).bends, "inside lies")[1] == "right, 4.2 mm"


@pytest.mark.long
def test_no_sheet_says_which_way_to_turn_the_tube():
    """In a fixed former the tube turns the other way than the plane of its bend: it would come out mirrored."""
    for path in JOBS.glob("*.toml"):
        text = draw(sheet_of(job_sheet(plan(read_job(path, shop()), shop())))).lower()
        assert not re.search(r"turn (it |the tube )?by|rotate", text)


def test_marks_come_before_flaring_trimming_before_the_nut_and_the_nut_before_the_last_flare(sheet: JobSheet):
    steps = [*sheet.work.lines, *sheet.fitting.lines]
    order = [
        next(k for k, step in enumerate(steps) if step.startswith(words))
        for words in (
            "Check the stock",
            "Drill and file",
            "Fix motor, near and far",
            "Saw 3 blanks",
            "Deburr every sawn end",
            "Mark each bend's start",
            "First flare",
            "Bend on the former",
            "Lay nose-near in place",
            "Trim what was left over length",
            "Deburr the trimmed ends",
            "Put the nut on",
            "Last flare",
            "Check straight from rim to rim",
            "Cut the rack",
            "Blow every tube through",
            "Thread the tubes on the rack",
            "Seat every flare",
            "Before the arms go on, pull the rack by hand",
            "Fit the end stop",
            "Connect the battery",
            "Put the arms on",
            "Water test",
        )
    ]
    assert order == sorted(order)
    assert (sheet.work.first, sheet.fitting.first) == (1, 1 + len(sheet.work.lines))


def test_the_end_with_the_nut_is_flared_last(sheet: JobSheet):
    steps = {step.split(":")[0]: step for step in sheet.work.lines}
    assert "nose-near at near (single)" in steps["First flare"]
    assert "nose-near at nose (double + nut)" in steps["Last flare"]


def test_what_is_left_over_length_counts_from_the_other_end(corner: Plan):
    """nose-near is trimmed at the nose, so its marks count from near: by hand from the finished tube's other end.

    Finished 1241.70 mm; bend 1 starts 394.99 mm and bend 2 759.97 mm behind the rim at the nose, 196.99 and 242.44 mm
    long. From the cut end at near, where the flare takes 0.43 mm: 1241.70 - 759.97 - 242.44 + 0.43 = 239.72 and so on.
    """
    blank = corner.sawn[0]
    assert (blank.over_end, blank.ports, float(blank.over_mm)) == (0, ("near", "nose"), 7.0)
    assert blank.length_mm == blank.piece.cut_mm + 7
    finished, flare = blank.piece.finished_mm, blank.piece.ends[1].consumed_mm
    for mark, bend in zip(blank.marks, reversed(blank.piece.bends), strict=True):
        arc = bend.radius_mm * bend.angle_rad
        assert mark.start_mm == pytest.approx(finished - bend.from_rim_mm - arc + flare)
        assert mark.end_mm == pytest.approx(mark.start_mm + arc)
        assert mark.rim_start_mm == pytest.approx(mark.start_mm - flare)
    assert [mark.number for mark in blank.marks] == [2, 1]
    assert blank.marks[1].rotation_rad == pytest.approx(blank.piece.bends[1].rotation_rad)
    assert column(job_sheet(corner).bends, "from end")[:2] == ["near", "near"]


def test_bends_that_count_from_the_other_end_lie_in_the_same_places(corner: Plan):
    """A bench that starts at near, by marks, angles and rotations alone, makes the same tube in space."""
    blank = corner.sawn[0]
    points = np.array(blank.piece.tube.shape.line.points_mm)  # type: ignore[union-attr]
    legs = np.diff(points, axis=0)[::-1] * -1.0
    way, inside = legs[0] / np.linalg.norm(legs[0]), np.array(blank.first_turn)
    at, reached = points[-1], blank.piece.ends[1].seat_mm + blank.piece.ends[1].consumed_mm
    for mark, leg in zip(blank.marks, legs[1:], strict=True):
        at = at + way * (mark.start_mm - reached)
        inside = turned_about(inside, way, mark.rotation_rad)
        centre, axis = at + inside * mark.radius_mm, np.cross(way, inside)
        at = centre + turned_about(at - centre, axis, mark.angle_rad)
        way, inside = turned_about(way, axis, mark.angle_rad), turned_about(inside, axis, mark.angle_rad)
        assert way == pytest.approx(leg / np.linalg.norm(leg), abs=1e-9)
        reached = mark.end_mm
    last = blank.blank_mm - blank.piece.ends[0].consumed_mm - blank.piece.ends[0].seat_mm - reached
    assert at + way * last == pytest.approx(points[0], abs=1e-6)


def turned_about(vector, axis, angle):
    """Rodrigues' formula: a vector turned about a unit axis by the right hand."""
    axis = np.asarray(axis)
    return (
        vector * math.cos(angle)
        + np.cross(axis, vector) * math.sin(angle)
        + axis * (axis @ vector) * (1 - math.cos(angle))
    )


def test_boxes_and_tubes_are_threaded_in_order_from_the_motor(sheet: JobSheet):
    [threaded] = [step for step in sheet.fitting.lines if step.startswith("Thread the tubes")]
    assert threaded.startswith(
        "Thread the tubes on the rack in order from the motor: motor, nose-near, box near, near-far, box far, far-end."
    )


def test_a_straight_run_has_no_step_for_bends():
    steps = job_sheet(plan(job("lined-up-twin"), without_shelf(shop()))).work.lines
    assert not any("bend" in step.lower() for step in steps)


def only_ready_offcut(length_mm: int) -> Shop:
    """The demo's offcut that comes with a double flare and nut, cut to a length and all but given away."""
    offcut = next(bar for bar in shop().stock if bar.ready_ends)
    ready = replace(offcut, length=quantity(length_mm, "mm"), price_cents=1)
    return replace(shop(), stock=(ready, *(bar for bar in shop().stock if not bar.on_shelf)))


def test_a_piece_on_a_ready_end_is_shorter_and_not_flared_there():
    planned = plan(replace(job("lined-up-twin"), measuring_error=None), only_ready_offcut(390))
    made = job_sheet(planned)
    assert column(made.cut_list, "piece")[0] == "nose-near"
    cut = column(made.cut_list, "cut")[0]
    assert isinstance(cut, Fraction)
    assert planned.pieces[0].cut_mm - cut == Fraction(2)  # consumed 2.38 mm, in whole steps of 0.5 mm
    assert (
        f"nose-near: its end at nose is the end of a bar that comes flared; it is cut {float(cut):.1f} mm, and not "
        "flared there."
    ) in made.cut_list.after
    assert not any("nut on" in step or "at nose (double" in step for step in made.work.lines)


def test_bends_behind_a_ready_end_are_marked_from_its_rim():
    """There is no cut end to measure from."""
    planned = plan(replace(job("round-the-corner"), measuring_error=None), only_ready_offcut(1400))
    table = job_sheet(planned).bends
    marks = [row for row in table.rows if row[0] == "nose-near"]
    assert [row[3:6] for row in marks] == [(None, None, b.from_rim_mm) for b in planned.pieces[0].bends]
    assert "The end at nose comes flared: measure from its rim." in table.after[0]


def test_a_piece_that_was_cut_already_is_not_cut_again():
    cut = replace(job("round-the-corner"), cuts=(Cut("nose-near", quantity(1250, "mm")),))
    made = job_sheet(plan(cut, without_shelf(shop())))
    assert (
        "nose-near: was cut already; its length is what was cut, and the saw list still has it on its bar."
        in made.cut_list.after
    )
    assert column(made.as_cut, "was cut") == [1250.0]
    assert any(step.startswith("Saw 2 blanks") for step in made.work.lines)


def test_the_length_that_the_sheet_gave_for_a_ready_end_holds_when_it_was_cut_so():
    """A piece cut by the sheet from a ready-flared bar is the piece that was planned, and the sheet stays as it was."""
    twin = replace(job("lined-up-twin"), measuring_error=None)
    planned = plan(twin, only_ready_offcut(390))
    told = column(job_sheet(planned).cut_list, "cut")[0]
    assert isinstance(told, Fraction)
    cut = Cut("nose-near", quantity(told, "mm"), ready=("nose",))
    after = plan(replace(twin, cuts=(cut,)), only_ready_offcut(390))
    [said] = after.cuts
    assert said.holds
    # It is as much longer than the blank as it was rounded up: the blank to the step, and the flare's share down to it.
    double = planned.pieces[0].ends[0].consumed_mm
    assert said.off_mm == pytest.approx(float(told) + double - planned.pieces[0].blank_mm)
    assert 0 <= said.off_mm < 1
    assert column(job_sheet(after).cut_list, "cut")[0] == told
    assert after.nest == planned.nest


@pytest.mark.parametrize("left_mm", [None, 300])
def test_a_piece_whose_ready_bar_is_used_up_keeps_its_length_on_every_paper_and_pays_for_no_flare(left_mm: int | None):
    """The bar is out of stock, as the papers advise; or another of its kind is there, too short for the piece."""
    told = plan(job("lined-up-twin"), only_ready_offcut(390)).sawn[0]
    assert told.ready == (True, False)
    stocked = without_shelf(shop()) if left_mm is None else only_ready_offcut(left_mm)
    cut = Cut("nose-near", quantity(told.length_mm, "mm"), ready=("nose",))
    after = plan(replace(job("lined-up-twin"), cuts=(cut,)), stocked)
    assert (after.sawn[0].length_mm, after.sawn[0].ready) == (told.length_mm, (True, False))
    on_bars = {name: length for bar in after.nest.bars for name, length in zip(bar.items, bar.lengths_mm, strict=True)}
    assert on_bars["nose-near"] == told.length_mm
    assert not any(line.what in ("nut", "double flare") for line in after.cost.lines)


def test_a_measured_tube_says_that_its_bends_have_no_place():
    table = job_sheet(plan(job("works-truck"), shop())).bends
    told = told_once(table, "mm")
    assert [c.heading for c in told.columns] == ["piece", "bend", "angle", "set to", "radius as bent"]
    assert "its bends are known by angle only" in table.after[0]


def test_what_was_free_is_told_and_nothing_where_nothing_was(sheet: JobSheet):
    assert sheet.chosen.lines == ()
    assert "CHOSEN" not in draw(sheet_of(sheet))
    chosen = job_sheet(plan(job("works-truck"), shop())).chosen.lines
    assert chosen[0] == "Left free: side, heading of left, heading of middle and heading of right."
    assert any(line.startswith("This run: ") for line in chosen)
    assert any(line.startswith("The next best") for line in chosen)


def test_every_heading_of_numbers_with_a_dimension_bears_its_unit(sheet: JobSheet):
    """Counts, ratios and words have none."""
    without = {"bend", "bends", "bar", "count", "quantity", "pull ratio", "teeth in mesh, in / out"}
    for table in (part for part in sheet_of(sheet).parts if isinstance(part, Table)):
        for index, c in enumerate(table.columns):
            if any(isinstance(row[index], int | float | Fraction) for row in table.rows):
                assert c.unit or c.heading in without, f"{table.title}: {c.heading}"


def test_inches_stand_beside_every_length(corner: Plan):
    """One inch of each kind: in a cell under it, in a sentence behind it."""
    text = draw(sheet_of(job_sheet(corner, "in")))
    assert "cut [mm, in]" in text
    assert "49 15/64 in" in text  # 1250.5 mm
    assert "984.9 mm (38 25/32 in)" in text


@pytest.mark.parametrize(("step", "places"), [("0.5 mm", 1), ("1 mm", 1), ("0.25 mm", 2), ("1/32 in", 2)])
def test_cut_lengths_have_the_decimals_of_their_step(step: str, places: int):
    assert places_of(exact_mm(read(step, Kind.LENGTH))) == places


def test_a_job_title_of_any_letters_is_printed_as_typed(corner: Plan):
    titled = replace(corner, job=replace(corner.job, title="Żuk [/red] & <b>Söhne</b> \x1b[2J"))
    assert draw(sheet_of(job_sheet(titled))).splitlines()[0] == "Żuk [/red] & <b>Söhne</b> \\x1b[2J"


def test_pivots_farther_apart_than_their_holes_are_told():
    """The demo's holes and pivots both lie 500 mm apart; 40 mm more on the paper is a slip of the tape."""
    asked = job("lined-up-twin")
    assert not any("apart on the glass" in line for line in glass_table(plan(asked, shop())).after)
    x, y = asked.screen.pivots_mm["far"]
    slipped = replace(asked.screen, pivots_mm={**asked.screen.pivots_mm, "far": (x + 40.0, y)})
    said = glass_table(plan(replace(asked, screen=slipped), shop())).after
    assert (
        "near and far: their pivots lie 540.0 mm apart on the glass, their holes 500.0 mm apart on the vehicle: "
        "measure both again before you trust the sweep."
    ) in said
