"""Drilling templates, full size, as seen from outside, facing the panel."""

from __future__ import annotations

import math
from collections.abc import Callable

from tubing.drawing.bench_shapes import Template
from tubing.drawing.labels import Label, put_labels
from tubing.drawing.svg import SMALL_MM, Pen, Picture, Rect, fitted, rule, short_name
from tubing.geometry.vectors import Point2
from tubing.sheet.records import Show
from tubing.sheet.words import angle_text, length_text, way_text

WIDE_MM, TALL_MM = 186.0, 112.0
RULE_MM = 14.0
PER_PAGE = 2
HALF_MM = 45.0  # from the spindle's axis to the template's edge
CENTRE_X_MM = 60.0
LEAN_MM = 16.0  # from the slot's end to the tip of the lean's arrow
NOTE_X_MM = 112.0
ToPaper = Callable[[Point2], Point2]


def template_pages(templates: tuple[Template, ...], show: Show, called: str) -> tuple[Picture, ...]:
    """The templates, two on a page, each page with its rule; each says what it is ``called`` where it is cut out."""
    pages = [templates[k : k + PER_PAGE] for k in range(0, len(templates), PER_PAGE)]
    return tuple(_page(page, number, show, called) for number, page in enumerate(pages, 1))


def _page(page: tuple[Template, ...], number: int, show: Show, called: str) -> Picture:
    pen = Pen()
    rule(pen, (8.0, 6.0))
    for row, template in enumerate(page):
        _template(pen, template, RULE_MM + row * TALL_MM, show, called)
    names = " and ".join(template.box for template in page)
    words = f"Drilling templates, full size, for {names}"
    return pen.picture(f"templates-{number}", words, WIDE_MM, RULE_MM + len(page) * TALL_MM)


def _template(pen: Pen, template: Template, top: float, show: Show, called: str) -> None:
    centre = (CENTRE_X_MM, top + 14.0 + HALF_MM)
    frame = Rect(centre[0] - HALF_MM, centre[1] - HALF_MM, 2 * HALF_MM, 2 * HALF_MM)

    def at(point: Point2) -> Point2:
        return centre[0] + point[0], centre[1] - point[1]

    pen.text((8.0, top + 5.0), f"Wheelbox {short_name(template.box)}", "start", "strong", 4.0)
    pen.rect(frame, "dash")
    pen.text((centre[0], frame.top_mm - 1.2), f"this edge: {way_text(template.up)}", "middle")
    right = f"this edge: {way_text(template.right)}"
    pen.text((frame.right_mm + 3.6, centre[1]), right, "middle", turned_deg=90)
    labels, lines = list[Label](), list[list[Point2]]()
    name = fitted(f"{short_name(template.box)}, {called}", frame.width_mm - 4.0, SMALL_MM)
    pen.text((frame.left_mm + 2.0, frame.bottom_mm - 1.6), name, "start", "halo")
    _heading(pen, template, at, frame, labels, lines)
    _slot(pen, template, at, lines)
    _edge(pen, template, at, labels, lines, show)
    _lean(pen, template, at, labels, lines)
    put_labels(pen, labels, lines, Rect(frame.left_mm + 1, frame.top_mm + 1, frame.width_mm - 2, frame.height_mm - 2))
    for k, line in enumerate(_notes(template, show)):
        pen.text((NOTE_X_MM, frame.top_mm + 4.0 + 4.4 * k), line)


def _slot(pen: Pen, template: Template, at: ToPaper, lines: list[list[Point2]]) -> None:
    """The slot's outline, its drill centres, its own centre, and where the axis leaves the panel."""
    if _slot_fits(template):
        outline = [at(point) for point in slot_outline_mm(template)]
        pen.lines(outline, "line slot", closed=True)
        lines.append(outline)
    for point in template.drill_centres_mm:
        _cross(pen, at(point), 2.0, "fine")
        pen.circle(at(point), 0.5, "line")
    _cross(pen, at((0.0, 0.0)), 5.0, "line")


def _slot_fits(template: Template) -> bool:
    """Whether the template is large enough for the slot, with the lean's arrow beyond it."""
    return template.length_mm / 2 + LEAN_MM <= HALF_MM - 1.0


def _rack_fits(template: Template) -> bool:
    """Whether the rack's line comes on to the template."""
    return math.hypot(*template.rack_line_mm) < HALF_MM - 2.0


def slot_outline_mm(template: Template) -> list[Point2]:
    """The slot: as wide as the bush, half round at its ends; a circle where nothing leans."""
    half = template.width_mm / 2
    base = math.atan2(template.along[1], template.along[0])
    points = []
    for back, (x, y) in enumerate(reversed(template.round_centres_mm)):
        for k in range(25):
            turn = base + math.pi * (back + k / 24 - 0.5)
            points.append((x + half * math.cos(turn), y + half * math.sin(turn)))
    return points


def _cross(pen: Pen, at: Point2, reach: float, kind: str) -> None:
    pen.line((at[0] - reach, at[1]), (at[0] + reach, at[1]), kind)
    pen.line((at[0], at[1] - reach), (at[0], at[1] + reach), kind)


def _heading(
    pen: Pen, template: Template, at: ToPaper, frame: Rect, labels: list[Label], lines: list[list[Point2]]
) -> None:
    """The rack's line under the panel, with the way it goes."""
    if not _rack_fits(template):
        return
    hx, hy = template.heading
    size = math.hypot(hx, hy)
    hx, hy = hx / size, hy / size
    px, py = template.rack_line_mm
    reach = HALF_MM - 6.0
    start, end = at((px - reach * hx, py - reach * hy)), at((px + reach * hx, py + reach * hy))
    inner = Pen()
    inner.arrow(start, end, "chain", 3.0)
    pen.clipped(frame, inner)
    lines.append([start, end])
    labels.append(Label(at((px + 0.7 * reach * hx, py + 0.7 * reach * hy)), "rack goes this way"))


def _lean(pen: Pen, template: Template, at: ToPaper, labels: list[Label], lines: list[list[Point2]]) -> None:
    if not template.leans:
        return
    (ax, ay), end = template.along, HALF_MM - 1.0
    if _slot_fits(template):
        end = template.length_mm / 2 + LEAN_MM
    a, b = at(((end - 12.0) * ax, (end - 12.0) * ay)), at((end * ax, end * ay))
    pen.arrow(a, b, "line", 3.0)
    lines.append([a, b])
    labels.append(Label(b, f"spindle leans this way, {angle_text(template.lean_deg)}"))


def _edge(
    pen: Pen, template: Template, at: ToPaper, labels: list[Label], lines: list[list[Point2]], show: Show
) -> None:
    """The edge of the glass with its distance, where it comes on to the template; else the way to it."""
    edge = template.edge
    if edge is None:
        return
    (tx, ty), away = edge.toward, edge.distance_mm
    words = length_text(away, show)
    if away > HALF_MM - 2.0:
        a, b = (at((reach * tx, reach * ty)) for reach in (HALF_MM - 13.0, HALF_MM - 2.0))
        pen.arrow(a, b, "line", 3.0)
        lines.append([a, b])
        labels.append(Label(a, f"edge of the glass, {words}"))
        return
    if away > template.length_mm / 2 + 6.0:
        a, b = (at((reach * tx, reach * ty)) for reach in (5.0, away))
        pen.arrow(a, b, "fine", 1.6)
        lines.append([a, b])
        labels.append(Label(((a[0] + b[0]) / 2, (a[1] + b[1]) / 2), words))
    half = min(HALF_MM * 0.8, math.sqrt(HALF_MM**2 - away**2))
    a = at((away * tx - half * ty, away * ty + half * tx))
    b = at((away * tx + half * ty, away * ty - half * tx))
    pen.line(a, b, "bold")
    lines.append([a, b])
    labels.append(Label(((a[0] + b[0]) / 2, (a[1] + b[1]) / 2), "edge of the glass"))


def _notes(template: Template, show: Show) -> list[str]:
    """Figures beside a template."""
    width, length = length_text(template.width_mm, show), length_text(template.length_mm, show)
    if template.leans:
        off = math.hypot(*template.slot_centre_mm)
        notes = [
            f"Slot {width} wide, {length} long,",
            f"its centre {length_text(off, show)} from the large cross,",
            "against the lean.",
        ]
        if template.two_holes:
            apart = length_text(template.length_mm - template.width_mm, show)
            notes += [f"Drill at the two small rings, {apart}", "apart, and file to the outline."]
        else:
            notes += ["Drill at the small ring, and file to the", "outline."]
    else:
        notes = [f"Round hole, {width}, at the ring."]
    if not _slot_fits(template):
        notes += ["It is too large to be drawn here:", "take it from templates.dxf."]
    if not _rack_fits(template):
        aside = length_text(math.hypot(*template.rack_line_mm), show)
        notes.append(f"The rack's line lies {aside} off, beyond this.")
    notes.append("")
    notes.append("Large cross: the spindle's axis on the")
    notes.append("panel's outer face.")
    notes.append("Seen from outside, facing the panel.")
    if not template.lean_known:
        notes += ["", "No panel is given: the lean counts as", "nothing. Check it before you drill."]
    notes.append("")
    if template.edge is None:
        notes.append("To the edge of the glass: ________ mm")
        notes.append("(measure it: the job has no screen)")
    else:
        notes.append(f"To the edge of the glass: {length_text(template.edge.distance_mm, show)},")
        notes.append("the nearest, in the plane of the glass.")
    notes += ["", "Cut along the broken line. Centre-punch", "through the rings."]
    return notes
