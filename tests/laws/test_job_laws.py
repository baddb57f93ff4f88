"""Laws of whole jobs: where the vehicle stands, and which way round it is, changes no length."""

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from tubing.geometry.vectors import add, turned, unit
from tubing.job import data_folder, read_job, read_shop
from tubing.job.records import Tail
from tubing.plan import plan
from tubing.units import quantity

SHOP = read_shop(None)
JOBS = {
    name: read_job(Path(data_folder()) / "jobs" / f"{name}.toml", SHOP)
    for name in ("lined-up-twin", "curved-scuttle", "round-the-corner", "inch-launch", "works-truck")
}
shifts = st.tuples(*[st.floats(-2000, 2000)] * 3)
axes = st.tuples(*[st.integers(-5, 5)] * 3).filter(any).map(lambda v: unit(tuple(float(c) for c in v)))


def carried(job, point, direction, flip=False):
    """The job with every point and direction carried elsewhere; a mirror changes right for left."""
    optional = lambda v: None if v is None else direction(v)  # noqa: E731
    return replace(
        job,
        nose=replace(job.nose, position_mm=point(job.nose.position_mm), heading=direction(job.nose.heading)),
        mountings={
            name: replace(
                m,
                hole_mm=point(m.hole_mm),
                spindle=direction(m.spindle),
                panel=optional(m.panel),
                heading=optional(m.heading),
                side=-m.side if flip and m.side else m.side,
            )
            for name, m in job.mountings.items()
        },
        between=tuple(replace(b, corners_mm=tuple(point(c) for c in b.corners_mm)) for b in job.between),
        tail=Tail(optional(job.tail.toward), tuple(point(c) for c in job.tail.corners_mm)),
        in_the_way=(),
        screen=None,
    )


def blanks(job):
    """Every blank of the job's own layout, mm."""
    return {piece.id: piece.blank_mm for piece in plan(job, SHOP).pieces}


@pytest.mark.parametrize("name", JOBS)
@settings(max_examples=6, deadline=None)
@given(shift=shifts, axis=axes, by_rad=st.floats(-3, 3))
def test_moving_and_turning_a_vehicle_changes_no_blank(name, shift, axis, by_rad):
    """Any origin and any direction of the frame give the same blanks."""
    job = JOBS[name]
    here = blanks(carried(job, lambda p: p, lambda d: d))
    moved = carried(job, lambda p: add(turned(p, axis, by_rad), shift), lambda d: turned(d, axis, by_rad))
    assert blanks(moved) == pytest.approx(here, abs=1e-4)


@pytest.mark.parametrize("name", JOBS)
def test_mirroring_a_vehicle_changes_no_blank(name):
    """A left-hand-drive twin of the vehicle takes the same blanks; only rotations and sides change hands."""
    job = JOBS[name]
    mirror = lambda v: (-v[0], v[1], v[2])  # noqa: E731
    assert blanks(carried(job, mirror, mirror, flip=True)) == pytest.approx(
        blanks(carried(job, lambda p: p, lambda d: d)), abs=1e-4
    )


@pytest.mark.parametrize("name", JOBS)
@given(more_mm=st.floats(0.0, 5.0))
@settings(max_examples=5, deadline=None)
def test_blanks_grow_exactly_by_what_flaring_consumes(name, more_mm):
    """A tool that takes more tube for a single flare makes each blank longer by just that, at each single flare."""
    job = JOBS[name]
    plain = replace(SHOP, bench=replace(SHOP.bench, single_consumes=quantity(0.0, "mm")))
    hungry = replace(SHOP, bench=replace(SHOP.bench, single_consumes=quantity(more_mm, "mm")))
    for a, b in zip(plan(job, plain).pieces, plan(job, hungry).pieces, strict=True):
        singles = sum(end.flare == "single" for end in a.ends)
        assert b.blank_mm - a.blank_mm == pytest.approx(singles * more_mm, abs=1e-9)
        assert b.finished_mm == a.finished_mm
