"""How long a whole plan takes where much is free or much is in the way; every job here is made up.

Run from the project's root: ``python tests/bench/bench_run.py``. Four boxes with free order, headings and sides are to
stay under 2 s; 40 things in the way of a run of 3 m under 3 s; the last table shows how the time grows with their
number. Plans are made in this process (geometry, nesting, drive, cost, checks), with everything loaded before;
it is processor time, so that other work on the machine does not count. Where no way is found the table says so, and
what stands in whose way.
"""

from __future__ import annotations

import math
import random
import sys
import time
from collections.abc import Sequence
from pathlib import Path

from msgspec.structs import replace

from tubing.errors import FitError
from tubing.geometry.vectors import Vector
from tubing.inputs.job_file import read_job
from tubing.inputs.records import Box, Cylinder, Job, Mounting, Obstacle, Shop, Sphere
from tubing.inputs.shop_file import data_folder, read_shop
from tubing.plan import plan
from tubing.units import quantity

FREE_MOST_S, FULL_MOST_S = 2.0, 3.0
SEEDS = range(6)
COUNTS = (0, 5, 10, 20, 40, 80)
NEAR_PORT_MM = 170.0  # no thing in the way has its middle nearer to a hole or the nose
LOOSE_MM, DENSE_MM = 260.0, 170.0  # things lie within so far of the line through the holes, to any side


def main() -> int:
    """Print three tables; 1 where a time is over what it may be."""
    shop = read_shop(None)
    demo = read_job(Path(data_folder()) / "jobs" / "curved-scuttle.toml", shop)
    planned(demo, shop)
    over = _free(demo, shop) + _full(demo, shop)
    _growth(demo, shop)
    print("over what it may be: " + (", ".join(over) or "nothing"))
    return int(bool(over))


def _free(demo: Job, shop: Shop) -> list[str]:
    """Four boxes, everything free."""
    print(f"four boxes, order, headings and sides free; to stay under {FREE_MOST_S:g} s")
    over = []
    for name, motion, bulge_mm, things in (
        ("flat, tandem", "tandem", 0.0, 0),
        ("curved, tandem", "tandem", 60.0, 0),
        ("curved, opposed", "opposed", 60.0, 0),
        ("much curved, tandem", "tandem", 140.0, 0),
        ("curved, 5 in the way", "tandem", 60.0, 5),
    ):
        job = scuttle(demo, motion, bulge_mm)
        seconds, said = planned(replace(job, in_the_way=clutter(job, things, 1)), shop)
        print(f"  {name:<22} {seconds:6.2f} s   {said}")
        over += [name] * (seconds > FREE_MOST_S)
    return over


def _full(demo: Job, shop: Shop) -> list[str]:
    """40 things in the way of 3 m, not so near and near."""
    over = []
    for swathe_mm in (LOOSE_MM, DENSE_MM):
        print(f"40 things within {swathe_mm:g} mm of a run of 3 m; to stay under {FULL_MOST_S:g} s")
        for boxes, free in ((2, False), (3, False), (2, True), (3, True)):
            for seed in SEEDS:
                job = long_run(demo, boxes, free)
                seconds, said = planned(replace(job, in_the_way=clutter(job, 40, seed, swathe_mm)), shop)
                name = f"{boxes} boxes, headings {'free' if free else 'given'}, seed {seed}"
                print(f"  {name:<34} {seconds:6.2f} s   {said}")
                over += [f"{name} within {swathe_mm:g} mm"] * (seconds > FULL_MOST_S)
    return over


def _growth(demo: Job, shop: Shop) -> None:
    """The same run with more and more in its way."""
    job = long_run(demo, 2, free=False)
    for swathe_mm in (LOOSE_MM, DENSE_MM):
        print(f"growth with the number of things, within {swathe_mm:g} mm of 3 m, two boxes, headings given:")
        print("s, bends (- no way found)")
        print("  seed  " + "".join(f"{count:>13}" for count in COUNTS))
        for seed in SEEDS:
            cells = []
            for count in COUNTS:
                seconds, said = planned(replace(job, in_the_way=clutter(job, count, seed, swathe_mm)), shop)
                bends = said.split()[0] if "bend" in said.split()[1] else "-"
                cells.append(f"{seconds:9.2f} {bends:>3}")
            print(f"  {seed:<6}" + "".join(cells))


def planned(job: Job, shop: Shop) -> tuple[float, str]:
    """Seconds for a whole plan, and what came of it."""
    start = time.process_time()
    try:
        run = plan(job, shop).run
        said = f"{run.cost.bends} bends, {math.degrees(run.cost.turn_rad):.1f} deg, {run.cost.length_mm:.0f} mm"
    except FitError as error:
        said = f"no way: {error.thing}: {error.found}"
    return time.process_time() - start, said


def scuttle(demo: Job, motion: str, bulge_mm: float) -> Job:
    """Four boxes on a bow, written out of order."""
    places = {"a": -540.0, "b": -180.0, "c": 180.0, "d": 540.0}
    boxes = {name: _box(demo, name, x_mm, bulge_mm) for name, x_mm in places.items()}
    nose = replace(demo.nose, position_mm=(-960.0, -165.0 - bulge_mm / 2, -75.0), heading=_unit((0.95, 0.29, 0.1)))
    return replace(
        demo,
        order="free",
        motion=motion,
        layout="four",
        layouts={"four": ("c", "a", "d", "b")},
        mountings=boxes,
        nose=nose,
        measuring_error=None,
        sweep=quantity(95, "deg"),
    )


def long_run(demo: Job, boxes: int, free: bool) -> Job:
    """A run of 3 m from the nose at its left to the end stop."""
    places = [-1350.0 + 2700.0 * k / boxes for k in range(1, boxes + 1)]
    mountings = {f"box {k}": _box(demo, f"box {k}", x_mm, 30.0, free) for k, x_mm in enumerate(places, 1)}
    nose = replace(demo.nose, position_mm=(-1500.0, -60.0, -20.0), heading=(1.0, 0.0, 0.0))
    return replace(
        demo, layout="long", layouts={"long": tuple(mountings)}, mountings=mountings, nose=nose, measuring_error=None
    )


def _box(demo: Job, name: str, x_mm: float, bulge_mm: float, free: bool = True) -> Mounting:
    """A box on a bow of so much over 1.08 m, its spindle leaning with the bow."""
    slope = -2 * bulge_mm * x_mm / 540.0**2 / 4
    return replace(
        next(iter(demo.mountings.values())),
        name=name,
        hole_mm=(x_mm, -bulge_mm * (x_mm / 540.0) ** 2 / 4, 0.0),
        spindle=_unit((-slope * 0.5, 0.6, 0.8)),
        panel=None,
        heading=None if free else _unit((1.0, slope * 0.6 * 0.36, -slope * 0.48 * 0.6 + slope * 0.5 / 0.8)),
        side=None,
    )


def clutter(job: Job, count: int, seed: int, swathe_mm: float = LOOSE_MM) -> tuple[Obstacle, ...]:
    """Boxes, some turned, cylinders and spheres about the line from nose to last hole, none on a port."""
    chance = random.Random(f"clutter {seed}")
    ports = [job.nose.position_mm, *(box.hole_mm for box in job.mountings.values())]
    low, high = min(p[0] for p in ports), max(p[0] for p in ports)
    made: list[Obstacle] = []
    while len(made) < count:
        at = (chance.uniform(low, high), chance.uniform(-swathe_mm, swathe_mm), chance.uniform(-swathe_mm, swathe_mm))
        at = (at[0], at[1] - 20.0, at[2] - 25.0)
        kind, shape = chance.random(), _shape(at, chance)
        if all(math.dist(at, port) > NEAR_PORT_MM for port in ports):
            made.append(Obstacle(f"thing {len(made) + 1}", shape[int(3 * kind)], quantity(5, "mm")))
    return tuple(made)


def _shape(at: Vector, chance: random.Random) -> tuple[Box | Cylinder | Sphere, ...]:
    def size(low_mm: float, high_mm: float) -> float:
        return chance.uniform(low_mm, high_mm)

    way = _unit((chance.gauss(0, 1), chance.gauss(0, 1), chance.gauss(0, 1)))
    half = size(20, 90)
    ends = [tuple(a + sign * half * w for a, w in zip(at, way, strict=True)) for sign in (-1, 1)]
    return (
        Box(at, (size(40, 160), size(40, 160), size(40, 160)), (0.0, 0.0, size(0, 1.5))),
        Cylinder(ends[0], ends[1], size(15, 60)),  # type: ignore[arg-type]
        Sphere(at, size(25, 80)),
    )


def _unit(way: Sequence[float]) -> Vector:
    x, y, z = (part / math.hypot(*way) for part in way)
    return x, y, z


if __name__ == "__main__":
    sys.exit(main())
