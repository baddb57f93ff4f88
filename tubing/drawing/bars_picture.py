"""The stock bars as bars: pieces, saw marks, what is left."""

from __future__ import annotations

import itertools
import math
from fractions import Fraction

from tubing.drawing.svg import SMALL_MM, Pen, Picture, Rect, fitted, short_name, spread, text_width_mm
from tubing.nesting import Bar, Nest
from tubing.sheet.bars import bar_text, saw_rows
from tubing.sheet.records import Show
from tubing.units import inches_text, rounded

WIDE_MM, EDGE_MM, BAR_MM = 186.0, 5.0, 7.0
ROW_MM = SMALL_MM + 0.8
MOST_ROWS = 5


def bars_picture(nested: Nest, show: Show) -> Picture:
    """Every kind of bar, all in one scale, marks in mm from the end that the saw list counts from."""
    pen = Pen()
    y = 1.0
    if not nested.bars:
        pen.text((EDGE_MM, y + 3.0), "All pieces were sawn before.", "start")
        y += ROW_MM
    scale = float(max((bar.stock.length_mm for bar in nested.bars), default=Fraction(1))) / (WIDE_MM - 2 * EDGE_MM)
    for number, bar in nested.numbered:
        y = _bar(pen, number, bar, y, scale, show)
    words = "The stock bars with the pieces that are cut from each"
    return pen.picture("bars", words, WIDE_MM, y)


def _bar(pen: Pen, number: int, bar: Bar, top: float, scale: float, show: Show) -> float:
    """One kind of bar; returns where the next may start."""
    times = f"{bar.count} x " if bar.count > 1 else ""
    head = f"Bar {number}: {times}{bar_text(bar, show)}"
    pen.text((EDGE_MM, top + 3.0), fitted(head, WIDE_MM - 2 * EDGE_MM, 3.0), "start", "strong", 3.0)
    rows = saw_rows(bar)
    starts = [0.0, *(float(row.mark_mm) for row in rows)]
    parts = [(a / scale + EDGE_MM, b / scale + EDGE_MM) for a, b in itertools.pairwise(starts)]
    outside = []
    for (left, right), row in zip(parts, rows, strict=True):
        name = short_name(row.words)
        if text_width_mm(name) > right - left - 1.0:
            outside.append(((left + right) / 2, name))
    used = _rows_for(outside)
    y = top + 5.0 + used * ROW_MM
    for (left, right), row in zip(parts, rows, strict=True):
        pen.rect(Rect(left, y, right - left, BAR_MM), "white" if row.is_piece else "grey")
        name = short_name(row.words)
        if text_width_mm(name) <= right - left - 1.0:
            pen.text(((left + right) / 2, y + BAR_MM / 2 + 0.9), name, "middle")
    _outside(pen, outside, y)
    words = [rounded(row.mark_mm, 1) if show == "mm" else inches_text(float(row.mark_mm)) for row in rows]
    room = max(text_width_mm(text) for text in words) + 1.2
    # More marks than there is room for are left to the saw list: the picture says where the pieces lie.
    if len(words) * room <= WIDE_MM:
        for (_, x), text, here in zip(
            parts, words, spread([right for _, right in parts], room, room / 2, WIDE_MM - room / 2), strict=True
        ):
            pen.lines([(x, y + BAR_MM), (x, y + BAR_MM + 1.0), (here, y + BAR_MM + 2.6)], "fine")
            pen.text((here, y + BAR_MM + 5.2), text, "middle")
    return y + BAR_MM + 9.0


def _places(outside: list[tuple[float, str]]) -> list[tuple[int, float]]:
    """Row and left edge of each name that does not fit into its piece; a row of -1: there is no room for it."""
    ends = [-math.inf] * MOST_ROWS
    found = []
    for middle, name in outside:
        width = text_width_mm(name)
        left = min(max(middle - width / 2, 0.5), WIDE_MM - 0.5 - width)
        row = next((k for k, end in enumerate(ends) if left > end + 1.5), -1)
        if row >= 0:
            ends[row] = left + width
        found.append((row, left))
    return found


def _rows_for(outside: list[tuple[float, str]]) -> int:
    return max((row for row, _ in _places(outside)), default=-1) + 1


def _outside(pen: Pen, outside: list[tuple[float, str]], y: float) -> None:
    for (middle, name), (row, left) in zip(outside, _places(outside), strict=True):
        if row >= 0:
            foot = y - 1.4 - row * ROW_MM
            pen.line((middle, y), (middle, foot + 0.5), "fine")
            pen.text((left, foot), name, "start", "halo")
