"""What the book shows: always worked out from its movements."""

from __future__ import annotations

from tubing.errors import BookError
from tubing.shelf.door import Cursor
from tubing.shelf.entering import ends_of
from tubing.shelf.records import Past, ShelfBar, mm_of

ON_THE_SHELF = """
SELECT bar.number, bar.tube, bar.length_pm, bar.ready_ends, bar.price_cents, bar.cut_from, operation.at
FROM bar JOIN operation ON operation.number = bar.operation
WHERE (SELECT sum(length_pm) FROM entry WHERE entry.bar = bar.number AND place = 'shelf') > 0
ORDER BY bar.number
"""
HISTORY = """
SELECT done.number, done.kind, done.at, done.said, undo.number
FROM operation AS done LEFT JOIN operation AS undo ON undo.undoes = done.number
ORDER BY done.number
"""


def bars_on_shelf(connection: Cursor) -> tuple[ShelfBar, ...]:
    """The bars that lie on the shelf, by number."""
    return tuple(
        ShelfBar(number, tube, mm_of(length_pm), ends_of(ends), price_cents, cut_from, at[:10])
        for number, tube, length_pm, ends, price_cents, cut_from, at in connection.execute(ON_THE_SHELF)
    )


def history(connection: Cursor) -> tuple[Past, ...]:
    """Every operation, the first first."""
    return tuple(Past(*row) for row in connection.execute(HISTORY))


def place_of(connection: Cursor, number: int) -> str:
    """Where a bar lies: shelf, scrap, or bought where its coming was undone. Raises BookError: no such bar."""
    row = connection.execute(
        "SELECT place FROM entry WHERE bar = ? GROUP BY place HAVING sum(length_pm) > 0 ORDER BY place DESC", (number,)
    ).fetchone()
    if row is not None:
        return str(row[0])
    if connection.execute("SELECT 1 FROM bar WHERE number = ?", (number,)).fetchone():
        return "bought"
    raise BookError(f"bar {number}", "there is no such number", "it must be a bar in the book", "look at tubing shelf")
