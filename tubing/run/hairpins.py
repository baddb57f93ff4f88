"""Which heading forces a bend that few benders reach, or leaves no run at all, and what would spare it."""

from __future__ import annotations

import math
from collections.abc import Iterable

from msgspec import Struct
from msgspec.structs import replace

from tubing.errors import GeometryError, TubingError
from tubing.geometry.vectors import Vector, angle_rad, scale
from tubing.inputs.records import Job, Shop
from tubing.run.laying import TailLength
from tubing.run.records import Run, RunCost
from tubing.run.routing import route
from tubing.units import rad, rounded

REVERSED_RAD = math.radians(150)  # a heading that differs by more is the other way round


class Otherwise(Struct, frozen=True):
    """One heading of the job changed, and the run that there is then."""

    port: str  # nose or wheelbox
    heading: Vector
    turned_round: bool  # whether that is the other way round
    cost: RunCost

    def __str__(self) -> str:
        """What to do, and what comes of it."""
        thing = self.port if self.port == "nose" else f"wheelbox {self.port}"
        numbers = ", ".join(rounded(part, 3) for part in self.heading)
        do = f"turn the heading of {thing} the other way round" if self.turned_round else ""
        if self.turned_round and self.port != "nose":
            do += " (that is almost always the mistake)"
        do = do or f"set the heading of {thing} to ({numbers})"
        turn = rounded(math.degrees(self.cost.turn_rad), 1)
        return f"{do}: the run then has {self.cost.bends} bends and turns {turn} deg"


class Hairpin(Struct, frozen=True):
    """A bend beyond the shop's greatest bend, and what would spare it."""

    piece: str
    number: int  # counted from the piece's start
    angle_rad: float
    spared_by: Otherwise | None  # None: no single heading spares it


def hairpins(run: Run, job: Job, shop: Shop, layout: str, tail_length_mm: TailLength) -> tuple[Hairpin, ...]:
    """Of each tube with a bend beyond the shop's greatest the sharpest, and the single heading that spares it."""
    greatest_rad = rad(shop.bench.greatest_bend)
    sharp = [tube for tube in run.tubes if max(tube.bend_angles_rad, default=0.0) > greatest_rad]
    ports = dict.fromkeys(port for tube in sharp for port in tube.ports)
    others = otherwise(job, shop, layout, tail_length_mm, ports)
    found = []
    for tube in sharp:
        angles = tube.bend_angles_rad
        sharpest = max(range(len(angles)), key=lambda k: angles[k])
        best = next((each for each in others if each.port in tube.ports), None)
        spared_by = best if best and best.cost.turn_rad < run.cost.turn_rad else None
        found.append(Hairpin(tube.id, sharpest + 1, angles[sharpest], spared_by))
    return tuple(found)


def with_advice(error: GeometryError, job: Job, shop: Shop, layout: str, tail_length_mm: TailLength) -> GeometryError:
    """The error of a layout without a run, its remedy with the single heading that would give one, where there is one.

    With something in the way no other heading is tried: the search takes its time for each.
    """
    if not job.in_the_way:
        others = otherwise(job, shop, layout, tail_length_mm, ("nose", *job.layouts[layout]))
        error.remedy += "".join(f"; {other}" for other in others[:1])
    return error


def otherwise(job: Job, shop: Shop, layout: str, tail_length_mm: TailLength, ports: Iterable[str]) -> list[Otherwise]:
    """For each of these ports whose heading is given the run with another, if it has no hairpin; the cheapest first.

    The nose is turned the other way round; a wheelbox's heading is left free.
    """
    greatest_rad = rad(shop.bench.greatest_bend)
    found = []
    for port in ports:
        mounting = job.mountings.get(port)
        if port == "nose":
            before = job.nose.heading
            other = replace(job, nose=replace(job.nose, heading=scale(before, -1.0)))
        elif mounting is not None and mounting.heading is not None:
            before = mounting.heading
            other = replace(job, mountings={**job.mountings, port: replace(mounting, heading=None)})
        else:
            continue
        try:
            run = route(other, shop, layout, tail_length_mm)
        except TubingError:
            continue
        if all(angle <= greatest_rad for tube in run.tubes for angle in tube.bend_angles_rad):
            heading = next((box.heading for box in run.boxes if box.name == port), other.nose.heading)
            found.append(Otherwise(port, heading, angle_rad(heading, before) > REVERSED_RAD, run.cost))
    return sorted(found, key=lambda each: each.cost.weight)
