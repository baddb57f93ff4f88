"""The commands that keep the bars of a plan, free them, cut them, and say what is to be bought."""

from __future__ import annotations

import hashlib
import sys
from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import msgspec
from msgspec import Struct
from msgspec.structs import replace

from tubing.commands.output import naming_files, path_or_none, print_sheet
from tubing.commands.shelving import shop_with_book, tell
from tubing.cost import Group
from tubing.errors import BookError
from tubing.inputs.job_file import read_job
from tubing.inputs.records import Job, Shop
from tubing.nesting import Bar
from tubing.nesting.validate import millimetres
from tubing.plan import Plan, on_stock, plan_together, vehicles_of
from tubing.plan.facts import cutting_of
from tubing.plan.from_shelf import OnStock, to_keep
from tubing.plan.together import OnBars
from tubing.sheet import shelf_tables
from tubing.sheet.records import Sheet
from tubing.sheet.words import visible
from tubing.shelf.door import opened
from tubing.shelf.kept_bars import as_sawn, cut, free, keep, not_kept
from tubing.shelf.of_shop import book_for
from tubing.shelf.reading import live_keepings, shelf
from tubing.shelf.records import ByBook, Keeping, KeptBar, Vehicle, pm_of
from tubing.units import exact_mm

MOST_TRIES = 5  # how often a plan is made again because another command took a bar of it meanwhile


class Asked(Struct, frozen=True):
    """The words of these commands."""

    jobs: tuple[str, ...]
    layout: str | None
    shop: str | None


class _Planned(Struct, frozen=True):
    """The stock plan of the jobs, with the book that it was made by."""

    shop: Shop
    book: ByBook
    vehicles: list[OnBars]
    found: OnStock


def _planned(asked: Asked) -> _Planned:
    """Plan the vehicles of all jobs on the book as it stands. Raises what reading and planning raise."""
    shop, _ = shop_with_book(asked.shop)
    jobs = _read(asked, shop)
    book = book_for(shop, jobs)
    assert book is not None, "the shop keeps one"
    with naming_files(jobs[0][0] if len(jobs) == 1 else None, path_or_none(asked.shop)):
        _, vehicles = vehicles_of([job for _, job in jobs], shop, asked.layout, book)
        return _Planned(shop, book, vehicles, on_stock(vehicles, shop, book))


def _read(asked: Asked, shop: Shop) -> list[tuple[Path, Job]]:
    paths = [Path(name) for name in asked.jobs]
    read = {path: read_job(path, shop) for path in dict.fromkeys(paths)}
    return [(path, read[path]) for path in paths]


def keep_bars(asked: Asked) -> None:
    """``shelf keep``: what the plan takes is kept for it. A plan whose bars were taken meanwhile is made again."""
    _, path = shop_with_book(asked.shop)
    for tried in range(MOST_TRIES):
        now = _planned(asked)
        _check_named(now.book.shelf.keepings, now.book.vehicles)
        plan = to_keep(now.vehicles, now.found.nest)
        if not plan.bars:
            raise BookError(
                " ".join(asked.jobs),
                "all its pieces are cut",
                "there must be a piece to saw",
                "for another vehicle write vehicles = 2 in the job, or name the job twice",
            )
        if _same_bars(plan.bars, now.found.standing):
            sys.stdout.write("Nothing was changed: all of it is kept already.\n")
            _print_numbers(plan.bars)
            return
        content = hashlib.sha256(msgspec.json.encode(plan)).hexdigest()
        try:
            with opened(path) as connection:
                done = keep(connection, plan, f"keep {content} at {now.book.shelf.state}")
                kept = [k for k in live_keepings(connection) if k.number == done.operation]
        except BookError:
            if tried == MOST_TRIES - 1 or _state(path) == now.book.shelf.state:
                raise
            continue
        tell(done)
        for keeping in kept:
            _print_numbers(keeping.plan.bars)
        return


def _same_bars(bars: Sequence[KeptBar], standing: Sequence[Keeping]) -> bool:
    return sorted(map(repr, bars)) == sorted(repr(bar) for keeping in standing for bar in keeping.plan.bars)


def _state(path: Path) -> int:
    with opened(path) as connection:
        return shelf(connection, path).state


def _print_numbers(bars: Sequence[KeptBar]) -> None:
    for line in shelf_tables.offcut_lines(bars):
        sys.stdout.write(f"{visible(line)}\n")


def free_bars(asked: Asked) -> None:
    """``shelf free``: by the job's file, or by the name that the book has for it."""
    _, path = shop_with_book(asked.shop)
    with opened(path) as connection:
        now = shelf(connection, path)
        kept = [vehicle for keeping in now.keepings for vehicle in keeping.plan.vehicles]
        names = {word: {word, now.job_name(Path(word))} for word in asked.jobs}
        vehicles = [vehicle for vehicle in kept if any(vehicle.job in called for called in names.values())]
        for word, called in names.items():
            if called.isdisjoint(vehicle.job for vehicle in kept):
                known = ", ".join(dict.fromkeys(vehicle.job for vehicle in kept)) or "nobody"
                raise BookError(word, "no bar is kept for it", f"bars are kept for {known}", "name one of these")
        tell(free(connection, vehicles, f"free {[v.called for v in vehicles]} at {now.state}"))


def cut_bars(asked: Asked, *, as_kept: bool) -> None:
    """``shelf cut``: kept bars are sawn up. ``as_kept``: whatever the plan says by now.

    Raises BookError for a plan that is no longer what was kept.
    """
    shop, path = shop_with_book(asked.shop)
    jobs = _read(asked, shop)
    book = book_for(shop, jobs)
    assert book is not None, "the shop keeps one"
    vehicles = book.vehicles
    kept = [k for k in book.shelf.keepings if not set(k.plan.vehicles).isdisjoint(vehicles)]
    _check_all_kept(kept, vehicles)
    if not as_kept:
        now = _planned(asked)
        said = [text for texts in now.found.said.values() for text in texts]
        standing = {keeping.number for keeping in now.found.standing}
        if any(keeping.number not in standing for keeping in kept):
            raise BookError(
                " ".join(asked.jobs),
                " ".join(said).rstrip("."),
                "what is cut must be what was kept",
                "if the bars were sawn as they were kept all the same, add --as-kept",
            )
        kept = _as_sawn(kept, now)
    with opened(path) as connection:
        done = cut(connection, kept, f"cut {[keeping.number for keeping in kept]} at {book.shelf.state}")
        tell(done)
        lying = {bar.number: bar for bar in shelf(connection, path).bars}
    for number in done.bars:
        if number in lying:
            bar = lying[number]
            sys.stdout.write(
                f"Write {number} on what is left of bar {bar.cut_from}: {bar.tube}, {millimetres(bar.length_mm)}.\n"
            )


def _check_named(kept: Sequence[Keeping], vehicles: Sequence[Vehicle]) -> None:
    """Raises BookError for a keeping that is for some of these vehicles and for others as well."""
    for keeping in kept:
        for vehicle in keeping.plan.vehicles:
            if vehicle not in vehicles and not set(keeping.plan.vehicles).isdisjoint(vehicles):
                raise BookError(
                    vehicle.called,
                    "it is not named, and shares kept bars with one that is",
                    "bars that are kept together go together",
                    "name all of them in one command",
                )


def _check_all_kept(kept: Sequence[Keeping], vehicles: Sequence[Vehicle]) -> None:
    """Raises BookError for a vehicle without a keeping, or a keeping that is for others as well."""
    _check_named(kept, vehicles)
    held = {vehicle for keeping in kept for vehicle in keeping.plan.vehicles}
    for vehicle in vehicles:
        if vehicle not in held:
            raise not_kept(vehicle.called)


def _as_sawn(kept: Sequence[Keeping], now: _Planned) -> list[Keeping]:
    """The keepings with the lengths that the jobs have under [[cut]]."""
    cutting = cutting_of(now.shop)
    kerf_pm, keep_from_pm = pm_of(cutting.kerf_mm, "kerf"), pm_of(cutting.offcuts.keep_from_mm, "keep_from")
    told = {
        (each.vehicle, each_cut.piece): pm_of(exact_mm(each_cut.length), each_cut.piece)
        for each in now.vehicles
        if each.vehicle is not None
        for each_cut in each.job.cuts
    }
    return [
        replace(
            keeping,
            plan=replace(
                keeping.plan,
                bars=tuple(as_sawn(bar, told, kerf_pm, keep_from_pm) for bar in keeping.plan.bars),
            ),
        )
        for keeping in kept
    ]


def what_to_buy(asked: Asked) -> None:
    """``shelf need``: tube and parts to buy for all vehicles of some jobs together."""
    shop, _ = shop_with_book(asked.shop)
    jobs = _read(asked, shop)
    book = book_for(shop, jobs)
    with naming_files(jobs[0][0] if len(jobs) == 1 else None, path_or_none(asked.shop)):
        plans = plan_together([job for _, job in jobs], shop, asked.layout, book)
    currency = shop.money.currency
    bars: dict[int, Bar] = {number: bar for planned in plans for number, bar in planned.nest.numbered}
    title = f"To buy for {', '.join(planned.job.title for planned in plans)}"
    tables = (
        shelf_tables.bars_to_buy(list(bars.values()), currency),
        shelf_tables.parts_to_buy(_parts(plans), currency),
    )
    print_sheet(Sheet(title, tables))


def _parts(plans: Sequence[Plan]) -> dict[tuple[str, str], tuple[Fraction, Decimal | None]]:
    """Parts of all plans added up, by name and unit."""
    together: dict[tuple[str, str], tuple[Fraction, Decimal | None]] = {}
    for planned in plans:
        for line in planned.cost.lines:
            if line.group is Group.PARTS:
                count, amount = together.get((line.what, line.unit), (Fraction(0), Decimal(0)))
                known = None if amount is None or line.amount is None else amount + line.amount
                together[line.what, line.unit] = (count + line.quantity, known)
    return together
