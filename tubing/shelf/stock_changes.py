"""What can be done to the shelf: each operation whole or not at all, each with a key."""

from __future__ import annotations

from collections.abc import Sequence

from tubing.errors import BookError
from tubing.nesting.validate import millimetres
from tubing.shelf.door import Connection
from tubing.shelf.entering import Operation, enter
from tubing.shelf.reading import check_free, history, lies_pm
from tubing.shelf.records import Entered, NewBar, Past


def add(connection: Connection, bars: Sequence[NewBar], key: str, kind: str = "add") -> Entered:
    """Bars onto the shelf, each with a number of its own. Raises InputError for a length without end of decimals."""

    def write(operation: Operation) -> tuple[str, list[int]]:
        numbers = [operation.comes(new) for new in bars]
        return f"{_bars_words(bars)} came: {numbers_words(numbers)}", numbers

    return enter(connection, key, kind, write)


def scrap(connection: Connection, numbers: Sequence[int], key: str) -> Entered:
    """Bars off the shelf, for scrap. Raises BookError for a number that does not lie on the shelf."""

    def write(operation: Operation) -> tuple[str, list[int]]:
        for number in numbers:
            check_free(connection, number)
            operation.move("shelf", "scrap", number, length_pm(connection, number))
        return f"{numbers_words(numbers)} went for scrap", []

    return enter(connection, key, "scrap", write)


def undo(connection: Connection, number: int | None = None) -> Entered:
    """Take one operation back, None: the last that is not taken back, by movements the other way.

    Raises BookError: nothing to take back, an operation that is one already, or bars that have gone on since.
    """
    past = history(connection)
    taken = _to_undo(past, number)

    def write(operation: Operation) -> tuple[str, list[int]]:
        movements = connection.execute(
            "SELECT to_place, to_bar, from_place, from_bar, length_pm, keeping, job, vehicle, piece FROM movement "
            "WHERE operation = ? ORDER BY number DESC",
            (taken.number,),
        ).fetchall()
        for row in movements:
            if row[0] != "bought" and lies_pm(connection, row[1], row[0], row[5]) < row[4]:
                raise _gone_on(taken.number, row[1])
            operation.move_as(*row)
        return f"undone: {taken.said}", []

    return enter(connection, f"undo {taken.number}", "undo", write, undoes=taken.number)


def _gone_on(operation: int, bar: int) -> BookError:
    return BookError(
        f"operation {operation}",
        f"bar {bar} has gone on since",
        "what it moved must still lie where it was put",
        f"undo first what was done to bar {bar}: tubing shelf history {bar}",
    )


def _to_undo(past: Sequence[Past], number: int | None) -> Past:
    if number is None:
        for each in reversed(past):
            if each.kind != "undo" and each.undone_by is None:
                return each
        raise BookError(
            "shelf undo", "nothing is left to undo", "there must be an operation", "look at tubing shelf history"
        )
    found = next((each for each in past if each.number == number), None)
    if found is None:
        raise BookError(
            f"operation {number}",
            "there is none",
            f"it must be one of 1 to {len(past)}",
            "look at tubing shelf history",
        )
    if found.kind == "undo":
        raise BookError(
            f"operation {number}", "it took another back", "only what was done can be undone", "do that again instead"
        )
    return found


def length_pm(connection: Connection, number: int) -> int:
    """A bar's length, [pm]."""
    return int(connection.execute("SELECT length_pm FROM bar WHERE number = ?", (number,)).fetchone()[0])


def _bars_words(bars: Sequence[NewBar]) -> str:
    first = bars[0]
    if any((bar.tube, bar.length_mm) != (first.tube, first.length_mm) for bar in bars):
        return f"{len(bars)} bars"
    return f"{len(bars)} bar{'s' if len(bars) > 1 else ''} of {first.tube}, {millimetres(first.length_mm)},"


def numbers_words(numbers: Sequence[int]) -> str:
    """Bars by their numbers, those in a row from first to last.

    >>> numbers_words([3]), numbers_words([3, 4, 5, 9])
    ('bar 3', 'bars 3 to 5, 9')
    """
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    said = [f"{run[0]} to {run[-1]}" if len(run) > 2 else ", ".join(map(str, run)) for run in runs]
    return f"bar{'s' if len(numbers) > 1 else ''} {', '.join(said)}"
