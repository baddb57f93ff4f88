"""What says the same in every row is told once, and nothing is lost by it."""

from __future__ import annotations

import pytest

from tests.demos import NAMES, demo_plan
from tubing.sheet.content import job_sheet
from tubing.sheet.records import Column, Table
from tubing.sheet.sections import BRIEF
from tubing.sheet.told_once import told_once
from tubing.sheet.words import cell_text

COLUMNS = (Column("piece"), Column("tube"), Column("x", "mm"), Column("y", "mm"))


def test_a_column_that_says_the_same_becomes_a_line_and_an_empty_one_goes():
    table = Table("Clips", COLUMNS, (("a", "steel", 1.0, None), ("b", "steel", 2.0, None)), before=("From the rim.",))
    told = told_once(table, "mm")
    assert [column.heading for column in told.columns] == ["piece", "x"]
    assert told.rows == (("a", 1.0), ("b", 2.0))
    assert told.before == ("From the rim.", "In every row: tube steel.")


def test_inches_stand_in_the_line_too():
    table = Table("Clips", COLUMNS, (("a", "steel", 25.4, 1.0), ("b", "brass", 25.4, 2.0)))
    assert told_once(table, "in").before == ("In every row: x 25.4 mm (1 in).",)


def test_one_row_keeps_all_its_columns():
    table = Table("Clips", COLUMNS, (("a", "steel", 1.0, 2.0),))
    assert told_once(table, "mm") == table


def test_rows_that_say_the_same_but_for_their_names_become_one():
    table = Table("Holes", COLUMNS, (("a", "steel", 1.0, 2.0), ("b", "steel", 1.0, 2.0), ("c", "steel", 1.0, 2.0)))
    assert told_once(table, "mm").rows == (("a, b and c", "steel", 1.0, 2.0),)


def test_the_cells_of_a_group_are_told_where_it_begins():
    rows = (("a", "steel", 1.0, 5.0), ("a", "steel", 2.0, 6.0), ("a", "brass", 2.0, 7.0), ("b", "brass", 2.0, 8.0))
    told = told_once(Table("Bends", COLUMNS, rows, groups=2), "mm")
    assert [row[:2] for row in told.rows] == [("a", "steel"), ("", ""), ("a", "brass"), ("b", "brass")]


@pytest.mark.parametrize("name", NAMES)
def test_every_cell_of_a_demo_is_told(name: str):
    """Each printed cell of the whole table stands in the short one, in a row or in its line."""
    sheet = job_sheet(demo_plan(name))
    for field in sorted(BRIEF):
        table = getattr(sheet, field)
        told = told_once(table, "mm")
        cells = {cell_text(cell, c, "mm") for row in told.rows for cell, c in zip(row, told.columns, strict=True)}
        said = " ".join([*told.before, *cells])
        wanted = {cell_text(cell, c, "mm") for row in table.rows for cell, c in zip(row, table.columns, strict=True)}
        assert [text for text in wanted - {"-"} if text not in said] == [], field
