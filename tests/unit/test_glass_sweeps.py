"""The sweeps beside each other, lengths left free, and the arms and blades that are refused."""

import itertools
import json
import math

import pytest

from tests.glass_facts import ON_OFFER, arm, glass, wiper
from tubing.errors import FitError, JobError
from tubing.glass import as_data, at_sweep, best_sweep, sweep_table
from tubing.glass.arms import options
from tubing.units import quantity


def test_each_wheelbox_sweeps_by_its_own_pitch_radius():
    """Boxes of 110 and 88 degrees on one rack sweep 100 and 80 at the offered 100."""
    row = at_sweep(
        glass([wiper(at=(-200.0, -30.0)), wiper("far", (250.0, -30.0), sweep=88)], [arm(), arm("far")]),
        quantity(100, "deg"),
    )
    assert [(f.name, f.sweep_deg) for f in row.fitted] == [("near", 100), ("far", pytest.approx(80))]


def test_the_best_sweep_is_the_most_wiped_that_keeps_clear():
    """One arm parked left at 20 degrees: 140 leaves 20 on the other side as well; more would go over the lower edge."""
    subject = glass(arms=[arm(length=300, blade=200, crank=0, parked=20)], clearance=30)
    table = sweep_table(subject, [quantity(a, "deg") for a in (150, 90, 120, 140)])
    assert [row.sweep_deg for row in table.sweeps] == [90, 120, 140, 150]
    assert [bool(row.breaks) for row in table.sweeps] == [False, False, False, True]
    assert best_sweep(table) is table.sweeps[2]
    wiped = [math.radians(a) / 2 * (400**2 - 200**2) for a in (90, 120, 140)]
    assert [row.wiped_mm2 for row in table.sweeps[:3]] == pytest.approx(wiped, abs=10)
    percent = 100 * wiped[2] / (500 * 1200)
    assert table.reason == (
        f"140 deg wipes {percent:.1f} % of the screen, the most of those that keep 30 mm everywhere; "
        f"150 deg would wipe {table.sweeps[3].screen_percent:.1f} %, but "
        "the blade on 'near' comes within 4.7 mm of the edge"
    )


def test_nothing_that_fits_is_an_error_that_names_what_comes_nearest():
    """Blades far too long for the screen; the table is there all the same."""
    table = sweep_table(glass(arms=[arm(length=500, blade=300, crank=0, parked=20)]))
    assert table.best is None
    assert len(table.sweeps) == 6
    assert all(row.screen_percent > 0 for row in table.sweeps)
    with pytest.raises(FitError) as error:
        best_sweep(table)
    assert error.value.exit_status == 3
    assert str(error.value) == (
        "sweep: no sweep on offer keeps 5 mm everywhere; at 90 deg, which comes nearest, the blade on 'near' goes "
        "120.0 mm over the edge; every blade must keep 5 mm to the edge and to its neighbour; choose shorter blades, "
        "move a pivot, or ask for less clearance"
    )


@pytest.mark.parametrize(
    ("apart_mm", "crank_deg", "clearance_mm"), [(250, 8, 5), (250, 20, 5), (130, 8, 5), (130, 0, 30), (190, 20, 30)]
)
def test_lengths_left_free_are_the_best_of_all_that_keep_clear(apart_mm, crank_deg, clearance_mm):
    """Every pair of arms on offer tried one by one gives nothing better than the search."""
    wipers = [wiper(at=(-apart_mm / 2, -30.0), lost=1), wiper("far", (apart_mm / 2, -30.0), lost=1)]

    def row(one, two):
        arms = [
            arm(on, length, None if length is None else length - 20, crank_deg)
            for on, length in (("near", one), ("far", two))
        ]
        return at_sweep(glass(wipers, arms, clearance=clearance_mm), quantity(110, "deg"))

    every = [(row(one, two), one, two) for one, two in itertools.product((200, 250, 300, 350), repeat=2)]
    tried = [(tried.wiped_mm2, one, two) for tried, one, two in every if not tried.breaks]
    assert 0 < len(tried) < 16
    found = row(None, None)
    assert found.breaks == ()
    assert found.wiped_mm2 == pytest.approx(max(tried)[0], abs=1)
    assert tuple(f.arm_mm for f in found.fitted) == max(tried)[1:]


def test_blades_on_offer_with_an_arm_of_that_length_are_tried_too():
    """280 mm is not one of the steps, and the arms of other lengths bring none."""
    tried = [option.blade_mm for option in options(arm(length=300, blade=None), ON_OFFER)]
    assert tried == sorted([*range(150, 601, 25), 280])


def test_a_blade_left_free_is_tried_by_inches_and_an_arm_left_free_by_the_table():
    """25 mm steps from 150; arms of the table that carry the blade."""
    free_blade = at_sweep(glass(arms=[arm(length=300, blade=None)]), quantity(110, "deg")).fitted[0]
    steps = [*range(150, 601, 25), 280]
    wiped = {b: at_sweep(glass(arms=[arm(length=300, blade=b)]), quantity(110, "deg")) for b in steps}
    assert free_blade.blade_mm == max((b for b in steps if not wiped[b].breaks), key=lambda b: wiped[b].wiped_mm2)
    free_arm = at_sweep(glass(arms=[arm(length=None, blade=450)]), quantity(110, "deg"))
    assert free_arm.fitted[0].arm_mm in (250, 300, 350)
    assert free_arm.fitted[0].blade_mm == 450


def test_an_arm_left_free_needs_one_on_offer():
    """The table's longest arm carries no blade of 800 mm."""
    with pytest.raises(FitError) as error:
        at_sweep(glass(arms=[arm(length=None, blade=800)]), quantity(110, "deg"))
    assert str(error.value) == (
        "arm on 'near': its length is left free for its blade of 800 mm and the longest arm on offer is 350 mm; an arm "
        "must be at least half as long as its blade; give 'length' in the job, or add an arm to the table of arms"
    )
    with pytest.raises(FitError) as error:
        at_sweep(glass(arms=[], on_offer=()), quantity(110, "deg"))
    assert "its length is left free and no arm is on offer" in str(error.value)
    with pytest.raises(FitError) as error:
        at_sweep(glass(arms=[arm(length=60, blade=None)]), quantity(110, "deg"))
    assert str(error.value) == (
        "arm on 'near': its arm of 60 mm takes no blade of 150 mm or more; half a blade may not be longer than its "
        "arm; give the blade's length too, or a longer arm"
    )


def test_the_plans_data_is_plain_and_complete():
    """It survives JSON; one blade has no neighbour; two have one distance each pair."""
    row = at_sweep(
        glass([wiper(at=(-200.0, -30.0), lost=3), wiper("far", (250.0, -30.0))], [arm(), arm("far")]),
        quantity(110, "deg"),
    )
    data = as_data(row, {"near": 1.5, "far": -2.0})
    assert json.loads(json.dumps(data)) == data
    assert data["wiped_percent"]["screen"] == row.screen_percent
    assert data["lagging_percent"]["screen"] < data["wiped_percent"]["screen"]
    assert data["arms"][0]["tip_clearance_mm"] == {
        "outer": row.fitted[0].outer_tip_mm,
        "inner": row.fitted[0].inner_tip_mm,
    }
    assert data["least_blade_distance_mm"] == row.gaps[0].least_mm == data["blade_distances"][0]["least_mm"]
    assert data["misfit_mm"] == {"near": 1.5, "far": -2.0}
    assert [one["zone"] for one in data["comparisons"]] == ["A", "A"]
    assert as_data(at_sweep(glass(), quantity(110, "deg")), {})["least_blade_distance_mm"] is None


@pytest.mark.parametrize("sweep_deg", [0, -10, 360, 400])
def test_a_sweep_that_cannot_be(sweep_deg):
    """0 moves nothing, 360 and more runs over its own start."""
    with pytest.raises(JobError) as error:
        sweep_table(glass(), [quantity(sweep_deg, "deg")])
    assert error.value.exit_status == 2
    assert str(error.value) == (
        f"sweep of 'near': it is {sweep_deg} deg; it must be more than 0 and less than 360 deg; "
        "choose one such as '110 deg'"
    )


def test_a_blade_longer_than_its_arm_allows():
    """Its inner end would pass the pivot; exactly twice the arm is still allowed."""
    with pytest.raises(JobError) as error:
        at_sweep(glass(arms=[arm(length=200, blade=401)]), quantity(110, "deg"))
    assert error.value.exit_status == 2
    assert str(error.value) == (
        "arm on 'near': a blade of 401 mm on an arm of 200 mm would pass the pivot; this arm takes at most 400 mm; "
        "choose a shorter blade or a longer arm"
    )
    assert at_sweep(glass(arms=[arm(length=200, blade=400)]), quantity(110, "deg")).screen_percent > 0


def test_lengths_that_are_none():
    """An arm of 0 mm."""
    with pytest.raises(JobError) as error:
        at_sweep(glass(arms=[arm(length=0, blade=0)]), quantity(110, "deg"))
    assert str(error.value) == (
        "arm on 'near': its arm is 0 mm and its blade 0 mm long; both must be at least 10 mm; "
        "give the lengths as measured"
    )


def test_a_crank_that_is_none():
    """At 61 degrees the blade no longer lies along its arm."""
    with pytest.raises(JobError) as error:
        at_sweep(glass(arms=[arm(crank=-61, parked=0)]), quantity(110, "deg"))
    assert str(error.value) == (
        "arm on 'near': its crank is 61 deg; it must be at most 60 deg either way; "
        "measure the angle of the blade to the arm"
    )
