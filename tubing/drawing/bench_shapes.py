"""What is drawn for the bench: a marking-out strip for each bent piece, a drilling template for each wheelbox.

Strip:    the blank's outside unrolled: along the blank to the right, round the tube downwards, as seen from outside
          with the end that marks count from on the left. Wrapped round the tube with its print outwards, it shows
          where the inside of each bend lies.
Template: the panel's outer face, seen from outside, full size.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from msgspec import Struct

from tubing.drive import BoxDrive
from tubing.geometry.vectors import Point2, Vector, across, add, cross, dot, norm, scale, unit
from tubing.inputs.records import Mounting
from tubing.pieces.sawn import SawnBlank
from tubing.plan import Plan
from tubing.run.placing import PlacedBox
from tubing.sheet.bending import STRAIGHT_DEG
from tubing.sheet.words import end_text
from tubing.units import mm

ONE_HOLE_MM = 3.0  # a slot whose two drill centres lie nearer than this is drilled once, and filed
FLAT = 1e-9  # a panel whose normal is this near to straight up is level: up on its template is the rear


class StripEnd(Struct, frozen=True):
    """One end of a blank on its strip."""

    port: str
    formed: str  # such as "double + nut"; "plain"
    ready: bool  # comes flared with the bar
    consumed_mm: float  # of the blank, by the flare; 0 for a plain or a ready end
    nut: bool
    over_mm: float  # left over length here, to be trimmed in place


class StripBend(Struct, frozen=True):
    """One bend on a strip."""

    number: int
    before: int | None  # the number of the bend before it on the strip; None: it is the first
    start_mm: float  # from the strip's left end
    end_mm: float
    angle_deg: float
    set_deg: float
    rotation_deg: float  # from the inside of the bend before
    round_mm: float  # its inside: from the line of the first one downwards round the tube, 0 <= round < circumference


class Strip(Struct, frozen=True):
    """The marking-out strip of one bent piece; without bends where their places are not known."""

    piece: str
    length_mm: float  # of the blank as cut
    circumference_mm: float  # of the tube
    ends: tuple[StripEnd, StripEnd]
    bends: tuple[StripBend, ...]
    from_rim: bool  # the left end comes flared: lengths count from its rim


class GlassEdge(Struct, frozen=True):
    """The nearest part of the glass's edge, on a template."""

    distance_mm: float  # from the spindle's axis, in the plane of the glass
    toward: Point2  # unit vector on the template, x to the right, y up


class Template(Struct, frozen=True):
    """One drilling template. Its origin is where the spindle's axis leaves the outer face; x right, y up, mm."""

    box: str
    width_mm: float  # of the slot
    length_mm: float
    slot_centre_mm: Point2
    along: Point2  # unit vector of the slot's length: the way the spindle leans
    lean_deg: float
    lean_known: bool
    leans: bool  # enough for a slot; else a round hole
    heading: Point2  # the way the rack goes, along the spindle on to the panel; not a unit vector
    rack_line_mm: Point2  # a point of the rack's line, along the spindle on to the panel
    up: Vector  # the template's y on the vehicle
    right: Vector  # its x on the vehicle
    edge: GlassEdge | None

    @property
    def round_centres_mm(self) -> tuple[Point2, Point2]:
        """The centres of the slot's two half-round ends, the second towards the lean; both alike for a round hole."""
        reach = (self.length_mm - self.width_mm) / 2 if self.leans else 0.0
        x, y = self.slot_centre_mm
        return (
            (x - reach * self.along[0], y - reach * self.along[1]),
            (x + reach * self.along[0], y + reach * self.along[1]),
        )

    @property
    def drill_centres_mm(self) -> tuple[Point2, ...]:
        """Where to drill with the slot's width before filing: both its ends, or its middle where they lie too close."""
        return self.round_centres_mm if self.two_holes else (self.slot_centre_mm,)

    @property
    def two_holes(self) -> bool:
        """Whether the slot is long enough to be drilled at both its ends."""
        return self.leans and self.length_mm - self.width_mm >= ONE_HOLE_MM


def strips(plan: Plan) -> tuple[Strip, ...]:
    """A strip for every piece that is still to be bent, in order along the run."""
    diameter_mm = mm(plan.job.tube.diameter)
    return tuple(_strip(blank, diameter_mm) for blank in plan.sawn if blank.to_bend)


def _strip(blank: SawnBlank, diameter_mm: float) -> Strip:
    round_mm = math.pi * diameter_mm
    ends = [
        StripEnd(
            port=blank.piece.tube.ports[k],
            formed=end_text(blank.piece.ends[k]),
            ready=blank.ready[k],
            consumed_mm=blank.consumed_mm[k],
            nut=blank.piece.ends[k].nut,
            over_mm=float(blank.over_mm) if k == blank.over_end else 0.0,
        )
        for k in blank.in_order
    ]
    bends: list[StripBend] = []
    turned_rad = 0.0
    for mark in blank.marks if blank.piece.bends_known else ():
        assert mark.start_mm is not None
        assert mark.end_mm is not None
        assert mark.rotation_rad is not None
        turn_rad = mark.rotation_rad if bends else 0.0
        turned_rad += turn_rad
        around_mm = turned_rad * diameter_mm / 2 % round_mm
        bends.append(
            StripBend(
                number=mark.number,
                before=bends[-1].number if bends else None,
                start_mm=mark.start_mm,
                end_mm=mark.end_mm,
                angle_deg=math.degrees(mark.angle_rad),
                set_deg=math.degrees(mark.set_rad),
                rotation_deg=math.degrees(turn_rad),
                round_mm=0.0 if round_mm - around_mm < 1e-6 else around_mm,
            )
        )
    return Strip(
        blank.piece.id, float(blank.length_mm), round_mm, (ends[0], ends[1]), tuple(bends), blank.counts_from_rim
    )


def templates(plan: Plan, pivots_mm: Mapping[str, Point2]) -> tuple[Template, ...]:
    """A drilling template for every wheelbox, in order from the motor.

    ``pivots_mm``: the spindles in the plane of the glass, by wheelbox; empty where the job has no screen.
    """
    outline_mm = () if plan.job.screen is None else plan.job.screen.outline_mm
    return tuple(
        _template(box, figures, outline_mm, pivots_mm.get(box.name))
        for box, figures in zip(plan.run.boxes, plan.drive.boxes, strict=True)
    )


def _template(box: PlacedBox, figures: BoxDrive, outline_mm: Sequence[Point2], pivot_mm: Point2 | None) -> Template:
    mounting, hole = box.mounting, figures.hole
    normal = mounting.spindle if mounting.panel is None else unit(mounting.panel)
    up, right = facing(normal)

    def flat(vector: Vector) -> Point2:
        return dot(vector, right), dot(vector, up)

    leans = hole.offset_toward is not None and math.degrees(hole.lean_rad) >= STRAIGHT_DEG
    along = flat(scale(hole.offset_toward, -1.0)) if leans and hole.offset_toward is not None else (0.0, 1.0)
    off_mm = -hole.offset_mm if leans else 0.0
    aside = scale(cross(box.heading, mounting.spindle), box.side * mm(mounting.model.pitch_radius))
    return Template(
        box=box.name,
        width_mm=hole.width_mm,
        length_mm=hole.length_mm,
        slot_centre_mm=(off_mm * along[0], off_mm * along[1]),
        along=along,
        lean_deg=math.degrees(hole.lean_rad),
        lean_known=hole.lean_known,
        leans=leans,
        heading=flat(_on_panel(box.heading, mounting, normal)),
        rack_line_mm=flat(_on_panel(aside, mounting, normal)),
        up=up,
        right=right,
        edge=None if pivot_mm is None else _glass_edge(outline_mm, pivot_mm, right, up),
    )


def facing(normal: Vector) -> tuple[Vector, Vector]:
    """Up and right on a panel as seen from outside; up is the vehicle's up, on a level panel towards the rear.

    >>> facing((0.0, 0.0, 1.0))
    ((0.0, -1.0, 0.0), (-1.0, 0.0, 0.0))
    """
    upward = across((0.0, 0.0, 1.0), normal)
    up = unit(upward) if norm(upward) > FLAT else (0.0, -1.0, 0.0)
    right = cross(up, normal)
    return up, (right[0] + 0.0, right[1] + 0.0, right[2] + 0.0)


def _on_panel(vector: Vector, mounting: Mounting, normal: Vector) -> Vector:
    """Project a vector on to the panel, parallel to the spindle."""
    spindle = mounting.spindle
    return add(vector, spindle, -dot(vector, normal) / dot(spindle, normal))


def _glass_edge(outline_mm: Sequence[Point2], pivot_mm: Point2, right: Vector, up: Vector) -> GlassEdge:
    """How far the glass's edge lies from the spindle's axis, in the plane of the glass.

    The glass's x is the driver's right and its y up the glass; on the template these are its own right or left, and
    its own up or down.
    """
    nearest = nearest_on_edge_mm(outline_mm, pivot_mm)
    x, y = nearest[0] - pivot_mm[0], nearest[1] - pivot_mm[1]
    distance_mm = math.hypot(x, y)
    if distance_mm < FLAT:
        return GlassEdge(0.0, (0.0, 1.0))
    x, y = x / distance_mm, y / distance_mm
    return GlassEdge(distance_mm, (-x if right[0] < 0 else x, -y if up[2] < 0 else y))


def nearest_on_edge_mm(outline_mm: Sequence[Point2], point_mm: Point2) -> Point2:
    """The point of a closed outline that is nearest to a point.

    >>> nearest_on_edge_mm([(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)], (4.0, -3.0))
    (4.0, 0.0)
    """

    def foot(a: Point2, b: Point2) -> Point2:
        way = (b[0] - a[0], b[1] - a[1])
        length2 = way[0] ** 2 + way[1] ** 2
        share = ((point_mm[0] - a[0]) * way[0] + (point_mm[1] - a[1]) * way[1]) / length2 if length2 else 0.0
        share = min(1.0, max(0.0, share))
        return a[0] + share * way[0], a[1] + share * way[1]

    feet = [foot(a, b) for a, b in zip(outline_mm, [*outline_mm[1:], outline_mm[0]], strict=True)]
    return min(feet, key=lambda p: math.dist(p, point_mm))
