"""The run from above, from the driver's seat and from the right, all in one scale and in line with each other."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence

from msgspec import Struct
from msgspec.structs import replace

from tubing.drawing.labels import Label, Legend, legend_lines, put_labels
from tubing.drawing.run_shape import RunShape, Solid, extent
from tubing.drawing.svg import (
    SMALL_MM,
    Pen,
    Picture,
    Rect,
    dimension,
    hull,
    short_name,
    size_words,
    spread,
    text_width_mm,
)
from tubing.geometry.vectors import Point2, Vector, add, cross, norm, unit
from tubing.sheet.records import Show
from tubing.sheet.words import visible
from tubing.units import inches_text, rounded

WIDE_MM = 186.0  # of the paper that A4 and Letter both leave
TALL_MM = 170.0
EDGE_MM = 20.0  # left of a view, for its ordinates
FOOT_MM = 13.0  # below a view, for its ordinates
HEAD_MM = 10.0  # above a view, for its name and its chain of dimensions
SCALES = (1, 2, 2.5, 3, 4, 5, 6, 7.5, 8, 10, 12.5, 15, 17.5, 20, 25, 30, 40, 50, 75, 100, 200, 500, 1000)
APART_MM = 16.0  # between the front view and the side view beside it
AROUND_MM = APART_MM - 2.0  # right of a view, for names that find no room in it
MARGIN_MM = 50.0  # on the vehicle, round the run
ROOM_FOR_SOLIDS_MM = 250.0  # farther from the run, what is in the way is cut off at the picture's edge
BESIDE_IS_WORTH = 1.3  # so much smaller may a picture be that is not longer by a side view below the front view
LINE_MM = 3.2  # from line to line of what is told below
TOGETHER_MM = 1.5  # names of points this near to each other are written as one label
NUMBER_MM = 3.6  # height of a bend's number in its circle

Eye = Callable[[Vector], Point2]


class _View(Struct, frozen=True):
    """One view on paper."""

    title: str
    eye: Eye  # a point of the vehicle to paper
    place: Rect


def run_picture(shape: RunShape, show: Show) -> Picture:
    """Plan, front and side view to scale, with ports, tubes, bends, what is in the way, and where things lie."""
    low, high = _bounds(shape)
    size = [b - a for a, b in zip(low, high, strict=True)]
    beside, scale = _scale(size)
    wide, deep, tall = (length / scale for length in size)
    plan = Rect(EDGE_MM, HEAD_MM, wide, deep)
    front = Rect(EDGE_MM, plan.bottom_mm + HEAD_MM, wide, tall)
    side = (
        Rect(front.right_mm + APART_MM, front.top_mm, deep, tall)
        if beside
        else Rect(EDGE_MM, front.bottom_mm + FOOT_MM + HEAD_MM, deep, tall)
    )
    pen = Pen()
    views = (
        _View("From above", _eye(0, 1, low, high, scale, plan), plan),
        _View("From the driver's seat", _eye(0, 2, low, high, scale, front), front),
        _View("From the right", _eye(1, 2, low, high, scale, side), side),
    )
    legend: Legend = {}
    for number, view in enumerate(views):
        _draw_view(pen, view, shape, scale, legend, named=number == 0)
    _spacings(pen, views[0], shape, show)
    _ordinates(pen, views[0], shape, 1, show, upright=True)
    _ordinates(pen, views[1], shape, 2, show, upright=True)
    _ordinates(pen, views[1], shape, 0, show, upright=False)
    _ordinates(pen, views[2], shape, 1, show, upright=False)
    figures = [f"x {_figure(mark[axis], show)}" for mark in _marks(shape) for axis in (0, 1)]
    height = side.bottom_mm + 4.4 + max(map(text_width_mm, figures)) + 0.8
    for line in (f"Scale 1 : {scale:g}. {_told(shape, show)}", *legend_lines(legend, WIDE_MM - 1.0)):
        height += LINE_MM
        pen.text((0.5, height - 0.8), line)
    words = f"The run from above, from the driver's seat and from the right, scale 1 to {scale:g}"
    return pen.picture("run", words, WIDE_MM, height)


def _figure(length_mm: float, show: Show) -> str:
    """A place at the edge of a view, in mm or in inches."""
    return rounded(length_mm, 1) if show == "mm" else inches_text(length_mm)


def _told(shape: RunShape, show: Show) -> str:
    told = [f"Figures at the edges: {'mm' if show == 'mm' else 'inches'} from the job's origin."]
    told += ["Circled: a bend's number on its piece."] if any(tube.bends for tube in shape.tubes) else []
    told += ["Triangle: clip."] if shape.clips_mm else []
    told += [] if all(tube.known for tube in shape.tubes) else ["Dashed: the tube's way is not known."]
    return " ".join(told)


def _bounds(shape: RunShape) -> tuple[list[float], list[float]]:
    """What the views show, least and greatest on each axis; solids only as far as they are near the run."""
    own = [point for tube in shape.tubes for point in tube.points_mm]
    own += [point for box in shape.boxes for point in (*box.body.corners_mm, box.tip_mm)]
    own += [add(shape.nose_mm, shape.nose_heading, -80.0)]
    solid = [point for one in shape.in_the_way for point in one.corners_mm]
    low, high = [], []
    for axis in range(3):
        a, b = extent(own, axis)
        if solid:
            c, d = extent(solid, axis)
            a = min(a, max(c, a - ROOM_FOR_SOLIDS_MM))
            b = max(b, min(d, b + ROOM_FOR_SOLIDS_MM))
        low.append(a - MARGIN_MM)
        high.append(b + MARGIN_MM)
    return low, high


def _scale(size: Sequence[float]) -> tuple[bool, float]:
    """Whether the side view stands beside the front view, and the largest scale at which all fits."""
    wide, deep, tall = size
    below = math.inf
    for scale in SCALES:
        x, y, z = wide / scale, deep / scale, tall / scale
        if scale > BESIDE_IS_WORTH * below:
            return False, below
        if EDGE_MM + APART_MM + x + y <= WIDE_MM - 2 and 2 * HEAD_MM + FOOT_MM + y + z <= TALL_MM:
            return True, scale
        if EDGE_MM + max(x, y) <= WIDE_MM - 2 and 3 * HEAD_MM + 2 * FOOT_MM + y + 2 * z <= TALL_MM:
            below = min(below, scale)
    return True, float(math.ceil(max(size) / 60))


def _eye(right: int, up: int, low: Sequence[float], high: Sequence[float], scale: float, place: Rect) -> Eye:
    def see(point: Vector) -> Point2:
        return place.left_mm + (point[right] - low[right]) / scale, place.top_mm + (high[up] - point[up]) / scale

    return see


def _draw_view(pen: Pen, view: _View, shape: RunShape, scale: float, legend: Legend, named: bool) -> None:
    eye, place = view.eye, view.place
    inner, labels, names = Pen(), list[Label](), list[Label]()
    for solid in shape.in_the_way:
        labels += _solid(inner, solid, view)
    for box in shape.boxes:
        inner.lines(hull(eye(point) for point in box.body.corners_mm), "pale", closed=True)
    lines = list[list[Point2]]()
    for tube in shape.tubes:
        points = [eye(point) for point in tube.points_mm]
        thick = max(shape.diameter_mm / scale, 0.9)
        inner.lines(points, "tube", width_mm=thick)
        inner.lines(points, "bore", width_mm=thick - 0.45)
        if not tube.known:
            inner.lines(points, "dash")
        lines.append(points)
        for number, bend in enumerate(tube.bends, 1):
            _bend(inner, [eye(point) for point in (bend.start_mm, bend.end_mm)], eye(bend.middle_mm), thick)
            if named:
                labels.append(Label(eye(bend.middle_mm), _circled(number), "", NUMBER_MM))
        if named:
            half = _middle(points)
            labels.append(Label(half, short_name(tube.piece)))
    legs = [leg for line in lines for leg in itertools.pairwise(line)]
    for box in shape.boxes:
        inner.lines([eye(point) for point in box.pitch_circle_mm], "line")
        inner.line(eye(box.rack_centre_mm), eye(box.tip_mm), "bold")
        lines.append([eye(box.rack_centre_mm), eye(box.tip_mm)])
        names.append(Label(eye(box.hole_mm), short_name(box.name), "strong"))
    names += _nose_and_end(inner, shape, eye)
    for clip in shape.clips_mm:
        lines.append(_clip(inner, eye(clip), legs))
    pen.rect(place, "fine")
    pen.clipped(place, inner)
    if named:
        lines += [[(x, place.top_mm), (x, y)] for x, y in (eye(mark) for mark in _marks(shape))]
    room = min(AROUND_MM, WIDE_MM - 1.0 - place.right_mm)  # to the right of a view nothing else is written
    where = Rect(place.left_mm, place.top_mm, place.width_mm + room, place.height_mm)
    put_labels(pen, [*_together(names), *labels], lines, where, legend)
    pen.text((place.left_mm, place.top_mm - (6.6 if named else 1.2)), view.title, "start", "strong", 3.0)


def _clip(pen: Pen, at: Point2, legs: Sequence[tuple[Point2, Point2]]) -> list[Point2]:
    """A clip: a black triangle beside the tube, its tip at the tube; the marks of bends may lie right there."""
    near = min(legs, key=lambda leg: _off_mm(at, *leg), default=(at, at))
    length = math.dist(*near)
    ux, uy = ((near[1][0] - near[0][0]) / length, (near[1][1] - near[0][1]) / length) if length else (1.0, 0.0)
    ax, ay = (-uy, ux) if ux >= 0 else (uy, -ux)  # below a level tube
    (tx, ty), (fx, fy) = ((at[0] + off * ax, at[1] + off * ay) for off in (0.6, 2.2))
    pen.lines([(tx, ty), (fx + 0.8 * ux, fy + 0.8 * uy), (fx - 0.8 * ux, fy - 0.8 * uy)], "black", closed=True)
    return [(tx, ty), (fx, fy)]


def _off_mm(at: Point2, a: Point2, b: Point2) -> float:
    """How far a point lies from a leg between two points."""
    way = (b[0] - a[0], b[1] - a[1])
    square = way[0] ** 2 + way[1] ** 2
    share = ((at[0] - a[0]) * way[0] + (at[1] - a[1]) * way[1]) / square if square else 0.0
    share = min(1.0, max(0.0, share))
    return math.dist(at, (a[0] + share * way[0], a[1] + share * way[1]))


def _together(names: Sequence[Label]) -> list[Label]:
    """Join the names of points that coincide in this view into one label."""
    found: list[Label] = []
    for name in names:
        other = next((k for k, one in enumerate(found) if math.dist(one.at, name.at) < TOGETHER_MM), None)
        if other is None:
            found.append(name)
        else:
            found[other] = replace(found[other], words=f"{found[other].words}, {name.words}")
    return found


def _circled(number: int) -> str:
    """A bend's number as a circled digit; above 20, where no such character exists, in brackets.

    >>> _circled(1), _circled(30)
    ('①', '(30)')
    """
    return chr(0x245F + number) if number <= 20 else f"({number})"


def _solid(pen: Pen, solid: Solid, view: _View) -> list[Label]:
    """Draw a thing in the way; its label follows only where part of it lies inside the view."""
    outline = hull(view.eye(point) for point in solid.corners_mm)
    pen.lines(outline, "way", closed=True)
    place = view.place
    xs = [min(max(x, place.left_mm), place.right_mm) for x, _ in outline]
    ys = [min(max(y, place.top_mm), place.bottom_mm) for _, y in outline]
    if max(xs) - min(xs) < 0.1 or max(ys) - min(ys) < 0.1:
        return []
    name = short_name(solid.name)
    fits = text_width_mm(name) < max(xs) - min(xs)
    return [Label(((min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2), name, over=fits, whole=visible(solid.name))]


def _bend(pen: Pen, ends: Sequence[Point2], middle: Point2, thick_mm: float) -> None:
    """Short strokes across the tube where a bend starts and ends."""
    for end in ends:
        length = math.dist(end, middle)
        if length < 0.2:
            continue
        ux, uy = (middle[0] - end[0]) / length, (middle[1] - end[1]) / length
        reach = thick_mm / 2 + 0.7
        pen.line((end[0] - reach * uy, end[1] + reach * ux), (end[0] + reach * uy, end[1] - reach * ux), "line")


def _middle(points: Sequence[Point2]) -> Point2:
    """Half way along a line."""
    total = sum(math.dist(a, b) for a, b in itertools.pairwise(points))
    run = 0.0
    for a, b in itertools.pairwise(points):
        step = math.dist(a, b)
        if step and run + step >= total / 2:
            share = (total / 2 - run) / step
            return a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])
        run += step
    return points[0]


def _nose_and_end(pen: Pen, shape: RunShape, eye: Eye) -> list[Label]:
    """The motor's nose as a block behind the seat, the end stop as a cap; their labels."""
    for point, heading, back_mm, half_mm, kind in (
        (shape.nose_mm, shape.nose_heading, -70.0, 16.0, "grey"),
        (shape.end_mm, shape.end_heading, 8.0, 7.0, "black"),
    ):
        aside = cross(heading, (0.0, 0.0, 1.0))
        aside = unit(aside) if norm(aside) > 1e-6 else (1.0, 0.0, 0.0)
        above = cross(aside, heading)
        corners = [
            add(add(add(point, heading, along), aside, s * half_mm), above, t * half_mm)
            for along in (0.0, back_mm)
            for s in (-1, 1)
            for t in (-1, 1)
        ]
        pen.lines(hull(eye(corner) for corner in corners), kind, closed=True)
    return [
        Label(eye(add(shape.nose_mm, shape.nose_heading, -35.0)), "nose", "strong"),
        Label(eye(add(shape.end_mm, shape.end_heading, 8.0)), "end", "strong"),
    ]


def _marks(shape: RunShape) -> list[Vector]:
    return [shape.nose_mm, *(box.hole_mm for box in shape.boxes), shape.end_mm]


def _spacings(pen: Pen, view: _View, shape: RunShape, show: Show) -> None:
    """Over the view from above: how far nose, holes and end lie apart across the vehicle."""
    marks = sorted({round(point[0], 1): point for point in _marks(shape)}.items())
    at = view.place.top_mm - 1.6
    for (_, first), (_, second) in itertools.pairwise(marks):
        left, right = view.eye(first)[0], view.eye(second)[0]
        for x, point in ((left, first), (right, second)):
            pen.line((x, at - 1.2), (x, view.eye(point)[1]), "chain")
        if words := size_words(second[0] - first[0], show, right - left):
            dimension(pen, left, right, at, words)


def _ordinates(pen: Pen, view: _View, shape: RunShape, axis: int, show: Show, upright: bool) -> None:
    """At a view's left edge or foot: where nose, holes and end lie on one axis, spread so that all can be read."""
    place = view.place
    along = 1 if upright else 0
    marks = sorted(
        {_figure(point[axis], show): view.eye(point)[along] for point in _marks(shape)}.items(), key=_by_place
    )
    least, most = (place.top_mm, place.bottom_mm) if upright else (place.left_mm, place.right_mm)
    letter = "xyz"[axis]
    for (words, there), here in zip(
        marks, spread([m for _, m in marks], SMALL_MM + 0.6, least + 1, most - 1), strict=True
    ):
        if upright:
            edge = place.left_mm
            pen.lines([(edge, there), (edge - 1, there), (edge - 3, here), (edge - 4, here)], "fine")
            pen.text((edge - 4.4, here + 0.9), f"{letter} {words}", "end")
        else:
            edge = place.bottom_mm
            pen.lines([(there, edge), (there, edge + 1), (here, edge + 3), (here, edge + 4)], "fine")
            pen.text((here + 0.9, edge + 4.4), f"{letter} {words}", "end", turned_deg=90)


def _by_place(mark: tuple[str, float]) -> float:
    return mark[1]
