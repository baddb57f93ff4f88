"""Labels of a picture, put where they meet no other and hide least.

Label:  words at a point.
Legend: words for which there was no room, each under a number that stands at its point instead.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

from msgspec import Struct
from msgspec.structs import replace

from tubing.drawing.svg import SMALL_MM, Pen, Rect, fitted, text_width_mm
from tubing.geometry.vectors import Point2

Legend = dict[str, int]  # words to numbers, from 1; grows while a picture is drawn
MOST_NAMED = 6  # things in a view; of more, each has its number
MEETS = 400.0  # the cost of a label on another one, or outside: more than that of any number of lines


class Label(Struct, frozen=True):
    """Words that belong to a point."""

    at: Point2
    words: str
    kind: str = ""
    size_mm: float = SMALL_MM
    over: bool = False  # the name of an area: it may lie on its point
    whole: str = ""  # the words as a legend tells them, where they were cut short


def put_labels(
    pen: Pen, labels: Sequence[Label], lines: Sequence[Sequence[Point2]], inside: Rect, legend: Legend | None = None
) -> None:
    """Write each label near its point, where it meets no label before it and hides least of the lines.

    With a ``legend``, words that find no room of their own are written as their number in it, and the caller tells it.
    Without one they are cut short, or written where they are least in the way.
    """
    points = [point for line in lines for point in _sampled(line)]
    things = {k for k, label in enumerate(labels) if label.whole}
    numbered = things if legend is not None and len(things) > MOST_NAMED else set[int]()
    while True:
        shown = [
            replace(label, words=_number(legend, label.whole or label.words))
            if legend is not None and k in numbered
            else label
            for k, label in enumerate(labels)
        ]
        fitting = [replace(each, words=fitted(each.words, inside.width_mm, each.size_mm)) for each in shown]
        places = _places(fitting, points, inside)
        crowded = {
            k for k, (place, cost) in enumerate(places) if cost >= MEETS or fitting[k].words != shown[k].words
        } - numbered
        if legend is None or not crowded:
            break
        numbered |= crowded
    for label, (place, _) in zip(fitting, places, strict=True):
        _write(pen, label, place)


def legend_lines(legend: Legend, wide_mm: float) -> list[str]:
    """A legend in words, in lines that fit a width.

    >>> legend_lines({"steering column": 1, "duct": 2}, 100.0)
    ['[1] steering column, [2] duct.']
    """
    lines: list[str] = []
    for words, number in legend.items():
        entry = f"[{number}] {words}"
        if lines and text_width_mm(f"{lines[-1]}, {entry}.") <= wide_mm:
            lines[-1] += f", {entry}"
        else:
            lines.append(entry)
    return [f"{line}{'.' if line is lines[-1] else ','}" for line in lines]


def _number(legend: Legend, words: str) -> str:
    return f"[{legend.setdefault(words, len(legend) + 1)}]"


def _places(labels: Sequence[Label], points: Sequence[Point2], inside: Rect) -> list[tuple[Rect, float]]:
    """Where each label lies, and what that costs."""
    taken: list[Rect] = []
    found: list[tuple[Rect, float]] = []
    for label in labels:
        width, height = text_width_mm(label.words, label.size_mm), label.size_mm
        best, best_cost = None, math.inf
        if label.over:
            best = Rect(label.at[0] - width / 2, label.at[1] - height / 2, width, height)
            best_cost = _cost(best, 0.0, taken, points, inside)
        for reach in (1.2, 2.5, 4.5, 7.0, 10.0, 14.0, 19.0, 25.0):
            if best_cost < reach:
                break
            for k in range(12):
                cos, sin = math.cos(math.tau * k / 12), math.sin(math.tau * k / 12)
                x = label.at[0] + reach * cos + (width / 2) * (cos - 1)
                y = label.at[1] - reach * sin - (height / 2) * (1 + sin)
                place = Rect(x, y, width, height)
                cost = _cost(place, reach, taken, points, inside)
                if cost < best_cost - 1e-9:
                    best, best_cost = place, cost
        assert best is not None, "some place is always least bad"
        taken.append(best)
        found.append((best, best_cost))
    return found


def _cost(place: Rect, reach: float, taken: Sequence[Rect], points: Sequence[Point2], inside: Rect) -> float:
    roomy = Rect(place.left_mm - 0.6, place.top_mm - 0.5, place.width_mm + 1.2, place.height_mm + 1.0)
    cost = reach + min(MEETS / 2, 4.0 * sum(1 for point in points if roomy.holds(point)))
    cost += MEETS * sum(1 for other in taken if other.meets(roomy))
    out = max(inside.left_mm - place.left_mm, place.right_mm - inside.right_mm, 0.0)
    out += max(inside.top_mm - place.top_mm, place.bottom_mm - inside.bottom_mm, 0.0)
    return cost + (1000.0 + out if out > 0 else 0.0)


def _write(pen: Pen, label: Label, place: Rect) -> None:
    middle = (place.left_mm + place.width_mm / 2, place.top_mm + place.height_mm / 2)
    near = (
        min(max(label.at[0], place.left_mm), place.right_mm),
        min(max(label.at[1], place.top_mm), place.bottom_mm),
    )
    if math.dist(near, label.at) > 3.2:
        pen.line(label.at, near if math.dist(near, label.at) > 0 else middle, "fine")
    kind = f"halo {label.kind}".strip()
    pen.text((place.left_mm, place.bottom_mm - 0.18 * label.size_mm), label.words, "start", kind, label.size_mm)


def _sampled(line: Sequence[Point2], every_mm: float = 0.9) -> list[Point2]:
    points: list[Point2] = []
    for a, b in itertools.pairwise(line):
        steps = max(1, math.ceil(math.dist(a, b) / every_mm))
        points += [(a[0] + (b[0] - a[0]) * k / steps, a[1] + (b[1] - a[1]) * k / steps) for k in range(steps)]
    return [*points, *line[-1:]]
