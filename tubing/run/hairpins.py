"""Which heading forces a bend that few benders reach, and the heading that would spare it."""

from __future__ import annotations

import math

from msgspec import Struct
from msgspec.structs import replace

from tubing.errors import TubingError
from tubing.geometry.vectors import Vector, angle_rad, scale
from tubing.inputs.records import Job, Shop
from tubing.run.laying import TailLength
from tubing.run.records import Run, RunCost, RunTube
from tubing.run.routing import route
from tubing.units import rad

REVERSED_RAD = math.radians(150)  # a heading that differs by more is the other way round


class Hairpin(Struct, frozen=True):
    """A bend beyond the shop's greatest bend, and what would spare it."""

    piece: str
    number: int  # counted from the piece's start
    angle_rad: float
    port: str | None  # nose or wheelbox whose heading forces it; None: no single heading spares it
    heading: Vector | None  # that the port would have
    turned_round: bool  # whether that is the other way round
    cost: RunCost | None  # of the whole run then


def hairpins(run: Run, job: Job, shop: Shop, layout: str, tail_length_mm: TailLength) -> tuple[Hairpin, ...]:
    """Every bend of the run beyond the shop's greatest, [rad], with the cheapest single heading that spares it.

    The nose is turned the other way round; a wheelbox's heading is left free.
    """
    greatest_rad = rad(shop.bench.greatest_bend)
    found = []
    for tube in run.tubes:
        angles = tube.bend_angles_rad
        k = max(range(len(angles)), key=lambda i: angles[i], default=None)
        if k is None or angles[k] <= greatest_rad:
            continue
        others = [_otherwise(job, shop, layout, tail_length_mm, port) for port in tube.ports]
        spare = [each for each in others if each and not _is_sharp(each[1], greatest_rad)]
        port, other = min(spare, key=lambda each: each[1].cost.weight, default=(None, None))
        heading = _heading(other, port) if other and port else None
        before = _heading(run, port) if port else None
        turned_round = bool(heading and before and angle_rad(heading, before) > REVERSED_RAD)
        found.append(Hairpin(tube.id, k + 1, angles[k], port, heading, turned_round, other.cost if other else None))
    return tuple(found)


def _otherwise(job: Job, shop: Shop, layout: str, tail_length_mm: TailLength, port: str) -> tuple[str, Run] | None:
    """The run with one port's given heading otherwise; None: it is not given, or there is no run."""
    mounting = job.mountings.get(port)
    if port == "nose":
        other = replace(job, nose=replace(job.nose, heading=scale(job.nose.heading, -1.0)))
    elif mounting is not None and mounting.heading is not None:
        other = replace(job, mountings={**job.mountings, port: replace(mounting, heading=None)})
    else:
        return None
    try:
        return port, route(other, shop, layout, tail_length_mm)
    except TubingError:
        return None


def _is_sharp(run: Run, greatest_rad: float) -> bool:
    return any(angle > greatest_rad for tube in run.tubes for angle in tube.bend_angles_rad)


def _heading(run: Run, port: str) -> Vector:
    ends: list[RunTube] = [tube for tube in run.tubes if port in tube.ports]
    return ends[0].start.heading if ends[0].start.name == port else ends[0].end.heading
