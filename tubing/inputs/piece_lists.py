"""Reads a plain list of pieces to cut: CSV with the columns piece, length (or length_mm), quantity and maybe size."""

from __future__ import annotations

from pathlib import Path

from tubing.errors import InputError, JobError, UnitError
from tubing.inputs.ranges import read_plausible
from tubing.inputs.records import ListedPiece
from tubing.inputs.table_rows import Row, read_rows
from tubing.units import Quantity

MOST_PIECES = 10_000_000  # of one row


def read_list(path: Path) -> tuple[ListedPiece, ...]:
    """The rows of a list. ``length`` bears its unit in the cell, ``length_mm`` in its name.

    Raises JobError and UnitError with file, line and column; InputError for a file that cannot be read.
    """
    rows = read_rows(path, ("piece", "quantity"), ("length", "length_mm", "size"), JobError)
    pieces = tuple(
        ListedPiece(
            row.text("piece"),
            length_in(row, "length of a piece"),
            count_in(row),
            row.cells.get("size") or None,
            row.line,
        )
        for row in rows
    )
    if not pieces:
        raise JobError(path.name, "it lists no pieces", "there must be something to cut", "add a line for each piece")
    return pieces


def length_in(row: Row, name: str) -> Quantity:
    """The length in a row: ``length`` with its unit, or ``length_mm``; plausible as the quantity of that name.

    Raises JobError and UnitError with file, line and column.
    """
    if ("length" in row.cells) == ("length_mm" in row.cells):
        raise JobError(
            f"{row.file}",
            "it has both length and length_mm" if "length" in row.cells else "it has no column for the length",
            "it must have one of length, length_mm",
            "name the column length and give each cell its unit, or length_mm and give numbers alone",
        )
    if "length_mm" in row.cells:
        return row.length("length_mm", name)
    try:
        return read_plausible(row.text("length"), name)
    except UnitError as cause:
        raise cause.said_of(f"{row.file}, line {row.line}, length") from cause
    except InputError as cause:
        if cause.thing:
            raise
        raise row.wrong("length", cause.found, cause.needed, cause.remedy) from cause


def count_in(row: Row) -> int:
    """The whole number under ``quantity``. Raises JobError with file, line and column."""
    text = row.text("quantity")
    if not (text.isascii() and text.isdigit()) or int(text[:20]) == 0:
        raise row.wrong("quantity", f"{text!r} is not a count", "it must be a whole number above 0", "write it like 4")
    if int(text[:20]) > MOST_PIECES:
        raise row.wrong("quantity", f"{text[:20]} is absurdly many", f"it must be at most {MOST_PIECES}", "check it")
    return int(text)
