"""The page of trial pieces: what a shop without trials should bend and flare first."""

import pytest
from msgspec.structs import replace

from tests.demos import demo_plan
from tubing.inputs.records import TrialBend, TrialFlare
from tubing.plan import plan
from tubing.sheet.content import job_sheet
from tubing.sheet.sections import sheet_of
from tubing.sheet.trial_pieces import trial_pieces
from tubing.units import quantity


def rows(**tried):
    """The rows of the demo round two corners, by a shop that has tried these."""
    given = demo_plan("round-the-corner")
    return trial_pieces(plan(given.job, replace(given.shop, **tried))).rows


BEND = TrialBend("steel-8", "sheave-230", quantity(62, "deg"), quantity(60, "deg"))
SINGLE = TrialFlare("steel-8", "single", quantity(200, "mm"), quantity(199, "mm"))


def test_two_bends_that_span_the_jobs_own_and_two_flares_of_each_kind():
    """Bends of 6.8 to 60.4 degrees: 20, which can be measured, and 70. 236.9 mm x 70 degrees are 289.4 mm, and 200."""
    found = [(row[0], row[1]) for row in rows()]
    assert found == [
        ("bend 1", 300),
        ("bend 2", 500),
        ("single flare 1", 200),
        ("single flare 2", 200),
        ("double flare 1", 200),
        ("double flare 2", 200),
    ]
    assert ["set the bender to 20 deg" in rows()[0][2], "set the bender to 70 deg" in rows()[1][2]] == [True, True]


@pytest.mark.parametrize(
    ("tried", "left"),
    [
        ({"trial_bends": (BEND,)}, {"single flare 1", "single flare 2", "double flare 1", "double flare 2"}),
        ({"trial_flares": (SINGLE,)}, {"bend 1", "bend 2", "double flare 1", "double flare 2"}),
    ],
)
def test_what_was_tried_is_not_asked_again(tried, left):
    assert {row[0] for row in rows(**tried)} == left


def test_a_run_without_bends_asks_for_flares_alone():
    found = trial_pieces(demo_plan("lined-up-twin"))
    assert {row[0].split()[1] for row in found.rows} == {"flare"}
    assert len(found.after) == 1


def test_it_stands_on_paper_and_not_on_the_screen():
    sheet = job_sheet(demo_plan("round-the-corner"))
    assert sheet.trial_pieces.rows
    assert sheet.trial_pieces not in sheet_of(sheet).parts
