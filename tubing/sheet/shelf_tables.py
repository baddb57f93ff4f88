"""What the shelf's book says: the bars that are there, its history, a count, what is to be bought."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from fractions import Fraction

from msgspec import Struct

from tubing.cost import decimals
from tubing.inputs.records import Shop
from tubing.nesting import Bar, Nest
from tubing.nesting.validate import millimetres
from tubing.sheet.records import Cell, Column, Lines, Part, Show, Table
from tubing.sheet.words import end_text, listed, money_text, short_length
from tubing.shelf.counting import Difference
from tubing.shelf.records import KeptBar, Past, Shelf, ShelfBar, mm_of
from tubing.units import exact_mm

NUMBER, TUBE, LENGTH = Column("number"), Column("tube"), Column("length", "mm", 2)


def shelf_table(shelf: Shelf, currency: str) -> Table:
    """The bars on the shelf, each with the number that is written on it."""
    kept_for = {keeping.number: keeping.plan.vehicles for keeping in shelf.keepings}
    rows = tuple(
        (
            bar.number,
            bar.tube,
            bar.length_mm,
            ends_words(bar) or None,
            "free" if bar.keeping is None else f"kept for {listed([v.called for v in kept_for[bar.keeping]])}",
            bar.since,
            _from_words(bar) if bar.price_cents is None else f"bought, {money_text(bar.price_cents)} {currency}",
        )
        for bar in shelf.bars
    )
    return Table(
        "Shelf",
        (
            NUMBER,
            TUBE,
            LENGTH,
            Column("ready ends"),
            Column("for whom"),
            Column("since"),
            Column("comes from"),
        ),
        rows,
        after=() if rows else ("Nothing lies on the shelf. tubing shelf add brings bars into the book.",),
    )


def _money(cents: int) -> Decimal:
    return Decimal(cents).scaleb(-2)


def _from_words(bar: ShelfBar) -> str:
    if bar.cut_from is None:
        return "bought" if bar.price_cents is not None else "found"
    return f"bar {bar.cut_from}, {bar.from_job}" if bar.from_job else f"bar {bar.cut_from}"


def ends_words(bar: ShelfBar | KeptBar) -> str:
    """The ready ends of a bar in words; empty for a plain one."""
    return " and ".join(end_text(end) for end in bar.ready_ends)


def listed_parts(shop: Shop) -> list[Part]:
    """The shelf of a shop that keeps no book, and how to begin one."""
    bars = [bar for bar in shop.stock if bar.on_shelf]
    rows = tuple((bar.bars or 1, bar.tube, bar.length, " and ".join(map(end_text, bar.ready_ends))) for bar in bars)
    table = Table(
        "Shelf",
        (Column("bars"), TUBE, LENGTH, Column("ready ends")),
        tuple((count, tube, exact_mm(length), ends) for count, tube, length, ends in rows),
    )
    said = (
        "The shop's file lists this shelf, and sawing takes nothing off it: two jobs may be given the same bar.",
        "tubing shelf start FILE begins a book, takes these bars over, and writes its name into the shop's file.",
    )
    return [*([table] if rows else []), Lines("No book is kept", said)]


def to_buy_lines(shelf: Shelf) -> list[Part]:
    """The new bars that are kept for somebody before they were bought."""
    said = []
    for keeping in shelf.keepings:
        new = [bar for bar in keeping.plan.bars if bar.number is None]
        if new:
            bars = listed([f"{bar.tube}, {millimetres(mm_of(bar.length_pm))}" for bar in new])
            said.append(f"For {listed([v.called for v in keeping.plan.vehicles])}: {bars}.")
    return [Lines("Still to buy", tuple(said))] if said else []


def history_table(past: Sequence[Past], title: str = "History") -> Table:
    """What was done, the last first."""
    rows = tuple(
        (each.number, each.at[:16].replace("T", " "), each.said, None if each.undone_by is None else each.undone_by)
        for each in reversed(past)
    )
    return Table(title, (NUMBER, Column("when"), Column("what"), Column("undone by")), rows)


def count_parts(difference: Difference, title: str) -> list[Part]:
    """What a count found otherwise than the book has it."""
    if difference.nothing:
        return [Lines(title, ("Shelf and book agree.",))]
    parts: list[Part] = []
    if difference.missing:
        rows = tuple((bar.number, bar.tube, bar.length_mm) for bar in difference.missing)
        parts.append(Table("In the book, and not found", (NUMBER, TUBE, LENGTH), rows))
    if difference.extra:
        extra = tuple((row.count, row.number, row.tube, row.length_mm) for row in difference.extra)
        columns = (Column("count"), Column("number on it"), TUBE, LENGTH)
        parts.append(Table("Found, and not so in the book", columns, extra))
    return parts


class Label(Struct, frozen=True):
    """What is printed for one bar, to stick on it."""

    number: int
    tube: str
    length: str
    ends: str
    whence: str  # where it comes from


def shelf_labels(bars: Sequence[ShelfBar], show: Show = "mm") -> list[Label]:
    """Labels of bars that lie on the shelf."""
    return [
        Label(
            bar.number, bar.tube, short_length(bar.length_mm, show), ends_words(bar), f"{_from_words(bar)}, {bar.since}"
        )
        for bar in bars
    ]


def offcut_labels(nested: Nest, called: str, show: Show) -> list[Label]:
    """Labels for what will be left of the bars of a plan that is kept. ``called``: the plan, in words."""
    return [
        Label(
            bar.offcut_number,
            bar.stock.size,
            short_length(bar.left_mm, show),
            " and ".join(end_text(end) for end in bar.ends_left),
            called,
        )
        for bar in nested.bars
        if bar.offcut_number is not None
    ]


def offcut_lines(bars: Sequence[KeptBar]) -> list[str]:
    """What to write on what will be left of each bar."""
    return [
        f"Write {bar.offcut} on what is left of {'a new bar' if bar.number is None else f'bar {bar.number}'}: "
        f"{bar.tube}, {millimetres(mm_of(bar.left_pm))}."
        for bar in bars
        if bar.left_is_kept and bar.offcut is not None
    ]


def bars_to_buy(bars: Sequence[Bar], currency: str) -> Part:
    """New bars to buy, equal ones together, and which bars of the shelf are taken."""
    count: dict[tuple[str, Fraction, int], int] = {}
    for bar in bars:
        if not bar.stock.on_shelf:
            key = (bar.stock.size, bar.stock.length_mm, bar.stock.price_cents)
            count[key] = count.get(key, 0) + bar.count
    rows: list[tuple[Cell, ...]] = [
        (number, tube, length_mm, _money(cents), _money(number * cents))
        for (tube, length_mm, cents), number in count.items()
    ]
    numbers = sorted(bar.stock.number for bar in bars if bar.stock.number is not None)
    after = [f"From the shelf: {listed([str(number) for number in numbers])}."] if numbers else []
    total = sum(number * cents for (_, _, cents), number in count.items())
    if not rows:
        return Lines("Tube to buy", (*after, "No new tube."))
    after.append(f"New tube together: {money_text(total)} {currency}.")
    return Table(
        "Tube to buy",
        (Column("bars"), TUBE, LENGTH, Column("each", currency), Column("together", currency)),
        tuple(rows),
        after=tuple(after),
    )


def parts_to_buy(parts: Mapping[tuple[str, str], tuple[Fraction, Decimal | None]], currency: str) -> Table:
    """Parts of several vehicles together. ``parts``: by name and unit, how many or how much, and what it costs."""
    rows = tuple(
        (what, Decimal(decimals(quantity, 0, 3)), unit, "no price" if amount is None else amount)
        for (what, unit), (quantity, amount) in parts.items()
    )
    return Table("Parts to buy", (Column("part"), Column("quantity"), Column("unit"), Column("amount", currency)), rows)
