"""What the book shows: always worked out from its movements."""

from __future__ import annotations

from pathlib import Path

import msgspec
from msgspec.structs import replace

from tubing.errors import BookError
from tubing.shelf.door import Connection, one_moment
from tubing.shelf.entering import ends_of
from tubing.shelf.records import CutPiece, Keeping, KeptBar, Past, Shelf, ShelfBar, StockPlan, Vehicle, mm_of

ON_THE_SHELF = """
SELECT bar.number, bar.tube, bar.length_pm, bar.ready_ends, bar.price_cents, bar.cut_from, operation.at, lying.keeping,
    coalesce((SELECT group_concat(DISTINCT job) FROM movement WHERE to_place = 'cut' AND from_bar = bar.cut_from), '')
FROM (SELECT bar, keeping FROM entry WHERE place IN ('shelf', 'kept') GROUP BY bar, place, keeping
    HAVING sum(length_pm) > 0) AS lying
JOIN bar ON bar.number = lying.bar JOIN operation ON operation.number = bar.operation
ORDER BY bar.number
"""
UNDONE = "SELECT undoes FROM operation WHERE undoes IS NOT NULL"
LIVE = f"""
SELECT operation.number, operation.at, keeping.stock_plan
FROM keeping JOIN operation ON operation.number = keeping.operation
WHERE operation.number NOT IN ({UNDONE})
    AND operation.number NOT IN (SELECT keeping FROM ended WHERE operation NOT IN ({UNDONE}))
ORDER BY operation.number
"""
CUT = """
SELECT keeping, job, vehicle, piece, to_bar, sum(CASE WHEN to_place = 'cut' THEN length_pm ELSE -length_pm END),
    sum(CASE 'kept' WHEN from_place THEN length_pm WHEN to_place THEN -length_pm ELSE 0 END)
FROM movement WHERE piece IS NOT NULL
GROUP BY keeping, job, vehicle, piece, to_bar ORDER BY keeping, job, vehicle, piece
"""
HISTORY = """
SELECT done.number, done.kind, done.at, done.said, undo.number
FROM operation AS done LEFT JOIN operation AS undo ON undo.undoes = done.number
ORDER BY done.number
"""


def shelf(connection: Connection, path: Path) -> Shelf:
    """The whole book at one moment."""
    with one_moment(connection):
        state = connection.execute("SELECT coalesce(max(number), 0) FROM operation").fetchone()[0]
        bars = tuple(
            ShelfBar(number, tube, mm_of(length), ends_of(ends), price, cut_from, at[:10], keeping, job)
            for number, tube, length, ends, price, cut_from, at, keeping, job in connection.execute(ON_THE_SHELF)
        )
        sawn = connection.execute(CUT).fetchall()
        pieces = tuple(
            CutPiece(Vehicle(job, vehicle), name, keeping, bar, mm_of(length))
            for keeping, job, vehicle, name, bar, length, _ in sawn
            if length > 0
        )
        was_cut = {(row[0], row[1], row[2], row[3]): row[4] for row in sawn if row[6] > 0}
        return Shelf(
            folder=str(path.resolve().parent),
            state=state,
            bars=bars,
            keepings=live_keepings(connection),
            cut=pieces,
            sawn=_sawn(connection, was_cut),
        )


def live_keepings(connection: Connection) -> tuple[Keeping, ...]:
    """The keepings that were neither cut nor freed, the first first."""
    return tuple(Keeping(number, at[:10], _stock_plan(text)) for number, at, text in connection.execute(LIVE))


def _stock_plan(text: str) -> StockPlan:
    return msgspec.json.decode(text, type=StockPlan)


def _sawn(connection: Connection, bar_of: dict[tuple[int, str, int, str], int]) -> tuple[KeptBar, ...]:
    """The bars that were cut, each with its number and price. ``bar_of``: by keeping, job, vehicle and piece."""
    prices = dict(connection.execute("SELECT number, price_cents FROM bar"))
    bars = []
    for keeping in sorted({key[0] for key in bar_of}):
        text = connection.execute("SELECT stock_plan FROM keeping WHERE operation = ?", (keeping,)).fetchone()[0]
        for bar in _stock_plan(text).bars:
            piece = bar.pieces[0]
            number = bar_of[keeping, piece.vehicle.job, piece.vehicle.number, piece.name]
            paid = prices[number]
            bars.append(replace(bar, number=number, price_cents=bar.price_cents if paid is None else paid))
    return tuple(bars)


def history(connection: Connection, bar: int | None = None) -> tuple[Past, ...]:
    """Every operation, the first first; of one bar, those that moved it. Raises BookError: no such bar."""
    if bar is None:
        return tuple(Past(*row) for row in connection.execute(HISTORY))
    place_of(connection, bar)
    moved = "SELECT DISTINCT operation FROM movement WHERE from_bar = ? OR to_bar = ?"
    numbers = {number for (number,) in connection.execute(moved, (bar, bar))}
    return tuple(past for past in history(connection) if past.number in numbers)


def lies_pm(connection: Connection, bar: int, place: str, keeping: int | None = None) -> int:
    """How much of a bar lies at a place, [pm]; at kept, for this keeping."""
    whose = keeping if place == "kept" else None
    sum_of = "SELECT coalesce(sum(length_pm), 0) FROM entry WHERE bar = ? AND place = ? AND keeping IS ?"
    return int(connection.execute(sum_of, (bar, place, whose)).fetchone()[0])


def place_of(connection: Connection, number: int) -> tuple[str, int | None]:
    """Where a bar lies, and for which keeping; cut where most of it went into pieces; bought where its coming was
    undone.

    Raises BookError: no such bar.
    """
    rows = connection.execute(
        "SELECT place, keeping FROM entry WHERE bar = ? GROUP BY place, keeping HAVING sum(length_pm) > 0", (number,)
    ).fetchall()
    for place in ("shelf", "kept", "cut", "scrap"):
        for found, keeping in rows:
            if found == place:
                return place, keeping
    if connection.execute("SELECT 1 FROM bar WHERE number = ?", (number,)).fetchone():
        return "bought", None
    raise BookError(f"bar {number}", "there is no such number", "it must be a bar in the book", "look at tubing shelf")


def check_free(connection: Connection, number: int) -> None:
    """Raises BookError unless the bar lies on the shelf and is kept for nobody."""
    place, keeping = place_of(connection, number)
    if place == "shelf":
        return
    if keeping is not None:
        kept = next(each for each in live_keepings(connection) if each.number == keeping)
        raise BookError(
            f"bar {number}", f"it is kept for {jobs_words(kept.plan.vehicles)}", "it must be free",
            f"take another, or free it first: tubing shelf free {kept.plan.vehicles[0].job}",
        )  # fmt: skip
    where = {"scrap": "it went for scrap", "bought": "its coming was undone", "cut": "it was cut"}[place]
    raise BookError(f"bar {number}", where, "it must lie on the shelf", f"look at tubing shelf history {number}")


def jobs_words(vehicles: tuple[Vehicle, ...]) -> str:
    """The jobs of some vehicles, each once.

    >>> jobs_words((Vehicle("van.toml"), Vehicle("van.toml", 2), Vehicle("launch.toml")))
    'van.toml and launch.toml'
    """
    jobs = list(dict.fromkeys(vehicle.job for vehicle in vehicles))
    return jobs[0] if len(jobs) == 1 else f"{', '.join(jobs[:-1])} and {jobs[-1]}"
