"""Small pictures in plain letters of what was entered so far, and the same in words for who cannot see them."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence

from msgspec import Struct

from tubing.geometry.vectors import Vector, add, distance_mm, scale, sub
from tubing.inputs.records import Box, Cylinder, Job, Obstacle
from tubing.units import inches_text

COLUMNS, ROWS = 66, 13
BESIDE = 2.0  # a letter is about twice as high as it is wide
X, Y, Z = 0, 1, 2
WAYS = (("right", "left"), ("forward", "back"), ("up", "down"))
SMALL = "abcdefghijklmnopqrstuvwxyz"


class Mark(Struct, frozen=True):
    """One position: the letter it is drawn with, and what it is."""

    letter: str
    name: str
    at_mm: Vector
    toward: Vector | None = None  # shown by an arrow
    low_mm: Vector | None = None  # two opposite corners of the room it takes
    high_mm: Vector | None = None


def marks_of(job: Job, heading: bool, boxes: Sequence[str], things: Sequence[str]) -> list[Mark]:
    """The nose, with its ``heading`` where that was entered, and these wheelboxes and things in the way."""
    marks = [Mark("M", "motor nose", job.nose.position_mm, job.nose.heading if heading else None)]
    for k, name in enumerate(boxes, start=1):
        box = job.mountings[name]
        marks.append(Mark(str(k), name, box.hole_mm, box.heading))
    return marks + [
        _in_the_way(SMALL[k], thing) for k, thing in enumerate(t for t in job.in_the_way if t.name in things)
    ]


def _in_the_way(letter: str, thing: Obstacle) -> Mark:
    """The level box around a thing, for a picture."""
    shape = thing.shape
    if isinstance(shape, Cylinder):
        low, high = _each(min, shape.start_mm, shape.end_mm), _each(max, shape.start_mm, shape.end_mm)
    else:
        low = high = shape.centre_mm
    half = scale(shape.size_mm, 0.5) if isinstance(shape, Box) else (shape.radius_mm,) * 3
    return Mark(letter, thing.name, scale(add(low, high), 0.5), None, sub(low, half), add(high, half))


def _each(of: Callable[[float, float], float], a: Vector, b: Vector) -> Vector:
    return (of(a[0], b[0]), of(a[1], b[1]), of(a[2], b[2]))


def words(marks: Sequence[Mark], usual: str) -> Iterator[str]:
    """Each position in words, with the distance from the one before it: a tape laid between them must agree."""
    before: Mark | None = None
    for mark in marks:
        text = f"{mark.letter} {mark.name}: {position_text(mark.at_mm, usual)}"
        if mark.low_mm is not None and mark.high_mm is not None:
            sizes = (high - low for low, high in zip(mark.low_mm, mark.high_mm, strict=True))
            yield f"{text}; {' x '.join(length_text(size, usual) for size in sizes)}"
            continue
        if before is not None:
            text += f"; {length_text(distance_mm(before.at_mm, mark.at_mm), usual)} from {before.letter}"
        before = mark
        yield text


def position_text(at_mm: Vector, usual: str) -> str:
    """A position in words.

    >>> position_text((-650.0, 0.0, -35.5), "mm"), position_text((25.4, 0.0, 0.0), "in")
    ('650 mm left, 35.5 mm down', '1 in right')
    """
    parts = [
        f"{length_text(abs(c), usual)} {WAYS[axis][c < 0]}" for axis, c in enumerate(at_mm) if abs(c) > 1e-6
    ]  # fmt: skip
    return ", ".join(parts) or "the origin"


def length_text(length_mm: float, usual: str) -> str:
    """A length in the fitter's unit; inches to 1/64."""
    if usual == "in":
        return inches_text(length_mm)
    return f"{length_mm / 10:.2f}".rstrip("0").rstrip(".") + " cm" if usual == "cm" else (
        f"{length_mm:.1f}".rstrip("0").rstrip(".") + " mm"
    )  # fmt: skip


def pictures(marks: Sequence[Mark], usual: str) -> list[str]:
    """The plan, seen from above; and the front view, where the heights differ enough to show."""
    step_mm = _step_mm(marks)
    lines = ["Plan, seen from above: right is right, forward is up the page."]
    lines += _view(marks, X, Y, step_mm)
    front = _view(marks, X, Z, step_mm)
    if len(front) > 1:
        lines += ["From the driver's seat: right is right, up is up.", *front]
    scale = f"{length_text(step_mm, usual)} across, {length_text(BESIDE * step_mm, usual)} up and down"
    return [*lines, f"+ is the origin. One letter is about {scale}."]


def _corners(marks: Sequence[Mark]) -> list[Vector]:
    room = [corner for m in marks for corner in (m.low_mm, m.high_mm) if corner is not None]
    return [(0.0, 0.0, 0.0), *(m.at_mm for m in marks), *room]


def _step_mm(marks: Sequence[Mark]) -> float:
    """The width of a letter, for all views alike: a round number of mm so that everything fits."""
    spans = [max(c[axis] for c in _corners(marks)) - min(c[axis] for c in _corners(marks)) for axis in (X, Y, Z)]
    least = max(spans[X] / (COLUMNS - 3), spans[Y] / BESIDE / (ROWS - 1), spans[Z] / BESIDE / (ROWS - 1), 1.0)
    power = 10.0 ** math.floor(math.log10(least))
    return next(times * power for times in (1, 2, 5, 10) if times * power >= least * (1 - 1e-12))


def _view(marks: Sequence[Mark], across: int, up: int, step_mm: float) -> list[str]:
    """One view, as lines from the top; empty rows above and below left out."""
    corners = _corners(marks)
    left, right = min(c[across] for c in corners), max(c[across] for c in corners)
    low, high = min(c[up] for c in corners), max(c[up] for c in corners)

    def cell(at_mm: Vector) -> tuple[int, int]:
        return round((high - at_mm[up]) / (BESIDE * step_mm)), 1 + round((at_mm[across] - left) / step_mm)

    bottom, side = round((high - low) / (BESIDE * step_mm)), 3 + round((right - left) / step_mm)
    drawn = [[" "] * side for _ in range(bottom + 1)]
    for mark in marks:
        if mark.low_mm is not None and mark.high_mm is not None:
            (lowest, first), (highest, last) = cell(mark.low_mm), cell(mark.high_mm)
            for filled in drawn[highest : lowest + 1]:
                filled[first : last + 1] = ":" * (last + 1 - first)
    row, column = cell((0.0, 0.0, 0.0))
    drawn[row][column] = "+"
    for mark in marks:
        _draw(drawn, mark, cell(mark.at_mm), across, up)
    return [("  " + "".join(letters)).rstrip() for letters in drawn]


def _draw(drawn: list[list[str]], mark: Mark, at: tuple[int, int], across: int, up: int) -> None:
    """The mark's letter, an asterisk where another mark lies; an arrow beside it where there is room."""
    row, column = at
    drawn[row][column] = mark.letter if drawn[row][column] in " :+" else "*"
    if mark.toward is None:
        return
    x, y = mark.toward[across], mark.toward[up]
    if math.hypot(x, y) < 0.3:
        return  # it points into the page
    by_row, by_column, arrow = (0, 1 if x > 0 else -1, ">" if x > 0 else "<") if abs(x) >= abs(y) else (
        -1 if y > 0 else 1, 0, "^" if y > 0 else "v")  # fmt: skip
    row, column = row + by_row, column + by_column
    if 0 <= row < len(drawn) and 0 <= column < len(drawn[row]) and drawn[row][column] in " :":
        drawn[row][column] = arrow
