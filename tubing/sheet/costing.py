"""Parts to buy, the cost of one layout, and layouts side by side."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from tubing.cost import Comparison, Cost, CostLine, Group
from tubing.sheet.records import Cell, Column, Table
from tubing.sheet.words import sentence


def parts_table(cost: Cost) -> Table:
    """What to buy, and which bars to take from the shelf."""
    lines = [line for line in cost.lines if line.group in (Group.PARTS, Group.TUBE)]
    return Table(
        "Parts and tube",
        (Column("quantity"), Column("unit"), Column("what")),
        tuple((Decimal(line.quantity_text), line.unit, line.what) for line in lines),
    )


def cost_table(cost: Cost | None, layout: str = "") -> Table:
    """Line by line, with the source of each figure; ``layout`` where there are several. Empty where nothing is told."""
    if cost is None:
        return Table("Cost", (), ())
    rows: list[tuple[Cell, ...]] = [_row(line) for line in cost.lines]
    total: tuple[Cell, ...] = ("total", None, "", None, cost.total, "" if cost.complete else "not complete")
    return Table(
        "Cost",
        (
            Column("what"),
            Column("quantity"),
            Column("unit"),
            Column("each", cost.currency),
            Column("amount", cost.currency),
            Column("source"),
        ),
        (*rows, total),
        after=tuple(sentence(text) for text in cost.warnings),
        subject=layout and f"of {layout}",
    )


def _row(line: CostLine) -> tuple[Cell, ...]:
    return (
        line.what,
        Decimal(line.quantity_text),
        line.unit,
        None if line.each_text is None else Decimal(line.each_text),
        line.amount,
        line.source,
    )


def comparison_table(compared: Comparison) -> Table:
    """Layouts side by side, and how each differs from the first."""
    first, *others = compared.layouts
    columns = [Column("what"), *(Column(name, compared.currency) for name in compared.layouts)]
    columns += [Column(f"{name} less {first}", compared.currency) for name in others]
    return Table(
        "Cost of the layouts",
        tuple(columns),
        tuple((line.what, *line.amounts, *line.differences[1:]) for line in (*compared.lines, compared.total)),
        after=tuple(_incomplete(compared.incomplete)),
    )


def _incomplete(layouts: Sequence[str]) -> list[str]:
    return [f"The total of {name} lacks a price: see its own list." for name in layouts]
