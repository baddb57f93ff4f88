"""The command that cuts the pieces of several jobs and lists from one stock."""

from __future__ import annotations

import re
import sys
import time
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from fractions import Fraction
from pathlib import Path

from msgspec import Struct
from msgspec.structs import replace

from tubing.commands.output import naming_files, path_or_none, print_data, print_sheet, show_of
from tubing.errors import InputError, InterruptError, JobError
from tubing.inputs.job_file import read_job
from tubing.inputs.piece_lists import read_list
from tubing.inputs.ranges import Sign, measure
from tubing.inputs.records import ListedPiece, Shop
from tubing.inputs.shop_file import read_shop
from tubing.inputs.table_rows import near
from tubing.nesting import Item, Nest, Progress, Stock
from tubing.plan import LaidOut, laid_out, on_bars
from tubing.plan.facts import cutting_of, stocks_of
from tubing.plan.from_shelf import stock_plan_by_book
from tubing.plan.together import OnBars, labelled, stock_plan, told_apart
from tubing.sheet.records import Lines, Sheet
from tubing.shelf.of_shop import book_for_files, shelf_of
from tubing.shelf.records import ByBook
from tubing.units import Kind, Quantity, exact_mm

JOB_SUFFIX, LIST_SUFFIX = ".toml", ".csv"
PRICED = re.compile(r"(?P<length>[^@]*)(@(?P<price>.*))?")
MONEY = re.compile(r"[0-9]{1,9}(\.[0-9]{1,2})?")
SECONDS = re.compile(r"-?[0-9]+(\.[0-9]+)?")
ONE_SIZE = "tube"  # what pieces are called whose list gives no size, when the stock is given on the command line
FIRST_PLAN_S = 1e-9  # so little time that the plan made before any search is the answer
ONE_A_MM_CENTS = 100  # the price of a mm where none is given
QUIET_S = 1.0  # a solve shorter than this says nothing of its progress
EVERY_S = 0.5  # between two words of progress
UNCHANGED_S = 5.0  # between two that say the same


class Asked(Struct, frozen=True):
    """The words of the command."""

    files: tuple[str, ...]
    stock: tuple[str, ...]
    kerf: str | None
    time_limit: str
    shop: str | None


class Source(Struct, frozen=True):
    """One vehicle of a job, or one list."""

    path: Path
    name: str
    vehicle: LaidOut | None = None  # None: a list
    items: tuple[Item, ...] = ()  # of a list


def nest_files(asked: Asked, *, as_json: bool, show: str) -> None:
    """``nest``. Raises what reading and nesting raise, and InterruptError after printing the best plan so far."""
    shown = show_of(show)
    shop = read_shop(path_or_none(asked.shop))
    cutting = cutting_of(shop)
    if asked.kerf is not None:
        cutting = replace(cutting, kerf_mm=exact_mm(_length(asked.kerf, "--kerf", Sign.NOT_NEGATIVE)))
    limit_s = _seconds(asked.time_limit)
    lengths = _given_stock(asked.stock)
    known = None if lengths else _stocked(shop)
    sources = _sources(asked.files, shop, path_or_none(asked.shop), known)
    book = None if lengths else _book(sources, shop)
    vehicles, rows = _together(sources, shop, book)
    sizes = {row.size for row in rows} | {vehicle.job.tube.stock for vehicle in vehicles}
    stocks, currency = _stocks(lengths, sorted(sizes), shop)
    if currency is None:
        cutting = replace(cutting, offcuts=replace(cutting.offcuts, value_cents_per_metre=Fraction(0)))
    teller = _teller()
    settle: Mapping[str, Sequence[str]] = {}
    with naming_files(None, path_or_none(asked.shop), stock_in="--stock" if lengths else None):
        if book is None:
            found = stock_plan(vehicles, shop, stocks, cutting, more=rows, time_limit_s=limit_s, progress=teller)
        else:
            by_book = stock_plan_by_book(
                vehicles, shop, book.shelf, cutting, more=rows, time_limit_s=limit_s, progress=teller
            )
            found, settle = by_book.nest, by_book.said
    of_file = Counter(each.path.name for each in sources)
    _print(found, currency, as_json, lambda: _sheet(found, currency, cutting.kerf_mm, of_file, shown, settle))
    if found.interrupted:
        raise InterruptError(
            "nest",
            "stopped from the keyboard",
            "the plan printed is the best so far",
            "start it again for a better one",
        )


def _print(found: Nest, currency: str | None, as_json: bool, sheet: Callable[[], Sheet]) -> None:
    if not as_json:
        print_sheet(sheet())
        return
    from tubing.writers.plan_data import nest_data

    print_data(nest_data(found, currency))


def _sheet(
    found: Nest,
    currency: str | None,
    kerf_mm: Fraction,
    count: Counter[str],
    show: str,
    settle: Mapping[str, Sequence[str]],
) -> Sheet:
    """``settle``: what the shelf's book makes the fitter settle first, by vehicle."""
    from tubing.sheet.bars import bars_table, for_together, saw_list
    from tubing.sheet.told_once import told_once

    shown = show_of(show)
    names = [f"{number} of {name}" if number > 1 else name for name, number in count.items()]
    several_with_jobs = sum(count.values()) > 1 and any(Path(name).suffix.lower() == JOB_SUFFIX for name in count)
    whose = for_together(names) if several_with_jobs else ""
    title = f"Cutting plan for {', '.join(names)}"
    said = tuple(f"{label}: {text}" if label else text for label, texts in settle.items() for text in texts)
    first = (Lines("To settle first", said),) if said else ()
    return Sheet(title, (*first, bars_table(found, currency, whose), told_once(saw_list(found, kerf_mm), shown)), shown)


def _stocked(shop: Shop) -> list[str]:
    """The tubes that the shop can buy or has on its shelf."""
    now = shelf_of(shop)
    return sorted({bar.tube for bar in shop.stock} | {bar.tube for bar in (() if now is None else now.bars)})


def _sources(files: Sequence[str], shop: Shop, shop_path: Path | None, known: Sequence[str] | None) -> list[Source]:
    """The pieces of every file, in order; a file that is named twice is a job of two vehicles, or a list cut twice.

    ``known``: the tubes that there are; None: the stock is given on the command line.
    """
    paths = [Path(name) for name in files]
    for path in paths:
        if path.suffix.lower() not in (JOB_SUFFIX, LIST_SUFFIX):
            raise JobError(
                str(path),
                f"its name ends in {path.suffix!r}" if path.suffix else "its name has no ending",
                "it must be a job, .toml, or a list, .csv",
                "rename it for what it is",
            )
    lists = {path: read_list(path) for path in paths if path.suffix.lower() == LIST_SUFFIX}
    jobs = {path: _vehicles(path, shop, shop_path) for path in paths if path not in lists}
    sizes = {row.size for rows in lists.values() for row in rows if row.size is not None}
    sizes |= {each.vehicle.job.tube.stock for sources in jobs.values() for each in sources if each.vehicle is not None}
    plain = _size_of_the_unsized(sizes, known)
    return [
        source
        for path in paths
        for source in (jobs[path] if path in jobs else [_list_source(path, lists[path], plain, known)])
    ]


def _vehicles(path: Path, shop: Shop, shop_path: Path | None) -> list[Source]:
    """Every vehicle of a job, in the layout that it names."""
    job = read_job(path, shop)
    with naming_files(path, shop_path):
        stands = laid_out(job, shop, job.layout)
    return [Source(path, job.title, stands)] * job.vehicles


def _size_of_the_unsized(sizes: set[str], known: Sequence[str] | None) -> str | None:
    """What a piece is cut from whose list does not say: all others' size, else the only one; None: not clear."""
    if sizes:
        return next(iter(sizes)) if len(sizes) == 1 else None
    if known is None:
        return ONE_SIZE
    return known[0] if len(known) == 1 else None


def _list_source(path: Path, rows: Sequence[ListedPiece], plain: str | None, known: Sequence[str] | None) -> Source:
    """The pieces of a list; a name that stands in several rows gets the row's line.

    ``plain``: the size where the row gives none; ``known``: the sizes that there is stock of, None for any.
    """
    count = Counter(row.piece for row in rows)
    items = []
    for row in rows:
        place, size = f"{path.name}, line {row.line}, size", row.size or plain
        if size is None:
            raise JobError(
                place,
                "it is not given",
                "it must be clear which tube the piece is cut from",
                "add a column size" if known is None else f"add a column size with one of {', '.join(known)}",
            )
        if known is not None and size not in known:
            raise JobError(
                place, f"the shop has no stock of {size!r}", f"it must be one of {', '.join(known)}", near(size, known)
            )
        name = row.piece if count[row.piece] == 1 else f"{row.piece} (line {row.line})"
        items.append(Item(name, size, exact_mm(row.length), row.quantity))
    return Source(path, path.stem, items=tuple(items))


def _book(sources: Sequence[Source], shop: Shop) -> ByBook | None:
    """The shelf's book for the vehicles among the sources."""
    return book_for_files(shop, [source.path for source in sources if source.vehicle is not None])


def _together(sources: Sequence[Source], shop: Shop, book: ByBook | None) -> tuple[list[OnBars], list[Item]]:
    """The vehicles, and the pieces of the lists; of several sources each is called by its job or list as well."""
    labels = told_apart([source.name for source in sources]) if len(sources) > 1 else [""]
    vehicles: list[OnBars] = []
    rows: list[Item] = []
    called = iter(() if book is None else book.vehicles)
    for source, label in zip(sources, labels, strict=True):
        if source.vehicle is None:
            rows += labelled(source.items, label)
        else:
            vehicles.append(on_bars(source.vehicle, shop, label, next(called, None)))
    return vehicles, rows


def _given_stock(words: Sequence[str]) -> list[tuple[Fraction, int | None]]:
    """Lengths and prices in cents of the stock given in words. Raises InputError for what is neither."""
    given = [_length_and_price(word) for word in words]
    if any(price is None for _, price in given) and any(price is not None for _, price in given):
        raise InputError(
            "--stock", "some have a price and some have none", "all must have one, or none", "write '6000 mm @ 12.50'"
        )
    return given


def _length_and_price(word: str) -> tuple[Fraction, int | None]:
    """``6000 mm @ 12.50`` as a length and cents; None without a price.

    >>> _length_and_price("6000 mm @ 12.50"), _length_and_price("12 ft")
    ((Fraction(6000, 1), 1250), (Fraction(18288, 5), None))
    """
    parts = PRICED.fullmatch(word)
    assert parts is not None, "any text has a part before an @"
    length_mm = exact_mm(_length(parts["length"].strip(), "--stock", Sign.POSITIVE))
    if parts["price"] is None:
        return length_mm, None
    price = parts["price"].strip()
    if not MONEY.fullmatch(price):
        raise InputError(
            "--stock",
            f"{price!r} is not a price",
            "it must be money with two decimals at most",
            "write '6000 mm @ 12.50'",
        )
    return length_mm, int(Fraction(price) * 100)


def _length(word: str, option: str, sign: Sign) -> Quantity:
    return measure(word, Kind.LENGTH, sign, option)


def _seconds(word: str) -> float:
    """The time limit: seconds, or a time with its unit; 0 asks for the first plan."""
    if SECONDS.fullmatch(word):
        word = f"{word} s"
    limit_s = float(measure(word, Kind.TIME, Sign.NOT_NEGATIVE, "--time-limit").to("s").magnitude)
    return max(limit_s, FIRST_PLAN_S)


def _stocks(
    lengths: Sequence[tuple[Fraction, int | None]], sizes: Sequence[str], shop: Shop
) -> tuple[list[Stock], str | None]:
    """What to cut from, and the currency; None: without prices each mm is priced at 1.00, so that cost is length."""
    if not lengths:
        return stocks_of(shop), shop.money.currency
    priced = lengths[0][1] is not None
    stocks = [
        Stock(
            name=f"{size} {float(length_mm):g} mm",
            size=size,
            length_mm=length_mm,
            price_cents=int(length_mm * ONE_A_MM_CENTS) if cents is None else cents,
        )
        for size in sizes
        for length_mm, cents in lengths
    ]
    return stocks, shop.money.currency if priced else None


def _teller() -> Callable[[Progress], None] | None:
    """Tells how a long solve stands, on a screen only; None: nobody is there to read it."""
    if not sys.stderr.isatty():
        return None
    started = told = time.monotonic()
    said = ""

    def tell(progress: Progress) -> None:
        nonlocal told, said
        from tubing.sheet.words import money_text

        now = time.monotonic()
        text = (
            f"cost so far {money_text(progress.cost_so_far_cents)}, cannot be below "
            f"{money_text(progress.cannot_be_below_cents)}, could still save "
            f"{money_text(progress.could_still_save_cents)}\n"
        )
        if now - started < QUIET_S or now - told < (UNCHANGED_S if text == said else EVERY_S):
            return
        told, said = now, text
        sys.stderr.write(text)
        sys.stderr.flush()

    return tell
