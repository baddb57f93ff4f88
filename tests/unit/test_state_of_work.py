"""What was done already: it is not told again, and what no longer fits is told with what can still be done."""

from __future__ import annotations

import math

import pytest
from msgspec.structs import replace

from tubing.bench_work.records import Does
from tubing.errors import JobError
from tubing.inputs.job_file import read_job
from tubing.inputs.records import Cut, Done, Job
from tubing.inputs.shop_file import data_folder, read_shop
from tubing.plan import Plan, plan
from tubing.sheet.content import job_sheet
from tubing.units import mm, quantity

SHOP = replace(read_shop(None), stock=tuple(bar for bar in read_shop(None).stock if not bar.on_shelf))
CORNER = read_job(data_folder() / "jobs" / "round-the-corner.toml", SHOP)
FIRST = plan(CORNER, SHOP)
SAWN = FIRST.sawn[0]  # nose-near: bent twice, 7 mm over length at the nose
NOTHING = Done()


def cut(length_mm: float, **done: object) -> Cut:
    return Cut("nose-near", quantity(length_mm, "mm"), **done)  # type: ignore[arg-type]


def planned(*cuts: Cut, job: Job = CORNER, done: Done = NOTHING) -> Plan:
    return plan(replace(job, cuts=cuts, done=done), SHOP)


def told(made: Plan) -> set[tuple[Does, str, str]]:
    return {(step.does, step.thing, step.at) for step in made.work}


def test_a_piece_cut_over_length_as_it_was_told_changes_nothing_but_the_saw() -> None:
    """It waits to be trimmed in place: no box moves, marks and bends are those that were told."""
    after = planned(cut(float(SAWN.length_mm)))
    assert after.sawn == FIRST.sawn
    assert after.pieces == FIRST.pieces
    assert [each.moved_mm for each in after.cuts] == [0.0]
    assert told(FIRST) - told(after) == {(Does.SAW, "nose-near", ""), (Does.DEBURR, "nose-near", "")}


def test_what_was_bent_and_flared_is_not_told_again() -> None:
    after = planned(cut(float(SAWN.length_mm), bent=True, flared=("near",)))
    gone = told(FIRST) - told(after)
    assert {(does, at) for does, thing, at in gone if thing == "nose-near"} == {
        *((does, "") for does in (Does.SAW, Does.DEBURR, Does.MARK, Does.BEND, Does.MEASURE)),
        (Does.FIRST_FLARE, "near"),
    }
    assert (Does.TRIM, "nose-near", "nose") in told(after)
    assert "nose-near" not in {row[0] for row in job_sheet(after).bends.rows}


def test_boxes_that_stand_and_a_rack_that_is_cut_are_left_alone() -> None:
    gone = told(FIRST) - told(planned(done=Done(rack_cut=True, fixed=("motor", "near"))))
    assert gone == {
        (Does.FIX, "motor", ""),
        (Does.DRILL, "near", ""),
        (Does.FIX, "near", ""),
        (Does.RACK, "rack", ""),
    }


def test_a_piece_trimmed_in_place_tells_where_the_box_really_stands() -> None:
    """4 of 7 mm were trimmed: nose to near is 3 mm longer than the tape said, less what its groove takes up."""
    after = planned(cut(float(SAWN.length_mm), bent=True, flared=("near",), trimmed=quantity(4, "mm")))
    [said] = after.cuts
    room_mm = FIRST.tolerances["nose-near"].takes_up_mm
    assert after.sawn[0].length_mm == SAWN.length_mm - 4
    assert said.moved_mm == pytest.approx(float(SAWN.length_mm) - 4 - SAWN.piece.blank_mm - room_mm, abs=0.02)
    assert not {does for does, thing, _ in told(after) if thing == "nose-near"} & {Does.LAY, Does.TRIM}
    [warning] = [text for text in after.warnings if "trimmed in place" in text]
    assert "stands 2.1 mm along its heading from where it was measured" in warning


@pytest.mark.parametrize(
    ("done", "offered", "not_offered"),
    [
        (
            {"bent": True, "flared": ("near", "nose")},
            ("move wheelbox near", "cut the piece again"),
            ("trim the piece",),
        ),
        ({"flared": ("near",)}, ("trim the piece by 12.0 mm at nose before that end is formed",), ()),
    ],
)
def test_a_piece_too_long_is_told_what_can_still_be_done(
    done: dict[str, object], offered: tuple[str, ...], not_offered: tuple[str, ...]
) -> None:
    """With its positions sure, so that nothing waits to be trimmed in place."""
    sure = replace(CORNER, measuring_error=None)
    after = planned(cut(SAWN.piece.blank_mm + 12, **done), job=sure)
    [said] = [text for text in after.warnings if "too long" in text]
    assert all(words in said for words in (*offered, f"{round(SAWN.piece.blank_mm, 1)} mm long"))
    assert not any(words in said for words in not_offered)


def test_a_bent_piece_whose_box_moves_along_its_heading_keeps_its_bends() -> None:
    """Its last leg lies along that heading, so that it only grows: 20 mm too short moves no bend."""
    sure = replace(CORNER, measuring_error=None)
    after = planned(cut(SAWN.piece.blank_mm - 20, bent=True, flared=("near", "nose")), job=sure)
    [said] = after.cuts
    assert said.bent_off is not None
    assert said.bent_off.angle_rad == pytest.approx(0.0, abs=math.radians(0.01))
    assert said.bent_off.place_mm == pytest.approx(0.0, abs=0.05)
    assert not any("it is bent already" in text for text in after.warnings)


def test_a_bent_piece_whose_first_box_was_moved_has_its_bends_in_the_wrong_place() -> None:
    """nose-near 30 mm short draws near 29 mm away along its heading, and near-middle's bend away from the corner.

    near-middle is as long as it was planned, so middle comes back too; its one bend, in the plane of both headings,
    keeps its angle, and would have to lie farther along by what near moved.
    """
    scuttle = replace(read_job(data_folder() / "jobs" / "curved-scuttle.toml", SHOP), measuring_error=None)
    first = plan(scuttle, SHOP)
    near, middle = first.pieces[0], first.pieces[1]
    cuts = (
        Cut(near.id, quantity(near.blank_mm - 30, "mm"), flared=("nose", "near"), bent=True),
        Cut(middle.id, quantity(middle.blank_mm, "mm"), flared=("near", "middle"), bent=True),
    )
    after = planned(*cuts, job=scuttle)
    assert after.cuts[1].bent_off is not None
    assert after.cuts[1].bent_off.place_mm > 2.0
    assert any(text.startswith("piece near-middle") and "it is bent already" in text for text in after.warnings)


def test_what_cannot_have_been_done_is_refused() -> None:
    straight = Cut("near-far", quantity(502, "mm"), bent=True)
    with pytest.raises(JobError, match="cut 'near-far', bent: the piece has no bends"):
        planned(straight)
    with pytest.raises(JobError, match="cut 'far-end', flared: at end the piece has no flare"):
        planned(Cut("far-end", quantity(143.5, "mm"), flared=("end",)))
    with pytest.raises(JobError, match="its end at nose came flared"):
        planned(cut(1248, ready=("nose",), flared=("nose",)))


def test_lengths_and_positions_agree_after_a_trim() -> None:
    """By positions alone: the piece as it is now is as long as the tube between its ports, but for its grooves."""
    for trimmed_mm in (1.0, 4.0, 9.0):
        after = planned(cut(float(SAWN.length_mm), trimmed=quantity(trimmed_mm, "mm")))
        over = mm(after.job.cuts[0].left) - after.pieces[0].blank_mm
        assert abs(over) <= FIRST.tolerances["nose-near"].takes_up_mm + 0.05
