"""Drilling templates and the rule of every full-size page, measured on the paper."""

from __future__ import annotations

import math

import pytest

from tests.demos import demo_shapes
from tests.drawing_facts import THOUSANDTH_MM, Item, items, of_kind, template
from tubing.drawing.bench_shapes import GlassEdge
from tubing.drawing.pictures import Shapes
from tubing.drawing.strip_pictures import full_size_strips
from tubing.drawing.template_pages import template_pages
from tubing.geometry.vectors import Point2, add, cross, dot, scale, unit
from tubing.plan import Plan


@pytest.mark.parametrize("lean_deg", [0.0, 10.0, 45.0, 60.0])
def test_a_slot_measures_what_geometry_asks(lean_deg: float) -> None:
    """A bush of 16 mm through 1.5 mm: 16 wide, 16 / cos + 1.5 tan long, its centre 0.75 tan against the lean."""
    page = items(template_pages((template(lean_deg),), "mm", "plan ABCDE")[0])
    slot = of_kind(page, "path", "slot")[0]
    centre_x, centre_y = _large_cross(page)
    lean = math.radians(lean_deg)
    length = 16.0 / math.cos(lean) + 1.5 * math.tan(lean)
    assert max(slot.xs) - min(slot.xs) == pytest.approx(length, abs=0.02)
    assert max(slot.ys) - min(slot.ys) == pytest.approx(16.0, abs=0.02)
    assert (max(slot.xs) + min(slot.xs)) / 2 - centre_x == pytest.approx(-0.75 * math.tan(lean), abs=0.01)
    assert (max(slot.ys) + min(slot.ys)) / 2 == pytest.approx(centre_y, abs=0.01)


@pytest.mark.parametrize(("lean_deg", "holes"), [(0.0, 1), (20.0, 1), (45.0, 2)])
def test_a_slot_is_drilled_twice_only_where_two_drills_have_room(lean_deg: float, holes: int) -> None:
    """Two holes 1.6 mm apart cannot be drilled: then one in the middle, and a file."""
    page = items(template_pages((template(lean_deg),), "mm", "plan ABCDE")[0])
    rings = [one.points[0] for one in page if one.tag == "circle"]
    assert len(rings) == holes
    slot = of_kind(page, "path", "slot")[0]
    if holes == 2:
        reach = (max(slot.xs) - min(slot.xs) - 16.0) / 2
        assert max(rings)[0] - min(rings)[0] == pytest.approx(2 * reach, abs=0.02)
    assert sum(x for x, _ in rings) / holes == pytest.approx((max(slot.xs) + min(slot.xs)) / 2, abs=0.02)


def _large_cross(page: list[Item]) -> Point2:
    """The middle of the cross with arms of 5 mm: the spindle's axis."""
    level = [
        one
        for one in of_kind(page, "path", "line")
        if len(one.points) == 2 and one.ys[0] == one.ys[1] and abs(abs(one.xs[1] - one.xs[0]) - 10.0) < THOUSANDTH_MM
    ]
    assert len(level) == 1
    return sum(level[0].xs) / 2, level[0].ys[0]


@pytest.mark.parametrize("away_mm", [12.0, 30.0, 42.0])
def test_the_edge_of_the_glass_lies_as_far_away_as_it_does(away_mm: float) -> None:
    """On the template: a bold line so far from the axis, up on the paper where the glass is up."""
    page = items(template_pages((template(45.0, edge=GlassEdge(away_mm, (0.0, 1.0))),), "mm", "plan ABCDE")[0])
    edge = of_kind(page, "path", "bold")[0]
    _, centre_y = _large_cross(page)
    assert edge.ys[0] == edge.ys[1] == pytest.approx(centre_y - away_mm, abs=0.01)
    assert any(f"{away_mm:.1f} mm" in one.words for one in page if one.tag == "text")


def test_an_edge_beyond_the_template_is_told_with_the_way_to_it() -> None:
    """An arrow towards it, and its distance."""
    page = items(template_pages((template(45.0, edge=GlassEdge(76.2, (0.0, 1.0))),), "mm", "plan ABCDE")[0])
    assert of_kind(page, "path", "bold") == []
    assert "edge of the glass, 76.2 mm" in [one.words for one in page]


def test_a_slot_larger_than_its_template_is_told_and_not_drawn_over_the_words() -> None:
    """A bush of 60 mm, and a rack 50 mm off its spindle: neither is cut off without a word."""
    page = items(template_pages((template(10.0, bush_mm=60.0, rack_line_mm=(50.0, 0.0)),), "mm", "plan ABCDE")[0])
    assert of_kind(page, "path", "slot") == []
    said = [one.words for one in page]
    assert "It is too large to be drawn here:" in said
    assert "The rack's line lies 50.0 mm off, beyond this." in said
    assert "rack goes this way" not in said
    frame = of_kind(page, "rect", "dash")[0]
    drawn = [one for one in page if one.tag == "path" and one.ys[0] > 20.0]  # but for the rule
    assert all(min(frame.xs) <= x <= max(frame.xs) for one in drawn for x in one.xs)


def test_rack_and_lean_go_where_they_go_in_the_vehicle(planned: Plan, drawn: Shapes) -> None:
    """The arrows on the paper, carried on to the panel, against the box's heading and the spindle's lean in space."""
    for box, one in zip(planned.run.boxes, drawn.templates, strict=True):
        page = items(template_pages((one,), "mm", "plan ABCDE")[0])
        normal = unit(box.mounting.panel or box.mounting.spindle)
        rack = of_kind(page, "path", "chain")[0]
        (x1, y1), (x2, y2) = rack.points[0], rack.points[-1]
        way = add(scale(one.right, x2 - x1), one.up, -(y2 - y1))
        # On the panel the rack's way is the heading carried along the spindle: all three lie in one plane.
        volume = dot(cross(unit(way), box.heading), box.mounting.spindle)
        assert abs(volume) < 1e-3
        assert dot(way, box.heading) > 0
        assert cross(one.right, one.up) == pytest.approx(normal), "seen from outside: right x up comes at the eye"
        assert abs(dot(way, normal)) < 1e-6 * math.sqrt(dot(way, way)) + 1e-9


def test_works_truck_slot_by_hand() -> None:
    """A bush of 18 mm that leans 5.99 deg up on a panel of 3 mm: a slot of 18.41 mm, its centre 0.16 mm down."""
    made = demo_shapes("works-truck").templates[0]
    lean = math.atan2(0.3, 0.95) - math.atan2(0.2, 0.98)
    page = items(template_pages((made,), "mm", "plan ABCDE")[0])
    slot = of_kind(page, "path", "slot")[0]
    assert max(slot.ys) - min(slot.ys) == pytest.approx(18.0 / math.cos(lean) + 3.0 * math.tan(lean), abs=0.02)
    assert max(slot.xs) - min(slot.xs) == pytest.approx(18.0, abs=0.02)
    _, centre_y = _large_cross(page)
    assert (max(slot.ys) + min(slot.ys)) / 2 - centre_y == pytest.approx(1.5 * math.tan(lean), abs=0.01)


def test_every_full_size_page_has_its_rule_of_100_mm(drawn: Shapes) -> None:
    """Ticks of 1 mm from 0 to 100, figures at each tenth."""
    for page in (
        *template_pages(drawn.templates, "mm", "plan ABCDE"),
        *full_size_strips(drawn.strips, "mm", "plan ABCDE"),
    ):
        found = items(page)
        base = next(one for one in of_kind(found, "path", "line") if one.ys == [6.0, 6.0])
        assert base.xs[1] - base.xs[0] == 100.0
        ticks = {one.xs[0] - base.xs[0] for one in found if one.tag == "path" and one.ys[:1] == [6.0]}
        assert {float(k) for k in range(101)} <= ticks
        figures = {one.words: one.points[0][0] - base.xs[0] for one in found if one.points and one.points[0][1] == 9.2}
        assert figures == {str(k): float(k) for k in range(0, 101, 10)}
