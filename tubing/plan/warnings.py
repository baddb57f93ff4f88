"""What a plan leaves for the fitter to settle, in his words."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from tubing.as_cut import AsCut
from tubing.job.records import Job
from tubing.pieces import Piece
from tubing.run.records import Measured, Run
from tubing.tolerance import Tolerance


def geometry_warnings(run: Run, pieces: Sequence[Piece]) -> list[str]:
    """What the geometry leaves for the fitter to settle."""
    said = [
        f"wheelbox {box.name}: its heading was {math.degrees(box.off_rad):.1f} deg from perpendicular to the spindle "
        "and was made perpendicular"
        for box in run.boxes
        if box.off_rad
    ]
    said += [
        f"piece {piece.id}: pull it into place by hand: it is {piece.pull_in.distance_mm:.1f} mm and "
        f"{math.degrees(piece.pull_in.angle_rad):.1f} deg out of line"
        for piece in pieces
        if piece.pull_in.noticed
    ]
    said += [
        f"piece {piece.id}: bend {number} turns {math.degrees(bend.angle_rad):.0f} deg, more than a right angle; "
        "name corners for this tube if there is another way"
        for piece in pieces
        for number, bend in enumerate(piece.bends, 1)
        if bend.angle_rad > math.radians(90.5)
    ]
    return said


def unchecked_warnings(run: Run, job: Job) -> list[str]:
    """The tubes of unknown shape that nothing was looked at for, where the job names things in the way."""
    return [
        f"piece {tube.id}: it was laid out with a wire, so its way is not known; see for yourself that it keeps "
        "clear of what is in the way"
        for tube in run.tubes
        if job.in_the_way and isinstance(tube.shape, Measured)
    ]


def tolerance_warnings(tolerances: Mapping[str, Tolerance]) -> list[str]:
    """The pieces that must be marked in place, and what to measure again for each."""
    return [
        f"piece {name}: mark it in place, for the tape's error may make it {each.worst_mm:.1f} mm wrong and its "
        f"grooves take up {each.takes_up_mm:.1f} mm; measure again: {each.most}"
        for name, each in tolerances.items()
        if each.mark_in_place
    ]


def as_cut_warnings(cuts: Sequence[AsCut], run: Run, tip_clearance_mm: float) -> list[str]:
    """What the pieces that were really cut mean for the boxes at their ends."""
    ends = {tube.id: tube.end.name for tube in run.tubes}
    said = []
    for cut in cuts:
        if ends[cut.piece] == "end" and cut.off_mm < 0:
            left_mm = tip_clearance_mm + cut.off_mm
            said.append(
                f"piece {cut.piece}: cut {-cut.off_mm:.1f} mm short it leaves the rack's tip {left_mm:.1f} mm at the "
                "dead end pushed out" + ("" if left_mm > 0 else "; the rack would strike the end stop: cut it again")
            )
        if not cut.holds:
            off, way = "long" if cut.off_mm > 0 else "short", "along" if cut.moved_mm > 0 else "against"
            said.append(
                f"piece {cut.piece}: cut {cut.length_mm:.1f} mm long it is {abs(cut.off_mm):.1f} mm too {off} and its "
                f"grooves cannot take that up; move wheelbox {ends[cut.piece]} {abs(cut.moved_mm):.1f} mm {way} its "
                "heading, or cut the piece again; what follows is planned from there"
            )
    return said
