"""DXF files in mm: the run's centre lines in space, and the drilling templates flat. The only door to ezdxf.

ezdxf is imported when a file is made, for that takes a third of a second.
"""

from __future__ import annotations

import io
import math
from typing import TYPE_CHECKING, Any

from tubing.drawing.bench_shapes import Template
from tubing.drawing.run_shape import Arc, RunShape, Straight
from tubing.geometry.vectors import Point2, add, sub, unit
from tubing.sheet.words import visible

if TYPE_CHECKING:
    from ezdxf.document import Drawing

MILLIMETRES = 4  # of $INSUNITS
APART_MM = 120.0  # templates side by side
TEXT_MM = 3.0
RUN_LAYERS = {"CENTRE_LINE": 7, "WAY_NOT_KNOWN": 8, "PORTS": 3, "BOXES": 5, "IN_THE_WAY": 1, "CLIPS": 4, "NAMES": 7}
TEMPLATE_LAYERS = {"SLOT": 7, "DRILL": 5, "AXIS": 3, "RACK": 8, "LEAN": 4, "GLASS_EDGE": 1, "NAMES": 7}


def run_dxf(shape: RunShape, called: str) -> str:
    """The run in the vehicle's frame: straights as lines and bends as arcs, exactly; at the nose what it is called."""
    drawing = _new(RUN_LAYERS)
    space = drawing.modelspace()
    for tube in shape.tubes:
        layer = "CENTRE_LINE" if tube.known else "WAY_NOT_KNOWN"
        for way in tube.ways:
            if isinstance(way, Straight):
                space.add_line(way.start_mm, way.end_mm, dxfattribs={"layer": layer})
            else:
                _arc(space, way, layer)
        middle = tube.points_mm[len(tube.points_mm) // 2]
        _name(space, tube.piece, middle)
    for name, point in (("nose", shape.nose_mm), ("end", shape.end_mm)):
        space.add_point(point, dxfattribs={"layer": "PORTS"})
        _name(space, name, point)
    _name(space, called, add(shape.nose_mm, (0.0, 0.0, -20.0)))
    for box in shape.boxes:
        space.add_point(box.hole_mm, dxfattribs={"layer": "PORTS"})
        space.add_line(box.rack_centre_mm, box.tip_mm, dxfattribs={"layer": "BOXES"})
        for edge in (*box.body.edges_mm, box.pitch_circle_mm):
            space.add_polyline3d(edge, dxfattribs={"layer": "BOXES"})
        _name(space, box.name, box.hole_mm)
    for solid in shape.in_the_way:
        for edge in solid.edges_mm:
            space.add_polyline3d(edge, dxfattribs={"layer": "IN_THE_WAY"})
        _name(space, solid.name, solid.corners_mm[0])
    for point in shape.clips_mm:
        space.add_point(point, dxfattribs={"layer": "CLIPS"})
    return _text(drawing)


def templates_dxf(templates: tuple[Template, ...], called: str) -> str:
    """The templates side by side, as seen from outside, each with its spindle's axis at (120 mm times k, 0)."""
    drawing = _new(TEMPLATE_LAYERS)
    space = drawing.modelspace()
    for k, template in enumerate(templates):
        _template(space, template, k * APART_MM)
    _name(space, called, (0.0, -APART_MM, 0.0), TEXT_MM)
    return _text(drawing)


def _new(layers: dict[str, int]) -> Drawing:
    import ezdxf

    # No clock and no random number: same job, same bytes.
    ezdxf.options.write_fixed_meta_data_for_testing = True  # type: ignore[attr-defined]
    drawing = ezdxf.new("R2010", units=MILLIMETRES)  # type: ignore[attr-defined]
    drawing.header["$MEASUREMENT"] = 1
    for name, colour in layers.items():
        drawing.layers.add(name, color=colour)
    return drawing


def _text(drawing: Drawing) -> str:
    text = io.StringIO()
    drawing.write(text)
    return text.getvalue()


def _arc(space: Any, arc: Arc, layer: str) -> None:
    """A bend, in the coordinates of its own plane, as DXF has arcs."""
    from ezdxf.math import UCS

    plane = UCS(origin=arc.centre_mm, ux=unit(sub(arc.start_mm, arc.centre_mm)), uz=arc.normal)
    space.add_arc(
        plane.to_ocs((0.0, 0.0, 0.0)),
        arc.radius_mm,
        plane.to_ocs_angle_deg(0.0),
        plane.to_ocs_angle_deg(math.degrees(arc.angle_rad)),
        dxfattribs={"layer": layer, "extrusion": plane.uz},
    )


def _name(space: Any, name: str, at: tuple[float, ...], height_mm: float = 10.0) -> None:
    # A name with the signs that DXF texts obey (%% and ^) would print otherwise than typed.
    words = visible(name).replace("%", "% ").replace("^", "^ ") if "%%" in name or "^" in name else visible(name)
    space.add_text(words, height=height_mm, dxfattribs={"layer": "NAMES", "insert": at})


def _template(space: Any, template: Template, x_mm: float) -> None:
    def at(point: Point2) -> Point2:
        return x_mm + point[0], point[1]

    half = template.width_mm / 2
    if template.leans:
        (ax, ay), (first, second) = template.along, template.round_centres_mm
        sides = [
            (x - s * half * ay, y + s * half * ax) for s, (x, y) in ((1, first), (1, second), (-1, second), (-1, first))
        ]
        points = [(*at(p), 0.0, 0.0, bulge) for p, bulge in zip(sides, (0.0, -1.0, 0.0, -1.0), strict=True)]
        space.add_lwpolyline(points, close=True, dxfattribs={"layer": "SLOT"})
    else:
        space.add_circle(at(template.slot_centre_mm), half, dxfattribs={"layer": "SLOT"})
    for centre in template.drill_centres_mm:
        space.add_point(at(centre), dxfattribs={"layer": "DRILL"})
    for reach in ((5.0, 0.0), (0.0, 5.0)):
        space.add_line(at((-reach[0], -reach[1])), at(reach), dxfattribs={"layer": "AXIS"})
    (hx, hy), (px, py) = template.heading, template.rack_line_mm
    size = math.hypot(hx, hy) / 40.0
    ends = at((px - hx / size, py - hy / size)), at((px + hx / size, py + hy / size))
    space.add_line(*ends, dxfattribs={"layer": "RACK"})
    if template.leans:
        start = template.length_mm / 2 + 4.0
        ways = [at((reach * template.along[0], reach * template.along[1])) for reach in (start, start + 12.0)]
        space.add_line(*ways, dxfattribs={"layer": "LEAN"})
    if template.edge is not None:
        (tx, ty), away = template.edge.toward, template.edge.distance_mm
        ends = at((away * tx - 40 * ty, away * ty + 40 * tx)), at((away * tx + 40 * ty, away * ty - 40 * tx))
        space.add_line(*ends, dxfattribs={"layer": "GLASS_EDGE"})
    _name(space, template.box, (x_mm - 45.0, 48.0), TEXT_MM)
