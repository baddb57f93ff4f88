"""Vehicles made up by chance whose headings and sides are free, and a second opinion on their headings.

The second opinion is scipy's differential evolution over all headings at once: it shares nothing with the planner's
search but the tube between two ports, whose own tests are elsewhere.
"""

from __future__ import annotations

import math
from pathlib import Path
from random import Random

from msgspec.structs import replace
from scipy.optimize import differential_evolution

from tubing.centreline.between import tube_between
from tubing.errors import GeometryError
from tubing.geometry.vectors import Vector, across, turned, unit
from tubing.inputs.job_file import read_job
from tubing.inputs.records import Job, Shop
from tubing.inputs.shop_file import data_folder, read_shop
from tubing.run.laying import Layer
from tubing.run.placing import PlacedBox, box_hold_mm, box_port, sides_to_try, with_heading

SHOP = read_shop(None)
TWIN = read_job(Path(data_folder()) / "jobs" / "lined-up-twin.toml", SHOP)
TAIL_MM = 140.0
A_BEND_RAD = 0.6  # what a bend counts as while the second opinion searches: less than makes its valleys steep
SEARCHED_RAD = 1.7  # either way of the vehicle's right
NO_TUBE = 100.0


def free_vehicle(seed: int, boxes: tuple[int, ...] = (2, 2, 3)) -> Job:
    """A job with free headings, its boxes along a scuttle, the motor somewhere before them."""
    random = Random(seed)
    base = next(iter(TWIN.mountings.values()))
    mountings, x = {}, 0.0
    for k in range(random.choice(boxes)):
        spindle = unit((random.uniform(-0.2, 0.2), random.uniform(0.3, 0.8), random.uniform(0.5, 1.0)))
        hole = (x, random.uniform(-60, 60), random.uniform(-40, 40))
        mountings[f"b{k}"] = replace(
            base, name=f"b{k}", hole_mm=hole, spindle=spindle, panel=spindle, heading=None, side=None
        )
        x += random.uniform(420, 650)
    position = (random.uniform(-650, -400), random.uniform(-250, 150), random.uniform(-200, 50))
    heading = unit((random.uniform(0.2, 1), random.uniform(-0.6, 0.6), random.uniform(-0.5, 0.5)))
    nose = replace(TWIN.nose, position_mm=position, heading=heading)
    return replace(TWIN, nose=nose, mountings=mountings, layouts={"all": tuple(mountings)}, layout="all")


def second_opinion(job: Job, shop: Shop = SHOP, most_rounds: int = 80) -> tuple[int, float] | None:
    """Bends and turn, [deg], of the best run of gentle bends that scipy finds; None: it finds none.

    Of each choice of sides the best by bends counted as a little turn, then of those the fewest bends.
    """
    names = job.layouts["all"]
    mountings = [job.mountings[name] for name in names]
    layer = Layer(job, shop, names, lambda first, last: TAIL_MM)
    zero = [unit(across((1.0, 0.0, 0.0), m.spindle)) for m in mountings]
    found = []
    for sides in sides_to_try(mountings, job.motion):

        def placed(angles: Vector, sides: tuple[int, ...] = sides) -> list[PlacedBox]:
            about = zip(mountings, sides, zero, angles, strict=True)
            return [with_heading(m, turned(z, m.spindle, by), s) for m, s, z, by in about]

        def cost(angles: Vector, placed=placed) -> float:
            bends, turn_rad = bends_and_turn(placed(angles), layer)
            return A_BEND_RAD * bends + turn_rad

        limits = [(-SEARCHED_RAD, SEARCHED_RAD)] * len(names)
        best = differential_evolution(cost, limits, seed=1, maxiter=most_rounds, tol=1e-8, polish=False).x
        found.append(bends_and_turn(placed(best), layer))
    bends, turn_rad = min(found)
    return None if turn_rad >= NO_TUBE else (bends, math.degrees(turn_rad))


def bends_and_turn(boxes: list[PlacedBox], layer: Layer) -> tuple[int, float]:
    """Of the gentle tubes from the nose over these boxes, [rad]; very much where one of them cannot be laid."""
    start, bends, turn_rad = layer.nose(boxes[0].name), 0, 0.0
    for box in boxes:
        hold_mm = box_hold_mm(box.mounting, layer.bench, "single")
        try:
            laid = tube_between(start, box_port(box, hold_mm, out=False), layer.bending, thorough=False)
        except GeometryError:
            return 0, NO_TUBE
        bends += len(laid.line.bends)
        turn_rad += laid.line.turn_rad + laid.pull_in.angle_rad
        start = box_port(box, hold_mm, out=True)
    return bends, turn_rad


def with_headings(job: Job, seed: int) -> Job:
    """The job with a heading by chance for every wheelbox."""
    random = Random(seed)
    mountings = {
        name: replace(m, heading=turned(unit(across((1.0, 0.0, 0.0), m.spindle)), m.spindle, random.uniform(-1.2, 1.2)))
        for name, m in job.mountings.items()
    }
    return replace(job, mountings=mountings)
