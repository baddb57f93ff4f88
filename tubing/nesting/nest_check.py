"""The independent check of a plan: adds everything up again from items and stock, and knows no solver."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from fractions import Fraction
from math import floor

from tubing.errors import CheckError
from tubing.nesting.records import Bar, Cutting, Item, Nest, Proof, Stock


def check_nest(
    items: Sequence[Item],
    nest: Nest,
    *,
    stocks: Sequence[Stock],
    cutting: Cutting,
) -> None:
    """Raise CheckError unless each piece is cut once, no bar is overfilled or used too often, and it adds up.

    Lengths in mm, money in whole cents.
    """
    wanted = Counter[tuple[str, str]]()
    for item in items:
        wanted[item.size, item.id] += item.quantity
    cut = Counter[tuple[str, str]]()
    for bar in nest.bars:
        for name in bar.items:
            cut[bar.stock.size, name] += bar.count
    for key in sorted(wanted.keys() | cut.keys()):
        if cut[key] != wanted[key]:
            raise _failed(f"piece {key[1]!r}", f"it is cut {cut[key]} times", f"it is wanted {wanted[key]} times")
    by_key: dict[tuple[str, str], list[Item]] = {}
    for item in items:
        by_key.setdefault((item.size, item.id), []).append(item)
    cost = 0
    for bar in nest.bars:
        cost += bar.count * _checked_bar(bar, by_key, cutting)
    _check_limits(nest, stocks)
    if cost != nest.cost_cents:
        raise _failed("cost of the bars", f"{nest.cost_cents} cents", f"the bars add up to {cost} cents")
    if nest.bound_cents > cost or (nest.proof is Proof.OPTIMAL and nest.bound_cents != cost):
        raise _failed("cost of the bars", f"{cost} cents, {nest.proof}", f"its bound is {nest.bound_cents} cents")


def _failed(thing: str, found: str, needed: str) -> CheckError:
    return CheckError(thing, found, needed, "this is a defect of the program; please report the job")


def _checked_bar(
    bar: Bar,
    items: dict[tuple[str, str], list[Item]],
    cutting: Cutting,
) -> int:
    """Cents that one such bar costs, after checking what lies on it."""
    thing = f"bar {bar.stock.name!r} with {', '.join(bar.items)}"
    shorter = [Fraction(0)] * len(bar.items)
    for saved in bar.saved_ends:
        ready = bar.stock.ready_ends[saved.ready_end]
        ends = [item.ends[saved.piece_end] for item in items[bar.stock.size, bar.items[saved.piece]]]
        if all((end.flare, end.nut) != (ready.flare, ready.nut) for end in ends):
            raise _failed(thing, f"{bar.items[saved.piece]!r} lies on a ready end", "its own end must match it")
        shorter[saved.piece] += ends[0].consumed_mm
    used = [s.ready_end for s in bar.saved_ends]
    if len(set(used)) != len(used) or len({s.piece for s in bar.saved_ends}) != len(used):
        raise _failed(thing, "a ready end is used twice", "each serves one piece")
    for name, length_mm, saved_mm in zip(bar.items, bar.lengths_mm, shorter, strict=True):
        if all(length_mm != item.length_mm - saved_mm for item in items[bar.stock.size, name]):
            raise _failed(thing, f"{name!r} is cut to {float(length_mm):g} mm", "that is not its length")
    flared = len(bar.stock.ready_ends)
    cut_off_mm = max(cutting.end_trim_mm, cutting.formed_end_mm)
    usable_mm = bar.stock.length_mm - cutting.end_trim_mm * (2 - flared) - cut_off_mm * (flared - len(used))
    rest_mm = usable_mm - sum(bar.lengths_mm) - cutting.kerf_mm * (len(bar.items) - 1)
    if not bar.items or rest_mm < 0:
        raise _failed(thing, f"{float(-rest_mm):g} mm too much is planned on it", "pieces and cuts must fit")
    # Where a ready end stays on what is left, that end was not cut off.
    on_the_rest_mm = cut_off_mm if len(used) < flared else Fraction(0)
    left_mm = max(Fraction(0), rest_mm - cutting.kerf_mm + on_the_rest_mm)
    kept = left_mm > 0 and left_mm >= cutting.offcuts.keep_from_mm
    if left_mm != bar.left_mm or kept != bar.kept:
        raise _failed(thing, f"{float(bar.left_mm):g} mm are said to be left", f"{float(left_mm):g} mm are")
    return bar.stock.price_cents - (floor(left_mm * cutting.offcuts.value_cents_per_metre / 1000) if kept else 0)


def _check_limits(nest: Nest, stocks: Sequence[Stock]) -> None:
    used = Counter[Stock]()
    for bar in nest.bars:
        used[bar.stock] += bar.count
    there = Counter[Stock]()
    for stock in stocks:
        there[stock] += 1
    for stock, count in used.items():
        if stock not in there:
            raise _failed(f"stock {stock.name!r}", "it is cut from", "there is no such stock")
        limit = 1 if stock.limit is None and stock.on_shelf else stock.limit
        if limit is not None and count > limit * there[stock]:
            raise _failed(f"stock {stock.name!r}", f"{count} bars are used", f"there are {limit * there[stock]}")
