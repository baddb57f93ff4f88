"""The run in three views, the bars and the screen, measured on the paper.

The SVG is parsed, and what is found in it is set beside sums by hand and the run in space.
"""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Iterator

import pytest

from tests.demos import demo_shapes
from tests.drawing_facts import THOUSANDTH_MM, items, of_kind
from tubing.drawing.bars_picture import bars_picture
from tubing.drawing.pictures import Shapes
from tubing.drawing.run_picture import run_picture
from tubing.drawing.screen_picture import screen_picture
from tubing.geometry.vectors import Point2
from tubing.plan import Plan


@pytest.mark.long
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
    made = demo_shapes("lined-up-twin").screen
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
