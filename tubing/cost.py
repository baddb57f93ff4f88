"""What a job costs, line by line, and layouts side by side. It takes records, not a plan.

Line:    one thing bought or done. Its amount is worked out exactly and rounded to cents once, half up.
Total:   the sum of the rounded amounts, so that the printed column adds up.
Each:    the price of one unit of a line's quantity: exact, and not always whole cents.
Margin, tax: a share of the lines above them, the tax also of the margin.

Margin and tax are taken of rounded sums, so each line can be checked from what is printed. What is sold by the metre is
charged by the whole millimetre begun. Work is listed by operation, and what is not done has no line. A part without a
price is a line without an amount; the total is without it, and a warning names it. A price by the wrong unit is an
error. Bars are charged whole, as bought; kept offcuts are not credited to the job, though nesting's cost credits them.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from decimal import Decimal
from enum import IntEnum
from fractions import Fraction

from msgspec import Struct

from tubing.errors import JobError
from tubing.inputs.records import Minutes, Money, Price
from tubing.units import Quantity, checked, quantity

NOTHING = Decimal("0.00")


class Group(IntEnum):
    """Where a line stands in the list."""

    PARTS = 1
    TUBE = 2
    WORK = 3
    CONSUMABLES = 4
    MARGIN = 5
    TAX = 6


class Part(Struct, frozen=True):
    """So many of one item of the price list, or so much of one that is sold by the metre."""

    item: str  # its name in the price list
    count: int | None = None
    length_mm: Fraction | None = None  # exactly one of both is given

    def __post_init__(self) -> None:
        if (self.count is None) == (self.length_mm is None):
            raise ValueError(f"{self.item}: give a count or a length")


class BoughtBar(Struct, frozen=True):
    """Bars of one kind that the job uses up."""

    size: str  # the tube
    length_mm: Fraction
    count: Fraction  # not whole where another vehicle's pieces are cut from the same bar
    price_cents: int  # of one bar; of an offcut from the shelf, what it is worth
    on_shelf: bool
    source: str
    number: int | None = None  # written on it, where a book is kept of the shelf


class TubeUsed(Struct, frozen=True):
    """Length cut of one size of tube, all pieces together."""

    size: str
    length_mm: Fraction


class Operations(Struct, frozen=True):
    """How often each thing is done by hand."""

    cuts: int
    single_flares: int
    double_flares: int
    bends: int
    holes: int
    assemblies: int  # one per wheelbox


class CostFacts(Struct, frozen=True):
    """All that a job's cost is worked out from, beside the shop's prices."""

    parts: tuple[Part, ...]
    bars: tuple[BoughtBar, ...]
    tube_used: tuple[TubeUsed, ...]
    operations: Operations


class CostLine(Struct, frozen=True):
    """One line of the list."""

    group: Group
    what: str
    quantity: Fraction
    unit: str  # "each", "m", "bar", "job" or "%"
    each: Fraction | None  # price of one unit; of "%" the sum that the share is taken of; None: no price
    amount: Decimal | None  # None: no price
    source: str  # where the figure comes from

    @property
    def quantity_text(self) -> str:
        """The quantity as printed: whole, or with the decimals it has, three at most."""
        return decimals(self.quantity, least=0, most=3)

    @property
    def each_text(self) -> str | None:
        """The price of one as printed: cents, or four decimals where it is not whole cents."""
        return None if self.each is None else decimals(self.each, least=2, most=4)

    @property
    def amount_text(self) -> str | None:
        """The amount as printed."""
        return None if self.amount is None else str(self.amount)


class Cost(Struct, frozen=True):
    """What one layout costs."""

    currency: str
    lines: tuple[CostLine, ...]
    total: Decimal  # of the lines that have an amount
    warnings: tuple[str, ...]

    @property
    def complete(self) -> bool:
        """Whether every line has an amount."""
        return all(line.amount is not None for line in self.lines)


class ComparedLine(Struct, frozen=True):
    """One line of all layouts, in their order; a layout without the line pays nothing for it."""

    what: str
    amounts: tuple[Decimal | None, ...]  # None: no price
    differences: tuple[Decimal | None, ...]  # from the first layout's


class Comparison(Struct, frozen=True):
    """Layouts side by side."""

    currency: str
    layouts: tuple[str, ...]
    lines: tuple[ComparedLine, ...]
    total: ComparedLine
    incomplete: tuple[str, ...]  # layouts whose total lacks a price


@checked("money", price="money", count="")
def price_of_count(price: Quantity, count: int | Fraction) -> Quantity:
    """Price of so many.

    >>> price_of_count(quantity(Fraction("27.50"), "money"), 3).magnitude
    Fraction(165, 2)
    """
    result: Quantity = price * count
    return result


@checked("money", price="money/m", length="mm")
def price_of_length(price: Quantity, length: Quantity) -> Quantity:
    """Price of so much at a price by the metre.

    >>> price_of_length(quantity(18, "money/m"), quantity(1250, "mm")).magnitude
    Fraction(45, 2)
    """
    result: Quantity = (price * length).to("money")
    return result


@checked("money", rate="money/h", time="min")
def price_of_time(rate: Quantity, time: Quantity) -> Quantity:
    """Price of so much work at a rate by the hour.

    >>> price_of_time(quantity(48, "money/h"), quantity(5, "min")).magnitude
    Fraction(4, 1)
    """
    result: Quantity = (rate * time).to("money")
    return result


@checked("money", amount="money", share="")
def share_of(amount: Quantity, share: Fraction) -> Quantity:
    """A share of an amount, such as a margin or a tax.

    >>> share_of(quantity(150, "money"), Fraction("0.2")).magnitude
    Fraction(30, 1)
    """
    result: Quantity = amount * share
    return result


@checked("", amount="money")
def cents(amount: Quantity) -> Decimal:
    """An exact amount rounded to cents, half up (away from nothing, for a credit too).

    >>> [str(cents(quantity(Fraction(x), "money"))) for x in ("1.005", "-1.005", "2")]
    ['1.01', '-1.01', '2.00']
    """
    exact = Fraction(amount.to("money").magnitude)
    whole = math.floor(abs(exact) * 100 + Fraction(1, 2))
    return Decimal(whole if exact >= 0 else -whole).scaleb(-2)


def decimals(number: Fraction, least: int, most: int) -> str:
    """A number in decimals: as many as it has between ``least`` and ``most``, the last rounded half up.

    >>> decimals(Fraction(4, 5), 2, 4), decimals(Fraction(5, 6), 2, 4), decimals(Fraction(1111, 1000), 0, 3)
    ('0.80', '0.8333', '1.111')
    """
    for places in range(least, most + 1):
        scaled = number * 10**places
        if scaled.denominator == 1 or places == most:
            whole = math.floor(abs(scaled) + Fraction(1, 2))
            return str(Decimal(whole if number >= 0 else -whole).scaleb(-places))
    raise ValueError(f"least {least} is above most {most}")


def cost(facts: CostFacts, minutes: Minutes, money: Money) -> Cost:
    """Price one layout. A part without a price is a line without an amount, and a warning.

    Raises JobError: the price list has a price by the metre for what is counted, or the other way round.
    """
    lines = [_part(part, money) for part in facts.parts]
    if money.tube_by == "bars":
        lines += [_bar(bar) for bar in facts.bars]
    else:
        lines += [_used(used, money) for used in facts.tube_used]
    lines += _work(facts.operations, minutes, money)
    if money.consumables:
        amount = quantity(money.consumables, "money")
        lines.append(_line(Group.CONSUMABLES, "consumables", Fraction(1), "job", amount, amount, "shop, per job"))
    lines += _shares(lines, money)
    missing = [line.what for line in lines if line.amount is None]
    warnings = [f"the total is without {', '.join(missing)}: not in the price list"] if missing else []
    return Cost(money.currency, tuple(lines), _sum(lines), tuple(warnings))


def compare(costs: Mapping[str, Cost]) -> Comparison:
    """Layouts side by side, line by line, each with its difference from the first. ``costs``: one or more layouts."""
    names = {(line.group, line.what): None for one in costs.values() for line in one.lines}
    lines = []
    for group, what in sorted(names, key=lambda name: name[0]):  # a stable sort: within a group as they first come
        same = [[line for line in one.lines if (line.group, line.what) == (group, what)] for one in costs.values()]
        lines.append(_compared(what, [None if any(x.amount is None for x in found) else _sum(found) for found in same]))
    return Comparison(
        currency=next(iter(costs.values())).currency,
        layouts=tuple(costs),
        lines=tuple(lines),
        total=_compared("total", [one.total for one in costs.values()]),
        incomplete=tuple(name for name, one in costs.items() if not one.complete),
    )


def _compared(what: str, amounts: list[Decimal | None]) -> ComparedLine:
    first = amounts[0]
    differences = tuple(None if amount is None or first is None else amount - first for amount in amounts)
    return ComparedLine(what, tuple(amounts), differences)


def _line(
    group: Group, what: str, number: Fraction, unit: str, each: Quantity, amount: Quantity, source: str
) -> CostLine:
    return CostLine(group, what, number, unit, Fraction(each.to("money").magnitude), cents(amount), source)


def _part(part: Part, money: Money) -> CostLine:
    if part.length_mm is not None:
        return _by_metre(Group.PARTS, part.item, part.item, part.length_mm, money)
    assert part.count is not None, "checked when the part was made"
    price = _price(part.item, "each", money)
    if price is None:
        return CostLine(Group.PARTS, part.item, Fraction(part.count), "each", None, None, "not in the price list")
    each = quantity(price.amount, "money")
    return _line(
        Group.PARTS, part.item, Fraction(part.count), "each", each, price_of_count(each, part.count), _listed(price)
    )


def _used(used: TubeUsed, money: Money) -> CostLine:
    return _by_metre(Group.TUBE, f"tube {used.size}, by the metre", used.size, used.length_mm, money)


def _by_metre(group: Group, what: str, item: str, length_mm: Fraction, money: Money) -> CostLine:
    """A line by the metre; the length is rounded up to whole millimetres first, so that the line can be checked."""
    # Nanometres are the arithmetic's, not the tube's: they must not make a millimetre.
    whole = quantity(math.ceil(round(length_mm, 6)), "mm")
    metres = Fraction(whole.to("m").magnitude)
    price = _price(item, "m", money)
    if price is None:
        return CostLine(group, what, metres, "m", None, None, "not in the price list")
    amount = price_of_length(quantity(price.amount, "money/m"), whole)
    return _line(group, what, metres, "m", quantity(price.amount, "money"), amount, _listed(price))


def _bar(bar: BoughtBar) -> CostLine:
    each = quantity(Fraction(bar.price_cents, 100), "money")
    kind = "offcut from the shelf" if bar.on_shelf else "bar"
    kind = kind if bar.number is None else f"bar {bar.number} from the shelf"
    return _line(
        Group.TUBE, f"tube {bar.size}, {kind} of {float(bar.length_mm):.6g} mm", bar.count, "bar", each,
        price_of_count(each, bar.count), bar.source,
    )  # fmt: skip


def _work(operations: Operations, minutes: Minutes, money: Money) -> list[CostLine]:
    """A line for each operation that is done at all."""
    rate = quantity(money.rate, "money/h")
    done = [
        ("cut", operations.cuts, minutes.cut),
        ("single flare", operations.single_flares, minutes.single_flare),
        ("double flare", operations.double_flares, minutes.double_flare),
        ("bend", operations.bends, minutes.bend),
        ("hole", operations.holes, minutes.hole),
        ("assembly", operations.assemblies, minutes.assembly),
    ]
    lines = []
    for what, count, time in done:
        if count:
            each = price_of_time(rate, time)
            shown = decimals(Fraction(time.to("min").magnitude), 0, 3)
            source = f"shop, {shown} min at {decimals(money.rate, 2, 4)} an hour"
            amount = price_of_count(each, count)
            lines.append(_line(Group.WORK, what, Fraction(count), "each", each, amount, source))
    return lines


def _shares(lines: list[CostLine], money: Money) -> list[CostLine]:
    """Margin and tax on what has been rounded already, so that both can be checked from the list."""
    shares: list[CostLine] = []
    for group, what, share in ((Group.MARGIN, "margin", money.margin), (Group.TAX, "tax", money.tax)):
        if share:
            base = quantity(Fraction(_sum(lines + shares)), "money")
            shares.append(_line(group, what, share * 100, "%", base, share_of(base, share), "shop"))
    return shares


def _sum(lines: list[CostLine]) -> Decimal:
    return sum((line.amount for line in lines if line.amount is not None), NOTHING)


def _listed(price: Price) -> str:
    return f"price list ({price.source})"


def _price(item: str, unit: str, money: Money) -> Price | None:
    """The item's price; None: the list has none. Raises JobError: a price by another unit."""
    price = money.prices.get(item)
    if price is not None and price.unit != unit:
        raise JobError(
            f"price of {item!r}",
            f"it is by the unit {price.unit!r}",
            f"it must be by {unit!r}",
            "correct the unit, and the amount with it, under [[price]] in the shop file",
        ).of_shop()
    return price
