"""Reads shop.toml: what belongs to the workshop, not to the vehicle."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field

import tubing
from tubing.errors import JobError
from tubing.inputs.catalogue import Catalogue
from tubing.inputs.fields import (
    Count,
    Friction,
    Money,
    Name,
    Percent,
    Section,
    Springback,
    of,
)
from tubing.inputs.part_tables import read_catalogue
from tubing.inputs.records import (
    Bench,
    DriveSettings,
    Minutes,
    Offcuts,
    Price,
    Rack,
    ReadyEnd,
    Shop,
    StockBar,
)
from tubing.inputs.records import Money as MoneyRecord
from tubing.inputs.table_rows import near
from tubing.inputs.toml_files import checked, read_toml
from tubing.units import Quantity, exact_mm, quantity


class FitUpSection(Section):
    """fit_up = { distance, angle }"""

    distance: Annotated[Quantity, of("fit-up distance")] = quantity(3, "mm")
    angle: Annotated[Quantity, of("fit-up angle")] = quantity(2, "deg")


class BenchSection(Section):
    """[bench]"""

    flare_grip: Annotated[Quantity, of("flaring tool's grip")] = quantity(25, "mm")
    cut_step: Annotated[Quantity, of("step of the rule")] = quantity(Fraction(1, 2), "mm")
    kerf: Annotated[Quantity, of("kerf")]
    end_trim: Annotated[Quantity, of("end trim")]
    springback: Springback
    rack_least_radius: Annotated[Quantity, of("least radius of a rack")] = quantity(229, "mm")
    fit_up: FitUpSection = FitUpSection()
    clearance: Annotated[Quantity, of("clearance")]
    panel_thickness: Annotated[Quantity, of("panel thickness")]
    spacer: Annotated[Quantity, of("spacer")]
    clip_spacing: Annotated[Quantity, of("clip spacing")]
    wedge: Annotated[Quantity, of("angle of a wedge")] = quantity(45, "deg")
    single_consumes: Annotated[Quantity, of("tube a flare consumes")] | None = None
    double_consumes: Annotated[Quantity, of("tube a flare consumes")] | None = None


class RackSection(Section):
    """[rack]"""

    diameter: Annotated[Quantity, of("rack diameter")]
    tooth_pitch: Annotated[Quantity, of("tooth pitch")]


class ReadyEndSection(Section):
    """One end of a bar that comes flared."""

    flare: Literal["single", "double"]
    nut: bool


class StockSection(Section):
    """[[stock]]"""

    tube: Name
    length: Annotated[Quantity, of("bar")]
    price: Money
    bars: Count | None = None
    ready_ends: list[ReadyEndSection] = Field(default_factory=list)


class ShelfSection(Section):
    """[[shelf]]"""

    tube: Name
    length: Annotated[Quantity, of("bar")]
    price: Money | None = None
    bars: Count = 1
    ready_ends: list[ReadyEndSection] = Field(default_factory=list)


class OffcutsSection(Section):
    """[offcuts]"""

    keep_from: Annotated[Quantity, of("least offcut kept")]
    value_per_metre: Money


class MinutesSection(Section):
    """[minutes]"""

    cut: Annotated[Quantity, of("time of an operation")]
    single_flare: Annotated[Quantity, of("time of an operation")]
    double_flare: Annotated[Quantity, of("time of an operation")]
    bend: Annotated[Quantity, of("time of an operation")]
    hole: Annotated[Quantity, of("time of an operation")]
    assembly: Annotated[Quantity, of("time of an operation")]


class MoneySection(Section):
    """[money]"""

    currency: Name
    rate_per_hour: Money
    margin: Percent
    tax: Percent
    consumables: Money
    tube_by: Literal["bars", "metre"]


class PriceSection(Section):
    """[[price]]"""

    item: Name
    amount: Money
    unit: Literal["each", "m"]
    source: Name


class DriveSection(Section):
    """[drive]"""

    friction: Friction
    engagement: Annotated[Quantity, of("engagement")]
    margin: Annotated[Quantity, of("tail margin")] | None = None
    tip_clearance: Annotated[Quantity, of("tip clearance")]
    blade_load: Annotated[Quantity, of("load on a blade")] = quantity(17, "N/m")  # handbooks say 15 to 20, from memory
    rubber_wet: Friction = 0.35  # 0.1 to 0.6, from memory
    rubber_dry: Friction = 1.0  # 0.8 to 1.2, from memory
    measured_pull: Annotated[Quantity, of("pull")] | None = None


class ShopFile(Section):
    """A whole shop.toml."""

    bench: BenchSection
    rack: RackSection
    stock: list[StockSection]
    shelf: list[ShelfSection] = Field(default_factory=list)
    offcuts: OffcutsSection
    minutes: MinutesSection
    money: MoneySection
    price: list[PriceSection] = Field(default_factory=list)
    drive: DriveSection


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
    file = checked(ShopFile, read_toml(path), path.name)
    catalogue = read_catalogue(path.parent, otherwise=data_folder())
    offcuts = Offcuts(file.offcuts.keep_from, file.offcuts.value_per_metre * 100)
    return Shop(
        bench=_bench(file.bench),
        rack=Rack(file.rack.diameter, file.rack.tooth_pitch),
        stock=(*_new_bars(file, catalogue, path.name), *_shelf(file, offcuts, catalogue, path.name)),
        offcuts=offcuts,
        minutes=Minutes(**dict(file.minutes)),
        money=_money(file, path.name),
        drive=DriveSettings(**dict(file.drive)),
        catalogue=catalogue,
    )


def _bench(section: BenchSection) -> Bench:
    given = dict(section)
    fit_up = given.pop("fit_up")
    return Bench(**given, fit_up_distance=fit_up.distance, fit_up_angle=fit_up.angle)


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
            _ready_ends(section.ready_ends),
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


def _shelf(file: ShopFile, offcuts: Offcuts, catalogue: Catalogue, name: str) -> list[StockBar]:
    """The offcuts on the shelf; without a price one costs what it would be worth left whole."""
    bars = []
    for count, section in enumerate(file.shelf, start=1):
        _check_bar(section, catalogue, f"{name}, shelf {count}")
        worth = offcut_cents(section.length, offcuts) if section.price is None else int(section.price * 100)
        ends = _ready_ends(section.ready_ends)
        bars.append(
            StockBar(
                section.tube, section.length, worth, section.bars, ends, on_shelf=True, source=f"{name}, [[shelf]]"
            )
        )
    return bars


def _check_bar(section: StockSection | ShelfSection, catalogue: Catalogue, thing: str) -> None:
    if section.tube not in catalogue.tubes:
        raise JobError(
            f"{thing}, tube",
            f"there is no tube {section.tube!r}",
            "it must be a row of tubes.csv",
            near(section.tube, catalogue.tubes),
        )
    if len(section.ready_ends) > 2:
        raise JobError(
            f"{thing}, ready_ends",
            f"it is a list of {len(section.ready_ends)}",
            "a bar has two ends",
            "take the others out",
        )


def _ready_ends(sections: Sequence[ReadyEndSection]) -> tuple[ReadyEnd, ...]:
    """In one order, so that bars that differ only in which end comes first are the same stock."""
    return tuple(sorted((ReadyEnd(end.flare, end.nut) for end in sections), key=lambda end: (end.flare, end.nut)))


def offcut_cents(length: Quantity, offcuts: Offcuts) -> int:
    """What an offcut of this length is worth left whole: whole cents, rounded down; 0 below ``keep_from``.

    >>> offcut_cents(quantity(999, "mm"), Offcuts(quantity(300, "mm"), Fraction(200)))
    199
    """
    if length < offcuts.keep_from:
        return 0
    return int(exact_mm(length) / 1000 * offcuts.value_cents_per_metre)


def _money(file: ShopFile, name: str) -> MoneyRecord:
    prices: dict[str, Price] = {}
    for section in file.price:
        if section.item in prices:
            raise JobError(
                f"{name}, price {section.item!r}", "it stands twice", "each item must have one price", "take one out"
            )
        prices[section.item] = Price(section.item, section.amount, section.unit, section.source)
    money = file.money
    return MoneyRecord(
        currency=money.currency,
        rate=money.rate_per_hour,
        margin=money.margin,
        tax=money.tax,
        tube_by=money.tube_by,
        prices=prices,
        consumables=money.consumables,
    )
