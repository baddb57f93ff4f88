"""The run as lines in space, for a picture that is turned on a page."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from tubing.drawing.run_shape import RunShape, obstacle_shape
from tubing.geometry.vectors import Vector, add
from tubing.inputs.records import Job

SHOWN_MM = 100.0  # of a direction


def turned_run(shape: RunShape) -> dict[str, Any]:
    """Lines and names with their places, x right, y forward, z up, in whole tenths of a mm.

    ``lines[]``: ``kind`` (tube, way, box or spindle), ``points``, and of a tube its ``name``. ``names[]``: ``at`` and
    ``words``.
    """
    lines = [_line("tube", tube.points_mm, tube.piece) for tube in shape.tubes]
    for box in shape.boxes:
        lines += [_line("box", edge) for edge in box.body.edges_mm]
        lines.append(_line("spindle", (box.rack_centre_mm, box.tip_mm)))
    for solid in shape.in_the_way:
        lines += [_line("way", edge) for edge in solid.edges_mm]
    names = [("nose", shape.nose_mm), ("end", shape.end_mm), *((box.name, box.hole_mm) for box in shape.boxes)]
    names += [(solid.name, _middle(solid.corners_mm)) for solid in shape.in_the_way]
    return {"lines": lines, "names": [{"words": words, "at": _at(at)} for words, at in names]}


def turned_ports(job: Job, layout: str) -> dict[str, Any]:
    """The same where no run is found: what was measured, for whoever looks for the reason.

    The nose with the way that the rack leaves it, holes with their spindles, and what is in the way.
    """
    lines = [_line("box", (job.nose.position_mm, add(job.nose.position_mm, job.nose.heading, SHOWN_MM)))]
    names = [("nose", job.nose.position_mm)]
    for name in job.layouts[layout]:
        box = job.mountings[name]
        lines.append(_line("spindle", (box.hole_mm, add(box.hole_mm, box.spindle, SHOWN_MM / 2))))
        if box.heading is not None:
            ends = (add(box.hole_mm, box.heading, -SHOWN_MM / 2), add(box.hole_mm, box.heading, SHOWN_MM / 2))
            lines.append(_line("box", ends))
        names.append((name, box.hole_mm))
    for thing in map(obstacle_shape, job.in_the_way):
        lines += [_line("way", edge) for edge in thing.edges_mm]
        names.append((thing.name, _middle(thing.corners_mm)))
    return {"lines": lines, "names": [{"words": words, "at": _at(at)} for words, at in names]}


def _line(kind: str, points: Iterable[Vector], name: str = "") -> dict[str, Any]:
    return {"kind": kind, "points": [_at(point) for point in points], "name": name}


def _at(point: Vector) -> list[float]:
    return [round(part, 1) for part in point]


def _middle(points: Iterable[Vector]) -> Vector:
    x, y, z = ((min(along) + max(along)) / 2 for along in zip(*points, strict=True))
    return x, y, z
