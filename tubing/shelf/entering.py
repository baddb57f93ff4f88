"""How an operation gets into the book: one transaction, one key, movements from place to place."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from datetime import datetime

import msgspec

from tubing.inputs.records import ReadyEnd
from tubing.shelf.door import Connection, transaction
from tubing.shelf.records import Entered, KeptPiece, NewBar, StockPlan, pm_of


class Operation:
    """One operation while it is being written."""

    def __init__(self, connection: Connection, number: int) -> None:
        self.number, self._connection = number, connection

    def number_given(self) -> int:
        """A number that no bar has had."""
        insert = "INSERT INTO given (operation) VALUES (?)"
        return int(self._connection.execute(insert, (self.number,)).lastrowid or 0)

    def bar(self, new: NewBar, number: int | None = None, cut_from: int | None = None) -> int:
        """A new bar in the book, so far at no place; its number."""
        number = self.number_given() if number is None else number
        row = (number, new.tube, pm_of(new.length_mm, new.tube), ends_text(new.ready_ends), new.price_cents, cut_from)
        self._connection.execute("INSERT INTO bar VALUES (?, ?, ?, ?, ?, ?, ?)", (*row, self.number))
        return number

    def comes(self, new: NewBar) -> int:
        """A new bar onto the shelf; its number. Raises InputError for a length without end of decimals."""
        number = self.bar(new)
        self.move("bought", "shelf", number, pm_of(new.length_mm, new.tube))
        return number

    def move(
        self,
        from_place: str,
        to_place: str,
        bar: int,
        length_pm: int,
        *,
        to_bar: int | None = None,
        keeping: int | None = None,
        piece: KeptPiece | None = None,
    ) -> None:
        """A length from one place to another, of one bar unless ``to_bar`` is what is left of it.

        ``keeping``: whose the place kept is. ``piece``: what the length is cut into.
        """
        whose = (None, None, None) if piece is None else (piece.vehicle.job, piece.vehicle.number, piece.name)
        self.move_as(from_place, bar, to_place, bar if to_bar is None else to_bar, length_pm, keeping, *whose)

    def move_as(self, *row: object) -> None:
        """A movement column by column: from place and bar, to place and bar, length, keeping, job, vehicle, piece."""
        self._connection.execute(
            "INSERT INTO movement (operation, from_place, from_bar, to_place, to_bar, length_pm, keeping, job, "
            "vehicle, piece) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (self.number, *row),
        )

    def keeping(self, plan: StockPlan) -> None:
        """This operation's stock plan."""
        text = msgspec.json.encode(plan).decode()
        self._connection.execute("INSERT INTO keeping VALUES (?, ?)", (self.number, text))

    def end(self, keeping: int) -> None:
        """A keeping is over: its bars are cut, free again, or kept by this operation."""
        self._connection.execute("INSERT INTO ended VALUES (?, ?)", (keeping, self.number))


def enter(
    connection: Connection,
    key: str,
    kind: str,
    write: Callable[[Operation], tuple[str, Sequence[int]]],
    *,
    undoes: int | None = None,
) -> Entered:
    """One operation into the book, whole or not at all. ``write`` makes its movements and says what was done.

    A key that stands in the book already changes nothing. What ``write`` raises leaves the book as it was.
    """
    with transaction(connection):
        row = connection.execute("SELECT number, said FROM operation WHERE key = ?", (key,)).fetchone()
        if row is not None:
            given = connection.execute("SELECT number FROM given WHERE operation = ? ORDER BY number", (row[0],))
            return Entered(row[0], row[1], tuple(number for (number,) in given), repeated=True)
        number = connection.execute("SELECT coalesce(max(number), 0) + 1 FROM operation").fetchone()[0]
        said, bars = write(Operation(connection, number))
        at = datetime.now().astimezone().isoformat(timespec="seconds")
        connection.execute("INSERT INTO operation VALUES (?, ?, ?, ?, ?, ?)", (number, key, kind, at, said, undoes))
    return Entered(number, said, tuple(bars))


def ends_text(ends: Sequence[ReadyEnd]) -> str:
    """Ready ends as the book keeps them.

    >>> ends_text([ReadyEnd("double", True)])
    '[{"flare": "double", "nut": true}]'
    """
    return json.dumps([{"flare": end.flare, "nut": end.nut} for end in ends])


def ends_of(text: str) -> tuple[ReadyEnd, ...]:
    """Ready ends from the book.

    >>> ends_of('[{"flare": "single", "nut": false}]')
    (ReadyEnd(flare='single', nut=False),)
    """
    return msgspec.json.decode(text, type=tuple[ReadyEnd, ...])
