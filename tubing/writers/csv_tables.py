"""Tables as CSV: UTF-8, commas, a point for decimals, a unit in each heading; lengths always in mm.

A cell of words that a spreadsheet would run as a formula has an apostrophe before it.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence

from tubing.sheet.records import Cell, Column, JobSheet, Measure, Table
from tubing.sheet.words import cell_text, heading_text, visible

FORMULA = ("=", "+", "-", "@", "\t", "\r")  # how a formula may begin

Row = dict[str, str]


def csv_files(sheet: JobSheet, mark: str) -> dict[str, str]:
    """Cut list, bend schedule, saw list and parts, by file name; ``mark``: the plan's, the last cell of every row."""
    files = {
        "cut-list.csv": (_headings(sheet.cut_list), _rows(sheet.cut_list)),
        "bends.csv": (_headings(sheet.bends), _rows(sheet.bends)),
        "saw-list.csv": (_headings(sheet.saw_list), _rows(sheet.saw_list)),
        "parts.csv": (_headings(sheet.parts), _rows(sheet.parts)),
    }
    return {
        name: _written([*headings, "plan"], [{**row, "plan": mark} for row in rows])
        for name, (headings, rows) in files.items()
    }


def safe(words: str) -> str:
    """Words that no spreadsheet takes for a formula, control characters written out.

    >>> safe("near"), safe("=1+1"), safe("-end")
    ('near', "'=1+1", "'-end")
    """
    return f"'{visible(words)}" if words.startswith(FORMULA) else visible(words)


def _headings(table: Table) -> list[str]:
    """A heading for each column; one that stands twice on paper is preceded by the column before it."""
    printed = [heading_text(column, "mm") for column in table.columns]
    return [
        f"{before}: {heading}" if printed.count(heading) > 1 else heading
        for before, heading in zip(["", *printed], printed, strict=False)
    ]


def _cell(cell: Cell | Measure, column: Column) -> str:
    """A cell as the sheet prints it; an empty one stays empty."""
    if cell is None:
        return ""
    return safe(cell) if isinstance(cell, str) else cell_text(cell, column, "mm")


def _rows(table: Table) -> list[Row]:
    headings = _headings(table)
    return [
        {heading: _cell(cell, column) for heading, column, cell in zip(headings, table.columns, row, strict=True)}
        for row in table.rows
    ]


def _written(headings: Sequence[str], rows: Iterable[Row]) -> str:
    text = io.StringIO()
    writer = csv.DictWriter(text, headings, restval="")
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue()
