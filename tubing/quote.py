"""What a customer is offered: layouts side by side, each at a price that hides nobody's purchase prices.

Line:  what the customer gets, with the margin in its amount: parts, tube, work, small parts.
Net:   the sum of the lines. It is the cost's total before tax, to the cent.

The margin is spread over the lines in proportion; cents that rounding leaves go to the largest line.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

from msgspec import Struct

from tubing.cost import NOTHING, Cost, CostLine, Group, cents
from tubing.errors import JobError
from tubing.inputs.records import Business
from tubing.units import quantity

CALLED = {
    Group.PARTS: "Motor, wheelboxes, rack and fittings",
    Group.TUBE: "Guide tube",
    Group.WORK: "Making and fitting",
    Group.CONSUMABLES: "Consumables",
}


class OfferedLayout(Struct, frozen=True):
    """One layout as it is offered."""

    layout: str
    parts: tuple[str, ...]  # what it contains, without prices
    lines: tuple[tuple[str, Decimal], ...]
    net: Decimal
    tax: Decimal
    tax_percent: Fraction
    total: Decimal


class Quote(Struct, frozen=True):
    """A paper for one customer."""

    business: Business
    title: str  # the job's
    customer: str  # empty: not named
    number: str
    day: date
    valid_until: date
    currency: str
    layouts: tuple[OfferedLayout, ...]


def quote(costs: Mapping[str, Cost], business: Business, *, title: str, customer: str, number: str, on: date) -> Quote:
    """The costs of one or more layouts as an offer. Raises JobError where a price is missing."""
    return Quote(
        business=business,
        title=title,
        customer=customer,
        number=number,
        day=on,
        valid_until=on + timedelta(days=business.valid_days),
        currency=next(iter(costs.values())).currency,
        layouts=tuple(offered(name, cost) for name, cost in costs.items()),
    )


def offered(layout: str, cost: Cost) -> OfferedLayout:
    """One layout's cost as a customer sees it. Raises JobError where a price is missing."""
    missing = [line.what for line in cost.lines if line.amount is None]
    if missing:
        raise JobError(
            f"layout {layout}, price of {missing[0]!r}",
            "there is none in the price list",
            "a quote must be whole",
            "add a [[price]] for it to the shop file",
        ).of_shop()
    net = _sum(line for line in cost.lines if line.group is not Group.TAX)
    tax = [line for line in cost.lines if line.group is Group.TAX]
    parts = tuple(_part(line) for line in cost.lines if line.group is Group.PARTS)
    return OfferedLayout(
        layout=layout,
        parts=parts,
        lines=_with_margin(cost.lines, net),
        net=net,
        tax=_sum(tax),
        tax_percent=tax[0].quantity if tax else Fraction(0),
        total=cost.total,
    )


def _sum(lines: Iterable[CostLine]) -> Decimal:
    return sum((line.amount for line in lines if line.amount is not None), NOTHING)


def _with_margin(lines: Sequence[CostLine], net: Decimal) -> tuple[tuple[str, Decimal], ...]:
    """The groups of a cost, the margin spread over them; together they are ``net``."""
    bare = {group: _sum(line for line in lines if line.group is group) for group in CALLED}
    groups = [group for group in CALLED if bare[group]]
    whole = sum(bare.values(), NOTHING)
    share = Fraction(net) / Fraction(whole) if whole else Fraction(1)
    amounts = {group: cents(quantity(Fraction(bare[group]) * share, "money")) for group in groups}
    if groups:
        largest = max(groups, key=lambda group: amounts[group])
        amounts[largest] += net - sum(amounts.values(), NOTHING)
    return tuple((CALLED[group], amounts[group]) for group in groups)


def _part(line: CostLine) -> str:
    """A part with its count; what is sold by the metre without its length, which is the workshop's affair."""
    if line.unit == "m" or line.quantity == 1:
        return line.what
    return f"{line.quantity_text} x {line.what}"
