"""Bars kept for the vehicles of a stock plan, freed again, cut; and a cut piece that was spoiled."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

from msgspec.structs import replace

from tubing.errors import BookError
from tubing.shelf.door import Connection
from tubing.shelf.entering import Operation, ends_text, enter
from tubing.shelf.reading import check_free, jobs_words, live_keepings
from tubing.shelf.records import CutPiece, Entered, Keeping, KeptBar, NewBar, StockPlan, Vehicle, mm_of, pm_of
from tubing.shelf.stock_changes import numbers_words

Written = tuple[str, Sequence[int]]


def keep(connection: Connection, plan: StockPlan, key: str) -> Entered:
    """Keep a stock plan's bars for its vehicles; what was kept for them before is freed in the same operation.

    What will be left of a bar gets its number; one that was promised before stays. Raises BookError for a bar that is
    no longer free, or an earlier keeping that is for other vehicles as well.
    """

    def write(operation: Operation) -> Written:
        before = keepings_of(connection, plan.vehicles)
        for keeping in before:
            _release(operation, keeping)
        for bar in plan.bars:
            if bar.number is not None:
                check_free(connection, bar.number)
                operation.move("shelf", "kept", bar.number, bar.length_pm, keeping=operation.number)
        promised = {bar.number: bar.offcut for keeping in before for bar in keeping.plan.bars if bar.number is not None}
        bars = [
            _with_offcut(bar, None if bar.number is None else promised.get(bar.number), operation) for bar in plan.bars
        ]
        kept = replace(plan, bars=tuple(bars))
        operation.keeping(kept)
        return _kept_words(kept), [bar.offcut for bar in bars if bar.offcut is not None]

    return enter(connection, key, "keep", write)


def _with_offcut(bar: KeptBar, promised: int | None, operation: Operation) -> KeptBar:
    if not bar.left_is_kept:
        return replace(bar, offcut=None)
    return replace(bar, offcut=operation.number_given() if promised is None else promised)


def _release(operation: Operation, keeping: Keeping) -> None:
    """All that is kept goes back to the shelf."""
    for bar in keeping.plan.bars:
        if bar.number is not None:
            operation.move("kept", "shelf", bar.number, bar.length_pm, keeping=keeping.number)
    operation.end(keeping.number)


def _kept_words(plan: StockPlan) -> str:
    numbers = [bar.number for bar in plan.bars if bar.number is not None]
    bought = sum(bar.number is None for bar in plan.bars)
    said = [f"{numbers_words(numbers)} kept"] if numbers else []
    said += [f"{bought} new {'bar' if bought == 1 else 'bars'} to buy"] if bought else []
    return f"for {jobs_words(plan.vehicles)}: {', '.join(said)}"


def free(connection: Connection, vehicles: Collection[Vehicle], key: str) -> Entered:
    """What is kept for some vehicles is free again. Raises BookError: nothing is, or it is for others as well."""

    def write(operation: Operation) -> Written:
        kept = keepings_of(connection, vehicles)
        if not kept:
            raise not_kept(jobs_words(tuple(vehicles)))
        for keeping in kept:
            _release(operation, keeping)
        numbers = [bar.number for keeping in kept for bar in keeping.plan.bars if bar.number is not None]
        said = f"{numbers_words(numbers)} free again" if numbers else "no bar was kept yet"
        return f"{jobs_words(tuple(vehicles))} freed: {said}", []

    return enter(connection, key, "free", write)


def cut(connection: Connection, kept: Sequence[Keeping], key: str) -> Entered:
    """The bars of some keepings are sawn up: pieces, offcuts with their numbers, scrap.

    A bar that was still to be bought is an equal one that came meanwhile, else it is bought now. ``kept``: keepings of
    the book, their bars as they are really sawn. Raises BookError for one that is over meanwhile.
    """

    def write(operation: Operation) -> Written:
        live = {keeping.number for keeping in live_keepings(connection)}
        said: list[str] = []
        offcuts: list[int] = []
        for keeping in kept:
            if keeping.number not in live:
                raise not_kept(jobs_words(keeping.plan.vehicles))
            sawn = [_cut_bar(connection, operation, keeping.number, bar) for bar in keeping.plan.bars]
            operation.end(keeping.number)
            offcuts += [left for _, left in sawn if left is not None]
            numbers = numbers_words([number for number, _ in sawn])
            said.append(f"{numbers} for {jobs_words(keeping.plan.vehicles)}")
        left_over = f"; left over: {numbers_words(offcuts)}" if offcuts else ""
        return f"cut {', '.join(said)}{left_over}", offcuts

    return enter(connection, key, "cut", write)


def _cut_bar(connection: Connection, operation: Operation, keeping: int, bar: KeptBar) -> tuple[int, int | None]:
    """The number of the bar that was sawn, and that of what is left of it."""
    number = _taken(connection, operation, keeping, bar) if bar.number is None else bar.number
    rest_pm, left = bar.length_pm, None
    for piece in bar.pieces:
        operation.move("kept", "cut", number, piece.length_pm, keeping=keeping, piece=piece)
        rest_pm -= piece.length_pm
    if bar.left_is_kept:
        left = _left_over(connection, operation, number, bar)
        operation.move("kept", "shelf", number, bar.left_pm, to_bar=left, keeping=keeping)
        rest_pm -= bar.left_pm
    if rest_pm:
        operation.move("kept", "scrap", number, rest_pm, keeping=keeping)
    return number, left


def _left_over(connection: Connection, operation: Operation, cut_from: int, bar: KeptBar) -> int:
    """The number of what is left of a bar: the one that was promised, unless that stands for another length."""
    new = NewBar(bar.tube, mm_of(bar.left_pm), bar.ends_left)
    known = connection.execute("SELECT length_pm, cut_from FROM bar WHERE number = ?", (bar.offcut,)).fetchone()
    if known is None:
        return operation.bar(new, bar.offcut, cut_from=cut_from)
    if known == (bar.left_pm, cut_from):  # it was cut before, and that was undone
        return int(bar.offcut or 0)
    return operation.bar(new, cut_from=cut_from)


EQUAL = """
SELECT number FROM bar WHERE tube = ? AND length_pm = ? AND ready_ends = ?
    AND (SELECT sum(length_pm) FROM entry WHERE entry.bar = bar.number AND place = 'shelf') > 0
ORDER BY number
"""


def _taken(connection: Connection, operation: Operation, keeping: int, bar: KeptBar) -> int:
    """A bar that was still to be bought: one that came to the shelf meanwhile, else a new one."""
    row = connection.execute(EQUAL, (bar.tube, bar.length_pm, ends_text(bar.ready_ends))).fetchone()
    if row is not None:
        operation.move("shelf", "kept", row[0], bar.length_pm, keeping=keeping)
        return int(row[0])
    number = operation.bar(NewBar(bar.tube, mm_of(bar.length_pm), bar.ready_ends, bar.price_cents))
    operation.move("bought", "kept", number, bar.length_pm, keeping=keeping)
    return number


def spoil(connection: Connection, pieces: Sequence[CutPiece], key: str) -> Entered:
    """Cut pieces that are of no use go for scrap, so that they are cut anew."""

    def write(operation: Operation) -> Written:
        for piece in pieces:
            whose = (piece.vehicle.job, piece.vehicle.number, piece.name)
            length = pm_of(piece.length_mm, piece.name)
            operation.move_as("cut", piece.bar, "scrap", piece.bar, length, piece.keeping, *whose)
        names = ", ".join(f"{piece.name} of {piece.vehicle.called}" for piece in pieces)
        return f"{names} went for scrap", []

    return enter(connection, key, "spoil", write)


def keepings_of(connection: Connection, vehicles: Collection[Vehicle]) -> list[Keeping]:
    """What is kept for any of some vehicles. Raises BookError where it is kept for others as well."""
    found = [k for k in live_keepings(connection) if not set(k.plan.vehicles).isdisjoint(vehicles)]
    for keeping in found:
        others = tuple(vehicle for vehicle in keeping.plan.vehicles if vehicle not in vehicles)
        if others:
            mine = next(vehicle for vehicle in keeping.plan.vehicles if vehicle in vehicles)
            raise BookError(
                mine.called,
                f"its bars are kept for {' and '.join(other.called for other in others)} as well",
                "a bar that they share can only go with all of them",
                "name all of them in one command",
            )
    return found


def not_kept(whose: str) -> BookError:
    """What is said where no bar is kept for some jobs or a vehicle."""
    return BookError(whose, "no bar is kept for it", "it must have been kept", "tubing shelf keep comes first")


def as_sawn(bar: KeptBar, lengths_pm: Mapping[tuple[Vehicle, str], int], kerf_pm: int, keep_from_pm: int) -> KeptBar:
    """A kept bar with the lengths that some of its pieces were really cut to; what is left changes by as much.

    Raises BookError where the bar is too short for that.
    """
    pieces = [replace(p, length_pm=lengths_pm.get((p.vehicle, p.name), p.length_pm)) for p in bar.pieces]
    longer_pm = sum(piece.length_pm for piece in pieces) - sum(piece.length_pm for piece in bar.pieces)
    if not longer_pm:
        return bar
    if longer_pm > bar.left_pm + kerf_pm:
        raise BookError(
            f"bar {bar.number}" if bar.number else "a new bar",
            f"its pieces were cut {float(mm_of(longer_pm)):g} mm longer than planned",
            f"only {float(mm_of(bar.left_pm)):g} mm were left of it",
            "check the lengths under [[cut]] in the job",
        )
    left_pm = max(0, bar.left_pm - longer_pm)
    return replace(bar, pieces=tuple(pieces), left_pm=left_pm, left_is_kept=left_pm >= keep_from_pm)
