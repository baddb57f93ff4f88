"""The check of the sawn blanks at the end of a plan refuses each wrong plan that no other line of it would refuse."""

from __future__ import annotations

from fractions import Fraction

import pytest
from msgspec.structs import replace

from tubing.check import check_bends, check_sawn
from tubing.errors import CheckError
from tubing.inputs.job_file import read_job
from tubing.inputs.records import TrialBend
from tubing.inputs.shop_file import data_folder, read_shop
from tubing.pieces.sawn import SawnBlank
from tubing.plan import plan
from tubing.units import quantity

STEP_MM = Fraction(1, 2)
REPORT = "the plan's own check failed: please report this job; do not cut by it"


def bent() -> SawnBlank:
    """The first blank of the demo with two bends, its positions sure: it needs 1244.64 mm and is sawn 1245."""
    shop = read_shop(None)
    job = read_job(data_folder() / "jobs" / "round-the-corner.toml", shop)
    return plan(replace(job, measuring_error=None), shop).sawn[0]


def over_length() -> SawnBlank:
    """The same with the job's measuring error: 7 mm over length at the nose, so that its marks count from near."""
    shop = read_shop(None)
    return plan(read_job(data_folder() / "jobs" / "round-the-corner.toml", shop), shop).sawn[0]


def test_a_right_blank_passes_and_so_does_one_that_was_cut_as_it_was():
    blank = bent()
    check_sawn([blank], (), STEP_MM)
    check_sawn([replace(blank, length_mm=Fraction(1200))], {"nose-near"}, STEP_MM)


@pytest.mark.parametrize("off_mm", [Fraction(-1, 2), Fraction(1, 2)])
def test_a_blank_sawn_a_step_too_short_or_too_long_is_refused(off_mm: Fraction):
    blank = bent()
    wrong = blank.length_mm + off_mm
    with pytest.raises(CheckError) as error:
        check_sawn([replace(blank, length_mm=wrong)], (), STEP_MM)
    assert str(error.value) == (
        f"blank nose-near: it is sawn {float(wrong):g} mm long; it must be from {blank.blank_mm:.4f} mm to 0.5 mm "
        f"more; {REPORT}"
    )


def test_a_blank_said_to_come_flared_and_sawn_as_a_raw_one_is_refused():
    """The double flare takes 2.38 mm, which the ready end has already; two steps of rounding are 1 mm."""
    with pytest.raises(CheckError, match=r"blank nose-near: it is sawn 1243\.5 mm long"):
        check_sawn([replace(bent(), ready=(True, False))], (), STEP_MM)


def test_a_bend_marked_as_if_its_end_came_flared_is_refused(monkeypatch: pytest.MonkeyPatch):
    """Marks that count from the rim of an end that is still to be flared are off by what the flare takes."""
    blank = bent()
    marks = tuple(replace(mark, start_mm=mark.rim_start_mm) for mark in blank.marks)
    monkeypatch.setattr(SawnBlank, "marks", marks)
    rim = blank.piece.bends[0].from_rim_mm
    assert rim is not None
    with pytest.raises(CheckError) as error:
        check_sawn([blank], (), STEP_MM)
    assert str(error.value) == (
        f"blank nose-near, bend 1: its start is marked at {rim:.4f} mm; it must be "
        f"{rim + blank.piece.ends[0].consumed_mm:.4f} mm from the blank's end at nose; {REPORT}"
    )


def test_a_blank_over_length_passes_and_is_refused_without_what_is_over():
    blank = over_length()
    check_sawn([blank], (), STEP_MM)
    with pytest.raises(CheckError, match=r"blank nose-near: it is sawn 1243\.5 mm long"):
        check_sawn([replace(blank, length_mm=blank.length_mm - blank.over_mm)], (), STEP_MM)


def test_marks_that_count_from_the_end_that_is_trimmed_are_refused(monkeypatch: pytest.MonkeyPatch):
    """§17 Over length: trimmed at the nose, a mark counted from there would wander by what is trimmed."""
    blank = over_length()
    monkeypatch.setattr(SawnBlank, "marks", replace(blank, over_end=None).marks)
    with pytest.raises(CheckError) as error:
        check_sawn([blank], (), STEP_MM)
    assert "mm from the blank's end at near; the plan's own check failed" in str(error.value)


def test_a_bend_that_forms_another_arc_than_it_has_is_refused():
    """Set without the play that two trials tell of: on the former it forms less tube than the bend as it stays has."""
    shop = read_shop(None)
    job = read_job(data_folder() / "jobs" / "round-the-corner.toml", shop)
    blanks = plan(job, shop).sawn
    check_bends(blanks, job, shop)
    pairs = ((96, 90), (32.5, 30))
    trials = tuple(TrialBend("steel-8", "sheave-230", quantity(s, "deg"), quantity(g, "deg")) for s, g in pairs)
    with pytest.raises(
        CheckError, match=r"blank nose-near, bend 2: the bender forms 2\d\d\.\d+ mm of tube; the bend as it"
    ):
        check_bends(blanks, job, replace(shop, trial_bends=trials))
