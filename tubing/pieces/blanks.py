"""Turns each tube of a run into a blank: its length, its two ends and its bend schedule.

Blank:    the straight length to cut before flaring and bending.
Finished: from rim to rim along the centre line, once formed.
Start:    of a bend, the tangent point where the former takes hold, counted along the blank.
"""

from __future__ import annotations

import math
from fractions import Fraction

from msgspec import Struct

from tubing.centreline.between import Laid, PullIn
from tubing.errors import GeometryError
from tubing.flares import EndFlare, end_flare, where_is
from tubing.geometry.bends import arc_mm
from tubing.geometry.vectors import Vector, add, distance_mm
from tubing.inputs.records import Job, Shop
from tubing.run.records import Run, RunTube
from tubing.springback import as_bent_mm, springback_of
from tubing.units import exact_mm, mm

ROUNDING_MM = 1e-6  # a blank that exceeds a step of the rule by less is not rounded up to the next


class MarkedBend(Struct, frozen=True):
    """One line of a bend schedule."""

    from_rim_mm: float | None  # where it starts, from the rim at ``from``; None: a measured tube, place not known
    angle_rad: float
    set_rad: float  # what to set, so that it springs back to the angle
    rotation_rad: float | None  # plane of the bend before to this one's, clockwise seen from ``from``
    radius_mm: float  # as bent
    former_radius_mm: float  # what to bend it on


class LeastRadius(Struct, frozen=True):
    """The tightest centre-line radius allowed, [mm]; the larger governs."""

    tube_mm: float
    rack_mm: float

    @property
    def governs_mm(self) -> float:
        """The larger of the two."""
        return max(self.tube_mm, self.rack_mm)


class Piece(Struct, frozen=True):
    """One blank to cut, flare and bend."""

    tube: RunTube
    ends: tuple[EndFlare, EndFlare]
    finished_mm: float
    blank_mm: float
    cut_mm: Fraction  # the blank rounded up to the shop's cut step
    rim_to_rim_mm: float  # straight line, a check with a tape
    bends: tuple[MarkedBend, ...]
    least_radius: LeastRadius
    first_turn: Vector | None

    @property
    def id(self) -> str:
        """Such as ``nose-near``."""
        return self.tube.id

    @property
    def bends_known(self) -> bool:
        """Whether it is known where the bends lie: not of a tube laid out with a wire."""
        return isinstance(self.tube.shape, Laid)

    @property
    def pull_in(self) -> PullIn:
        """What is left to be pulled into place by hand; nothing of a measured tube."""
        return self.tube.shape.pull_in if isinstance(self.tube.shape, Laid) else PullIn(0.0, 0.0)


def cut_pieces(run: Run, job: Job, shop: Shop) -> tuple[Piece, ...]:
    """Every tube of the run as a blank.

    Raises FlareError for a flare the tube does not allow, GeometryError for a former below the least radius.
    """
    return tuple(_piece(tube, job, shop) for tube in run.tubes)


def _piece(tube: RunTube, job: Job, shop: Shop) -> Piece:
    least = LeastRadius(mm(job.tube.least_radius), mm(shop.bench.rack_least_radius))
    _check_radius(tube, job, shop, least)
    rows = shop.catalogue.flares
    start, end = (
        end_flare(job.tube, rows, shop.trial_flares, where_is(port.name), flare)
        for port, flare in zip((tube.start, tube.end), tube.flares, strict=True)
    )
    finished_mm = tube.length_mm + start.seat_mm + end.seat_mm
    blank_mm = finished_mm + start.consumed_mm + end.consumed_mm
    return Piece(
        tube=tube,
        ends=(start, end),
        finished_mm=finished_mm,
        blank_mm=blank_mm,
        cut_mm=rounded_up_mm(blank_mm, exact_mm(shop.bench.cut_step)),
        rim_to_rim_mm=_rim_to_rim_mm(tube, start, end),
        bends=schedule(tube, start, job, shop),
        least_radius=least,
        first_turn=tube.shape.line.first_turn if isinstance(tube.shape, Laid) else None,
    )


def rounded_up_mm(blank_mm: float, step_mm: Fraction) -> Fraction:
    """Round a blank up to the next step of the rule; exact.

    >>> rounded_up_mm(411.2, Fraction(1, 2)), rounded_up_mm(411.5, Fraction(1, 2))
    (Fraction(823, 2), Fraction(823, 2))
    """
    return math.ceil(Fraction(blank_mm - ROUNDING_MM) / step_mm) * step_mm


def _check_radius(tube: RunTube, job: Job, shop: Shop, least: LeastRadius) -> None:
    """The tube is bent round the former and must stand that; the rack lies in the bend as it stays."""
    if not tube.bend_angles_rad:
        return
    bent_mm = as_bent_mm(job.tube, job.former, shop)
    for whose, radius_mm, least_mm, found in (
        ("tube", mm(job.former.radius), least.tube_mm, "the former's radius is {:g} mm"),
        ("rack", bent_mm, least.rack_mm, "a bend on the former stays at a radius of {:g} mm"),
    ):
        if radius_mm < least_mm - ROUNDING_MM:
            raise GeometryError(
                f"tube {tube.id}",
                found.format(round(radius_mm, 1)),
                f"the {whose} bends no tighter than {least_mm:g} mm",
                "choose a larger former",
            )


def _rim_to_rim_mm(tube: RunTube, start: EndFlare, end: EndFlare) -> float:
    if isinstance(tube.shape, Laid):
        points, ways = tube.shape.line.points_mm, tube.shape.line.directions
        first, last, leaves, arrives = points[0], points[-1], ways[0], ways[-1]
    else:
        first, last = tube.start.datum_mm, tube.end.datum_mm
        leaves, arrives = tube.start.heading, tube.end.heading
    return distance_mm(add(first, leaves, -start.seat_mm), add(last, arrives, end.seat_mm))


def schedule(tube: RunTube, start: EndFlare, job: Job, shop: Shop) -> tuple[MarkedBend, ...]:
    """The bends in order along the tube; where they are marked on a sawn blank is told by ``SawnBlank.marks``."""
    springback, former_mm = springback_of(job.tube, job.former, shop), mm(job.former.radius)
    if not isinstance(tube.shape, Laid):
        bent_mm = as_bent_mm(job.tube, job.former, shop)
        return tuple(
            MarkedBend(None, angle, springback.set_rad(angle), None, bent_mm, former_mm)
            for angle in tube.shape.bends_rad
        )
    marked: list[MarkedBend] = []
    along_mm = start.seat_mm
    for straight_mm, bend in zip(tube.shape.line.straights_mm, tube.shape.line.bends, strict=False):
        along_mm += straight_mm
        marked.append(
            MarkedBend(
                from_rim_mm=along_mm,
                angle_rad=bend.angle_rad,
                set_rad=springback.set_rad(bend.angle_rad),
                rotation_rad=bend.rotation_rad,
                radius_mm=bend.radius_mm,
                former_radius_mm=former_mm,
            )
        )
        along_mm += arc_mm(bend.radius_mm, bend.angle_rad)
    return tuple(marked)
