"""The commands that keep the shelf's book: what is there, what came, what went, what was done."""

from __future__ import annotations

import hashlib
import re
import sys
import uuid
from collections.abc import Sequence
from pathlib import Path

from tubing.commands.output import path_or_none, print_data, print_sheet, show_of
from tubing.errors import BookError, InputError, JobError
from tubing.inputs.fields import money_of
from tubing.inputs.piece_lists import count_in, length_in
from tubing.inputs.ranges import read_plausible
from tubing.inputs.records import ReadyEnd, Shop
from tubing.inputs.shop_file import read_shop
from tubing.inputs.table_rows import Row, read_rows
from tubing.inputs.trials import check_named
from tubing.inputs.whole_files import new_file
from tubing.sheet import shelf_tables
from tubing.sheet.records import Sheet
from tubing.sheet.told_once import told_once
from tubing.sheet.words import sentence, visible
from tubing.shelf import stock_changes
from tubing.shelf.counting import Counted, compared, settle
from tubing.shelf.door import Connection, check_sound, copied, opened
from tubing.shelf.kept_bars import spoil
from tubing.shelf.reading import history, shelf
from tubing.shelf.records import Entered, NewBar
from tubing.units import exact_mm

MOST_BARS = 10_000  # that come at once
WHOLE = re.compile(r"[0-9]{1,9}")


def shop_with_book(word: str | None) -> tuple[Shop, Path]:
    """The shop, and its book's file. Raises BookError where it keeps none."""
    shop = read_shop(path_or_none(word))
    if not shop.book:
        raise BookError(
            word or "shop.toml",
            "it keeps no book of its shelf",
            "it must say [shelf] file",
            "tubing shelf start begins a book and writes that line",
        )
    return shop, Path(shop.book)


def show_shelf(word: str | None, *, as_json: bool) -> None:
    """``shelf``: what lies there, from the book or, where none is kept, from the shop's file."""
    shop = read_shop(path_or_none(word))
    if not shop.book:
        _show_listed(shop, word or "shop.toml", as_json=as_json)
        return
    path = Path(shop.book)
    with opened(path) as connection:
        now = shelf(connection, path)
    if as_json:
        from tubing.writers.shelf_data import shelf_data

        print_data(shelf_data(now))
        return
    table = told_once(shelf_tables.shelf_table(now, shop.money.currency), "mm")
    parts = (table, *shelf_tables.to_buy_lines(now))
    print_sheet(Sheet(f"The shelf, by {path.name}", parts))


def _show_listed(shop: Shop, name: str, *, as_json: bool) -> None:
    """The shelf that the shop's file lists, and the offer to keep a book of it."""
    if as_json:
        from tubing.writers.shelf_data import listed_data

        print_data(listed_data(shop))
        return
    print_sheet(Sheet(f"The shelf, by {name}", tuple(shelf_tables.listed_parts(shop))))


def add_bars(
    tube: str, length: str, word: str | None, *, bars: str, price: str | None, ready: Sequence[str], key: str | None
) -> None:
    """``shelf add``. Raises JobError and UnitError for words that mean nothing, and what writing the book raises."""
    shop, path = shop_with_book(word)
    check_named(tube, shop.catalogue.tubes, "tube", "tube", "tubes.csv")
    count = whole(bars, "--bars")
    if not 0 < count <= MOST_BARS:
        raise JobError("--bars", f"it is {bars}", f"it must be from 1 to {MOST_BARS}", "give how many came")
    new = NewBar(
        tube,
        exact_mm(read_plausible(length, "bar", "length")),
        tuple(sorted((ready_end(each) for each in ready), key=lambda end: (end.flare, end.nut))),
        None if price is None else _cents(price),
    )
    if len(new.ready_ends) > 2:
        raise JobError("--ready-end", f"it is given {len(ready)} times", "a bar has two ends", "give it twice at most")
    with opened(path) as connection:
        done = stock_changes.add(connection, [new] * count, key or f"add {uuid.uuid4()}")
    tell(done)
    if not done.repeated:
        sys.stdout.write(f"Write the number on each: {visible(stock_changes.numbers_words(done.bars))}.\n")


def ready_end(word: str) -> ReadyEnd:
    """``single``, ``double`` or either ``+ nut``, as the cut list says it. Raises JobError.

    >>> ready_end("double + nut")
    ReadyEnd(flare='double', nut=True)
    """
    match re.findall(r"[a-z]+", word.lower()):
        case ["single" | "double" as flare]:
            return ReadyEnd(flare, False)
        case ["single" | "double" as flare, "nut"]:
            return ReadyEnd(flare, True)
    raise JobError(
        "--ready-end", f"it is {word!r}", "it must be single, double, or one with a nut", "write 'double + nut'"
    )


def _cents(word: str) -> int:
    try:
        return int(money_of(word) * 100)
    except InputError as error:
        raise JobError("--price", error.found, error.needed, error.remedy) from None


def whole(word: str, thing: str) -> int:
    """A whole number. Raises JobError."""
    if not WHOLE.fullmatch(word):
        raise JobError(thing, f"it is {word!r}", "it must be a whole number", "write it like 12")
    return int(word)


def scrap_things(words: Sequence[str], word: str | None) -> None:
    """``shelf scrap``: bars by their numbers, or a job's file and cut pieces of it that are of no use."""
    _, path = shop_with_book(word)
    with opened(path) as connection:
        if words[0].lower().endswith(".toml"):
            tell(_spoiled(connection, path, words[0], words[1:]))
            return
        numbers = list(dict.fromkeys(whole(each, "number") for each in words))
        state = shelf(connection, path).state
        tell(stock_changes.scrap(connection, numbers, f"scrap {numbers} at {state}"))


def _spoiled(connection: Connection, path: Path, job: str, names: Sequence[str]) -> Entered:
    now = shelf(connection, path)
    called = now.job_name(Path(job))
    there = [piece for piece in now.cut if piece.vehicle.job == called]
    known = ", ".join(dict.fromkeys(piece.name for piece in there)) or "none"
    if not names:
        raise BookError(job, "no piece is named", f"the book has as cut: {known}", "name those that are of no use")
    pieces = []
    for name in names:
        found = next((piece for piece in reversed(there) if piece.name == name), None)
        if found is None:
            raise BookError(f"{job}, {name}", "it was not cut", f"the book has as cut: {known}", "name one of these")
        pieces.append(found)
    return spoil(connection, pieces, f"spoil {called} {names} at {now.state}")


def undo(number: str | None, word: str | None) -> None:
    """``shelf undo``."""
    _, path = shop_with_book(word)
    with opened(path) as connection:
        tell(stock_changes.undo(connection, None if number is None else whole(number, "operation")))


def show_history(bar: str | None, word: str | None) -> None:
    """``shelf history``."""
    _, path = shop_with_book(word)
    with opened(path) as connection:
        past = history(connection, None if bar is None else whole(bar, "bar"))
    title = f"History of {path.name}" if bar is None else f"History of bar {bar}"
    print_sheet(Sheet(title, (told_once(shelf_tables.history_table(past), "mm"),)))


def count_shelf(file: str, word: str | None, *, settling: bool) -> None:
    """``shelf count``: what a list found against what the book has; ``settling``: then the book is made to agree."""
    shop, path = shop_with_book(word)
    columns = ("number", "length", "length_mm", "quantity")
    rows = [_counted(row, shop) for row in read_rows(Path(file), ("tube",), columns, JobError)]
    _check_once(rows, file)
    with opened(path) as connection:
        now = shelf(connection, path)
        found = compared(now.bars, rows)
        print_sheet(Sheet(f"Count by {Path(file).name}", tuple(shelf_tables.count_parts(found, "Count"))))
        if not found.nothing and settling:
            text = hashlib.sha256(repr(rows).encode()).hexdigest()
            tell(settle(connection, found, f"count {text} at {now.state}"))
        elif not found.nothing:
            sys.stdout.write(
                "Nothing was changed. Count again, or add --settle: the book then agrees with the count.\n"
            )


def _counted(row: Row, shop: Shop) -> Counted:
    tube = row.text("tube")
    if tube not in shop.catalogue.tubes:
        check_named(tube, shop.catalogue.tubes, f"{row.file}, line {row.line}, tube", "tube", "tubes.csv")
    count = count_in(row) if row.cells.get("quantity") else 1
    number = row.cells.get("number") or None
    if number is not None and count != 1:
        raise row.wrong("quantity", f"it is {count}", "a bar with a number is one", "give each number a line")
    if number is not None and not WHOLE.fullmatch(number):
        raise row.wrong(
            "number", f"it is {number!r}", "it must be what is written on the bar", "leave it empty if none is"
        )
    return Counted(tube, exact_mm(length_in(row, "bar")), count, None if number is None else int(number))


def _check_once(rows: Sequence[Counted], file: str) -> None:
    """Raises JobError where a number stands twice."""
    numbers = [row.number for row in rows if row.number is not None]
    for number in numbers:
        if numbers.count(number) > 1:
            raise JobError(
                f"{Path(file).name}, number {number}",
                "it stands twice",
                "each bar has a number of its own",
                "look again",
            )


def write_labels(numbers: Sequence[str], to: str, word: str | None, show: str) -> None:
    """``shelf labels``: a page of labels for bars on the shelf, all of them where none is named."""
    from tubing.writers.page import labels_page

    shown = show_of(show)
    _, path = shop_with_book(word)
    with opened(path) as connection:
        there = {bar.number: bar for bar in shelf(connection, path).bars}
    wanted = list(dict.fromkeys(whole(each, "number") for each in numbers)) or list(there)
    for number in wanted:
        if number not in there:
            raise BookError(f"bar {number}", "it does not lie on the shelf", "it must", "look at tubing shelf")
    page = labels_page(shelf_tables.shelf_labels([there[number] for number in wanted], shown))
    new_file(Path(to), page)
    sys.stdout.write(f"{visible(to)}: {len(wanted)} labels; print them at 100 %\n")


def copy_book(to: str, word: str | None) -> None:
    """``shelf copy``."""
    _, path = shop_with_book(word)
    with opened(path) as connection:
        check_sound(connection, path)
        copied(connection, path, Path(to))
    sys.stdout.write(f"{visible(to)}: a copy of {visible(path.name)}, checked\n")


def tell(done: Entered) -> None:
    """What an operation did, or that it stood in the book already."""
    before = "Nothing was changed, it stands in the book already: " if done.repeated else ""
    sys.stdout.write(f"{done.operation}  {before}{visible(sentence(done.said))}\n")
