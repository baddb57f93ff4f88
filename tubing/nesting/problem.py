"""Items and stock of one size as whole numbers: ticks of the lengths' common divisor.

A piece of length ``l`` takes ``l + kerf`` of a bar, and a bar has one kerf more than its usable length, so pieces
fit when their sum does. What is over then is ``spare``; what is left to keep is ``spare - kerf``.
"""

from __future__ import annotations

from fractions import Fraction
from functools import reduce
from itertools import product
from math import ceil, gcd, lcm

from msgspec import Struct

from tubing.nesting.records import Cutting, Item, Stock

Counts = tuple[int, ...]  # pieces of each kind


class Kind(Struct, frozen=True):
    """Pieces that are equal in all that matters."""

    length: int
    demand: int
    ends: tuple[tuple[str, bool, int], ...]  # flare, nut, consumed
    items: tuple[Item, ...]


class StockKind(Struct, frozen=True):
    """Bars that are equal in all that matters."""

    length: int
    price: int
    limit: int  # never more than there are pieces
    ready: tuple[tuple[str, bool], ...]
    sources: tuple[Stock, ...]


class Pattern(Struct, frozen=True):
    """What is cut from one bar."""

    stock: int
    pieces: tuple[tuple[int, int], ...]  # kind and how many, by rising kind
    cost: int
    left: int


class Problem(Struct, frozen=True):
    """One size: kinds by falling length, stocks as given."""

    size: str
    kinds: tuple[Kind, ...]
    stocks: tuple[StockKind, ...]
    kerf: int
    trim: int
    tick_mm: Fraction
    keep_from: int
    cents_per_tick: Fraction
    limited: tuple[int, ...] = ()  # stocks whose limit can matter
    lost_ready_end: int = 0  # what a ready end that no piece uses takes of the bar

    @property
    def pieces(self) -> int:
        """How many pieces there are."""
        return sum(kind.demand for kind in self.kinds)

    @property
    def offcuts_have_value(self) -> bool:
        """Whether what is left of a bar can change the cost."""
        return self.cents_per_tick > 0

    def kept(self, left: int) -> bool:
        """Whether so much left of a bar is kept."""
        return left > 0 and left >= self.keep_from

    def value(self, left: int) -> int:
        """Cents that what is left of a bar is worth."""
        if not self.kept(left):
            return 0
        return left * self.cents_per_tick.numerator // self.cents_per_tick.denominator

    def room(self, stock: int, used_ends: int = 0) -> int:
        """Ticks that pieces with their kerfs may take on a bar, ``used_ends`` of its ready ends in use."""
        there = len(self.stocks[stock].ready)
        lost = self.trim * (2 - there) + self.lost_ready_end * (there - used_ends)
        return self.stocks[stock].length - lost + self.kerf

    def kept_more(self, stock: int, used_ends: int) -> int:
        """Ticks that an unused ready end leaves on the rest of a bar, where it is not cut off."""
        return self.lost_ready_end if used_ends < len(self.stocks[stock].ready) else 0

    def most_room(self, stock: int) -> int:
        """Room with all that ready ends can save; no pattern needs more, counted in whole pieces."""
        ready = self.stocks[stock].ready
        saved = sum(max((c for k in self.kinds for f, n, c in k.ends if (f, n) == end), default=0) for end in ready)
        return self.room(stock, len(ready)) + saved

    def end_uses(self, stock: int, pieces: tuple[tuple[int, int], ...]) -> list[tuple[int | None, ...]]:
        """Every way that pieces can use the ready ends of a bar: a kind or None for each ready end."""
        count = dict(pieces)
        choices = [
            [None, *(k for k in sorted(count) if self.saving(k, end) is not None)] for end in self.stocks[stock].ready
        ]
        return [use for use in product(*choices) if all(use.count(k) <= count[k] for k in set(use) if k is not None)]

    def saving(self, kind: int, end: tuple[str, bool]) -> int | None:
        """What a piece of this kind saves on a ready end; None where no end of it matches."""
        return max((c for f, n, c in self.kinds[kind].ends if (f, n) == end), default=None)

    def left_with(self, stock: int, pieces: tuple[tuple[int, int], ...], use: tuple[int | None, ...]) -> int | None:
        """What is left of a bar when its ready ends are used so; None where the pieces do not fit.

        A ready end that no piece uses is cut off behind its flare, or stays on what is left.
        """
        ready = self.stocks[stock].ready
        used = sum(k is not None for k in use)
        saved = sum(self.saving(k, end) or 0 for k, end in zip(use, ready, strict=True) if k is not None)
        taken = sum((self.kinds[k].length + self.kerf) * n for k, n in pieces) - saved
        spare = self.room(stock, used) - taken
        if spare < 0:
            return None
        return max(0, spare - self.kerf + self.kept_more(stock, used))

    def best_use(self, stock: int, pieces: tuple[tuple[int, int], ...]) -> tuple[int, tuple[int | None, ...]] | None:
        """The use of ready ends that leaves most, then uses most ends, and what it leaves; None: no fit."""
        if not self.stocks[stock].ready:
            left = self.left_with(stock, pieces, ())
            return None if left is None else (left, ())
        ways = [(self.left_with(stock, pieces, use), use) for use in self.end_uses(stock, pieces)]
        fitting = [(left, use) for left, use in ways if left is not None]
        if not fitting:
            return None
        return max(fitting, key=lambda way: (way[0], sum(k is not None for k in way[1])))

    def pattern(self, stock: int, pieces: tuple[tuple[int, int], ...]) -> Pattern | None:
        """The pattern of these pieces on this stock; None where they do not fit."""
        best = self.best_use(stock, pieces)
        if best is None:
            return None
        return Pattern(stock, pieces, self.stocks[stock].price - self.value(best[0]), best[0])


def problem_of_size(items: list[Item], stocks: list[Stock], cutting: Cutting) -> Problem:
    """Whole numbers from items and stocks of one size; equal pieces and equal bars become one kind each."""
    lengths = [cutting.kerf_mm, cutting.end_trim_mm]
    lengths += [cutting.lost_ready_end_mm] if any(stock.ready_ends for stock in stocks) else []
    lengths += [item.length_mm for item in items] + [end.consumed_mm for item in items for end in item.ends]
    lengths += [stock.length_mm for stock in stocks]
    tick_mm = common_divisor([Fraction(length) for length in lengths])

    def ticks(length_mm: Fraction) -> int:
        return int(Fraction(length_mm) / tick_mm)

    wanted: dict[tuple[int, tuple[tuple[str, bool, int], ...]], list[Item]] = {}
    offered = {(end.flare, end.nut) for stock in stocks for end in stock.ready_ends}
    for item in items:
        ends = tuple(sorted((e.flare, e.nut, ticks(e.consumed_mm)) for e in item.ends if (e.flare, e.nut) in offered))
        wanted.setdefault((ticks(item.length_mm), ends), []).append(item)
    kinds = tuple(
        Kind(length, sum(item.quantity for item in same), ends, tuple(same))
        for (length, ends), same in sorted(wanted.items(), key=lambda entry: (-entry[0][0], entry[0][1]))
    )
    pieces = sum(kind.demand for kind in kinds)
    merged: dict[tuple[int, int, bool, tuple[tuple[str, bool], ...]], list[Stock]] = {}
    for stock in stocks:
        ready = tuple((end.flare, end.nut) for end in stock.ready_ends)
        merged.setdefault((ticks(stock.length_mm), stock.price_cents, stock.on_shelf, ready), []).append(stock)
    kept = tuple(
        StockKind(length, price, min(pieces, sum(bars_there(s, pieces) for s in same)), ready, tuple(same))
        for (length, price, _, ready), same in merged.items()
    )
    return Problem(
        size=items[0].size,
        kinds=kinds,
        stocks=kept,
        kerf=ticks(cutting.kerf_mm),
        trim=ticks(cutting.end_trim_mm),
        tick_mm=tick_mm,
        keep_from=ceil(Fraction(cutting.offcuts.keep_from_mm) / tick_mm),
        cents_per_tick=Fraction(cutting.offcuts.value_cents_per_metre) * tick_mm / 1000,
        limited=tuple(index for index, stock in enumerate(kept) if stock.limit < pieces),
        lost_ready_end=ticks(cutting.lost_ready_end_mm),
    )


def bars_there(stock: Stock, pieces: int) -> int:
    """How many bars of a stock there are; no plan needs more than there are pieces."""
    if stock.limit is None:
        return 1 if stock.on_shelf else pieces
    return stock.limit


def common_divisor(lengths: list[Fraction]) -> Fraction:
    """The longest length that divides all of these exactly.

    >>> common_divisor([Fraction(6000), Fraction(5, 2), Fraction(127, 320)])
    Fraction(1, 320)
    """
    under = reduce(lcm, (length.denominator for length in lengths), 1)
    return Fraction(reduce(gcd, (int(length * under) for length in lengths), 0) or 1, under)
