"""What a tube must keep clear of: the job's things in the way and the bodies of the wheelboxes.

Hazard: one such thing. A tube's centre line keeps from it by the tube's outside radius and the clearance.
Body:   a wheelbox's, a box that hangs inside the panel, from its seating face inwards, about the spindle's axis.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence

from msgspec import Struct

from tubing.centreline.between import Bending, Laid, PortAt, stops_called, tube_between, tube_name
from tubing.centreline.develop import point_at
from tubing.errors import ClearanceError
from tubing.geometry.centre_lines import GRAZE_MM, entered
from tubing.geometry.solids import Ball, Keepout, Rod, Solid, TurnedBox
from tubing.geometry.vectors import Vector, across, add, cross, distance_mm, scale, sub, turned, unit
from tubing.inputs.records import Box, Cylinder, Job, Mounting, Shop, Sphere
from tubing.run.placing import PlacedBox
from tubing.units import mm

LOOKED_AT = 400  # places along a tube, to say where it comes too near
X, Y, Z = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)


class Hazard(Struct, frozen=True):
    """One thing that tubes must keep clear of."""

    called: str  # in a sentence, such as ``'heater'``
    solid: Solid
    clearance_mm: float  # of the tube's outside
    box: str | None = None  # the wheelbox whose body it is: no hazard to the tubes that it joins


class Surroundings(Struct, frozen=True):
    """All hazards of a layout, for tubes of one radius."""

    hazards: tuple[Hazard, ...]
    tube_radius_mm: float

    def between(self, start: str, end: str) -> Around:
        """What the tube between two ports must keep clear of."""
        hazards = tuple(h for h in self.hazards if h.box not in (start, end) or h.box is None)
        needed = [h.clearance_mm + self.tube_radius_mm for h in hazards]
        return Around(hazards, self.tube_radius_mm, Keepout([h.solid for h in hazards], needed))


class Around(Struct, frozen=True):
    """What one tube must keep clear of."""

    hazards: tuple[Hazard, ...]
    tube_radius_mm: float
    keepout: Keepout

    def entered(self, laid: Laid) -> list[tuple[int, float]]:
        """The hazards that a tube enters, and by how much, [mm], the worst first; sure to 0.01 mm."""
        line = laid.line
        return entered(line.points_mm, line.bends[0].radius_mm if line.bends else 1.0, self.keepout)


def surroundings(job: Job, shop: Shop, bodies: Iterable[Hazard]) -> Surroundings:
    """The job's things in the way, and the bodies of wheelboxes."""
    obstacles = (Hazard(repr(o.name), solid_of(o.shape), mm(o.clearance)) for o in job.in_the_way)
    return Surroundings((*obstacles, *bodies), mm(job.tube.diameter) / 2)


def bodies_of(mountings: Mapping[str, Mounting], names: Sequence[str], shop: Shop) -> list[Hazard]:
    """The bodies of a layout's wheelboxes, as far as they are known before their headings are."""
    clearance_mm = mm(shop.bench.clearance)
    solids = {name: body(mountings[name], mountings[name].heading) for name in names}
    return [_body_hazard(name, solid, clearance_mm) for name, solid in solids.items() if solid is not None]


def bodies_placed(boxes: Sequence[PlacedBox], shop: Shop) -> list[Hazard]:
    """The bodies of wheelboxes whose headings are decided."""
    clearance_mm = mm(shop.bench.clearance)
    solids = {box.name: body(box.mounting, box.heading) for box in boxes}
    return [_body_hazard(name, solid, clearance_mm) for name, solid in solids.items() if solid is not None]


def _body_hazard(name: str, solid: Solid, clearance_mm: float) -> Hazard:
    return Hazard(f"the body of wheelbox {name!r}", solid, clearance_mm, name)


def body(mounting: Mounting, heading: Vector | None) -> Solid | None:
    """The body of a wheelbox; while its heading is free, what of it stands there in any case; None: size not given."""
    model = mounting.model
    if model.body is None:
        return None
    along_mm, wide_mm, deep_mm = (mm(side) for side in model.body)
    face_mm = mm(mounting.spacer) + mm(mounting.panel_thickness) / math.cos(mounting.lean_rad)
    centre = add(mounting.hole_mm, mounting.spindle, -face_mm - deep_mm / 2)
    if heading is None:
        return Rod(centre, mounting.spindle, deep_mm / 2, min(along_mm, wide_mm) / 2)
    along = unit(across(heading, mounting.spindle))
    return TurnedBox(
        centre, (along, cross(along, mounting.spindle), mounting.spindle), (along_mm / 2, wide_mm / 2, deep_mm / 2)
    )


def solid_of(shape: Box | Cylinder | Sphere) -> Solid:
    """A shape of the job as a solid."""
    if isinstance(shape, Sphere):
        return Ball(shape.centre_mm, shape.radius_mm)
    if isinstance(shape, Cylinder):
        way = sub(shape.end_mm, shape.start_mm)
        middle = scale(add(shape.start_mm, shape.end_mm), 0.5)
        return Rod(middle, unit(way), distance_mm(shape.start_mm, shape.end_mm) / 2, shape.radius_mm)
    x, y, z = (_turned_about_all(axis, shape.turned_rad) for axis in (X, Y, Z))
    return TurnedBox(shape.centre_mm, (x, y, z), scale(shape.size_mm, 0.5))


def _turned_about_all(axis: Vector, by_rad: Vector) -> Vector:
    """Turned about x, then y, then z of the vehicle's frame."""
    for about, angle in zip((X, Y, Z), by_rad, strict=True):
        axis = turned(axis, about, angle)
    return axis


def check_port(port: PortAt, leaves: bool, around: Around) -> None:
    """Raise ClearanceError for a port inside a hazard, or one whose least straight runs into it.

    ``leaves``: the tube starts there; otherwise it ends there.
    """
    if not around.hazards:
        return
    slacks = around.keepout.slacks_mm([port.datum_mm])[0].tolist()
    k = min(range(len(slacks)), key=lambda i: slacks[i])
    hazard = around.hazards[k]
    thing = _port_called(port, leaves)
    if slacks[k] < -GRAZE_MM:
        raise ClearanceError(
            thing,
            f"it lies in {hazard.called} or too near to it: {-slacks[k]:.1f} mm of clearance are missing",
            f"the tube's outside must keep {hazard.clearance_mm:g} mm clear of it",
            f"measure both again, or move {_out_of_the_way(hazard)}",
            -slacks[k],
        )
    if port.hold_mm == 0.0:
        return
    tip = add(port.datum_mm, port.heading, port.hold_mm if leaves else -port.hold_mm)
    wrong = entered([port.datum_mm, tip], 1.0, around.keepout)
    if wrong:
        hazard, missing_mm = around.hazards[wrong[0][0]], wrong[0][1]
        raise ClearanceError(
            thing,
            f"the {port.hold_mm:g} mm of tube that must be straight there run into {hazard.called}: "
            f"{missing_mm:.1f} mm of clearance are missing",
            f"the tube's outside must keep {hazard.clearance_mm:g} mm clear of it",
            f"turn its heading, measure both again, or move {_out_of_the_way(hazard)}",
            missing_mm,
        )


def _port_called(port: PortAt, leaves: bool) -> str:
    return "nose" if port.name == "nose" else f"wheelbox {port.name!r}, groove {'out' if leaves else 'in'}"


def _out_of_the_way(hazard: Hazard) -> str:
    return f"wheelbox {hazard.box!r}" if hazard.box else "what is in the way"


def clear_direct(
    start: PortAt, end: PortAt, bending: Bending, around: Around, corners_mm: Sequence[Vector] = ()
) -> Laid | None:
    """The tube as it lies with nothing in the way, or over the fitter's own corners; None: it is not clear.

    Raises ClearanceError where the fitter's own corners lead it into something, GeometryError where it cannot be bent.
    """
    laid = tube_between(start, end, bending, corners_mm)
    wrong = around.entered(laid) if around.hazards else []
    if wrong and corners_mm:
        which, missing_mm = wrong[0]
        where = place_called(laid, around, which, start.name, end.name, corners_mm)
        raise blocked(tube_name(start, end), around.hazards[which], missing_mm, where, "move a corner")
    return None if wrong else laid


def place_called(laid: Laid, around: Around, which: int, start: str, end: str, corners_mm: Sequence[Vector]) -> str:
    """Which leg or bend of a tube comes nearest to a hazard."""
    line = laid.line
    names = stops_called(line, start, end, corners_mm)
    places = [point_at(line, line.length_mm * k / LOOKED_AT) for k in range(LOOKED_AT + 1)]
    slacks = around.keepout.slacks_mm(places)[:, which].tolist()
    along_mm = line.length_mm * slacks.index(min(slacks)) / LOOKED_AT
    for k, straight_mm in enumerate(line.straights_mm):
        if along_mm <= straight_mm or k == len(line.bends):
            break
        along_mm -= straight_mm + line.bends[k].radius_mm * line.bends[k].angle_rad
        if along_mm < 0:
            return f"its bend at {names[k + 1]}"
    return f"its leg from {names[k]} to {names[k + 1]}"


def blocked(thing: str, hazard: Hazard, missing_mm: float, best: str, remedy: str) -> ClearanceError:
    """The error of a tube that something is in the way of; ``best``: what of it lacks the clearance."""
    return ClearanceError(
        thing,
        f"{hazard.called} is in its way, and {best} lacks {missing_mm:.1f} mm of clearance",
        f"the tube's outside must keep {hazard.clearance_mm:g} mm clear of it",
        f"{remedy}, or move {_out_of_the_way(hazard)}",
        missing_mm,
    )
