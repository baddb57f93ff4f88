"""Blanks, marks, clips, tolerance and pieces as cut: each figure by a sum worked out by hand in its docstring.

The tube is 8 mm with a single flare of 10 mm and a double flare of 11 mm over the rim, both at 45 degrees. So a single
flare is 1 mm high and takes 1.41421 - 1 = 0.41421 mm; a double one is 1.5 mm high and takes 2 x 2.12132 - 1.5 =
2.74264 mm. The former's radius is 100 mm, springback 3 %.
"""

import math
from fractions import Fraction
from pathlib import Path
from types import SimpleNamespace

import pytest
from msgspec.structs import replace

from tubing.centreline.between import Bending, Laid, PortAt, PullIn, check_room, tube_between
from tubing.centreline.develop import develop
from tubing.errors import GeometryError
from tubing.inputs.job_file import read_job
from tubing.inputs.records import Cut
from tubing.inputs.shop_file import data_folder, read_shop
from tubing.pieces.as_cut import as_cut
from tubing.pieces.blanks import cut_pieces
from tubing.pieces.clips import clips
from tubing.pieces.sawn import SawnBlank
from tubing.pieces.tolerance import groove_room_mm, takes_up_mm
from tubing.plan import plan
from tubing.run.records import Measured, RunTube
from tubing.units import mm, quantity

SHOP = read_shop(None)
BENCH = replace(
    SHOP.bench, springback=0.03, rack_least_radius=quantity(90, "mm"), cut_step=quantity(Fraction(1, 2), "mm")
)
TWIN = read_job(Path(data_folder()) / "jobs" / "lined-up-twin.toml", SHOP)
TUBE = replace(
    TWIN.tube,
    single_flare=quantity(10, "mm"),
    double_flare=quantity(11, "mm"),
    least_radius=quantity(95, "mm"),
)
JOB = replace(TWIN, tube=TUBE, former=replace(TWIN.former, radius=quantity(100, "mm")))
NOSE = PortAt("nose", (0.0, 0.0, 0.0), (1.0, 0.0, 0.0), 39.0)
NEAR = PortAt("near", (400.0, 300.0, 0.0), (0.0, 1.0, 0.0), 25.0)
SINGLE, DOUBLE = math.sqrt(2) - 1, 3 * math.sqrt(2) - 1.5


def cornered(start=NOSE, end=NEAR, flares=("double", "single")):
    """From the nose 400 mm to the right, then 300 mm forward to the groove, with one bend of a right angle."""
    corner = (end.datum_mm[0], start.datum_mm[1], 0.0)
    return RunTube(start, end, flares, Laid(develop([start.datum_mm, corner, end.datum_mm], 100.0), PullIn(0.0, 0.0)))


def made(tube, job=JOB, bench=BENCH):
    """The one piece of a run of one tube."""
    [piece] = cut_pieces(SimpleNamespace(tubes=(tube,)), job, replace(SHOP, bench=bench))
    return piece


def test_blank_and_finished_length_round_a_corner():
    """§8 Rounding: a blank is rounded up once.

    300 + 100 pi/2 + 200 = 657.0796 from datum to datum; the groove's rim is half the flare's height on: 657.5796.

    The blank adds what the flares take: 657.5796 + 2.74264 + 0.41421 = 660.7365, cut at the next half millimetre, 661.
    From rim to rim it is the root of 400 squared and 300.5 squared: 500.3002.
    """
    piece = made(cornered())
    assert piece.finished_mm == pytest.approx(657.5796, abs=5e-5)
    assert piece.blank_mm == pytest.approx(660.7365, abs=5e-5)
    assert piece.cut_mm == 661
    assert piece.rim_to_rim_mm == pytest.approx(500.3002, abs=5e-5)


def test_the_seat_lies_beyond_each_groove_and_not_beyond_the_nose():
    """From a groove back to the nose the same tube is as long; between two grooves half a flare is added at both ends.

    Rim to rim between grooves: from (-0.5, 0) to (400, 300.5).
    """
    far = PortAt("far", NEAR.datum_mm, NEAR.heading, 25.0)
    near = PortAt("near", NOSE.datum_mm, NOSE.heading, 25.0)
    piece = made(cornered(near, far, ("single", "single")))
    assert piece.finished_mm == pytest.approx(658.0796, abs=5e-5)
    assert piece.rim_to_rim_mm == pytest.approx(math.hypot(400.5, 300.5))
    assert piece.blank_mm == pytest.approx(658.0796 + 2 * SINGLE, abs=5e-5)


def test_a_bend_starts_behind_seat_and_straight_and_is_set_further_than_it_ends():
    """§12 Springback: set = angle x (1 + springback).

    From the rim at the nose 300 mm; from the cut end 2.74264 more; 157.0796 of arc; 90 x 1.03 = 92.7 degrees."""
    piece = made(cornered())
    [bend] = piece.bends
    assert bend.from_rim_mm == pytest.approx(300.0)
    assert math.degrees(bend.set_rad) == pytest.approx(92.7)
    [mark] = SawnBlank(piece, piece.cut_mm, (False, False)).marks
    assert (mark.start_mm, mark.end_mm) == pytest.approx((302.74264, 459.82227), abs=5e-5)


def test_a_bend_between_grooves_counts_from_the_first_rim():
    """Half a flare of seat before the straight: 300.5 from the rim, 0.41421 more from the cut end."""
    far = PortAt("far", NEAR.datum_mm, NEAR.heading, 25.0)
    near = PortAt("near", NOSE.datum_mm, NOSE.heading, 25.0)
    piece = made(cornered(near, far, ("single", "single")))
    assert piece.bends[0].from_rim_mm == pytest.approx(300.5)
    [mark] = SawnBlank(piece, piece.cut_mm, (False, False)).marks
    assert mark.start_mm == pytest.approx(300.5 + SINGLE)


def test_behind_a_ready_end_marks_count_from_its_rim():
    """The flare is there already: it takes nothing, and bend 1 starts 300 mm from its rim."""
    piece = made(cornered())
    ready = SawnBlank(piece, piece.cut_mm - 2, (True, False))
    assert ready.marks[0].start_mm == pytest.approx(300.0)
    assert ready.blank_mm == pytest.approx(657.5796 + SINGLE, abs=5e-5)
    other = SawnBlank(piece, piece.cut_mm, (False, True))
    assert other.marks[0].start_mm == pytest.approx(302.74264, abs=5e-5)
    assert other.blank_mm == pytest.approx(657.5796 + DOUBLE, abs=5e-5)


def test_a_tube_measured_with_a_wire_is_set_further_too():
    """Its bends have no place, but an angle: 30 degrees are set to 30.9."""
    piece = made(RunTube(NOSE, NEAR, ("double", "single"), Measured(600.0, (math.radians(30),))))
    assert math.degrees(piece.bends[0].set_rad) == pytest.approx(30.9)
    assert piece.blank_mm == pytest.approx(600.5 + SINGLE + DOUBLE)


@pytest.mark.parametrize(
    ("tube_mm", "rack_mm", "whose", "least"), [(120, 90, "tube", 120), (90, 130, "rack", 130), (120, 120, "tube", 120)]
)
def test_the_tighter_limit_of_tube_and_rack_governs(tube_mm, rack_mm, whose, least):
    """A former of 100 mm, 3 % sprung back; the tube must stand the former, the rack the bend as it stays."""
    found = {"tube": "the former's radius is 100 mm", "rack": "a bend on the former stays at a radius of 103 mm"}[whose]
    job = replace(JOB, tube=replace(TUBE, least_radius=quantity(tube_mm, "mm")))
    with pytest.raises(GeometryError) as error:
        made(cornered(), job, replace(BENCH, rack_least_radius=quantity(rack_mm, "mm")))
    assert str(error.value) == (
        f"tube nose-near: {found}; the {whose} bends no tighter than {least} mm; choose a larger former"
    )


def test_clips_stand_at_bend_ends_and_share_the_spacing():
    """Every 100 mm at most: at 100, 200, 300 (where the bend starts), 378.54, 457.08 (where it ends) and 557.08.

    300 mm are an exact multiple of the spacing: three steps, not four. The other end sits in its groove.
    """
    found = [clip.from_rim_mm for clip in clips([made(cornered())], 100.0)]
    assert found == pytest.approx([100, 200, 300, 378.5398, 457.0796, 557.0796], abs=5e-5)


def test_a_plain_end_is_held_by_a_clip_of_its_own():
    """10 mm before it, half a clip's width; behind a groove all places count from the rim, 0.5 mm further."""
    end = PortAt("end", (250.0, 0.0, 0.0), (1.0, 0.0, 0.0), 0.0)
    near = PortAt("near", (0.0, 0.0, 0.0), (1.0, 0.0, 0.0), 25.0)
    laid = Laid(develop([near.datum_mm, end.datum_mm], 100.0), PullIn(0.0, 0.0))
    piece = made(RunTube(near, end, ("single", "plain"), laid))
    found = clips([piece], 100.0)
    assert [clip.from_rim_mm for clip in found] == pytest.approx([250 / 3 + 0.5, 500 / 3 + 0.5, 240.5])
    assert found[-1].position_mm == pytest.approx((240.0, 0.0, 0.0))


def test_no_clip_stands_within_its_own_width_of_another_or_of_an_end():
    """Bends that end 15 mm behind the rim or 15 mm before the end get no clip there."""
    near = PortAt("near", (0.0, 0.0, 0.0), (1.0, 0.0, 0.0), 0.0)
    far = PortAt("far", (115.0, 115.0, 0.0), (0.0, 1.0, 0.0), 0.0)
    found = [clip.from_rim_mm - 0.5 for clip in clips([made(cornered(near, far, ("single", "single")))], 1000.0)]
    assert found == []


def grooves(near_mm, far_mm):
    """The job with these widths of groove at its boxes."""
    widths = {"near": near_mm, "far": far_mm}
    mountings = {
        name: replace(m, model=replace(m.model, groove_width=quantity(widths[name], "mm")))
        for name, m in JOB.mountings.items()
    }
    return replace(JOB, mountings=mountings)


def between_boxes():
    near = PortAt("near", (0.0, 0.0, 0.0), (1.0, 0.0, 0.0), 25.0)
    far = PortAt("far", (400.0, 0.0, 0.0), (1.0, 0.0, 0.0), 25.0)
    laid = Laid(develop([near.datum_mm, far.datum_mm], 100.0), PullIn(0.0, 0.0))
    return made(RunTube(near, far, ("single", "single"), laid))


def test_unequal_grooves_take_up_in_proportion():
    """Flares 1 mm high in grooves of 3 and 2 mm: rooms of 1 and 0.5 mm. Cut 0.9 mm too long: 0.6 and 0.3 mm off."""
    job, piece = grooves(3, 2), between_boxes()
    assert groove_room_mm(piece, job) == pytest.approx((1.0, 0.5))
    assert takes_up_mm(piece, job) == pytest.approx(1.5)
    said = as_cut(piece, job, Cut(piece.id, quantity(piece.blank_mm + 0.9, "mm")), piece)
    assert (said.start_mm, said.end_mm, said.moved_mm) == pytest.approx((0.6, 0.3, 0.0))
    said = as_cut(piece, job, Cut(piece.id, quantity(piece.blank_mm - 4.5, "mm")), piece)
    assert (said.start_mm, said.end_mm, said.moved_mm) == pytest.approx((-1.0, -0.5, -3.0))


def test_grooves_that_their_flares_fill_take_up_nothing():
    """Flares 1 mm high in grooves of 1 mm: what a piece was cut wrong moves the box, all of it."""
    job, piece = grooves(1, 1), between_boxes()
    assert groove_room_mm(piece, job) == pytest.approx((0.0, 0.0))
    for off in (0.7, -0.7):
        said = as_cut(piece, job, Cut(piece.id, quantity(piece.blank_mm + off, "mm")), piece)
        assert (said.start_mm, said.end_mm, said.moved_mm) == pytest.approx((0.0, 0.0, off))


def test_a_nose_takes_none_of_what_a_piece_was_cut_wrong():
    """All of 0.7 mm shows at the groove; of 1.2 mm the groove takes 1, and the box moves by 0.2."""
    job, piece = grooves(3, 2), made(cornered())
    for off, end, moved in ((0.7, 0.7, 0.0), (1.2, 1.0, 0.2), (-1.2, -1.0, -0.2)):
        said = as_cut(piece, job, Cut(piece.id, quantity(piece.blank_mm + off, "mm")), piece)
        assert said.start_mm is None
        assert (said.end_mm, said.moved_mm) == pytest.approx((end, moved))


def test_a_tail_tube_may_be_cut_anyhow_and_moves_no_box():
    """It sits in its one groove as planned; what it is too long or too short shows at its plain end."""
    near = PortAt("near", (0.0, 0.0, 0.0), (1.0, 0.0, 0.0), 25.0)
    end = PortAt("end", (150.0, 0.0, 0.0), (1.0, 0.0, 0.0), 0.0)
    laid = Laid(develop([near.datum_mm, end.datum_mm], 100.0), PullIn(0.0, 0.0))
    piece = made(RunTube(near, end, ("single", "plain"), laid))
    said = as_cut(piece, grooves(3, 2), Cut(piece.id, quantity(piece.blank_mm - 30, "mm")), piece)
    assert (said.start_mm, said.end_mm, said.moved_mm) == (0.0, None, 0.0)
    assert said.off_mm == pytest.approx(-30)


def test_a_piece_cut_from_a_ready_end_counts_as_if_its_flare_had_been_formed():
    """It is shorter by what the flare would have taken, 2.74264 mm, and that is no error."""
    piece = made(cornered())
    cut = Cut(piece.id, quantity(piece.blank_mm - DOUBLE + 0.2, "mm"), ready=("nose",))
    assert as_cut(piece, grooves(3, 2), cut, piece).off_mm == pytest.approx(0.2)


def test_likely_is_the_root_of_squares_and_worst_the_sum():
    """A straight tube between two points, each 1.5 mm sure: root of 2 x 1.5 squared = 2.1213, and 3.0."""
    planned = plan(replace(TWIN, measuring_error=quantity(1.5, "mm")), SHOP)
    each = planned.tolerances["near-far"]
    assert (each.likely_mm, each.worst_mm) == pytest.approx((2.1213, 3.0), abs=5e-3)


def test_the_largest_radius_round_a_named_corner():
    """Legs of 150 and 120 mm that hold 20 mm each: a right angle's tangents are its radius, so 100 mm fit, not 130."""
    start = PortAt("near", (0.0, 0.0, 0.0), (1.0, 0.0, 0.0), 20.0)
    end = PortAt("far", (150.0, 120.0, 0.0), (0.0, 1.0, 0.0), 20.0)
    bending = Bending(130.0, 10.0, 3.0, math.radians(2))
    line = develop([start.datum_mm, (150.0, 0.0, 0.0), end.datum_mm], 130.0)
    with pytest.raises(GeometryError) as error:
        check_room(line, start, end, bending, ((150.0, 0.0, 0.0),))
    assert error.value.largest_radius_mm == pytest.approx(100.0)
    assert str(error.value).endswith("move the corners apart; the largest radius that would fit is 100 mm")
    fits = tube_between(start, end, replace(bending, radius_mm=99.9), ((150.0, 0.0, 0.0),))
    assert fits.line.bends[0].radius_mm == 99.9


@pytest.mark.parametrize(
    ("margin_mm", "told"), [(60, "pulled in: cut here when the rack is threaded"), (0, "pulled in: inside it")]
)
def test_where_the_rack_is_cut_is_told_by_its_end_face_only_where_it_stands_out(margin_mm, told):
    """Pulled in, 25 + 60 - 45 = 40 mm stand out of the last box; with 25 + 0 the rack ends 20 mm inside it."""
    from tubing.sheet.driving import drive_table

    shop = replace(SHOP, drive=replace(SHOP.drive, margin=quantity(margin_mm, "mm")))
    rows = {row[0]: row for row in drive_table(plan(replace(TWIN, measuring_error=None), shop)).rows}
    past = rows["rack past the last box's end face"]
    assert past[2] == told
    box = TWIN.mountings["far"].model
    assert past[1].value == pytest.approx(25 + margin_mm - mm(box.mouth_offset), abs=2.5)
