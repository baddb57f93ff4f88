"""The plan's arms on the job's screen. Imports the glass stage, and with it shapely, only when it is asked for."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from msgspec import Struct

from tubing.drive import Drive
from tubing.errors import JobError
from tubing.inputs.records import Job, Shop
from tubing.run.records import Run
from tubing.units import mm

if TYPE_CHECKING:
    from tubing.glass import CrankSize, Glass, Sweep


class OnGlass(Struct, frozen=True):
    """What a plan decides of its job's screen."""

    glass: Glass  # the screen with its wipers as the drive moves them
    misfits_mm: Mapping[str, float]  # of holes projected on the plane of the glass
    plane_misfit_mm: float  # the farthest that a measured point of the glass lies off its plane
    sweep: Sweep  # judged at the job's own sweep
    cranks: tuple[CrankSize, ...]  # at that sweep: what lays each parked blade along the edge


def on_glass(job: Job, shop: Shop, run: Run, drive: Drive) -> OnGlass:
    """The arms on the screen. Raises JobError: the job has no screen, or a wrong one."""
    from tubing.glass import Glass, Wiper, at_sweep, crank_sizes, pivots

    screen = job.screen
    if screen is None:
        raise JobError(
            "screen",
            "the job has none",
            "a sweep is judged on the outline of the glass",
            "add a [screen] section with its outline and pivots",
        )
    placed = pivots(screen, {box.name: box.mounting.hole_mm for box in run.boxes})
    wipers = tuple(
        Wiper(
            name=box.name,
            pivot_mm=placed.points_mm[box.name],
            sweep_rad=box.sweep_rad,
            lost_motion_rad=box.lost_motion_rad,
            # Out of park, seen from the driver's seat: an arm parked on the left goes up clockwise.
            turning=-1 if arm.parks == "left" else 1,
        )
        for box, arm in zip(drive.boxes, drive.park.arms, strict=True)
    )
    glass = Glass(screen, wipers, job.arms, tuple(shop.catalogue.arms.values()), mm(shop.bench.clearance))
    sweep = at_sweep(glass, job.sweep)
    return OnGlass(glass, placed.misfits_mm, placed.plane_misfit_mm, sweep, tuple(crank_sizes(glass, sweep)))
