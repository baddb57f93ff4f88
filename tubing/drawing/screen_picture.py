"""The glass from the driver's seat: what is wiped, the zones, arms and blades where they park and turn back."""

from __future__ import annotations

import itertools
from collections.abc import Callable

from tubing.drawing.glass_shapes import BladeShape, ScreenShape
from tubing.drawing.labels import Label, put_labels
from tubing.drawing.svg import Pen, Picture, Rect, dimension, short_name, size_words
from tubing.geometry.vectors import Point2
from tubing.sheet.records import Show

WIDE_MM, TALL_MM, EDGE_MM = 186.0, 105.0, 9.0
FOOT_MM = 5.0  # for the words under it
PIVOT_MM = 1.2  # radius of a drawn pivot
SCALES = (1, 2, 2.5, 4, 5, 6, 7.5, 8, 10, 12.5, 15, 20, 25, 50, 100)


def screen_picture(shape: ScreenShape, show: Show) -> Picture:
    """Outline, zones and wiped area to scale, with the outline's width and height and the pivots' places across it."""
    points = [*shape.outline_mm, *(blade.pivot_mm for blade in shape.blades)]
    points += [point for blade in shape.blades for ring in blade.wiped_mm for point in ring]
    low = (min(x for x, _ in points), min(y for _, y in points))
    high = (max(x for x, _ in points), max(y for _, y in points))
    wide, tall = high[0] - low[0], high[1] - low[1]
    fits = (s for s in SCALES if wide / s <= WIDE_MM - 2 * EDGE_MM and tall / s <= TALL_MM - 2 * EDGE_MM)
    scale = float(next(fits, max(wide, tall) / 80))
    height = tall / scale + 2 * EDGE_MM + FOOT_MM

    def at(point: Point2) -> Point2:
        return EDGE_MM + (point[0] - low[0]) / scale, EDGE_MM + (high[1] - point[1]) / scale

    pen, labels, lines = Pen(), list[Label](), list[list[Point2]]()
    outline = [at(point) for point in shape.outline_mm]
    pen.lines(outline, "white", closed=True)
    for blade in shape.blades:
        for ring in blade.wiped_mm:
            pen.lines([at(point) for point in ring], "wiped", closed=True)
    pen.lines(outline, "bold", closed=True)
    lines.append([*outline, outline[0]])
    for name, zone in shape.zones_mm:
        drawn = [at(point) for point in zone]
        pen.lines(drawn, "dash", closed=True)
        lines.append([*drawn, drawn[0]])
        labels.append(Label(drawn[0], f"zone {short_name(name)}", "strong"))
    for blade in shape.blades:
        lines += _draw_arms(pen, blade, at)
        labels.append(Label(at(blade.pivot_mm), short_name(blade.box), "strong"))
    put_labels(pen, labels, lines, Rect(1, 1, WIDE_MM - 2, height - FOOT_MM - EDGE_MM + 2))
    _sizes(pen, shape, at, height - FOOT_MM - 2, show)
    told = "Seen by the driver. Grey: wiped. Thick: blades at park; thin: where they turn back."
    pen.text(
        (0.5, height - 1.2), f"Scale 1 : {scale:.3g}. {told} Figures in mm{' and inches' if show == 'in' else ''}."
    )
    return pen.picture("screen", f"The screen with its wiped area, scale 1 to {scale:.3g}", WIDE_MM, height)


def _draw_arms(pen: Pen, blade: BladeShape, at: Callable[[Point2], Point2]) -> list[list[Point2]]:
    """Arm and blade at park, thick, and where they turn back, thin; the blades' lines, for labels to keep off."""
    lines: list[list[Point2]] = []
    for arm, (inner, outer), thick in ((blade.arm_mm, blade.parked_mm, 1.0), (blade.far_arm_mm, blade.far_mm, 0.35)):
        pen.line(at(blade.pivot_mm), at(arm), "line" if thick == 1.0 else "fine")
        pen.lines([at(inner), at(outer)], "tube", width_mm=thick)
        lines.append([at(inner), at(outer)])
    x, y = at(blade.pivot_mm)
    pen.circle((x, y), PIVOT_MM, "white")
    square = [(x + a * PIVOT_MM, y + b * PIVOT_MM) for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1), (-1, -1))]
    return [*lines, square]


def _sizes(pen: Pen, shape: ScreenShape, at: Callable[[Point2], Point2], foot_mm: float, show: Show) -> None:
    """The outline's width above, its height on the left, and below how far its sides and the pivots lie apart."""
    xs, ys = ([point[k] for point in shape.outline_mm] for k in (0, 1))
    left, top = at((min(xs), max(ys)))
    right, bottom = at((max(xs), min(ys)))

    dimension(pen, left, right, EDGE_MM - 3.5, size_words(max(xs) - min(xs), show, right - left))
    dimension(pen, top, bottom, EDGE_MM - 3.5, size_words(max(ys) - min(ys), show, bottom - top), upright=True)
    pivots = {blade.pivot_mm[0]: at(blade.pivot_mm) for blade in shape.blades}
    places = sorted({min(xs): (left, bottom), **pivots, max(xs): (right, bottom)}.items())
    for (a, (x1, _)), (b, (x2, _)) in itertools.pairwise(places):
        if words := size_words(b - a, show, x2 - x1):
            dimension(pen, x1, x2, foot_mm, words)
    for _, (x, y) in places:
        pen.line((x, y + PIVOT_MM), (x, foot_mm + 1.2), "chain")
