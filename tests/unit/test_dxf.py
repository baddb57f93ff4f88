"""The DXF files, read back and audited by ezdxf."""

from __future__ import annotations

import io
import math

import ezdxf
import pytest
from ezdxf.document import Drawing

from tubing.drawing.dxf import run_dxf, templates_dxf
from tubing.drawing.pictures import shapes
from tubing.plan import Plan

MILLIMETRES = 4


def read_back(text: str) -> Drawing:
    """As another program reads it; nothing to mend, in millimetres."""
    drawing = ezdxf.read(io.StringIO(text))
    assert drawing.audit().errors == []
    assert drawing.audit().fixes == []
    assert drawing.header["$INSUNITS"] == MILLIMETRES
    assert drawing.header["$MEASUREMENT"] == 1
    return drawing


def test_the_centre_line_is_as_long_as_the_pieces_and_joins_up(planned: Plan) -> None:
    """Lines and arcs in space: ends meet, and their lengths are those of the tubes whose way is known."""
    space = read_back(run_dxf(shapes(planned).run, "plan ABCDE")).modelspace()
    length = sum(one.dxf.start.distance(one.dxf.end) for one in space.query('LINE[layer=="CENTRE_LINE"]'))
    arcs = list(space.query('ARC[layer=="CENTRE_LINE"]'))
    length += sum(math.radians((arc.dxf.end_angle - arc.dxf.start_angle) % 360) * arc.dxf.radius for arc in arcs)
    known = [piece for piece in planned.pieces if all(bend.from_rim_mm is not None for bend in piece.bends)]
    assert length == pytest.approx(sum(piece.tube.length_mm for piece in known), abs=0.01)
    assert len(arcs) == sum(len(piece.bends) for piece in known)
    ends = [(one.dxf.start, one.dxf.end) for one in space.query('LINE[layer=="CENTRE_LINE"]')]
    for arc in arcs:
        for point in (arc.start_point, arc.end_point):
            assert min(point.distance(end) for pair in ends for end in pair) < 1e-6


def test_the_slot_is_as_wide_and_long_as_the_list_of_holes_says(planned: Plan) -> None:
    """Flat, full size: the half-round ends reach as far as the slot is long."""
    space = read_back(templates_dxf(shapes(planned).templates, "plan ABCDE")).modelspace()
    slots = [*space.query('LWPOLYLINE[layer=="SLOT"]'), *space.query('CIRCLE[layer=="SLOT"]')]
    assert len(slots) == len(planned.drive.boxes)
    for slot, box in zip(slots, planned.drive.boxes, strict=True):
        path = ezdxf.path.make_path(slot)
        points = list(path.flattening(0.001))
        widths = []
        for k in range(360):
            cos, sin = math.cos(math.pi * k / 360), math.sin(math.pi * k / 360)
            along = [point.x * cos + point.y * sin for point in points]
            widths.append(max(along) - min(along))
        assert min(widths) == pytest.approx(box.hole.width_mm, abs=0.02)
        assert max(widths) == pytest.approx(box.hole.length_mm, abs=0.02)


def test_both_drawings_bear_the_plans_mark(planned: Plan) -> None:
    for text in (run_dxf(shapes(planned).run, "plan ABCDE"), templates_dxf(shapes(planned).templates, "plan ABCDE")):
        assert [t.dxf.text for t in read_back(text).modelspace().query("TEXT")].count("plan ABCDE") == 1
