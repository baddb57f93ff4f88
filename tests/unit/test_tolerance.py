"""Errors of the tape, clips and pieces as they were cut, against sums by hand and brute force."""

import itertools
import math
from pathlib import Path
from random import Random

import pytest
from msgspec.structs import replace

from tubing.geometry.vectors import add, distance_mm
from tubing.inputs.job_file import read_job
from tubing.inputs.records import Cut, FitUp, TubeBetween
from tubing.inputs.shop_file import data_folder, read_shop
from tubing.pieces.clips import APART_MM
from tubing.pieces.tolerance import takes_up_mm
from tubing.plan import laid_out, plan
from tubing.units import mm, quantity

SHOP = read_shop(None)


def demo(name, error_mm=1.0):
    """A demo job with a stated measuring error."""
    job = read_job(Path(data_folder()) / "jobs" / f"{name}.toml", SHOP)
    return replace(job, measuring_error=quantity(error_mm, "mm"), cuts=())


def piece(planned, name):
    """One piece of a plan."""
    return next(p for p in planned.pieces if p.id == name)


def test_a_straight_tube_between_two_holes_by_hand():
    """Each end is off by 1.5 mm along the tube: likely 1.5 sqrt 2, at worst 3.0 mm."""
    each = plan(demo("lined-up-twin", 1.5), SHOP).tolerances["near-far"]
    assert each.likely_mm == pytest.approx(1.5 * math.sqrt(2), abs=1e-3)
    assert each.worst_mm == pytest.approx(3.0, abs=1e-3)


def test_grooves_take_up_their_width_less_the_flare():
    """§11 Tolerance: a 3 mm groove leaves (3 - flare height) / 2 either way, at each groove; the nose none."""
    planned = plan(demo("lined-up-twin"), SHOP)
    height = piece(planned, "near-far").ends[0].height_mm
    width = mm(planned.job.mountings["near"].model.groove_width)
    assert planned.tolerances["near-far"].takes_up_mm == pytest.approx(width - height)
    assert planned.tolerances["nose-near"].takes_up_mm == pytest.approx((width - height) / 2)


def test_marked_in_place_only_where_the_grooves_cannot_take_it_up():
    """A tape that is good to a tenth needs no marking; one that is off by 1.5 mm does, and the hole is named."""
    assert not any(t.mark_in_place for t in plan(demo("lined-up-twin", 0.1), SHOP).tolerances.values())
    rough = plan(demo("lined-up-twin", 1.5), SHOP)
    assert rough.tolerances["near-far"].mark_in_place
    assert rough.tolerances["near-far"].most in ("hole of near", "hole of far")
    assert rough.tolerances["far-end"].worst_mm == 0.0


def test_a_measured_tube_is_off_by_the_tape_alone():
    """A wire laid along the way: the blank is wrong by just what the wire was misread."""
    each = plan(demo("works-truck", 2.0), SHOP).tolerances["nose-left"]
    assert (each.likely_mm, each.worst_mm) == (2.0, 2.0)
    assert each.most == "length measured from nose to left"


@pytest.mark.long
def test_likely_error_is_what_random_errors_give():
    """Brute force: the spread of blanks over random errors of every point is the likely error, round two corners."""
    job = demo("round-the-corner", 0.2)
    held = plan(job, SHOP)
    random, lengths = Random(3), []
    corners = job.between[0].corners_mm
    nose, near = job.nose.position_mm, job.mountings["near"].hole_mm

    def misread(point):
        return add(point, tuple(random.gauss(0.0, 0.2) for _ in range(3)))

    for _ in range(300):
        wrong = replace(
            job,
            nose=replace(job.nose, position_mm=misread(nose)),
            mountings={**job.mountings, "near": replace(job.mountings["near"], hole_mm=misread(near))},
            between=(replace(job.between[0], corners_mm=tuple(misread(c) for c in corners)), *job.between[1:]),
        )
        lengths.append(laid_out(wrong, SHOP, job.layout).pieces[0].blank_mm)
    mean = math.fsum(lengths) / len(lengths)
    spread = math.sqrt(math.fsum((x - mean) ** 2 for x in lengths) / (len(lengths) - 1))
    assert spread == pytest.approx(held.tolerances["nose-near"].likely_mm, rel=0.12)


@pytest.mark.parametrize("name", ["lined-up-twin", "round-the-corner", "inch-launch", "curved-scuttle"])
def test_clips_hold_every_tube_often_enough(name):
    """No free length between held points is over the shop's spacing, and every clip lies on its tube."""
    planned = plan(demo(name), SHOP)
    spacing = mm(SHOP.bench.clip_spacing)
    for each in planned.pieces:
        along = [c.from_rim_mm - each.ends[0].seat_mm for c in planned.clips if c.piece == each.id]
        held = [0.0, *along, each.tube.length_mm]
        gaps = [b - a for a, b in itertools.pairwise(held)]
        assert all(gap <= spacing + APART_MM for gap in gaps)
        assert all(gap > 0 for gap in gaps)
        for clip in (c for c in planned.clips if c.piece == each.id):
            start = each.tube.start.datum_mm
            assert distance_mm(clip.position_mm, start) <= clip.from_rim_mm - each.ends[0].seat_mm + 1e-6


def test_clips_stand_at_the_ends_of_bends():
    """Each bend of the tube round two corners is held where it starts and where it ends."""
    planned = plan(demo("round-the-corner"), SHOP)
    along = [c.from_rim_mm for c in planned.clips if c.piece == "nose-near"]
    for bend in piece(planned, "nose-near").bends:
        for place in (bend.from_rim_mm, bend.from_rim_mm + bend.radius_mm * bend.angle_rad):
            assert min(abs(place - a) for a in along) < 1e-6


def cut(job, name, length_mm):
    """The job with one piece cut."""
    return plan(replace(job, cuts=(*job.cuts, Cut(name, quantity(length_mm, "mm")))), SHOP)


def test_a_piece_cut_a_little_long_sits_off_centre_in_its_grooves():
    """0.6 mm too long between two equal grooves: 0.3 mm deeper in each, and nothing else changes."""
    job = replace(demo("lined-up-twin"), measuring_error=None)
    before = plan(job, SHOP)
    after = cut(job, "near-far", piece(before, "near-far").blank_mm + 0.6)
    [said] = after.cuts
    assert (said.start_mm, said.end_mm) == pytest.approx((0.3, 0.3))
    assert said.holds
    assert [p.blank_mm for p in after.pieces] == pytest.approx([p.blank_mm for p in before.pieces])


def test_a_piece_cut_short_moves_its_box_and_what_follows_is_planned_from_there():
    """nose-near 5 mm short: the groove takes up its room, the box comes back by the rest, near-far grows by it."""
    job = demo("lined-up-twin")
    before = plan(job, SHOP)
    after = cut(job, "nose-near", piece(before, "nose-near").blank_mm - 5.0)
    room = before.tolerances["nose-near"].takes_up_mm
    [said] = after.cuts
    assert not said.holds
    assert said.moved_mm == pytest.approx(-(5.0 - room))
    assert piece(after, "near-far").blank_mm - piece(before, "near-far").blank_mm == pytest.approx(5.0 - room, abs=1e-3)
    assert any("move wheelbox near" in w for w in after.warnings)
    moved = distance_mm(after.job.mountings["near"].hole_mm, job.mountings["near"].hole_mm)
    assert moved == pytest.approx(5.0 - room)


def test_a_move_below_what_is_printed_is_no_move():
    """0.04 mm more than the grooves take up prints as 0.0 mm: the box stays, and nothing is said of a move."""
    job = demo("lined-up-twin")
    before = plan(job, SHOP)
    room = before.tolerances["near-far"].takes_up_mm
    after = cut(job, "near-far", piece(before, "near-far").blank_mm - room - 0.04)
    assert after.cuts[0].holds
    assert not [text for text in after.warnings if "move wheelbox" in text]
    assert not cut(job, "near-far", piece(before, "near-far").blank_mm - room - 0.06).cuts[0].holds


def test_a_piece_cut_longer_than_planned_is_called_too_short_only_with_its_cause():
    """nose-near 8 mm short brings near back by 8 mm less its room: near-far, cut 2 mm long, is too short for that."""
    job = demo("lined-up-twin")
    before = plan(job, SHOP)
    first, second = piece(before, "nose-near"), piece(before, "near-far")
    room = before.tolerances["nose-near"].takes_up_mm
    cuts = (
        Cut("nose-near", quantity(first.blank_mm - 8, "mm")),
        Cut("near-far", quantity(second.blank_mm + 2, "mm")),
    )
    after = plan(replace(job, cuts=cuts), SHOP)
    needs = second.blank_mm + 8 - room
    [said] = [text for text in after.warnings if text.startswith("piece near-far: cut")]
    assert said.startswith(
        f"piece near-far: cut {second.blank_mm + 2:.1f} mm long it is {6 - room:.1f} mm too short (it needs "
        f"{needs:.1f} mm now, not {second.blank_mm:.1f} mm, since nose-near as it was cut moves wheelbox near) and its "
        "grooves cannot take that up; move wheelbox far "
    )


@pytest.mark.long
@pytest.mark.parametrize("name", ["lined-up-twin", "round-the-corner", "works-truck", "curved-scuttle"])
def test_a_cut_piece_fits_between_its_boxes_as_they_are_told_to_stand(name):
    """Plan the moved boxes anew: each piece as it was cut differs from its blank by no more than its grooves take up.

    0.05 mm is the last digit that a move is told to.
    """
    job = demo(name)
    before, random = plan(job, SHOP), Random(11)
    for _ in range(3):
        cuts = tuple(
            Cut(
                each.id,
                quantity(round(each.blank_mm + random.choice((-1, 1)) * random.uniform(2, 15), 1), "mm"),
                flared=each.tube.ports,
            )
            for each in before.pieces[:-1]
        )
        after = plan(replace(job, cuts=cuts), SHOP)
        again = laid_out(replace(after.job, cuts=()), SHOP, after.layout)
        for was_cut, blank in zip(cuts, again.pieces, strict=False):
            room = takes_up_mm(blank, after.job)
            assert abs(mm(was_cut.length) - blank.blank_mm) <= room + 0.05


def test_a_tail_tube_cut_too_short_says_what_the_tip_has_left():
    """Of 10 mm clearance the rack takes 0.4, cut in the gap at 461 x 2.5 mm; 4 mm short leaves 5.6, 12 mm strikes."""
    job = demo("lined-up-twin")
    blank = piece(plan(job, SHOP), "far-end").blank_mm
    near, strikes = (next(w for w in cut(job, "far-end", blank - s).warnings if "far-end" in w) for s in (4.0, 12.0))
    assert near == "piece far-end: cut 4.0 mm short it leaves the rack's tip 5.6 mm at the dead end pushed out"
    assert strikes.endswith("tip -2.4 mm at the dead end pushed out; the rack would strike the end stop: cut it again")


def test_the_cut_length_is_the_one_really_cut():
    """What was cut stands in the cut list, not what would have been."""
    job = demo("lined-up-twin")
    after = cut(job, "near-far", 452.4)
    [sawn] = [blank.length_mm for blank in after.sawn if blank.piece.id == "near-far"]
    assert float(sawn) == pytest.approx(452.4)


@pytest.mark.parametrize("off_mm", [2.99999, 0.0])
def test_a_tube_at_the_edge_of_fit_up_is_as_sure_as_one_in_line(off_mm):
    """Pulled in by all that fit-up allows, a straight tube errs by its two ends along it: 1 mm each."""
    job = demo("lined-up-twin")
    groove = plan(job, SHOP).run.boxes[0].groove_in_mm
    nose = replace(job.nose, position_mm=(job.nose.position_mm[0], groove[1], groove[2] - off_mm))
    planned = plan(replace(job, nose=nose), SHOP)
    assert piece(planned, "nose-near").pull_in.distance_mm == pytest.approx(off_mm, abs=1e-9)
    assert planned.tolerances["nose-near"].worst_mm == pytest.approx(2.0, abs=0.01)


def test_a_shop_that_pulls_nothing_into_place_still_gets_its_errors():
    """Fit-up of nothing: a tube in line to the last digit stays one when its ends are moved by a hair."""
    exact = replace(SHOP, bench=replace(SHOP.bench, fit_up=FitUp(quantity(0, "mm"), quantity(0, "deg"))))
    planned = plan(demo("lined-up-twin"), exact)
    assert planned.tolerances["near-far"].worst_mm == pytest.approx(2.0, abs=0.01)


@pytest.mark.long
def test_a_tube_measured_from_a_box_that_moves_shrinks_as_the_box_comes_towards_it():
    """The wire's length to the next box was laid from where the box was to stand."""
    job = demo("works-truck")
    between = (*job.between, TubeBetween("left", "middle", measured=quantity(530, "mm")))
    measured = replace(job, between=between)
    first, second, *_ = plan(measured, SHOP).pieces
    after = cut(measured, "nose-left", first.blank_mm + 5.0)
    assert second.blank_mm - after.pieces[1].blank_mm == pytest.approx(after.cuts[0].moved_mm)
