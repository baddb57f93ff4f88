"""Draws a sheet as plain text: readable at 80 columns, without colour, in a pipe.

The text is laid out here, so that the same sheet gives the same bytes whatever is installed; rich only shows it on a
screen, where headings are bold, and is not imported for a pipe.
"""

from __future__ import annotations

import textwrap
import unicodedata
from collections.abc import Iterator, Sequence
from decimal import Decimal
from fractions import Fraction
from typing import TextIO

from msgspec import Struct

from tubing.sheet.records import Lines, Measure, Sheet, Table
from tubing.sheet.words import cell_text, heading_text, visible

LEAST_WIDTH = 60
MOST_WIDTH = 100  # longer lines are hard to follow with a finger
GAPS = (3, 2)  # blanks between columns: fewer where a table would have to be split
LONGEST_WHOLE = 20  # letters of a word that is not broken
NUMBERS = (int, float, Fraction, Decimal, Measure)


class Line(Struct, frozen=True):
    """One line as drawn."""

    text: str
    heading: bool = False


def draw(sheet: Sheet, width: int = 80) -> str:
    """The whole sheet as text, no line wider than ``width`` (held between 60 and 100)."""
    return "".join(f"{line.text}\n" for line in drawn(sheet, width))


def show(sheet: Sheet, screen: TextIO, width: int, colour: bool) -> None:
    """The same lines on a screen, headings bold where it can do that."""
    from rich.console import Console
    from rich.text import Text

    console = Console(file=screen, width=width, no_color=not colour, highlight=False, soft_wrap=True)
    for line in drawn(sheet, width):
        console.print(Text(line.text, "bold" if line.heading else ""))


def drawn(sheet: Sheet, width: int) -> Iterator[Line]:
    """The sheet line by line; no control character of a name gets through."""
    for line in _lines(sheet, max(LEAST_WIDTH, min(width, MOST_WIDTH))):
        yield Line(visible(line.text).rstrip(), line.heading)


def _lines(sheet: Sheet, width: int) -> Iterator[Line]:
    title = _wrapped(sheet.title, width)
    yield from (Line(text, True) for text in title)
    yield Line("=" * max(map(wide, title)))
    for part in sheet.parts:
        yield Line("")
        yield from _table(part, sheet, width) if isinstance(part, Table) else _sentences(part, width)


def _sentences(lines: Lines, width: int) -> Iterator[Line]:
    yield from _title(lines.title, "", width)
    for number, line in enumerate(lines.lines, lines.first or 0):
        mark = "- " if lines.first is None else f"{number:>2}. "
        for k, text in enumerate(_wrapped(line, width - len(mark))):
            yield Line((mark if k == 0 else " " * len(mark)) + text)


def _table(table: Table, sheet: Sheet, width: int) -> Iterator[Line]:
    yield from _title(table.title, table.subject, width)
    yield from (Line(text) for line in table.before for text in _wrapped(line, width))
    columns = [_Drawn.of(table, index, sheet) for index in range(len(table.columns))]
    gap, groups = next(
        ((gap, groups) for gap in GAPS if len(groups := _side_by_side(columns, width, gap)) == 1),
        (GAPS[0], _side_by_side(columns, width, GAPS[0])),
    )
    for group in groups:
        yield from (Line(text) for text in _grid(group, width, gap))
    yield from (Line(text) for line in table.after for text in _wrapped(line, width))


def _title(title: str, subject: str, width: int) -> Iterator[Line]:
    """The title in capitals; its subject as the fitter wrote it."""
    if title:
        yield from (Line(text, True) for text in _wrapped(f"{title.upper()} {subject}".rstrip(), width))


class _Drawn(Struct, frozen=True):
    """One column as text."""

    heading: str
    cells: tuple[str, ...]
    right: bool  # numbers

    @classmethod
    def of(cls, table: Table, index: int, sheet: Sheet) -> _Drawn:
        column = table.columns[index]
        cells = [row[index] for row in table.rows]
        return cls(
            heading_text(column, sheet.show),
            tuple(cell_text(cell, column, sheet.show) for cell in cells),
            all(isinstance(cell, NUMBERS) for cell in cells if cell not in (None, "")),
        )

    @property
    def natural(self) -> int:
        """Width without any line broken."""
        return max(wide(line) for text in (self.heading, *self.cells) for line in text.split("\n"))

    @property
    def least(self) -> int:
        """Width without any word broken; a number is not broken at all, a very long word may be."""
        words = [word for text in (self.heading, *self.cells) for word in text.split()]
        whole = [line for text in self.cells for line in text.split("\n")] if self.right else []
        return max(1, min(max(map(wide, words), default=1), LONGEST_WHOLE), *(wide(line) for line in whole))


def _side_by_side(columns: Sequence[_Drawn], width: int, gap: int) -> list[list[_Drawn]]:
    """The columns in groups that fit; each further group begins with the first column again."""
    groups = [[columns[0]]]
    for column in columns[1:]:
        if sum(c.least for c in groups[-1]) + column.least + gap * len(groups[-1]) > width and len(groups[-1]) > 1:
            groups.append([columns[0]])
        groups[-1].append(column)
    return groups


def _widths(columns: Sequence[_Drawn], width: int, gap: int) -> list[int]:
    """Narrow the widest columns first, and none below its longest word."""
    widths = [column.natural for column in columns]
    least = [column.least for column in columns]
    over = sum(widths) + gap * (len(columns) - 1) - width
    while over > 0:
        spare = [(w, k) for k, (w, fewest) in enumerate(zip(widths, least, strict=True)) if w > fewest]
        if not spare:
            break
        widths[max(spare)[1]] -= 1
        over -= 1
    return widths


def _grid(columns: Sequence[_Drawn], width: int, gap: int) -> Iterator[str]:
    """Headings at the foot of their row, a rule, and the rows."""
    widths = _widths(columns, width, gap)
    if any(column.heading for column in columns):
        yield from _row([column.heading for column in columns], columns, widths, gap, at_foot=True)
        yield "-" * (sum(widths) + gap * (len(widths) - 1))
    for cells in zip(*(column.cells for column in columns), strict=True):
        yield from _row(cells, columns, widths, gap, at_foot=False)


def _row(
    cells: Sequence[str], columns: Sequence[_Drawn], widths: Sequence[int], gap: int, *, at_foot: bool
) -> Iterator[str]:
    broken = [_wrapped(cell, width) for cell, width in zip(cells, widths, strict=True)]
    height = max(map(len, broken))
    filled = [[""] * (height - len(b)) + b if at_foot else b + [""] * (height - len(b)) for b in broken]
    for texts in zip(*filled, strict=True):
        yield (" " * gap).join(
            " " * (width - wide(text)) + text if column.right else text + " " * (width - wide(text))
            for text, column, width in zip(texts, columns, widths, strict=True)
        )


def _wrapped(text: str, width: int) -> list[str]:
    """Lines no wider than ``width``; a word that is longer is broken."""
    lines = []
    for paragraph in visible(text, keep="\n").split("\n"):
        if wide(paragraph) <= width:
            lines.append(paragraph)
        else:
            # Letters that take two places are rare in names; counting each word's lines by them is near enough.
            room = width if wide(paragraph) == len(paragraph) else max(1, width // 2)
            lines += textwrap.wrap(paragraph, room, break_on_hyphens=False) or [""]
    return lines


def wide(text: str) -> int:
    """Places that a text takes on a screen.

    >>> wide("near"), wide("\u9060"), wide("e\u0301")
    (4, 2, 1)
    """
    if text.isascii():
        return len(text)
    return sum(0 if unicodedata.combining(c) else 1 + (unicodedata.east_asian_width(c) in "WF") for c in text)
