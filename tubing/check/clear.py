"""Whether everything keeps clear: of what is in the way, of bodies, of the run's own tubes; distances of its own."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence

from tubing.centreline.between import Laid
from tubing.check.bent_legs import WalkedLeg, failed, walked_legs
from tubing.geometry.vectors import (
    Vector,
    cross,
    dot,
    sub,
)
from tubing.inputs.records import Box, Cylinder, Job, Shop, Sphere
from tubing.pieces.blanks import Piece
from tubing.run.placing import PlacedBox
from tubing.run.records import Run
from tubing.units import mm

CLEAR_MM = 0.02  # a tube nearer to a thing than it may be by less is clear
STEP_MM = 0.2  # between the points looked at where a tube touches the clearance of a thing


def check_clear(run: Run, pieces: Sequence[Piece], job: Job, shop: Shop) -> None:
    """Raise CheckError unless every piece of known shape keeps clear of all that is in the way.

    A thing's distance changes no faster than one goes along a tube; so from each point the next one to look at is as
    far as there is distance to spare, and a step where there is none.
    """
    tube_mm = mm(job.tube.diameter) / 2
    things = [(repr(o.name), _away_from(o.shape), mm(o.clearance), "") for o in job.in_the_way]
    things += [
        (f"the body of wheelbox {box.name!r}", _away_from_body(box), mm(shop.bench.clearance), box.name)
        for box in run.boxes
        if box.mounting.model.body is not None
    ]
    for piece in pieces:
        if not isinstance(piece.tube.shape, Laid):
            continue
        legs = list(walked_legs(piece, piece.tube.shape.line.directions[0]))  # as it lies once it is pulled in
        for called, away_mm, clearance_mm, box in things:
            if box in piece.tube.ports:
                continue
            left_mm = _least_left_mm(legs, away_mm, clearance_mm + tube_mm)
            if left_mm < -CLEAR_MM:
                raise failed(
                    f"piece {piece.id}",
                    f"bent by its schedule it comes within {clearance_mm + left_mm:.2f} mm of {called}",
                    f"it must keep {clearance_mm:g} mm clear of it",
                )


def check_apart(run: Run, pieces: Sequence[Piece], job: Job, shop: Shop) -> None:
    """Raise CheckError unless every piece keeps off itself, off the others, and off the wheelboxes at its ends.

    From each place on the run, all later ones are looked at that are further along it than twice what must be kept.
    """
    tube_mm, clearance_mm = mm(job.tube.diameter), mm(shop.bench.clearance)
    gaps = [2 * mm(box.mounting.model.groove_offset) for box in run.boxes]
    walked = [_legs_along(piece) for piece in pieces]
    for k, piece in enumerate(pieces):
        for box in run.boxes:
            if box.mounting.model.body is not None and box.name in piece.tube.ports:
                back = box.name == piece.tube.end.name
                _check_own_body(piece, walked[k], back, _away_from_body(box), clearance_mm + tube_mm / 2)
        before_mm = 0.0
        for j in range(k, len(pieces)):
            kept_mm = tube_mm + (clearance_mm if j > k else 0.0)
            left_mm = _least_between_mm(walked[k], walked[j], before_mm, kept_mm) - kept_mm
            if left_mm < -CLEAR_MM:
                other = "itself" if j == k else f"piece {pieces[j].id}"
                raise failed(
                    f"piece {piece.id}",
                    f"bent by its schedule it comes {-left_mm:.2f} mm too near to {other}",
                    f"its outside must keep {kept_mm - tube_mm:g} mm clear of it",
                )
            before_mm += pieces[j].tube.length_mm + gaps[j] if j < len(gaps) else 0.0


def _legs_along(piece: Piece) -> list[tuple[float, WalkedLeg]]:
    """The piece's legs, each with how far along the piece it starts; none where its shape is not known."""
    if not isinstance(piece.tube.shape, Laid):
        return []
    legs = list(walked_legs(piece, piece.tube.shape.line.directions[0]))
    starts = itertools.accumulate((leg.length_mm for leg in legs), initial=0.0)
    return list(zip(starts, legs, strict=False))


def _place_mm(legs: Sequence[tuple[float, WalkedLeg]], along_mm: float) -> Vector:
    start_mm, leg = next(each for each in reversed(legs) if each[0] <= along_mm)
    return leg.place_mm(along_mm - start_mm)


def _ends_mm(legs: Sequence[tuple[float, WalkedLeg]]) -> float:
    return legs[-1][0] + legs[-1][1].length_mm


def _least_between_mm(
    one: Sequence[tuple[float, WalkedLeg]], other: Sequence[tuple[float, WalkedLeg]], before_mm: float, kept_mm: float
) -> float:
    """How near two pieces come where they are far enough apart along the run; ``before_mm``: how far the other starts.

    A distance changes no faster than one goes along either of them, which says how far the next place to look at is.
    """
    if not one or not other:
        return math.inf
    least_mm, at_mm = math.inf, 0.0
    while at_mm <= _ends_mm(one):
        place, here_mm = _place_mm(one, at_mm), math.inf
        on_mm = max(at_mm + 2 * kept_mm - before_mm, 0.0)
        while on_mm <= _ends_mm(other):
            apart_mm = math.dist(place, _place_mm(other, on_mm))
            here_mm = min(here_mm, apart_mm)
            on_mm += max(apart_mm - kept_mm, STEP_MM)
        least_mm = min(least_mm, here_mm)
        at_mm += max(here_mm - kept_mm, STEP_MM)
    return least_mm


def _check_own_body(
    piece: Piece,
    legs: Sequence[tuple[float, WalkedLeg]],
    back: bool,
    away_mm: Callable[[Vector], float],
    needed_mm: float,
) -> None:
    """Raise CheckError where a piece that has left its wheelbox's body comes back to it; ``back``: from its end."""
    end_mm = _ends_mm(legs) if legs else 0.0
    on_mm, is_clear = 0.0, False
    while on_mm <= end_mm and legs:
        left_mm = away_mm(_place_mm(legs, end_mm - on_mm if back else on_mm)) - needed_mm
        if is_clear and left_mm < -CLEAR_MM:
            raise failed(
                f"piece {piece.id}",
                f"bent by its schedule it comes back {-left_mm:.2f} mm too near to the wheelbox that it leaves",
                "it must stay clear of it",
            )
        is_clear = is_clear or left_mm >= 0
        on_mm += max(left_mm, STEP_MM)


def _least_left_mm(legs: Sequence[WalkedLeg], away_mm: Callable[[Vector], float], needed_mm: float) -> float:
    least_mm = math.inf
    for leg in legs:
        along_mm = 0.0
        while True:
            left_mm = away_mm(leg.place_mm(along_mm)) - needed_mm
            least_mm = min(least_mm, left_mm)
            if along_mm >= leg.length_mm:
                break
            along_mm = min(along_mm + max(left_mm, STEP_MM), leg.length_mm)
    return least_mm


def _away_from(shape: Box | Cylinder | Sphere) -> Callable[[Vector], float]:
    """How far a point lies from a shape of the job, [mm]; 0 or less inside."""
    if isinstance(shape, Sphere):
        return lambda point: math.dist(point, shape.centre_mm) - shape.radius_mm
    if isinstance(shape, Cylinder):
        axis, length_mm = sub(shape.end_mm, shape.start_mm), math.dist(shape.start_mm, shape.end_mm)
        return lambda point: _away_from_cylinder_mm(sub(point, shape.start_mm), axis, length_mm, shape.radius_mm)
    return lambda point: _away_from_sides_mm(_turned_back(sub(point, shape.centre_mm), shape.turned_rad), shape.size_mm)


def _away_from_cylinder_mm(point: Vector, axis: Vector, length_mm: float, radius_mm: float) -> float:
    up_mm = dot(point, axis) / length_mm
    aside_mm = math.sqrt(max(0.0, dot(point, point) - up_mm**2)) - radius_mm
    beyond_mm = max(-up_mm, up_mm - length_mm)
    if max(aside_mm, beyond_mm) <= 0:
        return max(aside_mm, beyond_mm)
    return math.hypot(max(aside_mm, 0.0), max(beyond_mm, 0.0))


def _turned_back(point: Vector, by_rad: Vector) -> Vector:
    """A point in the frame of a box that was turned about x, then y, then z."""
    x, y, z = point
    cos, sin = math.cos(by_rad[2]), math.sin(by_rad[2])
    x, y = cos * x + sin * y, cos * y - sin * x
    cos, sin = math.cos(by_rad[1]), math.sin(by_rad[1])
    z, x = cos * z + sin * x, cos * x - sin * z
    cos, sin = math.cos(by_rad[0]), math.sin(by_rad[0])
    return x, cos * y + sin * z, cos * z - sin * y


def _away_from_sides_mm(point: Vector, size_mm: Vector) -> float:
    beyond = [abs(at) - side / 2 for at, side in zip(point, size_mm, strict=True)]
    return math.hypot(*(max(b, 0.0) for b in beyond)) if max(beyond) > 0 else max(beyond)


def _away_from_body(box: PlacedBox) -> Callable[[Vector], float]:
    """The same from a wheelbox's body: along the rack, across it, and from its seating face down the spindle."""
    mounting = box.mounting
    assert mounting.model.body is not None
    along_mm, across_mm, deep_mm = (mm(side) for side in mounting.model.body)
    lean = 1.0 if mounting.panel is None else dot(mounting.panel, mounting.spindle)
    face_mm = mm(mounting.spacer) + mm(mounting.panel_thickness) / lean
    aside = cross(mounting.spindle, box.heading)

    def away_mm(point: Vector) -> float:
        way = sub(point, mounting.hole_mm)
        down_mm = -dot(way, mounting.spindle) - face_mm - deep_mm / 2
        return _away_from_sides_mm((dot(way, box.heading), dot(way, aside), down_mm), (along_mm, across_mm, deep_mm))

    return away_mm
