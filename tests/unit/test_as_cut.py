"""Pieces as they were cut: what moves, what does not, and what the fitter is told."""

from __future__ import annotations

from random import Random

import pytest
from msgspec.structs import replace

from tubing.errors import FitError
from tubing.geometry.vectors import distance_mm
from tubing.inputs.job_file import read_job
from tubing.inputs.records import Cut, Job
from tubing.inputs.shop_file import data_folder, read_shop
from tubing.pieces.tolerance import takes_up_mm
from tubing.plan import Plan, plan
from tubing.sheet.content import job_sheet
from tubing.units import quantity

SHOP = read_shop(None)
JOBS = sorted(path.stem for path in (data_folder() / "jobs").glob("*.toml"))


def demo(name: str) -> Job:
    return read_job(data_folder() / "jobs" / f"{name}.toml", SHOP)


def with_cuts(job: Job, **lengths_mm: float) -> Plan:
    """The plan with pieces cut; a name's dash is written as an underline."""
    cuts = tuple(Cut(name.replace("_", "-"), quantity(long, "mm")) for name, long in lengths_mm.items())
    return plan(replace(job, cuts=cuts), SHOP)


def said_of(planned: Plan, piece: str) -> list[str]:
    return [text for text in planned.warnings if text.startswith(f"piece {piece}: cut ")]


@pytest.mark.parametrize("over_mm", [0.0, 0.01, 0.049])
def test_a_move_that_would_be_printed_as_nothing_is_no_move(over_mm: float):
    """Two grooves take up 2.01 mm; so much and a hair more sits, and no box is moved by 0.0 mm."""
    job = demo("lined-up-twin")
    before = plan(job, SHOP).pieces[1]
    room = takes_up_mm(before, job)
    planned = with_cuts(job, near_far=before.blank_mm - room - over_mm)
    assert said_of(planned, "near-far") == []
    [cut] = planned.cuts
    assert (cut.holds, cut.moved_mm) == (True, pytest.approx(0.0, abs=1e-12))
    assert (cut.start_mm, cut.end_mm) == pytest.approx((-(room + over_mm) / 2,) * 2)
    assert planned.job.mountings["far"].hole_mm == job.mountings["far"].hole_mm


def test_what_is_printed_as_a_tenth_is_a_move():
    job = demo("lined-up-twin")
    before = plan(job, SHOP).pieces[1]
    [cut] = with_cuts(job, near_far=before.blank_mm - takes_up_mm(before, job) - 0.051).cuts
    assert cut.moved_mm == pytest.approx(-0.051, abs=1e-6)


def test_a_piece_cut_too_long_is_called_too_short_only_with_the_cause():
    """nose-near 8 mm short draws box near back by 8 mm less its groove's room; near-far, 1 mm long, is then short."""
    job = demo("lined-up-twin")
    first, second, _ = plan(job, SHOP).pieces
    back = 8.0 - takes_up_mm(first, job)
    planned = with_cuts(job, nose_near=first.blank_mm - 8.0, near_far=second.blank_mm + 1.0)
    on = back - 1.0 - takes_up_mm(second, job)
    x, y, z = planned.run.boxes[1].mounting.hole_mm
    assert said_of(planned, "near-far") == [
        f"piece near-far: cut {second.blank_mm + 1.0:.1f} mm long it was 1.0 mm too long by the first plan; wheelbox "
        f"near moves {back:.1f} mm against its heading, and that makes it {back - 1.0:.1f} mm too short, and its "
        f"grooves cannot take that up; move wheelbox far {on:.1f} mm against its heading, its hole to ({x:.1f}, "
        f"{y:.1f}, {z:.1f}) mm, or cut the piece again; what follows is planned from there"
    ]
    assert job_sheet(planned).as_cut.after == (
        f"near-far: 1.0 mm too long by the first plan; wheelbox near moves {back:.1f} mm against its heading, and that "
        f"makes it {back - 1.0:.1f} mm too short.",
    )


def consistent(planned: Plan) -> None:
    """By positions alone: each piece that was cut is as long as the tube between its ports, but for its grooves."""
    for piece in planned.pieces[:-1]:
        for cut in (c for c in planned.job.cuts if c.piece == piece.id):
            over = float(cut.length.to("mm").magnitude) - piece.blank_mm
            assert abs(over) <= takes_up_mm(piece, planned.job) + 0.05


@pytest.mark.parametrize("name", JOBS)
def test_where_several_pieces_were_cut_positions_and_lengths_agree(name: str):
    """Every cut piece, held at the boxes where they come to be, is off by no more than its grooves take up."""
    job, random, tried = demo(name), Random(name), 0
    blanks = {piece.id: piece.blank_mm for piece in plan(job, SHOP).pieces[:-1]}
    for _ in range(4):
        cuts = tuple(Cut(n, quantity(round(b + random.uniform(-9.0, 9.0), 1), "mm")) for n, b in blanks.items())
        try:
            planned = plan(replace(job, cuts=cuts), SHOP)
        except FitError:
            continue  # a box so far away, or so near, that no tube leads to it
        consistent(planned)
        tried += 1
    assert tried


def test_a_bent_piece_keeps_its_bends_and_only_its_last_straight_changes():
    """Round the corner the first piece has two bends; 6 mm too long it moves its box, and is bent as it was told.

    To 0.01 mm and 0.01 deg: the piece is 0.1 deg out of line with the heading that the box moves along.
    """
    job = demo("round-the-corner")
    before = plan(job, SHOP).pieces[0]
    planned = with_cuts(job, nose_near=before.blank_mm + 6.0)
    after = planned.pieces[0]
    for was, now in zip(before.bends, after.bends, strict=True):
        assert now.start_mm == pytest.approx(was.start_mm, abs=0.01)
        assert (now.angle_rad, now.rotation_rad) == pytest.approx((was.angle_rad, was.rotation_rad), abs=1.7e-4)
    moved = distance_mm(planned.job.mountings["near"].hole_mm, job.mountings["near"].hole_mm)
    assert after.blank_mm - before.blank_mm == pytest.approx(moved, abs=0.01)


def test_a_tube_measured_with_a_wire_grows_with_the_box_that_it_moves():
    """The works truck's first tube is measured: 5 mm too long it moves box left, and its length to there agrees."""
    job = demo("works-truck")
    before = plan(job, SHOP).pieces[0]
    planned = with_cuts(job, nose_left=before.blank_mm + 5.0)
    assert planned.pieces[0].blank_mm == pytest.approx(before.blank_mm + 5.0 - takes_up_mm(before, job), abs=1e-6)
