"""What says the same in every row of a table is told in one line instead."""

from __future__ import annotations

from fractions import Fraction

from msgspec.structs import replace

from tubing.sheet.records import Cell, Column, Measure, Show, Table
from tubing.sheet.words import cell_text, length_text, listed


def told_once(table: Table, show: Show) -> Table:
    """The table without its empty columns, and without those that say the same in each of several rows.

    A line before the table says what the latter said. Of the leading ``groups`` columns a cell is told once for the
    rows that follow each other. The first column always stays; where it alone would, all rows become one.
    """
    columns = range(len(table.columns))
    printed = [tuple(cell_text(row[k], table.columns[k], show) for k in columns) for row in table.rows]
    full = [k for k in columns if k == 0 or any(row[k] is not None for row in table.rows)]
    same = [k for k in full if k > 0 and len(printed) > 1 and len({row[k] for row in printed}) == 1]
    kept = [k for k in full if k not in same]
    if kept == [0] and same:
        names = listed([row[0] for row in printed])
        return replace(table, rows=((names, *table.rows[0][1:]),))
    groups = sum(k < table.groups for k in kept)
    rows: list[tuple[Cell | Measure, ...]] = []
    above: tuple[Cell | Measure, ...] = ()
    for row in table.rows:
        left = tuple(row[k] for k in kept)
        again = groups if above and left[:groups] == above[:groups] else 0
        rows.append(("",) * again + left[again:])
        above = left
    said = "; ".join(_said(table.columns[k], table.rows[0][k], show) for k in same)
    return replace(
        table,
        columns=tuple(table.columns[k] for k in kept),
        rows=tuple(rows),
        before=(*table.before, *((f"In every row: {said}.",) if said else ())),
        groups=groups,
    )


def _said(column: Column, cell: Cell | Measure, show: Show) -> str:
    """A heading with what stands below it.

    >>> _said(Column("pull in", "deg"), 0.0, "mm"), _said(Column("radius", "mm"), 25.4, "in")
    ('pull in 0.0 deg', 'radius 25.4 mm (1 in)')
    """
    if column.unit == "mm" and isinstance(cell, int | float | Fraction):
        return f"{column.heading} {length_text(cell, show, column.places)}"
    return f"{column.heading} {cell_text(cell, column, show)} {column.unit}".rstrip()
