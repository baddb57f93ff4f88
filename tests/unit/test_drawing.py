"""The drawings, measured: their SVG is parsed, and what is found in it is set beside sums by hand and the run in space.

Nothing here asks the drawing modules what they meant: lengths are read off the elements' coordinates.
"""

from __future__ import annotations

import itertools
import math
import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from dataclasses import dataclass

import pytest

from tubing.drawing.bars_picture import bars_picture
from tubing.drawing.bench_shapes import GlassEdge, Strip, StripBend, StripEnd, Template
from tubing.drawing.pictures import Shapes, shapes
from tubing.drawing.run_picture import run_picture
from tubing.drawing.run_shape import Arc
from tubing.drawing.screen_picture import screen_picture
from tubing.drawing.strip_pictures import full_size_strips, strip_picture
from tubing.drawing.svg import Label, Pen, Picture, Rect, put_labels
from tubing.drawing.template_pages import template_pages
from tubing.geometry.vectors import add, cross, dot, scale, sub, unit
from tubing.inputs.job_file import read_job
from tubing.inputs.records import Point2
from tubing.inputs.shop_file import data_folder, read_shop
from tubing.plan import Plan, plan

NAMES = ("behind-the-heater", "curved-scuttle", "inch-launch", "lined-up-twin", "round-the-corner", "works-truck")
THOUSANDTH_MM = 0.0011  # as finely as coordinates are written
NASTY = "a/b \"c\" 'd' <b>&amp;"


@dataclass(frozen=True)
class Item:
    """One drawn element: its tag, its classes, the points that it goes through, and its words."""

    tag: str
    kinds: frozenset[str]
    points: tuple[Point2, ...]
    words: str

    @property
    def xs(self) -> list[float]:
        return [x for x, _ in self.points]

    @property
    def ys(self) -> list[float]:
        return [y for _, y in self.points]


def items(picture: Picture) -> list[Item]:
    """Every element of a picture, in order; the paper's mm, because size and view box agree."""
    root = ET.fromstring(picture.file())
    size = [root.attrib[name] for name in ("width", "height")]
    assert root.attrib["viewBox"].split() == ["0", "0", *(text.removesuffix("mm") for text in size)]
    assert all(text.endswith("mm") for text in size), "the picture has its true size on paper"
    return [_item(element) for element in _drawn(root)]


def _drawn(element: ET.Element) -> Iterator[ET.Element]:
    for child in element:
        if not child.tag.endswith("clipPath"):
            yield child
            yield from _drawn(child)


def _item(element: ET.Element) -> Item:
    tag = element.tag.split("}")[1]
    have = element.attrib
    points: tuple[Point2, ...] = ()
    if tag == "path":
        numbers = [float(text) for text in re.findall(r"-?[\d.]+", have["d"])]
        points = tuple(zip(numbers[::2], numbers[1::2], strict=True))
    elif tag == "rect" and "x" in have:
        x, y, w, h = (float(have[name]) for name in ("x", "y", "width", "height"))
        points = ((x, y), (x + w, y + h))
    elif tag == "circle":
        points = ((float(have["cx"]), float(have["cy"])),)
    elif tag == "text":
        points = ((float(have["x"]), float(have["y"])),)
    return Item(tag, frozenset(have.get("class", "").split()), points, element.text or "")


def of_kind(found: list[Item], tag: str, *kinds: str) -> list[Item]:
    return [one for one in found if one.tag == tag and set(kinds) <= one.kinds]


@pytest.fixture(scope="module", params=NAMES)
def planned(request: pytest.FixtureRequest) -> Plan:
    shop = read_shop(None)
    return plan(read_job(data_folder() / "jobs" / f"{request.param}.toml", shop), shop)


@pytest.fixture(scope="module")
def drawn(planned: Plan) -> Shapes:
    return shapes(planned)


def strip(bends: tuple[StripBend, ...], length_mm: float = 700.0) -> Strip:
    """A blank of 8 mm tube with a double flare that takes 2.4 mm at its start."""
    ends = (StripEnd("nose", "double + nut", False, 2.4, True, 0.0), StripEnd(NASTY, "plain", False, 0.0, False, 0.0))
    return Strip("nose-a", length_mm, math.pi * 8.0, ends, bends, False)


# One bend of a right angle on a former of 230 mm from 100 mm, one of 30 degrees from 520 mm, a quarter round the tube.
QUARTER = StripBend(1, None, 100.0, 100.0 + 230.0 * math.pi / 2, 90.0, 92.7, 0.0, 0.0)
TWISTED = StripBend(2, 1, 520.0, 520.0 + 230.0 * math.pi / 6, 30.0, 30.9, 90.0, math.pi * 2.0)
BENT = strip((QUARTER, TWISTED))


# ---- the run in three views


def test_all_three_views_have_one_scale_and_stand_in_line(drawn: Shapes) -> None:
    """Every point of every tube, in every view: paper times the scale that is told is the vehicle's mm."""
    found = items(run_picture(drawn.run, "mm"))
    told = next(re.match(r"Scale 1 : ([\d.]+)\.", one.words) for one in found if one.words.startswith("Scale"))
    assert told is not None
    paper = [one.points for one in of_kind(found, "path", "tube")]
    count = len(drawn.run.tubes)
    assert len(paper) == 3 * count, "each tube is drawn in each view"
    places = []
    for view, (right, up) in enumerate(((0, 1), (0, 2), (1, 2))):
        known = [point for tube in drawn.run.tubes for point in tube.points_mm]
        seen = [point for line in paper[view * count : (view + 1) * count] for point in line]
        here = [
            (x - point[right] / float(told[1]), y + point[up] / float(told[1]))
            for (x, y), point in zip(seen, known, strict=True)
        ]
        assert max(math.dist(one, here[0]) for one in here) < 2 * THOUSANDTH_MM
        places.append(here[0])
    (plan_x, _), (front_x, front_y), (_, side_y) = places
    assert plan_x == pytest.approx(front_x, abs=THOUSANDTH_MM), "above each other"
    beside = side_y == pytest.approx(front_y, abs=THOUSANDTH_MM)
    assert beside or side_y > front_y, "beside each other, or the side view below"


def test_the_dimensions_over_the_plan_are_the_distances_across_the_vehicle(drawn: Shapes) -> None:
    """Nose, holes and end: the figure over each arrow is what lies between its ends."""
    found = items(run_picture(drawn.run, "mm"))
    marks = sorted([drawn.run.nose_mm[0], *(box.hole_mm[0] for box in drawn.run.boxes), drawn.run.end_mm[0]])
    said = [float(one.words) for one in found if one.tag == "text" and re.fullmatch(r"[\d.]+", one.words)]
    assert said == pytest.approx([b - a for a, b in itertools.pairwise(marks)], abs=0.05001)


def test_a_clip_is_drawn_at_the_tube_in_every_view(drawn: Shapes) -> None:
    """The tip of its triangle touches the tube."""
    found = items(run_picture(drawn.run, "mm"))
    tips = [one.points[0] for one in of_kind(found, "path", "black") if len(one.points) == 3]
    tubes = [point for one in of_kind(found, "path", "tube") for point in _chords(one.points)]
    clips = [tip for tip in tips if min(math.dist(tip, point) for point in tubes) < 0.7]
    assert len(clips) >= 3 * len(drawn.run.clips_mm)


def _chords(points: tuple[Point2, ...]) -> Iterator[Point2]:
    for (ax, ay), (bx, by) in itertools.pairwise(points):
        for k in range(201):
            yield ax + (bx - ax) * k / 200, ay + (by - ay) * k / 200


# ---- marking-out strips


def test_a_strip_to_scale_has_its_bends_where_they_start_and_end() -> None:
    """By hand: 100 mm from the cut end on, a quarter of a turn on 230 mm is 361.28 mm long."""
    found = items(strip_picture(BENT, 1, "mm"))
    left, right = sorted(of_kind(found, "rect", "white")[0].xs)
    per_mm = (right - left) / 700.0
    bands = [sorted((x - left) / per_mm for x in one.xs) for one in of_kind(found, "rect", "pale")]
    assert bands == [pytest.approx([100.0, 461.283], abs=0.02), pytest.approx([520.0, 640.428], abs=0.02)]
    flare = next(one for one in of_kind(found, "rect", "line") if len(set(one.xs)) == 2)
    assert min(flare.xs) == pytest.approx(left, abs=THOUSANDTH_MM), "the flare is hatched from the cut end"
    said = [one.words for one in found if one.tag == "text"]
    assert {"0.0", "100.0", "461.3", "520.0", "640.4", "700.0"} <= set(said)
    assert "bend 2: 30.0 deg, set 30.9 deg, inside 90.0 deg right of bend 1" in said
    assert "nose: cut end; flare: double + nut" in said


def test_a_short_blank_is_drawn_in_its_own_size_and_no_larger() -> None:
    """A drawing larger than the piece would be measured at the bench, and believed."""
    short = strip((StripBend(1, None, 30.0, 60.0, 7.5, 7.7, 0.0, 0.0),), 90.0)
    found = items(strip_picture(short, 1, "mm"))
    left, right = sorted(of_kind(found, "rect", "white")[0].xs)
    assert right - left == pytest.approx(90.0, abs=THOUSANDTH_MM)


@dataclass(frozen=True)
class Length:
    """One printed length of a full-size strip, as it lies on its page."""

    piece: str
    start_mm: float  # as its heading says
    end_mm: float
    band: Item
    items: tuple[Item, ...]


def lengths(pages: tuple[Picture, ...]) -> list[Length]:
    """All printed lengths, each with what lies on it."""
    result = []
    for page in pages:
        found = items(page)
        bands = [one for one in of_kind(found, "rect", "line") if max(one.ys) - min(one.ys) > 20.0]
        outlines = [one for one in bands if min(one.xs) == 8.0 and max(one.xs) - min(one.xs) > 20.0]
        heads = [m for one in found if (m := re.match(r"(.*), length .*: ([\d.]+) to ([\d.]+) mm", one.words))]
        for head, band in zip(heads, outlines, strict=True):
            low, high = min(band.ys) - 16.0, max(band.ys) + 12.0
            inside = tuple(one for one in found if one.points and low < one.points[0][1] < high)
            result.append(Length(head[1], float(head[2]), float(head[3]), band, inside))
    return result


def test_full_size_strips_are_full_size(drawn: Shapes) -> None:
    """Each length is as long as its heading says, as high as the tube is round; its bends start where they do."""
    made = lengths(full_size_strips(drawn.strips, "mm"))
    known = {one.piece: one for one in drawn.strips if one.bends}
    assert {one.piece for one in made} == set(known)
    for one in made:
        strip_of = known[one.piece]
        assert max(one.band.xs) - min(one.band.xs) == pytest.approx(one.end_mm - one.start_mm, abs=0.06)
        assert max(one.band.ys) - min(one.band.ys) == pytest.approx(strip_of.circumference_mm, abs=2 * THOUSANDTH_MM)
        upright = [x.xs[0] for x in of_kind(list(one.items), "path", "bold") if x.xs[0] == x.xs[-1]]
        marks = [x - min(one.band.xs) + one.start_mm for x in upright if x <= max(one.band.xs)]
        wanted = [bend.start_mm for bend in strip_of.bends if one.start_mm <= bend.start_mm < one.end_mm]
        within = [mark for mark in marks if one.start_mm <= mark < one.end_mm]
        assert within == pytest.approx(wanted, abs=0.002)


def test_every_bend_and_both_ends_are_printed_full_size(drawn: Shapes) -> None:
    """Left out are straight lengths only."""
    made = lengths(full_size_strips(drawn.strips, "mm"))
    for one in drawn.strips:
        parts = sorted((part.start_mm, part.end_mm) for part in made if part.piece == one.piece)
        for bend in one.bends:
            covered = sum(max(0.0, min(b, bend.end_mm) - max(a, bend.start_mm)) for a, b in parts)
            assert covered == pytest.approx(bend.end_mm - bend.start_mm, abs=0.2)
        if one.bends:
            assert parts[0][0] == 0.0
            assert parts[-1][1] == pytest.approx(one.length_mm, abs=0.06)


def test_match_marks_meet_and_no_letter_comes_twice(drawn: Shapes) -> None:
    """Where a length ends and the next begins, circles of one letter lie on each other; the letter joins two only."""
    joints: dict[str, list[tuple[Length, float, list[Point2]]]] = {}
    for one in lengths(full_size_strips(drawn.strips, "mm")):
        left, top = min(one.band.xs), min(one.band.ys)
        for text in one.items:
            if text.tag == "text" and re.fullmatch(r"[A-Z]+", text.words):
                along = text.points[0][0] - left + one.start_mm
                circles = [
                    (x - left + one.start_mm - along, y - top)
                    for x, y in (circle.points[0] for circle in one.items if circle.tag == "circle")
                    if abs(x - text.points[0][0]) < 0.01
                ]
                joints.setdefault(text.words, []).append((one, along, circles))
    for letter, sides in joints.items():
        assert len(sides) == 2, letter
        (before, at, marks), (after, there, others) = sides
        assert before.piece == after.piece
        assert at == pytest.approx(there, abs=0.06)
        assert before.end_mm == after.start_mm
        assert len(marks) == 2
        for mark, other in zip(sorted(marks), sorted(others), strict=True):
            assert mark == pytest.approx(other, abs=2 * THOUSANDTH_MM)


def test_wrapped_round_the_tube_the_strip_shows_the_insides_as_they_lie_in_space(drawn: Shapes) -> None:
    """The strip's bold lines, carried round the tube, point at the bends' centres in the vehicle.

    Seen from outside with the start on the left, downwards on the paper is tube direction x outward normal: a line so
    far below the one before lies turned by that much about the tube, by the right-hand rule.
    """
    checked = 0
    for tube in drawn.run.tubes:
        one = next((s for s in drawn.strips if s.piece == tube.piece and s.bends), None)
        if one is None:
            continue
        rows = _insides(one)
        for k, (first, second) in enumerate(itertools.pairwise(tube.bends)):
            turned = _between(first, second)
            printed = (rows[k + 1] - rows[k]) / (one.circumference_mm / (2 * math.pi))
            assert math.cos(turned) == pytest.approx(math.cos(printed), abs=2e-3)
            assert math.sin(turned) == pytest.approx(math.sin(printed), abs=2e-3)
            checked += 1
    assert checked == sum(max(0, len(s.bends) - 1) for s in drawn.strips)


def _insides(one: Strip) -> list[float]:
    """How far below the middle each bend's bold line is printed on the full-size strip."""
    rows: dict[int, set[float]] = {}
    for part in lengths(full_size_strips((one,), "mm")):
        middle, left = (min(part.band.ys) + max(part.band.ys)) / 2, min(part.band.xs) - part.start_mm
        for line in of_kind(list(part.items), "path", "bold"):
            along = sum(line.xs) / 2 - left
            number = next((k for k, b in enumerate(one.bends) if b.start_mm < along < b.end_mm), None)
            if line.ys[0] == line.ys[-1] and number is not None:
                rows.setdefault(number, set()).add(round(line.ys[0] - middle, 2))
    for found in rows.values():
        # Twice on the seam of the wrapped strip, else once.
        assert len(found) == 1 or max(found) - min(found) == pytest.approx(one.circumference_mm, abs=0.02)
    return [max(rows[k]) for k in range(len(one.bends))]


def _between(first: Arc, second: Arc) -> float:
    """From the inside of a bend to that of the next, about the tube between them, right-handed."""
    along = unit(sub(second.start_mm, first.end_mm))
    inside, next_inside = unit(sub(first.centre_mm, first.end_mm)), unit(sub(second.centre_mm, second.start_mm))
    return math.atan2(dot(cross(inside, next_inside), along), dot(inside, next_inside))


# ---- drilling templates


def template(lean_deg: float, panel_mm: float = 1.5, bush_mm: float = 16.0, **changes: object) -> Template:
    """A spindle that leans to the right on the template; its slot by hand from the design's formula."""
    lean = math.radians(lean_deg)
    figures: dict[str, object] = {
        "box": NASTY,
        "width_mm": bush_mm,
        "length_mm": bush_mm / math.cos(lean) + panel_mm * math.tan(lean),
        "slot_centre_mm": (-panel_mm * math.tan(lean) / 2, 0.0),
        "along": (1.0, 0.0),
        "lean_deg": lean_deg,
        "lean_known": True,
        "leans": lean_deg > 0,
        "heading": (0.0, 1.0),
        "rack_line_mm": (18.0, 0.0),
        "up": (0.0, 0.0, 1.0),
        "right": (-1.0, 0.0, 0.0),
        "edge": GlassEdge(30.0, (0.0, 1.0)),
    }
    return Template(**{**figures, **changes})  # type: ignore[arg-type]


@pytest.mark.parametrize("lean_deg", [0.0, 10.0, 45.0, 60.0])
def test_a_slot_measures_what_geometry_asks(lean_deg: float) -> None:
    """A bush of 16 mm through 1.5 mm: 16 wide, 16 / cos + 1.5 tan long, its centre 0.75 tan against the lean."""
    page = items(template_pages((template(lean_deg),), "mm")[0])
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
    page = items(template_pages((template(lean_deg),), "mm")[0])
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
    page = items(template_pages((template(45.0, edge=GlassEdge(away_mm, (0.0, 1.0))),), "mm")[0])
    edge = of_kind(page, "path", "bold")[0]
    _, centre_y = _large_cross(page)
    assert edge.ys[0] == edge.ys[1] == pytest.approx(centre_y - away_mm, abs=0.01)
    assert any(f"{away_mm:.1f} mm" in one.words for one in page if one.tag == "text")


def test_an_edge_beyond_the_template_is_told_with_the_way_to_it() -> None:
    """An arrow towards it, and its distance."""
    page = items(template_pages((template(45.0, edge=GlassEdge(76.2, (0.0, 1.0))),), "mm")[0])
    assert of_kind(page, "path", "bold") == []
    assert "edge of the glass, 76.2 mm" in [one.words for one in page]


def test_a_slot_larger_than_its_template_is_told_and_not_drawn_over_the_words() -> None:
    """A bush of 60 mm, and a rack 50 mm off its spindle: neither is cut off without a word."""
    page = items(template_pages((template(10.0, bush_mm=60.0, rack_line_mm=(50.0, 0.0)),), "mm")[0])
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
        page = items(template_pages((one,), "mm")[0])
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
    shop = read_shop(None)
    made = shapes(plan(read_job(data_folder() / "jobs" / "works-truck.toml", shop), shop)).templates[0]
    lean = math.atan2(0.3, 0.95) - math.atan2(0.2, 0.98)
    page = items(template_pages((made,), "mm")[0])
    slot = of_kind(page, "path", "slot")[0]
    assert max(slot.ys) - min(slot.ys) == pytest.approx(18.0 / math.cos(lean) + 3.0 * math.tan(lean), abs=0.02)
    assert max(slot.xs) - min(slot.xs) == pytest.approx(18.0, abs=0.02)
    _, centre_y = _large_cross(page)
    assert (max(slot.ys) + min(slot.ys)) / 2 - centre_y == pytest.approx(1.5 * math.tan(lean), abs=0.01)


# ---- the rule


def test_every_full_size_page_has_its_rule_of_100_mm(drawn: Shapes) -> None:
    """Ticks of 1 mm from 0 to 100, figures at each tenth."""
    for page in (*template_pages(drawn.templates, "mm"), *full_size_strips(drawn.strips, "mm")):
        found = items(page)
        base = next(one for one in of_kind(found, "path", "line") if one.ys == [6.0, 6.0])
        assert base.xs[1] - base.xs[0] == 100.0
        ticks = {one.xs[0] - base.xs[0] for one in found if one.tag == "path" and one.ys[:1] == [6.0]}
        assert {float(k) for k in range(101)} <= ticks
        figures = {one.words: one.points[0][0] - base.xs[0] for one in found if one.points and one.points[0][1] == 9.2}
        assert figures == {str(k): float(k) for k in range(0, 101, 10)}


# ---- bars and screen


def test_bars_and_pieces_are_in_one_scale(planned: Plan, drawn: Shapes) -> None:
    """A piece's width over its bar's is its length over the bar's, and every bar is in the same scale."""
    boxes = of_kind(items(bars_picture(drawn.nest, "mm")), "rect")
    scales = set()
    for bar in planned.nest.bars:
        pieces = [one for one in boxes if one.kinds == {"white"}][: len(bar.items)]
        for one, length in zip(pieces, bar.lengths_mm, strict=True):
            scales.add(round(float(length) / (max(one.xs) - min(one.xs)), 2))
            boxes.remove(one)
    assert max(scales) - min(scales) <= 0.03


def test_the_screen_is_in_scale_with_its_pivots() -> None:
    """By the job: an outline of 1300 by 410 mm, pivots 400 and 900 mm from its left corner, 30 mm below its edge."""
    shop = read_shop(None)
    made = shapes(plan(read_job(data_folder() / "jobs" / "lined-up-twin.toml", shop), shop)).screen
    assert made is not None
    found = items(screen_picture(made, "mm"))
    outline = next(one for one in of_kind(found, "path", "bold") if len(one.points) == 4)
    left, foot = min(outline.xs), max(outline.ys)
    scale_of = 1300.0 / (max(outline.xs) - left)
    assert (foot - min(outline.ys)) * scale_of == pytest.approx(410.0, abs=0.1)
    pivots = [one.points[0] for one in found if one.tag == "circle"]
    assert [(x - left) * scale_of for x, _ in pivots] == pytest.approx([400.0, 900.0], abs=0.1)
    assert [(y - foot) * scale_of for _, y in pivots] == pytest.approx([30.0, 30.0], abs=0.1)
    said = [one.words for one in found if one.tag == "text"]
    assert {"1300.0", "410.0", "400.0", "500.0"} <= set(said)


# ---- words


def test_names_are_words_and_nothing_else() -> None:
    """Quotes, tags and entities in a name come back as typed from a reader of XML, in every drawing that has names."""
    for picture in (strip_picture(BENT, 1, "mm"), *template_pages((template(30.0),), "mm")):
        root = ET.fromstring(picture.file())
        tags = {element.tag.split("}")[1] for element in root.iter()}
        assert tags <= {"svg", "title", "style", "rect", "path", "circle", "text", "clipPath", "g"}
        assert any(NASTY in (element.text or "") for element in root.iter() if element.tag.endswith("text"))


def test_labels_keep_clear_of_each_other_and_of_lines_while_there_is_room() -> None:
    """Twelve names along a line: none on another, none over the line, none outside."""
    pen = Pen()
    line = [(10.0, 50.0), (170.0, 50.0)]
    labels = [Label((12.0 + 13.0 * k, 50.0), f"wheelbox {k}") for k in range(12)]
    inside = Rect(0.0, 0.0, 186.0, 100.0)
    put_labels(pen, labels, [line], inside)
    texts = [one for one in items(pen.picture("x", "x", 186.0, 100.0)) if one.tag == "text"]
    wide, tall = 14.5, 2.6  # of "wheelbox 11" at 2.6 mm, as Liberation Sans has it
    places = [Rect(one.points[0][0], one.points[0][1] - 2.2, wide, tall) for one in texts]
    assert len(places) == 12
    for k, place in enumerate(places):
        assert not any(place.meets(other) for other in places[:k])
        assert place.bottom_mm < 50.0 or place.top_mm > 50.0
        assert place.left_mm >= inside.left_mm
        assert place.right_mm <= inside.right_mm


def test_a_label_that_cannot_fit_is_cut_short_and_not_written_over_the_next_view() -> None:
    """Names joined in a narrow side view."""
    pen = Pen()
    put_labels(pen, [Label((10.0, 10.0), "a name that is far too long for this")], [], Rect(0.0, 0.0, 30.0, 20.0))
    (text,) = [one for one in items(pen.picture("x", "x", 186.0, 100.0)) if one.tag == "text"]
    assert text.words.endswith("…")
    assert len(text.words) * 1.2 < 30.0
