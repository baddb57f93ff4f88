"""The headings worth trying where the fitter left one free.

Candidates are the straight lines to the neighbours, tangent to the pitch circles; their bisector; a fan around them;
and the headings that a single bend reaches from a neighbour's candidates.
"""

from __future__ import annotations

from collections.abc import Sequence

from tubing.centreline.between import PortAt
from tubing.errors import GeometryError
from tubing.geometry.vectors import Vector
from tubing.inputs.records import Mounting
from tubing.run.placing import (
    Aim,
    PlacedBox,
    bisectors,
    fan,
    heading_past,
    pierced_mm,
    with_heading,
    without_repeats,
)


def candidates(nose: PortAt, order: Sequence[Mounting], sides: Sequence[int]) -> list[list[PlacedBox]]:
    """For each wheelbox in order the headings worth trying, or only the given one.

    Raises JobError for a given heading that is not perpendicular to its spindle, GeometryError where there is no
    candidate at all.
    """
    main = [_main(nose, order, sides, k) for k in range(len(order))]
    fans = [[] if m.heading is not None else fan(m, headings) for m, headings in zip(order, main, strict=True)]
    placed = [[with_heading(m, h, s) for h in headings] for m, s, headings in zip(order, sides, main, strict=True)]
    add_single_bends(nose, placed, order, sides)
    for k, (mounting, side) in enumerate(zip(order, sides, strict=True)):
        if not placed[k]:
            raise GeometryError(
                f"wheelbox {mounting.name!r}",
                "no heading could be found for it",
                "its neighbours must lie outside its pitch circle",
                "give its heading, or check the holes",
            )
        if mounting.heading is None:
            headings = without_repeats([*(box.heading for box in placed[k]), *fans[k]])
            placed[k] = [with_heading(mounting, h, side) for h in headings]
    return placed


def _main(nose: PortAt, order: Sequence[Mounting], sides: Sequence[int], k: int) -> list[Vector]:
    """The given heading; or the tangents to both neighbours and their bisector."""
    mounting, side = order[k], sides[k]
    if mounting.heading is not None:
        return [mounting.heading]
    behind = _aim_at(order[k - 1], sides[k - 1]) if k else Aim(nose.datum_mm)
    aims = [heading_past(mounting, side, behind, ahead=False)]
    if k + 1 < len(order):
        aims.append(heading_past(mounting, side, _aim_at(order[k + 1], sides[k + 1]), ahead=True))
    tangents = [heading for heading in aims if heading is not None]
    return without_repeats([*tangents, *bisectors(tangents)])


def _aim_at(mounting: Mounting, side: int) -> Aim:
    seat = mounting.seat
    return Aim(seat.rack_centre_mm, side * seat.pitch_radius_mm)


def add_single_bends(
    nose: PortAt, placed: list[list[PlacedBox]], order: Sequence[Mounting], sides: Sequence[int]
) -> None:
    """Add to each free box the headings that a single bend reaches from its neighbours' candidates so far.

    Once along the run and once back, so that a chain of single bends from either end is among the candidates.
    """
    count = len(order)
    for k, ahead in [*((k, False) for k in range(count)), *((k, True) for k in reversed(range(count - 1)))]:
        mounting = order[k]
        if mounting.heading is not None:
            continue
        if ahead:
            lines = [(b.groove_in_mm, b.heading) for b in placed[k + 1]]
        else:
            lines = [(b.groove_out_mm, b.heading) for b in placed[k - 1]] if k else [(nose.datum_mm, nose.heading)]
        corners = [pierced_mm(mounting, *line, ahead=not ahead) for line in lines]
        reached = [heading_past(mounting, sides[k], Aim(c), ahead=ahead) for c in corners if c is not None]
        headings = without_repeats([*(b.heading for b in placed[k]), *(h for h in reached if h is not None)])
        placed[k] = [with_heading(mounting, h, sides[k]) for h in headings]
