"""A quote as tables and lines."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from tubing.cost import decimals
from tubing.quote import OfferedLayout, Quote
from tubing.sheet.records import Cell, Column, Lines, Part, Sheet, Table
from tubing.sheet.words import listed


def quote_sheet(offer: Quote) -> Sheet:
    """The whole quote, in the order of the paper."""
    return Sheet(f"Quote {offer.number}", (head_table(offer), *quote_parts(offer)))


def head_table(offer: Quote) -> Table:
    """Who offers what to whom, and how long it stands."""
    business = offer.business
    rows: list[tuple[str, str]] = [("from", ", ".join((business.name, *business.address)))]
    rows += [("tax number", business.tax_number)] if business.tax_number else []
    rows += [("for", offer.customer)] if offer.customer else []
    rows += [("vehicle", offer.title), ("date", str(offer.day)), ("valid until", str(offer.valid_until))]
    return Table("", (Column(""), Column("")), tuple(rows))


def quote_parts(offer: Quote) -> list[Part]:
    """What is offered, the price, and the terms."""
    parts: list[Part] = [price_table(offer), *_contents(offer.layouts)]
    if offer.business.terms:
        parts.append(Lines("Terms", offer.business.terms))
    parts.append(
        Lines(
            "Please note",
            (
                "Wipers and the driver's view are a matter of law and of roadworthiness. This offer approves nothing: "
                "the vehicle is inspected where the local rules ask for it.",
            ),
        )
    )
    return parts


def price_table(offer: Quote) -> Table:
    """The layouts side by side, line by line."""
    what = list(dict.fromkeys(name for layout in offer.layouts for name, _ in layout.lines))
    rows: list[tuple[Cell, ...]] = [
        (name, *(dict(layout.lines).get(name, Decimal("0.00")) for layout in offer.layouts)) for name in what
    ]
    taxes = {layout.tax_percent for layout in offer.layouts}
    if taxes != {0}:
        rows.append(("net", *(layout.net for layout in offer.layouts)))
        percent = decimals(max(taxes), 0, 3)
        rows.append((f"tax, {percent} %", *(layout.tax for layout in offer.layouts)))
    rows.append(("to pay", *(layout.total for layout in offer.layouts)))
    columns = (Column("what"), *(Column(layout.layout, offer.currency) for layout in offer.layouts))
    return Table("Price", columns, tuple(rows))


def _contents(layouts: Sequence[OfferedLayout]) -> list[Part]:
    """What each layout contains; layouts that contain the same are told once."""
    by_parts: dict[tuple[str, ...], list[str]] = {}
    for layout in layouts:
        by_parts.setdefault(layout.parts, []).append(layout.layout)
    said = tuple(
        (f"{listed(names).capitalize()}: " if len(by_parts) > 1 else "") + f"{listed(list(parts))}; guide tube made to "
        "measure, and fitting."
        for parts, names in by_parts.items()
    )
    return [Lines("What it contains", said)]
