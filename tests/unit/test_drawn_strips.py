"""Marking-out strips, measured on the paper: to scale, full size, and wrapped round the tube."""

from __future__ import annotations

import itertools
import math
import re
from dataclasses import dataclass

import pytest
from msgspec.structs import replace

from tests.drawing_facts import BENT, THOUSANDTH_MM, Item, items, of_kind, strip
from tubing.drawing.bench_shapes import Strip, StripBend
from tubing.drawing.pictures import Shapes
from tubing.drawing.run_shape import Arc
from tubing.drawing.strip_pictures import TILE_MM, _tile_mm, _tiles, full_size_strips, strip_picture
from tubing.drawing.svg import Picture
from tubing.geometry.vectors import Point2, cross, dot, sub, unit


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
        outlines = [one for one in bands if min(one.xs) == 8.0 and max(one.xs) - min(one.xs) > 5.0]
        heads = [m for one in found if (m := re.match(r"(.*), length .*: ([\d.]+) to ([\d.]+) mm", one.words))]
        for head, band in zip(heads, outlines, strict=True):
            low, high = min(band.ys) - 16.0, max(band.ys) + 12.0
            inside = tuple(one for one in found if one.points and low < one.points[0][1] < high)
            result.append(Length(head[1], float(head[2]), float(head[3]), band, inside))
    return result


def test_full_size_strips_are_full_size(drawn: Shapes) -> None:
    """Each length is as long as its heading says, as high as the tube is round; its bends start where they do."""
    made = lengths(full_size_strips(drawn.strips, "mm", "plan ABCDE"))
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
    made = lengths(full_size_strips(drawn.strips, "mm", "plan ABCDE"))
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
    for one in lengths(full_size_strips(drawn.strips, "mm", "plan ABCDE")):
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
    for part in lengths(full_size_strips((one,), "mm", "plan ABCDE")):
        middle, left = (min(part.band.ys) + max(part.band.ys)) / 2, min(part.band.xs) - part.start_mm
        for line in of_kind(list(part.items), "path", "bold"):
            along = sum(line.xs) / 2 - left
            number = next((k for k, b in enumerate(one.bends) if b.start_mm < along < b.end_mm), None)
            if line.ys[0] == line.ys[-1] and number is not None:
                rows.setdefault(number, set()).add(round(line.ys[0] - middle, 2))
    for found in rows.values():
        # Twice on the seam of the wrapped strip, else once.
        spread_mm = max(found) - min(found)
        assert spread_mm < 0.02 or spread_mm == pytest.approx(one.circumference_mm, abs=0.02)
    return [max(rows[k]) for k in range(len(one.bends))]


def _between(first: Arc, second: Arc) -> float:
    """From the inside of a bend to that of the next, about the tube between them, right-handed."""
    along = unit(sub(second.start_mm, first.end_mm))
    inside, next_inside = unit(sub(first.centre_mm, first.end_mm)), unit(sub(second.centre_mm, second.start_mm))
    return math.atan2(dot(cross(inside, next_inside), along), dot(inside, next_inside))


@pytest.mark.parametrize("length_mm", [60.0, 169.9, 170.0, 171.0, 343.0, 1250.5, 2001.7])
def test_no_length_of_a_full_size_strip_is_a_stub(length_mm: float) -> None:
    """A page that held the last few millimetres of a blank would be printed, cut out and lost."""
    long = replace(BENT, length_mm=length_mm)
    lengths = [min(_tile_mm(long), length_mm - k * _tile_mm(long)) for k in range(_tiles(long))]
    assert sum(lengths) == pytest.approx(length_mm)
    assert max(lengths) <= TILE_MM
    assert min(lengths) > 0.9 * max(lengths)
