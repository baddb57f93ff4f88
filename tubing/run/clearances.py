"""How much room a run leaves between its tubes and each thing that is in the way."""

from __future__ import annotations

from msgspec import Struct

from tubing.centreline.between import Laid
from tubing.geometry.centre_lines import least_distances_mm
from tubing.inputs.records import Box, Cylinder, Job, Sphere
from tubing.run.hazards import solid_of
from tubing.run.records import Run
from tubing.units import mm

KINDS = {Box: "box", Cylinder: "cylinder", Sphere: "sphere"}


class Clearance(Struct, frozen=True):
    """One thing in the way, and the tube that comes nearest to it."""

    name: str
    kind: str  # "box", "cylinder" or "sphere"
    asked_mm: float  # that the tube's outside must keep
    left_mm: float | None  # that it does keep; None: no tube's way is known
    piece: str | None  # the nearest one


def clearances(run: Run, job: Job) -> tuple[Clearance, ...]:
    """The things in the way in the order of the job, with the least distance from any tube's outside.

    A tube that was measured with a wire is left out: its way is not known.
    """
    solids = [solid_of(thing.shape) for thing in job.in_the_way]
    radius_mm = mm(job.tube.diameter) / 2
    away_mm: dict[str, list[float]] = {}
    for tube in run.tubes if solids else ():
        if isinstance(tube.shape, Laid):
            line = tube.shape.line
            away_mm[tube.id] = least_distances_mm(
                line.points_mm, line.bends[0].radius_mm if line.bends else 1.0, solids
            )
    found = []
    for k, thing in enumerate(job.in_the_way):
        nearest = min(away_mm, key=lambda name: away_mm[name][k]) if away_mm else None
        left_mm = None if nearest is None else away_mm[nearest][k] - radius_mm
        found.append(Clearance(thing.name, KINDS[type(thing.shape)], mm(thing.clearance), left_mm, nearest))
    return tuple(found)
