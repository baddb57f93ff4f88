"""Stock-taking: what lies on the shelf against what the book says should."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from msgspec import Struct

from tubing.shelf.door import Connection
from tubing.shelf.entering import Operation, enter
from tubing.shelf.reading import check_free
from tubing.shelf.records import Entered, NewBar, ShelfBar, pm_of
from tubing.shelf.stock_changes import numbers_words


class Counted(Struct, frozen=True):
    """Equal bars that were found on the shelf."""

    tube: str
    length_mm: Fraction
    count: int
    number: int | None = None  # written on it; None: it was not looked at


class Difference(Struct, frozen=True):
    """What a count found otherwise than the book has it."""

    missing: tuple[ShelfBar, ...]  # by the book they should be there
    extra: tuple[Counted, ...]  # they are there, and not in the book

    @property
    def nothing(self) -> bool:
        """Whether shelf and book agree."""
        return not self.missing and not self.extra


def compared(bars: Sequence[ShelfBar], counted: Sequence[Counted]) -> Difference:
    """Bars with a number are held against that number, the others against any bar of their tube and length.

    A number whose bar is of another tube or length is missing as it stands in the book, and extra as it was found.
    """
    left = {bar.number: bar for bar in bars}
    extra: list[Counted] = []
    for row in counted:
        if row.number is not None:
            bar = left.get(row.number)
            if bar is not None and (bar.tube, bar.length_mm) == (row.tube, row.length_mm):
                del left[row.number]
            else:
                extra.append(row)
    for row in (row for row in counted if row.number is None):
        alike = [bar.number for bar in left.values() if (bar.tube, bar.length_mm) == (row.tube, row.length_mm)]
        for number in alike[: row.count]:
            del left[number]
        if row.count > len(alike):
            extra.append(Counted(row.tube, row.length_mm, row.count - len(alike)))
    return Difference(tuple(left.values()), tuple(extra))


def settle(connection: Connection, difference: Difference, key: str) -> Entered:
    """Make the book agree with a count: what is missing goes for scrap, what is more comes with a new number.

    Raises BookError for a missing bar that is kept for a job.
    """

    def write(operation: Operation) -> tuple[str, list[int]]:
        for bar in difference.missing:
            check_free(connection, bar.number)
            operation.move("shelf", "scrap", bar.number, pm_of(bar.length_mm, bar.tube))
        found = [NewBar(row.tube, row.length_mm) for row in difference.extra for _ in range(row.count)]
        numbers = [operation.comes(new) for new in found]
        said = [f"not found: {numbers_words([bar.number for bar in difference.missing])}"] if difference.missing else []
        said += [f"found: {numbers_words(numbers)}"] if numbers else []
        return f"counted: {'; '.join(said)}", numbers

    return enter(connection, key, "count", write)
