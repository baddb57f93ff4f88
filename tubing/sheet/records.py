"""What a sheet is made of: tables whose numbers are still numbers, and lines of words.

Everything that is drawn or written to a file is one of these records, so no two forms of the sheet can disagree.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Literal

from msgspec import Struct

Show = Literal["mm", "in"]  # "in": inches beside the millimetres
Cell = str | int | float | Fraction | Decimal | None  # Decimal: money, printed as it is; None: an empty cell


class Column(Struct, frozen=True):
    """One column of a table; its numbers are in ``unit`` and printed to ``places`` decimals."""

    heading: str
    unit: str = ""  # empty: words or a count
    places: int = 1


class Measure(Struct, frozen=True):
    """A number with a unit of its own, for a table whose rows measure different things."""

    value: float | Fraction
    unit: str
    places: int = 1


class Table(Struct, frozen=True):
    """Rows under headings, with lines of words that belong to it."""

    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell | Measure, ...], ...]
    before: tuple[str, ...] = ()  # how to read the table
    after: tuple[str, ...] = ()  # what follows from it
    subject: str = ""  # what the title is of, as the fitter named it
    groups: int = 0  # leading columns whose cells are told once for the rows that follow each other


class Lines(Struct, frozen=True):
    """Sentences under a heading; ``first``: the number of the first, where their order matters."""

    title: str
    lines: tuple[str, ...]
    first: int | None = None


Part = Table | Lines


class Sheet(Struct, frozen=True):
    """A heading and what stands under it, in order."""

    title: str
    parts: tuple[Part, ...]
    show: Show = "mm"


class JobSheet(Struct, frozen=True):
    """All that the sheet of one plan says, each thing by its name."""

    title: str
    show: Show
    head: Table  # the title block
    warnings: Lines  # what the fitter has to settle; may be empty
    points: Table  # where taped points are; without rows where nothing was taped
    readings: Table  # of the tape, the doubtful ones first
    cut_list: Table
    fit_list: Table  # lengths once formed, radii and what is pulled in, by piece
    sureness: Table  # what the tape's error does; without rows where none is stated
    as_cut: Table  # pieces that were cut already; may be without rows
    bends: Table  # every mark; without rows where no piece is bent
    ports: Table  # where the boxes' grooves come
    clips: Table
    in_the_way: Table  # without rows where the job names nothing
    saw_list: Table  # every mark on every bar
    stock: Lines  # how good the bars are known to be
    drive: Table
    boxes: Table  # turn, pull, sweep, lost motion by wheelbox
    motion: Table  # over the crank's turn
    holes: Table
    park: Table
    glass: Table  # what the arms wipe; without rows where the job has no screen
    chosen: Lines  # where the job left something free; may be empty
    parts: Table  # to buy
    cost: Table
    work: Lines  # order of work, from the stock to the finished pieces
    fitting: Lines  # the steps that follow, on the vehicle
    cautions: Lines
    notes: Lines  # what was taken for granted
    trial_pieces: Table  # on paper only; without rows where all was tried
