"""The demo jobs, each planned once for all tests. Plans and shapes are frozen, so the tests may share them."""

from __future__ import annotations

import functools

from tubing.drawing.pictures import Shapes, shapes
from tubing.inputs.job_file import read_job
from tubing.inputs.shop_file import data_folder, read_shop
from tubing.plan import Plan, plan

NAMES = tuple(sorted(path.stem for path in (data_folder() / "jobs").glob("*.toml")))


@functools.cache
def demo_plan(name: str) -> Plan:
    """The plan of a demo job's own layout by the shop that comes with the program."""
    shop = read_shop(None)
    return plan(read_job(data_folder() / "jobs" / f"{name}.toml", shop), shop)


@functools.cache
def demo_shapes(name: str) -> Shapes:
    """What is drawn of that plan."""
    return shapes(demo_plan(name))
