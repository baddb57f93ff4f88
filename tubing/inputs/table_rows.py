"""Files as text, and CSV as rows of figures; every complaint names file, line and column."""

from __future__ import annotations

import csv
import difflib
import re
from collections.abc import Iterable, Iterator
from pathlib import Path

from msgspec import Struct

from tubing.errors import CatalogueError, InputError
from tubing.inputs.ranges import read_plausible
from tubing.units import Quantity

LARGEST_FILE = 50_000_000  # bytes; more is not a job, a list or a table
PLAIN_NUMBER = re.compile(r"[+-]?([0-9]+(\.[0-9]+)?|\.[0-9]+)")


def near(word: str, known: Iterable[str]) -> str:
    """What to do about a name that is not known: the nearest ones, or all there are.

    >>> near("stel-8", ["steel-8", "copper-8"])
    "did you mean 'steel-8'?"
    >>> near("x", ["steel-8", "copper-8"])
    'choose one of steel-8, copper-8'
    """
    names = list(known)
    if not names:
        return "there is none to choose from; add one"
    if alike := difflib.get_close_matches(word[:100], names, n=3, cutoff=0.6):
        return "did you mean " + " or ".join(repr(name) for name in alike) + "?"
    return "choose one of " + ", ".join(names[:20]) + (", ..." if len(names) > 20 else "")


def read_text(path: Path) -> str:
    """The text of a UTF-8 file, with or without a byte order mark. Raises InputError, whatever is wrong."""
    try:
        with path.open("rb") as file:
            raw = file.read(LARGEST_FILE + 1)
    except FileNotFoundError:
        raise InputError(
            str(path),
            "there is no such file",
            "it must be a file that can be read",
            "check its name and folder",
        ) from None
    except IsADirectoryError:
        raise InputError(str(path), "it is a folder", "it must be a file", "name the file in it") from None
    except (OSError, ValueError) as cause:
        why = getattr(cause, "strerror", None) or str(cause)
        raise InputError(
            str(path),
            f"it cannot be read ({why})",
            "it must be a file that can be read",
            "check its name and rights",
        ) from cause
    if len(raw) > LARGEST_FILE:
        raise InputError(
            str(path),
            f"it is over {LARGEST_FILE // 1_000_000} MB",
            "it must be a text file of a sane size",
            "check its name",
        )
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as cause:
        line = raw[: cause.start].count(b"\n") + 1
        raise InputError(
            f"{path.name}, line {line}",
            "it is not text in UTF-8",
            "it must be UTF-8",
            "save it as UTF-8 in your editor",
        ) from cause


class Row(Struct, frozen=True):
    """One row of a CSV table, with its place for messages."""

    file: str
    line: int
    cells: dict[str, str]  # by column; stripped
    error: type[InputError]

    def wrong(self, column: str, found: str, needed: str, remedy: str) -> InputError:
        """The error of one cell."""
        return self.error(f"{self.file}, line {self.line}, {column}", found, needed, remedy)

    def text(self, column: str) -> str:
        """A cell that must not be empty."""
        if not self.cells[column]:
            raise self.wrong(column, "it is empty", "it must be given", "fill the cell in")
        return self.cells[column]

    def figure(self, column: str, name: str, unit: str) -> Quantity:
        """A plain number in a column whose name bears ``unit``, as the quantity of that name in ``ranges``."""
        text = self.text(column)
        if not PLAIN_NUMBER.fullmatch(text):
            hint = f"write '{text.replace(',', '.')}'" if "," in text else f"write the number alone, it counts {unit}"
            raise self.wrong(column, f"{text!r} is not a plain number", f"it must be a number of {unit}", hint)
        try:
            return read_plausible(f"{text} {unit}", name)
        except InputError as cause:
            raise self.wrong(column, cause.found, cause.needed, cause.remedy) from cause

    def length(self, column: str, name: str) -> Quantity:
        """A length in a column that ends in ``_mm``, as the quantity of that name in ``ranges``."""
        return self.figure(column, name, "mm")

    def length_or_none(self, column: str, name: str) -> Quantity | None:
        """The same, or None where the cell is empty."""
        return self.length(column, name) if self.cells.get(column) else None


def read_rows(
    path: Path,
    required: tuple[str, ...],
    optional: tuple[str, ...] = (),
    error: type[InputError] = CatalogueError,
) -> Iterator[Row]:
    """The rows of a CSV table; lines that start with # are comments. Raises ``error`` with file and line."""
    header: list[str] | None = None
    for line, text in enumerate(read_text(path).splitlines(), start=1):
        if not text.strip() or text.lstrip().startswith("#"):
            continue
        place = f"{path.name}, line {line}"
        try:
            cells = [cell.strip() for cell in next(csv.reader([text], strict=True))]
        except csv.Error as cause:
            raise error(place, f"it is not CSV ({cause})", "each quote must be closed", "mend the quotes") from cause
        if header is None:
            header = _checked_header(cells, required, optional, place, error)
        elif len(cells) != len(header):
            raise error(
                place, f"it has {len(cells)} cells", f"it must have {len(header)}, one per column",
                "part cells with commas, write decimals with a point and quote a text that holds a comma",
            )  # fmt: skip
        else:
            yield Row(path.name, line, dict(zip(header, cells, strict=True)), error)
    if header is None:
        raise error(
            path.name,
            "it is empty",
            f"its columns are {', '.join(required + optional)}",
            "write those you need as its first line",
        )


def _checked_header(
    cells: list[str],
    required: tuple[str, ...],
    optional: tuple[str, ...],
    place: str,
    error: type[InputError],
) -> list[str]:
    known = required + optional
    if len(cells) == 1 and re.search("[;\t|]", cells[0]):
        raise error(
            place,
            "its columns are not parted by commas",
            "it must be comma-separated",
            "save it as CSV with commas",
        )
    for cell in cells:
        if cell not in known:
            raise error(
                place,
                f"there is no column {cell!r}",
                f"the columns are {', '.join(known)}",
                near(cell, known),
            )
        if cells.count(cell) > 1:
            raise error(place, f"the column {cell!r} stands twice", "each column must stand once", "take one out")
    for column in required:
        if column not in cells:
            raise error(place, f"the column {column!r} is missing", f"it must have {', '.join(required)}", "add it")
    return cells
