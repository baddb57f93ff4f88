"""The glass from the driver's seat: what is wiped, the zones, arms and blades where they park and turn back."""

from __future__ import annotations

from collections.abc import Callable

from tubing.job.records import Point2
from tubing.sheet.drawing import Label, Pen, Picture, Rect, dimension, put_labels, short_name
from tubing.sheet.records import Show
from tubing.sheet.shapes_glass import BladeShape, ScreenShape
from tubing.sheet.words import length_text

WIDE_MM, TALL_MM, EDGE_MM = 186.0, 105.0, 9.0
SCALES = (1, 2, 2.5, 4, 5, 6, 7.5, 8, 10, 12.5, 15, 20, 25, 50, 100)


def screen_picture(shape: ScreenShape, show: Show) -> Picture:
    """Outline, zones and wiped area to scale, with the outline's width and height."""
    points = [*shape.outline_mm, *(blade.pivot_mm for blade in shape.blades)]
    points += [point for blade in shape.blades for ring in blade.wiped_mm for point in ring]
    low = (min(x for x, _ in points), min(y for _, y in points))
    high = (max(x for x, _ in points), max(y for _, y in points))
    wide, tall = high[0] - low[0], high[1] - low[1]
    fits = (s for s in SCALES if wide / s <= WIDE_MM - 2 * EDGE_MM and tall / s <= TALL_MM - 2 * EDGE_MM)
    scale = float(next(fits, max(wide, tall) / 80))
    height = tall / scale + 2 * EDGE_MM + 5

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
        pen.circle(at(blade.pivot_mm), 1.2, "white")
        labels.append(Label(at(blade.pivot_mm), short_name(blade.box), "strong"))
    put_labels(pen, labels, lines, Rect(1, 1, WIDE_MM - 2, height - 8))
    xs, ys = [x for x, _ in outline], [y for _, y in outline]
    size = _size_texts(shape, show)
    dimension(pen, min(xs), max(xs), EDGE_MM - 3.5, size[0])
    dimension(pen, min(ys), max(ys), EDGE_MM - 3.5, size[1], upright=True)
    told = "Seen by the driver. Grey: wiped. Thick: blades at park; thin: where they turn back."
    pen.text((0.5, height - 1.2), f"Scale 1 : {scale:.3g}. {told} Figures in mm.")
    return pen.picture("screen", f"The screen with its wiped area, scale 1 to {scale:.3g}", WIDE_MM, height)


def _draw_arms(pen: Pen, blade: BladeShape, at: Callable[[Point2], Point2]) -> list[list[Point2]]:
    """Arm and blade at park, thick, and where they turn back, thin; the blades' lines, for labels to keep off."""
    lines: list[list[Point2]] = []
    for arm, (inner, outer), thick in ((blade.arm_mm, blade.parked_mm, 1.0), (blade.far_arm_mm, blade.far_mm, 0.35)):
        pen.line(at(blade.pivot_mm), at(arm), "line" if thick == 1.0 else "fine")
        pen.lines([at(inner), at(outer)], "tube", width_mm=thick)
        lines.append([at(inner), at(outer)])
    return lines


def _size_texts(shape: ScreenShape, show: Show) -> list[str]:
    """The outline's width and height, without their unit where it is mm."""
    sides = [[point[k] for point in shape.outline_mm] for k in (0, 1)]
    return [length_text(max(side) - min(side), show).removesuffix(" mm") for side in sides]
