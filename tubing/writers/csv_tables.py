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

BEND_ORDER = ("piece", "bend", "starts, from cut", "ends, from cut", "starts, from rim", "ends, from rim", "")

Row = dict[str, str]


def csv_files(sheet: JobSheet, mark: str) -> dict[str, str]:
    """Cut list, bend schedule, saw list and parts, by file name; ``mark``: the plan's, the last cell of every row."""
    files = {
        "cut-list.csv": (_headings(sheet.cut_list), _rows(sheet.cut_list)),
        "bends.csv": _bends(sheet),
        "saw-list.csv": _saw_list(sheet),
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


def _bends(sheet: JobSheet) -> tuple[list[str], list[Row]]:
    """All bend schedules in one table; a place that is not known of a piece's bends is left empty."""
    rows: list[Row] = []
    for table in sheet.schedules:
        rows += [{"piece": safe(table.piece), **row} for row in _rows(table)]
    headings = dict.fromkeys(heading for row in rows for heading in row) or ["piece", "bend"]
    # Columns that count from the cut end stand first, even where the first piece comes ready-flared and has none.
    return sorted(headings, key=lambda heading: BEND_ORDER.index(_start(heading))), rows


def _start(heading: str) -> str:
    return next((start for start in BEND_ORDER if start and heading.startswith(start)), "")


def _saw_list(sheet: JobSheet) -> tuple[list[str], list[Row]]:
    """Every mark of every bar, with its bar, and from which end the marks count."""
    kept = _headings(sheet.bars)[:5]
    rows: list[Row] = []
    for bar, table in zip(_rows(sheet.bars), sheet.saw_lists, strict=True):
        about = {f"bar {name}" if name.startswith("length") else name: bar[name] for name in kept}
        rows += [{**about, **row, "how to cut": safe(" ".join(table.before))} for row in _rows(table)]
    return list(rows[0]), rows


def _written(headings: Sequence[str], rows: Iterable[Row]) -> str:
    text = io.StringIO()
    writer = csv.DictWriter(text, headings, restval="")
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue()
