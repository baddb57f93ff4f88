"""The taped points from above and from the driver's seat: readings as lines, and how sure each point is."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from tubing.drawing.labels import Label, put_labels
from tubing.drawing.svg import Pen, Picture, Rect, short_name
from tubing.geometry.vectors import Point2
from tubing.inputs.taped_points import Taped
from tubing.sheet.records import Show
from tubing.sheet.words import length_text

WIDE_MM, EDGE_MM, GAP_MM, FOOT_MM = 186.0, 14.0, 10.0, 6.0
TALLEST_MM = 95.0  # of one view
POINT_MM = 0.7  # radius of a drawn point
LARGER = 20  # an ellipse is drawn so many times as large as the scale would have it
WITHIN = math.sqrt(-2 * math.log(0.05))  # standard deviations in a plane, 19 times in 20
SCALES = (1, 2, 2.5, 4, 5, 6, 7.5, 8, 10, 12.5, 15, 20, 25, 50, 100)
VIEWS = ((0, 1, "from above"), (0, 2, "from the driver's seat"))

At = Callable[[Point2], Point2]


def taped_picture(taped: Taped, show: Show) -> Picture:
    """Both views one above the other, to one scale; the ellipses are larger, and the picture says so."""
    places = {point.name: point.at_mm for point in taped.measured.points}
    size = [max(p[k] for p in places.values()) - min(p[k] for p in places.values()) for k in range(3)]
    room = WIDE_MM - 2 * EDGE_MM, TALLEST_MM - 2 * EDGE_MM
    fits = (s for s in SCALES if size[0] / s <= room[0] and max(size[1:]) / s <= room[1])
    scale = float(next(fits, max(*size, 1.0) / 60))
    pen, top = Pen(), 0.0
    for across, up, called in VIEWS:
        tall = size[up] / scale + 2 * EDGE_MM
        low, high = min(p[across] for p in places.values()), max(p[up] for p in places.values())

        def at(point: Point2, top: float = top, low: float = low, high: float = high) -> Point2:
            return EDGE_MM + (point[0] - low) / scale, top + EDGE_MM + (high - point[1]) / scale

        pen.text((1.0, top + 4.0), called.capitalize(), "strong")
        _view(pen, taped, (across, up), at, Rect(1, top + 5, WIDE_MM - 2, tall - 5), scale, show)
        top += tall + GAP_MM
    told = f"Scale 1 : {scale:.3g}. Thin lines: readings; dashed: doubtful ones. "
    told += f"Ellipses: where each point may lie, drawn {LARGER} times as large."
    pen.text((0.5, top + 1.0), told)
    return pen.picture("measurements", f"The taped points, scale 1 to {scale:.3g}", WIDE_MM, top + FOOT_MM)


def _view(pen: Pen, taped: Taped, axes: tuple[int, int], at: At, inside: Rect, scale: float, show: Show) -> None:
    measured = taped.measured
    flat = {point.name: at((point.at_mm[axes[0]], point.at_mm[axes[1]])) for point in measured.points}
    lines: list[list[Point2]] = []
    labels = [Label(place, short_name(name), "strong") for name, place in flat.items()]
    for judged in measured.readings:
        reading = judged.reading
        if reading.kind != "taped":
            continue
        ends = [flat[reading.start], flat[reading.end]]
        pen.lines(ends, "dash" if judged.doubtful else "fine")
        lines.append(ends)
        if judged.doubtful:
            middle = ((ends[0][0] + ends[1][0]) / 2, (ends[0][1] + ends[1][1]) / 2)
            labels.append(Label(middle, f"{length_text(reading.value_mm, show)}?", "strong"))
    for point in measured.points:
        pen.lines(_ellipse(taped, point.name, axes, flat[point.name], LARGER / scale), "line", closed=True)
        pen.circle(flat[point.name], POINT_MM, "black")
    put_labels(pen, labels, lines, inside)


def _ellipse(taped: Taped, name: str, axes: tuple[int, int], middle: Point2, larger: float) -> Sequence[Point2]:
    """Where a point lies 19 times in 20 in one view, from its covariance, as points on paper.

    In a plane so much lies within 2.448 standard deviations: the root of -2 ln 0.05.
    """
    wide, aslant, tall = taped.measured.spread_mm2(name, axes)
    half, off = (wide + tall) / 2, math.hypot((wide - tall) / 2, aslant)
    long, short = math.sqrt(max(0.0, half + off)), math.sqrt(max(0.0, half - off))
    turn = math.atan2(aslant, (wide - tall) / 2) / 2
    points = []
    for k in range(48):
        a = 2 * math.pi * k / 48
        x, y = WITHIN * long * math.cos(a), WITHIN * short * math.sin(a)
        along, up = x * math.cos(turn) - y * math.sin(turn), x * math.sin(turn) + y * math.cos(turn)
        points.append((middle[0] + larger * along, middle[1] - larger * up))
    return points
