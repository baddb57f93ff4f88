"""Laws of whole jobs: where the vehicle stands, and which way round it is, changes no length."""

from functools import cache
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace
from scipy.spatial.transform import Rotation

from tests.carried_jobs import Carrier
from tubing.inputs.job_file import read_job
from tubing.inputs.records import TrialFlare
from tubing.inputs.shop_file import data_folder, read_shop
from tubing.plan import laid_out, plan
from tubing.units import quantity

SHOP = read_shop(None)
JOBS = {
    name: read_job(Path(data_folder()) / "jobs" / f"{name}.toml", SHOP)
    for name in (
        "lined-up-twin",
        "curved-scuttle",
        "round-the-corner",
        "inch-launch",
        "works-truck",
        "behind-the-heater",
    )
}
shifts = st.tuples(*[st.floats(-2000, 2000)] * 3)
turns = st.tuples(*[st.integers(-5, 5)] * 4).filter(any).map(Rotation.from_quat)


def pieces(job, shop=SHOP):
    """The pieces of the job's own layout, before stock and drive."""
    return laid_out(job, shop, job.layout).pieces


def blanks(job):
    """Every blank of the job's own layout, mm."""
    return {piece.id: piece.blank_mm for piece in pieces(job)}


@cache
def standing(name):
    """The blanks of a job as it stands."""
    return blanks(JOBS[name])


@pytest.mark.long
@pytest.mark.parametrize("name", JOBS)
@settings(max_examples=4, deadline=None)
@given(shift=shifts, turn=turns)
def test_moving_and_turning_a_vehicle_changes_no_blank(name, shift, turn):
    """Any origin and any direction of the frame give the same blanks."""
    assert blanks(Carrier(turn, shift).job(JOBS[name])) == pytest.approx(standing(name), abs=1e-4)


@pytest.mark.long
@pytest.mark.parametrize("name", JOBS)
def test_mirroring_a_vehicle_changes_no_blank(name):
    """A left-hand-drive twin of the vehicle takes the same blanks; only rotations and sides change hands."""
    assert blanks(Carrier(mirror=True).job(JOBS[name])) == pytest.approx(standing(name), abs=1e-4)


@pytest.mark.long
@pytest.mark.parametrize("name", JOBS)
def test_a_mirrored_vehicle_that_parks_on_the_other_side_has_the_mirrored_drive(name):
    """The same dead end parks, rack, pull, slots and lost motion stay; each arm's side, turning and hand swap."""
    job = replace(JOBS[name], screen=None)
    other = {"left": "right", "right": "left", "clockwise": "counter-clockwise", "counter-clockwise": "clockwise"}
    here = plan(job, SHOP).drive
    there = plan(Carrier(mirror=True).job(replace(job, park=other[job.park])), SHOP).drive
    assert there.park.at == here.park.at
    for a, b in zip(here.park.arms, there.park.arms, strict=True):
        assert [other[said] for said in (a.parks, a.turns, a.crank_hand, a.rack_on)] == [
            b.parks,
            b.turns,
            b.crank_hand,
            b.rack_on,
        ]
    assert there.rack.length_mm == pytest.approx(here.rack.length_mm, abs=1e-4)
    for a, b in zip(here.boxes, there.boxes, strict=True):
        assert (b.pull_ratio, b.lost_motion_rad) == pytest.approx((a.pull_ratio, a.lost_motion_rad), abs=1e-8)
        assert (b.hole.length_mm, b.hole.nut_room_mm) == pytest.approx((a.hole.length_mm, a.hole.nut_room_mm))


@pytest.mark.long
@pytest.mark.parametrize("name", JOBS)
@given(more_mm=st.floats(0.0, 5.0))
@settings(max_examples=3, deadline=None)
def test_blanks_grow_exactly_by_what_flaring_consumes(name, more_mm):
    """A tool that takes more tube for a single flare makes each blank longer by just that, at each single flare."""
    job = JOBS[name]
    before, after = quantity(200, "mm"), quantity(200 - more_mm, "mm")
    plain = replace(SHOP, trial_flares=(TrialFlare(job.tube.stock, "single", before, before),))
    hungry = replace(SHOP, trial_flares=(TrialFlare(job.tube.stock, "single", before, after),))
    for a, b in zip(pieces(job, plain), pieces(job, hungry), strict=True):
        singles = sum(end.flare == "single" for end in a.ends)
        assert b.blank_mm - a.blank_mm == pytest.approx(singles * more_mm, abs=1e-9)
        assert b.finished_mm == a.finished_mm
