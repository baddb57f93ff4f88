"""The stock plan of a shop whose shelf is kept as a book.

Sawn:   a piece that was cut by the book. It needs no bar, unless another length is wanted by now.
Stands: what is kept for a vehicle still suits it: every piece is in the keeping, at the length that is wanted.
        Such a vehicle is sawn as it was kept; others are planned anew, and what is kept for them is offered first.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from fractions import Fraction
from typing import cast

from msgspec import Struct
from msgspec.structs import replace

from tubing.inputs.records import ReadyEnd, Shop
from tubing.inputs.shop_file import offcut_cents
from tubing.nesting import Bar, Cutting, Item, Nest, Progress, Proof, SavedEnd, Stock
from tubing.nesting.validate import millimetres
from tubing.plan.facts import items_of, stocks_of
from tubing.plan.together import OnBars, called, stock_plan
from tubing.shelf.records import Keeping, KeptBar, KeptPiece, Shelf, StockPlan, Vehicle, mm_of, pm_of
from tubing.units import exact_mm, quantity


class OnStock(Struct, frozen=True):
    """A stock plan, and what the book makes the fitter settle first."""

    nest: Nest
    said: Mapping[str, tuple[str, ...]] = {}  # by the vehicle's label
    shared_with: tuple[str, ...] = ()  # whom the bars are kept for, where for others as well
    standing: tuple[Keeping, ...] = ()  # keepings by which it is sawn


class _Settled(Struct):
    """What the book has for one vehicle."""

    vehicle: Vehicle | None
    sawn: dict[str, KeptBar]  # by piece
    keeping: Keeping | None  # live, for this vehicle
    stands: bool
    said: list[str]


def stock_plan_by_book(
    vehicles: Sequence[OnBars],
    shop: Shop,
    shelf: Shelf,
    cutting: Cutting,
    *,
    more: Sequence[Item] = (),
    time_limit_s: float | None = None,
    progress: Callable[[Progress], None] | None = None,
) -> OnStock:
    """All pieces on bars: those sawn before, those kept, and the others at least cost on what is free.

    Each vehicle bears its name in the book. Raises as :func:`stock_plan` does.
    """
    settled = {each.label: _settled(each, shop, shelf) for each in vehicles}
    asked = {each.vehicle for each in vehicles if each.vehicle is not None}
    standing = {s.keeping.number: s.keeping for s in settled.values() if s.keeping is not None and s.stands}
    fallen = {s.keeping.number: s.keeping for s in settled.values() if s.keeping is not None and not s.stands}
    offered = {number for number, keeping in fallen.items() if set(keeping.plan.vehicles) <= asked} - standing.keys()
    names = {each.vehicle: each.label for each in vehicles if each.vehicle is not None}
    kept = [_bar_of(bar, names) for k in standing.values() for bar in k.plan.bars if _is_for(bar, asked)]
    sawn = _sawn_bars(settled.values())
    done = {label: _done(each) for label, each in settled.items()}
    stocks = [*stocks_of(shop), *shelf_stocks(shelf, shop, offered)]
    nested = stock_plan(
        vehicles, shop, stocks, cutting, more=more, done=done, time_limit_s=time_limit_s, progress=progress
    )
    nested = taken_from_the_shelf(nested, kept, stocks)
    plans: list[Nest | StockPlan] = [nested, *(keeping.plan for keeping in standing.values())]
    others = {vehicle for keeping in standing.values() for vehicle in keeping.plan.vehicles} - asked
    return OnStock(
        nest=replace(
            nested,
            cost_cents=sum(plan.cost_cents for plan in plans),
            bound_cents=sum(plan.bound_cents for plan in plans),
            proof=max((Proof(plan.proof) for plan in plans), key=[Proof.OPTIMAL, Proof.FEASIBLE].index),
            note="; ".join(dict.fromkeys(plan.note for plan in plans if plan.note)),
            sawn=tuple(_bar_of(bar, names, pieces) for bar, pieces in sawn.values()),
        ),
        said={label: tuple(each.said) for label, each in settled.items() if each.said},
        shared_with=tuple(vehicle.called for vehicle in sorted(asked | others)) if others else (),
        standing=tuple(standing.values()),
    )


def _done(settled: _Settled) -> set[str]:
    """The pieces that need no bar from the nesting."""
    done = set(settled.sawn)
    if settled.keeping is not None and settled.stands:
        done |= {piece.name for piece in _pieces_for(settled.keeping, settled.vehicle)}
    return done


def _settled(vehicle: OnBars, shop: Shop, shelf: Shelf) -> _Settled:
    """What the book has for a vehicle: pieces that were sawn, and a keeping that stands or does not."""
    me = vehicle.vehicle
    wanted = {item.id: item for item in items_of(vehicle.pieces, vehicle.job, shop, vehicle.over)}
    told = {cut.piece for cut in vehicle.job.cuts}
    settled = _Settled(me, {}, None, False, [])
    bars = {(bar.number, piece.vehicle, piece.name): bar for bar in shelf.sawn for piece in bar.pieces}
    for piece in shelf.cut:
        if piece.vehicle != me or piece.name not in wanted:
            continue
        bar, item = bars[piece.bar, piece.vehicle, piece.name], wanted[piece.name]
        if piece.name in told or _as_wanted(bar, piece.name, me, item):
            settled.sawn[piece.name] = bar
        else:
            settled.said.append(_other_length(piece.name, piece.length_mm, piece.bar, item))
    for keeping in shelf.keepings:
        if me in keeping.plan.vehicles:
            changed = _changes(keeping, me, {n: i for n, i in wanted.items() if n not in settled.sawn}, told)
            settled.keeping, settled.stands = keeping, not changed
            if changed:
                settled.said.append(_fallen(keeping, changed))
    return settled


def _pieces_for(keeping: Keeping, vehicle: Vehicle | None) -> list[KeptPiece]:
    return [piece for bar in keeping.plan.bars for piece in bar.pieces if piece.vehicle == vehicle]


def _changes(keeping: Keeping, me: Vehicle, wanted: Mapping[str, Item], told: set[str]) -> list[str]:
    """What of a vehicle is no longer as it was kept, in words; a piece that the job has as cut is as it was sawn."""
    said, found = [], set[str]()
    for bar in keeping.plan.bars:
        for piece in bar.pieces:
            if piece.vehicle != me:
                continue
            found.add(piece.name)
            item = wanted.get(piece.name)
            if item is None:
                said.append(f"{piece.name} is no longer wanted")
            elif piece.name not in told and not _as_wanted(bar, piece.name, me, item):
                was, is_now = millimetres(mm_of(piece.length_pm)), millimetres(item.length_mm)
                said.append(f"{piece.name} was to be {was} and is now {is_now}")
    said += [f"{name} is new, {millimetres(item.length_mm)}" for name, item in wanted.items() if name not in found]
    return said


def _as_wanted(bar: KeptBar, name: str, me: Vehicle | None, item: Item) -> bool:
    """Whether a piece of a kept bar is what is wanted now, its ready ends reckoned in."""
    place = next(k for k, piece in enumerate(bar.pieces) if (piece.vehicle, piece.name) == (me, name))
    length_mm = item.length_mm
    for ready_end, piece, end in bar.saved_ends:
        if piece == place:
            flare = bar.ready_ends[ready_end]
            if end >= len(item.ends) or (item.ends[end].flare, item.ends[end].nut) != (flare.flare, flare.nut):
                return False
            length_mm -= item.ends[end].consumed_mm
    return bar.tube == item.size and mm_of(bar.pieces[place].length_pm) == length_mm


def _other_length(name: str, was_mm: Fraction, bar: int, item: Item) -> str:
    return (
        f"{name} was cut to {millimetres(was_mm)} from bar {bar}, and the plan now saws "
        f"{millimetres(item.length_mm)}. If the cut one is to be fitted, put it into the job under [[cut]]. If not, "
        "tubing shelf scrap with the job's file and the piece says so. Here it is planned anew."
    )


def _fallen(keeping: Keeping, changed: Sequence[str]) -> str:
    return (
        f"This plan differs from what was kept on {keeping.since}: {'; '.join(changed)}. Saw nothing by the earlier "
        "sheet. tubing shelf keep keeps what this plan takes."
    )


def _is_for(bar: KeptBar, vehicles: set[Vehicle]) -> bool:
    return any(piece.vehicle in vehicles for piece in bar.pieces)


def shelf_stocks(shelf: Shelf, shop: Shop, offered: set[int]) -> list[Stock]:
    """The bars of the shelf that may be taken, those kept for who asks first.

    An offcut costs what it is worth left whole; a bar that was bought costs what was paid, or what it costs now if that
    is less, so that it is not left lying.
    """
    prices = {(bar.tube, exact_mm(bar.length), bar.ready_ends): bar.price_cents for bar in shop.stock}
    there = [bar for bar in shelf.bars if bar.keeping is None or bar.keeping in offered]
    stocks = []
    for bar in sorted(there, key=lambda bar: (bar.keeping is None, bar.number)):
        if bar.price_cents is None:
            cents = offcut_cents(quantity(bar.length_mm, "mm"), shop.offcuts)
        else:
            cents = min(bar.price_cents, prices.get((bar.tube, bar.length_mm, bar.ready_ends), bar.price_cents))
        stocks.append(
            Stock(bar.tube, bar.tube, bar.length_mm, cents, 1, on_shelf=True, ready_ends=bar.ready_ends,
                  number=bar.number)
        )  # fmt: skip
    return stocks


def taken_from_the_shelf(nested: Nest, kept: Sequence[Bar], stocks: Sequence[Stock]) -> Nest:
    """The plan's bars behind those that are kept, each new one taken from the shelf where an equal one lies there.

    It costs no more: a bar of the shelf is never dearer than the same one new.
    """
    used = {bar.stock.number for bar in (*nested.bars, *kept)}
    free: dict[tuple[object, ...], list[Stock]] = {}
    for stock in stocks:
        if stock.number is not None and stock.number not in used:
            free.setdefault((stock.size, stock.length_mm, stock.ready_ends), []).append(stock)
    bars: list[Bar] = []
    for bar in (*kept, *nested.bars):
        left = bar.count
        here = free.get((bar.stock.size, bar.stock.length_mm, bar.stock.ready_ends), []) if _is_new(bar) else []
        while left and here and here[0].price_cents <= bar.stock.price_cents:
            bars.append(replace(bar, stock=here.pop(0), count=1))
            left -= 1
        if left:
            bars.append(replace(bar, count=left))
    return replace(nested, bars=tuple(bars))


def _is_new(bar: Bar) -> bool:
    return bar.stock.number is None


def _sawn_bars(settled: Iterable[_Settled]) -> dict[int | None, tuple[KeptBar, set[KeptPiece]]]:
    """The bars that were sawn, by number, each with those of its pieces that are used."""
    found: dict[int | None, tuple[KeptBar, set[KeptPiece]]] = {}
    for each in settled:
        for name, bar in each.sawn.items():
            _, pieces = found.setdefault(bar.number, (bar, set()))
            pieces |= {piece for piece in bar.pieces if (piece.vehicle, piece.name) == (each.vehicle, name)}
    return found


def _bar_of(bar: KeptBar, labels: Mapping[Vehicle, str], used: Collection[KeptPiece] | None = None) -> Bar:
    """A kept or sawn bar for the sheet; pieces of vehicles that are not asked for bear their name in the book.

    So do pieces that are not ``used``: they were spoiled, or another length is wanted by now.
    """
    names = [
        called(piece.name, labels[piece.vehicle])
        if piece.vehicle in labels and (used is None or piece in used)
        else called(piece.name, piece.vehicle.called)
        for piece in bar.pieces
    ]
    return Bar(
        stock=Stock(
            bar.tube,
            bar.tube,
            mm_of(bar.length_pm),
            bar.price_cents,
            1,
            on_shelf=bar.number is not None,
            ready_ends=bar.ready_ends,
            number=bar.number,
        ),
        count=1,
        items=tuple(names),
        lengths_mm=tuple(mm_of(piece.length_pm) for piece in bar.pieces),
        marks_mm=tuple(mm_of(mark) for mark in bar.marks_pm),
        left_mm=mm_of(bar.left_pm),
        kept=bar.left_is_kept,
        saved_ends=tuple(SavedEnd(*saved) for saved in bar.saved_ends),
        offcut_number=bar.offcut,
    )


def to_keep(vehicles: Sequence[OnBars], nested: Nest) -> StockPlan:
    """The stock plan of some vehicles as the book keeps it. Raises InputError for a length without end of decimals."""
    whose = {called(p.id, each.label): (each.vehicle, p.id) for each in vehicles for p in each.pieces}
    bars = []
    for bar in nested.bars:
        pieces = []
        for name, length_mm in zip(bar.items, bar.lengths_mm, strict=True):
            vehicle, piece = whose[name]
            assert vehicle is not None, "every vehicle of a keeping bears its name in the book"
            pieces.append(KeptPiece(vehicle, piece, pm_of(length_mm, name)))
        bars.append(_kept_bar(bar, tuple(pieces)))
    return StockPlan(
        vehicles=tuple(each.vehicle for each in vehicles if each.vehicle is not None),
        bars=tuple(bars),
        cost_cents=nested.cost_cents,
        bound_cents=nested.bound_cents,
        proof=nested.proof.value,
        note=nested.note,
    )


def _kept_bar(bar: Bar, pieces: tuple[KeptPiece, ...]) -> KeptBar:
    thing = f"bar of {bar.stock.size}"
    return KeptBar(
        number=bar.stock.number,
        tube=bar.stock.size,
        length_pm=pm_of(bar.stock.length_mm, thing),
        price_cents=bar.stock.price_cents,
        ready_ends=cast(tuple[ReadyEnd, ...], bar.stock.ready_ends),  # of the book, or of the shop's file
        pieces=pieces,
        marks_pm=tuple(pm_of(mark, thing) for mark in bar.marks_mm),
        left_pm=pm_of(bar.left_mm, thing),
        left_is_kept=bar.kept,
        saved_ends=tuple((saved.ready_end, saved.piece, saved.piece_end) for saved in bar.saved_ends),
        ends_left=cast(tuple[ReadyEnd, ...], bar.ends_left),
        offcut=bar.offcut_number,
    )
