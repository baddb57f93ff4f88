"""Whether what is made is what was planned: ports visited, pieces that arrive, straights, blanks and their marks."""

from __future__ import annotations

import itertools
import math
from collections.abc import Collection, Sequence
from fractions import Fraction

from tubing.centreline.between import Laid
from tubing.check.bent_legs import failed, walked_legs
from tubing.geometry.vectors import (
    Vector,
    angle_rad,
    cross,
    distance_mm,
    dot,
    off_line_mm,
    sub,
)
from tubing.inputs.records import Job, Shop
from tubing.pieces.blanks import Piece
from tubing.pieces.sawn import SawnBlank
from tubing.run.records import Run
from tubing.springback import springback_of
from tubing.units import mm

ARRIVES_MM = 1e-5
ARRIVES_RAD = 1e-7
STRAIGHT_MM = 1e-3  # a straight may be short of what it must be by rounding


def check_run(run: Run, pieces: Sequence[Piece], names: Sequence[str], job: Job, shop: Shop) -> None:
    """Raise CheckError unless the run visits each wheelbox once and every piece ends where the next port is.

    Every piece must also be straight where it is held.
    """
    if sorted(box.name for box in run.boxes) != sorted(names):
        raise failed("run", f"it visits {', '.join(b.name for b in run.boxes)}", f"it had to visit {', '.join(names)}")
    stops = ["nose", *(box.name for box in run.boxes), "end"]
    for piece, (start, end) in zip(pieces, itertools.pairwise(stops), strict=True):
        if piece.id != f"{start}-{end}":
            raise failed(f"piece {piece.id}", "it is out of order", f"here the run goes from {start} to {end}")
        check_piece(piece)
        check_straights(piece, job, shop)
    for box in run.boxes:
        axis, hole = box.mounting.spindle, box.mounting.hole_mm
        radius_mm = mm(box.mounting.model.pitch_radius)
        away_mm = off_line_mm(box.pitch_point_mm, hole, axis)
        if abs(away_mm - radius_mm) > ARRIVES_MM or abs(dot(box.heading, axis)) > ARRIVES_RAD:
            raise failed(
                f"wheelbox {box.name}", f"its rack passes {away_mm:.4f} mm off", f"it must be {radius_mm:g} mm"
            )
        right = dot(cross(box.heading, axis), sub(box.pitch_point_mm, hole))
        if right * box.side <= 0:
            raise failed(f"wheelbox {box.name}", "its rack passes on the other side", "it must pass on the side stated")


def check_piece(piece: Piece) -> None:
    """Raise CheckError unless the piece, bent by its schedule from its start port, arrives at its end port."""
    start, end = piece.ends
    if not math.isclose(
        piece.blank_mm, piece.finished_mm + start.consumed_mm + end.consumed_mm, abs_tol=ARRIVES_MM
    ) or not (float(piece.cut_mm) - piece.blank_mm + ARRIVES_MM >= 0):
        raise failed(f"piece {piece.id}", f"its cut is {float(piece.cut_mm):g} mm", "it must hold the blank")
    if not isinstance(piece.tube.shape, Laid):
        return
    place, heading = _walked(piece)
    slack_rad = 2 * piece.pull_in.angle_rad + ARRIVES_RAD
    slack_mm = 2 * piece.pull_in.distance_mm + math.sin(piece.pull_in.angle_rad) * piece.blank_mm + ARRIVES_MM
    missed_mm = distance_mm(place, piece.tube.end.datum_mm)
    missed_rad = angle_rad(heading, piece.tube.end.heading)
    if missed_mm > slack_mm or missed_rad > slack_rad:
        raise failed(
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
            raise failed(
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
                raise failed(
                    f"blank {piece.id}, bend {mark.number}",
                    f"its start is marked at {mark.start_mm:.4f} mm",
                    f"it must be {right_mm:.4f} mm from the blank's end at {blank.ports[0]}",
                )


def _walked(piece: Piece) -> tuple[Vector, Vector]:
    """Where the blank's end seat comes to lie, and its heading, going only by rims, marks, angles and radii."""
    *_, last = walked_legs(piece, piece.tube.start.heading)
    return last.place_mm(last.length_mm), last.heading


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
            raise failed(
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


def check_bends(sawn: Sequence[SawnBlank], job: Job, shop: Shop) -> None:
    """Raise CheckError unless every bend is formed from as much tube as it has once it stays.

    What the bender turns beyond its play forms an arc on the former; of a former that states what it gives, the arc as
    it stays.
    """
    play_rad = springback_of(job.tube, job.former, shop).fixed_rad
    for blank in sawn:
        for mark in blank.marks:
            turned_rad = mark.set_rad - play_rad if job.former.radius_is == "former" else mark.angle_rad
            formed_mm, stays_mm = mark.former_radius_mm * turned_rad, mark.radius_mm * mark.angle_rad
            if abs(formed_mm - stays_mm) > ARRIVES_MM:
                raise failed(
                    f"blank {blank.piece.id}, bend {mark.number}",
                    f"the bender forms {formed_mm:.4f} mm of tube",
                    f"the bend as it stays has {stays_mm:.4f} mm",
                )
