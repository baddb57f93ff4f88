"""The independent check at the end of a plan: it trusts no stage and repeats none of their formulas.

It walks each tube's bend schedule as the bench would make it, arc by arc round each bend's centre, and must come out at
the tube's end port with the right heading; on that way it must keep clear of everything; it looks at each wheelbox's
rack line from its spindle; it counts ports.
The bars are added up by :func:`tubing.nesting.check_nest`.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Collection, Iterator, Sequence
from fractions import Fraction

from msgspec import Struct

from tubing.centreline.between import Laid
from tubing.errors import CheckError
from tubing.geometry.vectors import (
    Vector,
    across,
    add,
    angle_rad,
    cross,
    distance_mm,
    dot,
    off_line_mm,
    sub,
    turned,
    unit,
)
from tubing.inputs.records import Box, Cylinder, Job, Shop, Sphere
from tubing.pieces.blanks import Piece
from tubing.pieces.sawn import SawnBlank
from tubing.run.placing import PlacedBox
from tubing.run.records import Run
from tubing.units import mm

ARRIVES_MM = 1e-5
ARRIVES_RAD = 1e-7
STRAIGHT_MM = 1e-3  # a straight may be short of what it must be by rounding
CLEAR_MM = 0.02  # a tube nearer to a thing than it may be by less is clear
STEP_MM = 0.2  # between the points looked at where a tube touches the clearance of a thing


def check_run(run: Run, pieces: Sequence[Piece], names: Sequence[str], job: Job, shop: Shop) -> None:
    """Raise CheckError unless the run visits each wheelbox once and every piece ends where the next port is.

    Every piece must also be straight where it is held.
    """
    if sorted(box.name for box in run.boxes) != sorted(names):
        raise _failed("run", f"it visits {', '.join(b.name for b in run.boxes)}", f"it had to visit {', '.join(names)}")
    stops = ["nose", *(box.name for box in run.boxes), "end"]
    for piece, (start, end) in zip(pieces, itertools.pairwise(stops), strict=True):
        if piece.id != f"{start}-{end}":
            raise _failed(f"piece {piece.id}", "it is out of order", f"here the run goes from {start} to {end}")
        check_piece(piece)
        check_straights(piece, job, shop)
    for box in run.boxes:
        axis, hole = box.mounting.spindle, box.mounting.hole_mm
        radius_mm = mm(box.mounting.model.pitch_radius)
        away_mm = off_line_mm(box.pitch_point_mm, hole, axis)
        if abs(away_mm - radius_mm) > ARRIVES_MM or abs(dot(box.heading, axis)) > ARRIVES_RAD:
            raise _failed(
                f"wheelbox {box.name}", f"its rack passes {away_mm:.4f} mm off", f"it must be {radius_mm:g} mm"
            )
        right = dot(cross(box.heading, axis), sub(box.pitch_point_mm, hole))
        if right * box.side <= 0:
            raise _failed(
                f"wheelbox {box.name}", "its rack passes on the other side", "it must pass on the side stated"
            )


def check_piece(piece: Piece) -> None:
    """Raise CheckError unless the piece, bent by its schedule from its start port, arrives at its end port."""
    start, end = piece.ends
    if not math.isclose(
        piece.blank_mm, piece.finished_mm + start.consumed_mm + end.consumed_mm, abs_tol=ARRIVES_MM
    ) or not (float(piece.cut_mm) - piece.blank_mm + ARRIVES_MM >= 0):
        raise _failed(f"piece {piece.id}", f"its cut is {float(piece.cut_mm):g} mm", "it must hold the blank")
    if not isinstance(piece.tube.shape, Laid):
        return
    place, heading = _walked(piece)
    slack_rad = 2 * piece.pull_in.angle_rad + ARRIVES_RAD
    slack_mm = 2 * piece.pull_in.distance_mm + math.sin(piece.pull_in.angle_rad) * piece.blank_mm + ARRIVES_MM
    missed_mm = distance_mm(place, piece.tube.end.datum_mm)
    missed_rad = angle_rad(heading, piece.tube.end.heading)
    if missed_mm > slack_mm or missed_rad > slack_rad:
        raise _failed(
            f"piece {piece.id}",
            f"bent by its schedule it ends {missed_mm:.4f} mm and {math.degrees(missed_rad):.4f} deg off",
            f"it must arrive at {piece.tube.end.name}",
        )


def check_sawn(sawn: Sequence[SawnBlank], already_cut: Collection[str], step_mm: Fraction) -> None:
    """Raise CheckError unless every blank, as it is sawn and marked, makes its piece.

    A blank that is still to be sawn is too long by less than a step of the rule, and by less than another for each
    end that comes ready, whose saving is rounded down to whole steps.
    """
    for blank in sawn:
        piece = blank.piece
        start_mm, end_mm = (0.0 if done else e.consumed_mm for e, done in zip(piece.ends, blank.ready, strict=True))
        needed_mm = piece.finished_mm + start_mm + end_mm + float(blank.over_mm)
        most_mm = float(step_mm) * (1 + sum(blank.ready))
        over_mm = float(blank.length_mm) - needed_mm
        if piece.id not in already_cut and not -ARRIVES_MM <= over_mm < most_mm + ARRIVES_MM:
            raise _failed(
                f"blank {piece.id}",
                f"it is sawn {float(blank.length_mm):g} mm long",
                f"it must be from {needed_mm:.4f} mm to {most_mm:g} mm more",
            )
        for mark in blank.marks:
            rim_mm = piece.bends[mark.number - 1].from_rim_mm
            if mark.start_mm is None or rim_mm is None:
                continue
            right_mm = rim_mm + start_mm
            if blank.over_end == 0:  # what is trimmed at the start moves no mark: they count from the other end
                right_mm = piece.finished_mm - rim_mm - mark.radius_mm * mark.angle_rad + end_mm
            if abs(mark.start_mm - right_mm) > ARRIVES_MM:
                raise _failed(
                    f"blank {piece.id}, bend {mark.number}",
                    f"its start is marked at {mark.start_mm:.4f} mm",
                    f"it must be {right_mm:.4f} mm from the blank's end at {blank.ports[0]}",
                )


def _walked(piece: Piece) -> tuple[Vector, Vector]:
    """Where the blank's end seat comes to lie, and its heading, going only by rims, marks, angles and radii."""
    *_, last = walked_legs(piece, piece.tube.start.heading)
    return last.place_mm(last.length_mm), last.heading


class WalkedLeg(Struct, frozen=True):
    """A straight, or the arc of a bend, of a tube bent by its schedule."""

    start_mm: Vector
    heading: Vector  # where it starts
    length_mm: float
    centre_mm: Vector | None = None  # of the arc; None: it is straight
    radius_mm: float = 0.0

    def place_mm(self, along_mm: float) -> Vector:
        """The point so far along it."""
        if self.centre_mm is None:
            return add(self.start_mm, self.heading, along_mm)
        arm = sub(self.start_mm, self.centre_mm)
        axis = unit(cross(arm, self.heading))
        return add(self.centre_mm, turned(arm, axis, along_mm / self.radius_mm))


def walked_legs(piece: Piece, leaves: Vector) -> Iterator[WalkedLeg]:
    """The straights and arcs of a blank in turn, from seat to seat, going only by rims, marks, angles and radii.

    ``leaves``: the direction in which it is laid into its first seat.
    """
    start, end = piece.ends
    place, heading = piece.tube.start.datum_mm, leaves
    inside = unit(across(piece.first_turn, heading)) if piece.first_turn is not None else None
    reached_mm = start.seat_mm
    for bend in piece.bends:
        assert bend.from_rim_mm is not None
        assert bend.rotation_rad is not None
        assert inside is not None
        straight = WalkedLeg(place, heading, bend.from_rim_mm - reached_mm)
        yield straight
        place = straight.place_mm(straight.length_mm)
        inside = turned(inside, heading, bend.rotation_rad)
        axis, centre = cross(heading, inside), add(place, inside, bend.radius_mm)
        yield WalkedLeg(place, heading, bend.radius_mm * bend.angle_rad, centre, bend.radius_mm)
        place = add(centre, turned(sub(place, centre), axis, bend.angle_rad))
        heading, inside = turned(heading, axis, bend.angle_rad), turned(inside, axis, bend.angle_rad)
        reached_mm = bend.from_rim_mm + bend.radius_mm * bend.angle_rad
    yield WalkedLeg(place, heading, piece.finished_mm - end.seat_mm - reached_mm)


def check_straights(piece: Piece, job: Job, shop: Shop) -> None:
    """Raise CheckError unless a bent piece is straight where flares, nut, wheelboxes and the former hold it."""
    if not isinstance(piece.tube.shape, Laid):
        return
    straights_mm = [leg.length_mm for leg in walked_legs(piece, piece.tube.start.heading) if leg.centre_mm is None]
    held_mm = [_held_mm(port, end.flare, job, shop) for port, end in zip(piece.tube.ports, piece.ends, strict=True)]
    needed_mm = [sum(held_mm)]
    if piece.bends:
        grip_mm = mm(job.former.grip)
        between_mm = [grip_mm] * (len(piece.bends) - 1)
        # Behind its last bend the tail's plain end needs no more than the former holds.
        needed_mm = [max(held_mm[0], grip_mm), *between_mm, max(held_mm[1], grip_mm)]
    for number, (straight_mm, least_mm) in enumerate(zip(straights_mm, needed_mm, strict=True), 1):
        if straight_mm < least_mm - STRAIGHT_MM:
            raise _failed(
                f"piece {piece.id}",
                f"straight {number} of its {len(straights_mm)} is {straight_mm:.3f} mm",
                f"it must be {least_mm:g} mm",
            )


def _held_mm(port: str, flare: str, job: Job, shop: Shop) -> float:
    """The tube's end that must be straight at a port, from the seat or the groove's centre."""
    if port == "end":
        return 0.0
    flaring_mm = 0.0 if flare == "plain" else mm(shop.bench.flare_grip)
    if port == "nose":
        return flaring_mm + (0.0 if flare == "plain" else mm(job.nose.model.nut_length))
    model = job.mountings[port].model
    return max(flaring_mm, mm(model.mouth_offset) - mm(model.groove_offset))


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
                raise _failed(
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
                raise _failed(
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
            raise _failed(
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


def _failed(thing: str, found: str, needed: str) -> CheckError:
    return CheckError(thing, found, needed, "the plan's own check failed: please report this job; do not cut by it")
