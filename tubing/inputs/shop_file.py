"""Reads shop.toml: what belongs to the workshop, not to the vehicle."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import Field, Tag

import tubing
from tubing.errors import JobError
from tubing.inputs.catalogue import Catalogue
from tubing.inputs.fields import (
    Amount,
    Count,
    Name,
    Percent,
    of,
    written_as,
)
from tubing.inputs.part_tables import read_catalogue
from tubing.inputs.records import (
    Bench,
    Business,
    DriveSettings,
    Minutes,
    Money,
    Offcuts,
    Price,
    Rack,
    ReadyEnd,
    Shop,
    StockBar,
    TrialBend,
    TrialFlare,
)
from tubing.inputs.section import Section
from tubing.inputs.toml_files import checked, read_toml
from tubing.inputs.trials import check_named, trial_bends, trial_flares
from tubing.units import Quantity, exact_mm


class StockSection(Section):
    """[[stock]]"""

    tube: Name
    length: Annotated[Quantity, of("bar")]
    price: Amount
    bars: Count | None = None
    ready_ends: list[ReadyEnd] = Field(default_factory=list)


class ShelfSection(Section):
    """[[shelf]]"""

    tube: Name
    length: Annotated[Quantity, of("bar")]
    price: Amount | None = None
    bars: Count = 1
    ready_ends: list[ReadyEnd] = Field(default_factory=list)


class BookSection(Section):
    """[shelf]"""

    file: Name


class MoneySection(Section):
    """[money]"""

    currency: Name
    rate_per_hour: Amount
    margin: Percent
    tax: Percent
    consumables: Amount
    tube_by: Literal["bars", "metre"]


class ShopFile(Section):
    """A whole shop.toml."""

    bench: Bench
    rack: Rack
    stock: list[StockSection]
    shelf: Annotated[
        Annotated[list[ShelfSection], Tag("@list")] | Annotated[BookSection, Tag("@book")],
        written_as("@book", several="@list"),
    ] = Field(default_factory=list)
    offcuts: Offcuts
    minutes: Minutes
    money: MoneySection
    price: list[Price] = Field(default_factory=list)
    drive: DriveSettings
    business: Business | None = None
    trial_bend: list[TrialBend] = Field(default_factory=list)
    trial_flare: list[TrialFlare] = Field(default_factory=list)


def data_folder() -> Path:
    """Where the tables that come with the program lie: inside the installed package, else beside it."""
    package = Path(tubing.__file__).parent
    return package / "data" if (package / "data" / "shop.toml").is_file() else package.parent / "data"


def read_shop(path: Path | None) -> Shop:
    """Read a shop file (None: the one that comes with the program) and the tables beside it.

    A table that is not in the shop file's folder is taken from the data folder. Raises JobError and UnitError
    with file and key, CatalogueError with file, line and column.
    """
    path = data_folder() / "shop.toml" if path is None else path
    return shop_of(read_toml(path), path)


def shop_of(data: dict[str, Any], path: Path) -> Shop:
    """A shop from the tables of its file, which lies, or will lie, at ``path``. Raises as :func:`read_shop` does."""
    file = checked(ShopFile, data, path.name)
    catalogue = read_catalogue(path.parent, otherwise=data_folder())
    kept = file.shelf if isinstance(file.shelf, BookSection) else None
    if kept is not None:
        _check_not_counted(file, path.name)
    return Shop(
        bench=file.bench,
        rack=file.rack,
        stock=(*_new_bars(file, catalogue, path.name), *_shelf(file, catalogue, path.name)),
        offcuts=file.offcuts,
        minutes=file.minutes,
        money=_money(file, path.name),
        drive=file.drive,
        trial_bends=trial_bends(file.trial_bend, catalogue, path.name),
        trial_flares=trial_flares(file.trial_flare, catalogue, path.name),
        catalogue=catalogue,
        business=file.business,
        book="" if kept is None else str(path.resolve().parent / kept.file),
    )


def _check_not_counted(file: ShopFile, name: str) -> None:
    """Raises JobError where bars are counted in the file although a book counts them."""
    for count, section in enumerate(file.stock, start=1):
        if section.bars is not None:
            raise JobError(
                f"{name}, stock {count}, bars",
                f"it is {section.bars}, and [shelf] file names a book",
                "bars that are there must stand in the book alone",
                "take the line out; tubing shelf add, with --bars and --price, brings them into the book",
            )


def _new_bars(file: ShopFile, catalogue: Catalogue, name: str) -> list[StockBar]:
    if not file.stock:
        raise JobError(f"{name}, stock", "it is empty", "there must be tube to cut from", "add a [[stock]] section")
    bars: list[StockBar] = []
    for count, section in enumerate(file.stock, start=1):
        thing = f"{name}, stock {count}"
        _check_bar(section, catalogue, thing)
        bar = StockBar(
            section.tube,
            section.length,
            int(section.price * 100),
            section.bars,
            _in_one_order(section.ready_ends),
            source=f"{name}, [[stock]]",
        )
        for other in bars:
            if (other.tube, other.length, other.ready_ends) == (bar.tube, bar.length, bar.ready_ends):
                raise JobError(
                    thing,
                    f"{bar.tube} of this length stands twice",
                    "each stock must stand once",
                    "take one out, or add up `bars`",
                )
        bars.append(bar)
    return bars


def _shelf(file: ShopFile, catalogue: Catalogue, name: str) -> list[StockBar]:
    """The offcuts on the shelf; without a price one costs what it would be worth left whole."""
    bars: list[StockBar] = []
    if isinstance(file.shelf, BookSection):
        return bars
    for count, section in enumerate(file.shelf, start=1):
        _check_bar(section, catalogue, f"{name}, shelf {count}")
        worth = offcut_cents(section.length, file.offcuts) if section.price is None else int(section.price * 100)
        ends = _in_one_order(section.ready_ends)
        bars.append(
            StockBar(
                section.tube,
                section.length,
                worth,
                section.bars,
                ends,
                on_shelf=True,
                source=f"{name}, [[shelf]]",
                priced_by_length=section.price is None,
            )
        )
    return bars


def _check_bar(section: StockSection | ShelfSection, catalogue: Catalogue, thing: str) -> None:
    check_named(section.tube, catalogue.tubes, f"{thing}, tube", "tube", "tubes.csv")
    if len(section.ready_ends) > 2:
        raise JobError(
            f"{thing}, ready_ends",
            f"it is a list of {len(section.ready_ends)}",
            "a bar has two ends",
            "take the others out",
        )


def _in_one_order(ends: Sequence[ReadyEnd]) -> tuple[ReadyEnd, ...]:
    """Bars that differ only in which end comes first are the same stock."""
    return tuple(sorted(ends, key=lambda end: (end.flare, end.nut)))


def offcut_cents(length: Quantity, offcuts: Offcuts) -> int:
    """What an offcut of this length is worth left whole: whole cents, rounded down; 0 below ``keep_from``.

    >>> from fractions import Fraction
    >>> from tubing.units import quantity
    >>> offcut_cents(quantity(999, "mm"), Offcuts(quantity(300, "mm"), Fraction(2)))
    199
    """
    if length < offcuts.keep_from:
        return 0
    return int(exact_mm(length) / 1000 * offcuts.value_per_metre * 100)


def _money(file: ShopFile, name: str) -> Money:
    prices: dict[str, Price] = {}
    for section in file.price:
        if section.item in prices:
            raise JobError(
                f"{name}, price {section.item!r}", "it stands twice", "each item must have one price", "take one out"
            )
        prices[section.item] = section
    money = file.money
    return Money(
        currency=money.currency,
        rate=money.rate_per_hour,
        margin=money.margin,
        tax=money.tax,
        tube_by=money.tube_by,
        prices=prices,
        consumables=money.consumables,
    )
