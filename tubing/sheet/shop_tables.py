"""The tables in use, with the source and sureness of every row."""

from __future__ import annotations

import math
from collections.abc import Callable
from decimal import Decimal

from tubing.cost import decimals
from tubing.errors import JobError
from tubing.flares import learned, odd_flare
from tubing.inputs.part_tables import SURE
from tubing.inputs.records import Shop, StockBar
from tubing.inputs.table_rows import near
from tubing.sheet.records import Cell, Column, Part, Sheet, Show, Table
from tubing.sheet.words import end_text, money_text
from tubing.springback import odd_trial, springback_of, trials_of
from tubing.units import deg, mm, newton, rounded

Row = tuple[Cell, ...]
SOURCE = Column("source")


class _Sources:
    """The sources of one table, numbered as they come, each once."""

    def __init__(self) -> None:
        self._numbers: dict[str, int] = {}

    def number(self, source: str, sure: str = "") -> int:
        """The number that stands in the row."""
        words = f"{source} ({SURE[sure]})" if sure in SURE and SURE[sure] not in source else source
        return self._numbers.setdefault(words, len(self._numbers) + 1)

    @property
    def lines(self) -> tuple[str, ...]:
        """What the numbers stand for."""
        return tuple(f"Source {number}: {words}." for words, number in self._numbers.items())


def _tubes(shop: Shop) -> Table:
    sources = _Sources()
    return Table(
        "Tubes",
        (
            Column("name"),
            Column("outside", "mm", 2),
            Column("wall", "mm", 2),
            Column("material"),
            Column("least radius", "mm"),
            SOURCE,
        ),
        tuple(
            (
                row.name,
                mm(row.diameter),
                mm(row.wall),
                row.material,
                mm(row.least_radius),
                sources.number(row.source, row.sure),
            )
            for row in shop.catalogue.tubes.values()
        ),
        before=("Least radius is to the tube's centre line.",),
        after=sources.lines,
    )


def _flares(shop: Shop) -> Table:
    sources = _Sources()
    return Table(
        "Flares",
        (
            Column("tube", "mm", 2),
            Column("kind"),
            Column("half-angle", "deg", 0),
            Column("rim from", "mm", 2),
            Column("rim to", "mm", 2),
            Column("greatest wall", "mm", 2),
            SOURCE,
        ),
        tuple(
            (
                mm(row.tube_diameter),
                row.kind,
                deg(row.half_angle),
                mm(row.least_diameter),
                mm(row.most_diameter),
                None if row.greatest_wall is None else mm(row.greatest_wall),
                sources.number(row.source, row.sure),
            )
            for row in shop.catalogue.flares
        ),
        before=("Half-angle is from the tube's axis to the flare's face; rim is the largest diameter.",),
        after=sources.lines,
    )


def _formers(shop: Shop) -> Table:
    sources = _Sources()
    return Table(
        "Formers",
        (Column("name"), Column("radius", "mm"), Column("radius is"), Column("grip", "mm"), SOURCE),
        tuple(
            (row.name, mm(row.radius), row.radius_is, mm(row.grip), sources.number(row.source, row.sure))
            for row in shop.catalogue.formers.values()
        ),
        before=(
            "Radius is to the tube's centre line, that of the former itself or of the bend as it stays; grip is the "
            "straight tube held on each side of a bend.",
        ),
        after=sources.lines,
    )


def _trials(shop: Shop) -> Table:
    """What trial bends taught, a row for each pair of tube and former."""
    pairs = dict.fromkeys((trial.tube, trial.former) for trial in shop.trial_bends)
    rows, off = [], []
    for tube, former in pairs:
        found = springback_of(shop.catalogue.tubes[tube], shop.catalogue.formers[former], shop)
        least, most = (math.degrees(angle) for angle in found.tried_rad or (0.0, 0.0))
        spread = None if found.line is None else math.degrees(found.line.residual_sd)
        shares = 100 * found.proportional, math.degrees(found.fixed_rad)
        sure = None if found.sure_rad is None else math.degrees(found.sure_rad)
        rows.append((tube, former, found.trials, *shares, least, most, spread, sure))
        odd = odd_trial(trials_of(tube, former, shop))
        if odd is not None:
            off.append(
                f"Off the others: {tube} on {former}, set to {deg(odd.set):.1f} deg, got {deg(odd.got):.1f} deg."
            )
    degrees = ("play", "tried from", "to", "spread", "sure to")
    untried = (
        f"Where nothing was tried, {rounded(100 * shop.bench.springback, 1)} % of a bend's angle is reckoned with."
    )
    return Table(
        "Trial bends",
        (
            Column("tube"),
            Column("former"),
            Column("trials"),
            Column("springback", "%"),
            *(Column(name, "deg") for name in degrees),
        ),
        tuple(rows),
        before=(
            "Springback is added to a bend for each degree of it, play to every bend alike; spread is the standard "
            "deviation of one trial from the line through all, and what is added in the middle is sure to so much, 19 "
            "times in 20.",
        ),
        after=(*off, untried),
    )


def _trial_flares(shop: Shop) -> Table:
    """What trial flares taught, a row for each tube and kind."""
    rows, off = [], []
    for tube, kind in dict.fromkeys((trial.tube, trial.kind) for trial in shop.trial_flares):
        found = learned(shop.catalogue.tubes[tube], kind, shop.trial_flares)
        if found is not None:
            rows.append((tube, kind, found.trials, found.mean_mm, found.sd_mm, found.sure_mm))
        odd = odd_flare(tube, kind, shop.trial_flares)
        if odd is not None:
            off.append(f"Off the others: {kind} on {tube}, {mm(odd.before):g} mm before, {mm(odd.after):g} mm after.")
    return Table(
        "Trial flares",
        (
            Column("tube"),
            Column("flare"),
            Column("trials"),
            Column("takes", "mm", 2),
            Column("spread", "mm", 2),
            Column("sure to", "mm", 2),
        ),
        tuple(rows),
        before=(
            "A flare takes the mean of its trials; spread is the standard deviation of one, and the mean is sure to so "
            "much, either way, 19 times in 20.",
        ),
        after=(*off, "Where nothing was tried, what a flare takes is worked out from its shape."),
    )


def _motors(shop: Shop) -> Table:
    sources = _Sources()
    return Table(
        "Motors",
        (Column("name"), Column("fixed end", "mm"), Column("nut", "mm"), Column("rated pull", "N", 0), SOURCE),
        tuple(
            (row.name, mm(row.fixed_end), mm(row.nut_length), newton(row.pull), sources.number(row.source, row.sure))
            for row in shop.catalogue.motors.values()
        ),
        before=("Fixed end: from the nose's seat back to the rack's fixed end at mid-stroke.",),
        after=sources.lines,
    )


def _wheelboxes(shop: Shop) -> Table:
    sources = _Sources()
    return Table(
        "Wheelboxes",
        (
            Column("name"),
            Column("rack deep", "mm"),
            Column("pitch radius", "mm", 2),
            Column("groove off", "mm"),
            Column("mouth off", "mm"),
            Column("groove wide", "mm"),
            Column("bush", "mm"),
            Column("stem", "mm"),
            SOURCE,
        ),
        tuple(
            (
                row.name,
                mm(row.rack_depth),
                mm(row.pitch_radius),
                mm(row.groove_offset),
                mm(row.mouth_offset),
                mm(row.groove_width),
                mm(row.bush),
                mm(row.stem),
                sources.number(row.source, row.sure),
            )
            for row in shop.catalogue.wheelboxes.values()
        ),
        before=(
            "Rack deep: seating face to the rack's centre. Groove and mouth: off the spindle's axis, along the rack.",
        ),
        after=sources.lines,
    )


def _arms(shop: Shop) -> Table:
    sources = _Sources()
    return Table(
        "Arms",
        (Column("name"), Column("arm", "mm"), Column("blade", "mm"), SOURCE),
        tuple(
            (row.name, mm(row.length), mm(row.blade), sources.number(row.source, row.sure))
            for row in shop.catalogue.arms.values()
        ),
        before=("Arm: spindle to the blade's clip.",),
        after=sources.lines,
    )


def _stock(shop: Shop) -> Table:
    sources = _Sources()
    return Table(
        "Stock",
        (
            Column("tube"),
            Column("from"),
            Column("length", "mm"),
            Column("bars"),
            Column("price", shop.money.currency),
            Column("ends"),
            SOURCE,
        ),
        tuple(_bar(bar, sources) for bar in shop.stock),
        before=("An offcut from the shelf is priced at what it is worth left whole.",),
        after=sources.lines,
    )


def _bar(bar: StockBar, sources: _Sources) -> Row:
    ends = ", ".join(end_text(end) for end in bar.ready_ends)
    return (
        bar.tube,
        "shelf" if bar.on_shelf else "new",
        mm(bar.length),
        "no limit" if bar.bars is None else str(bar.bars),
        Decimal(money_text(bar.price_cents)),
        ends or "raw",
        sources.number(bar.source),
    )


def _prices(shop: Shop) -> Table:
    sources = _Sources()
    return Table(
        "Prices",
        (Column("item"), Column("price", shop.money.currency), Column("by"), SOURCE),
        tuple(
            (price.item, Decimal(decimals(price.amount, 2, 4)), price.unit, sources.number(price.source))
            for price in shop.money.prices.values()
        ),
        after=sources.lines,
    )


TABLES: dict[str, Callable[[Shop], Table]] = {
    "tubes": _tubes,
    "flares": _flares,
    "formers": _formers,
    "trial bends": _trials,
    "trial flares": _trial_flares,
    "motors": _motors,
    "wheelboxes": _wheelboxes,
    "arms": _arms,
    "stock": _stock,
    "prices": _prices,
}


def tables_sheet(shop: Shop, name: str | None, show: Show) -> Sheet:
    """One table, or all. Raises JobError: there is no such table."""
    if name is not None and name not in TABLES:
        raise JobError(
            "tables", f"there is no table {name!r}", f"it must be one of {', '.join(TABLES)}", near(name, TABLES)
        )
    parts: list[Part] = [TABLES[name](shop)] if name is not None else [make(shop) for make in TABLES.values()]
    return Sheet("Tables in use", tuple(parts), show)
