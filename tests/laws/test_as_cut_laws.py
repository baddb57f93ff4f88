"""Several pieces of one run as they were cut: positions and lengths agree with each other."""

from __future__ import annotations

from random import Random

import pytest
from msgspec.structs import replace

from tubing.errors import FitError
from tubing.inputs.job_file import read_job
from tubing.inputs.records import Cut, Job
from tubing.inputs.shop_file import data_folder, read_shop
from tubing.pieces.tolerance import takes_up_mm
from tubing.plan import Plan, plan
from tubing.units import mm, quantity

SHOP = read_shop(None)
JOBS = sorted(path.stem for path in (data_folder() / "jobs").glob("*.toml"))


def demo(name: str) -> Job:
    return read_job(data_folder() / "jobs" / f"{name}.toml", SHOP)


def finished(name: str, length_mm: float) -> Cut:
    """A piece that was cut and flared at both ends, so that nothing can be trimmed off it."""
    return Cut(name, quantity(round(length_mm, 1), "mm"), flared=tuple(name.split("-")))


def consistent(planned: Plan) -> None:
    """By positions alone: each piece that was cut is as long as the tube between its ports, but for its grooves."""
    for piece in planned.pieces[:-1]:
        for cut in (c for c in planned.job.cuts if c.piece == piece.id):
            over = mm(cut.length) - piece.blank_mm
            assert abs(over) <= takes_up_mm(piece, planned.job) + 0.05


@pytest.mark.long
@pytest.mark.parametrize("name", JOBS)
def test_where_several_pieces_were_cut_positions_and_lengths_agree(name: str):
    """Every cut piece, held at the boxes where they come to be, is off by no more than its grooves take up."""
    job, random, tried = demo(name), Random(name), 0
    blanks = {piece.id: piece.blank_mm for piece in plan(job, SHOP).pieces[:-1]}
    for _ in range(4):
        cuts = tuple(finished(n, b + random.uniform(-9.0, 9.0)) for n, b in blanks.items())
        try:
            planned = plan(replace(job, cuts=cuts), SHOP)
        except FitError:
            continue  # a box so far away, or so near, that no tube leads to it
        consistent(planned)
        tried += 1
    assert tried
