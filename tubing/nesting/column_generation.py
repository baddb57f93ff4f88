"""Column generation: the bound of all patterns without listing them, and the patterns that matter.

Gilmore & Gomory (1961, 1963): solve the linear programme over some patterns, price the pieces by its duals, look for a
pattern worth more than it costs, add it, repeat. Duals are smoothed towards the best so far (Wentges 1997). The bound
that is reported comes from duals rounded to whole numbers, so it is exact whatever the floats did.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction

import numpy as np
from msgspec import Struct

from tubing.nesting.master import PRIMAL, Master, Relaxed, Span
from tubing.nesting.pricing import Found, Grid, Numbers, Table

SMOOTHING = 0.6
TINY = 1e-7
MORE_PER_TABLE = 4
EACH_KIND_CELLS = 2_000_000  # above that, tables for every kind would cost more than they save
EACH_KIND_ENDINGS = 4


class Duals(Struct, frozen=True):
    """Worths of pieces and bars in cents, what a pattern on each stock costs above its worth at least, the bound."""

    worths: Numbers
    bar_worths: Numbers
    least: dict[int, float]
    bound: float


class Generated(Struct, frozen=True):
    """Where column generation ended; ``whole`` when nothing was left to add."""

    relaxed: Relaxed
    duals: Duals
    whole: bool


def generate(
    master: Master,
    grid: Grid,
    rest: Sequence[int],
    bars: Sequence[Span],
    *,
    enough: Callable[[float, float], bool] = lambda cost, bound: False,
    waiting: Callable[[], None] = lambda: None,
    simplex: int = PRIMAL,
    rounds: int = 1_000_000,
) -> Generated | None:
    """Add patterns until none is missing, or until ``enough(cost, bound)`` or the rounds are over; None where the
    simplex stalled.

    ``rest`` are the pieces of each kind to cut, ``bars`` how many bars of each stock there must and may be.
    """
    best: Duals | None = None
    relaxed = master.solve(simplex)
    while relaxed is not None:
        waiting()
        new, least, best, smooth = _priced(master, grid, rest, bars, relaxed, best)
        if enough(relaxed.cost, best.bound):
            return Generated(relaxed, best, whole=False)
        rounds -= 1
        if rounds <= 0:
            after = master.solve()
            return Generated(after, best, whole=False) if after is not None else None
        tiny = TINY * max(1.0, abs(relaxed.cost))
        if smooth == 0.0 and min((r - relaxed.bar_worths[s] for s, r in least.items()), default=0.0) > -tiny:
            return Generated(relaxed, best, whole=True)
        after = master.solve()
        if smooth == 0.0 and not new and after is not None and after.cost >= relaxed.cost - tiny:
            return Generated(after, best, whole=True)
        relaxed = after
    return None


def _priced(
    master: Master, grid: Grid, rest: Sequence[int], bars: Sequence[Span], relaxed: Relaxed, best: Duals | None
) -> tuple[bool, dict[int, float], Duals, float]:
    """Price by smoothed duals, nearer to the true ones until a pattern is new.

    Whether one was, the least reduced cost of each stock, the best duals so far, and how smoothed the last ones were.
    """
    stocks = {stock for stock, (_, most) in enumerate(bars) if most > 0}
    smooth = SMOOTHING if best is not None else 0.0
    while True:
        worths, on_bars = relaxed.worths, relaxed.bar_worths
        if best is not None and smooth:
            worths = smooth * best.worths + (1 - smooth) * worths
            on_bars = smooth * best.bar_worths + (1 - smooth) * on_bars
        table = Table(grid, worths, rest)
        found = table.least_reduced(1, stocks)
        least = _by_stock(grid, found)
        bound = dual_bound(grid, rest, bars, worths, least)
        if best is None or bound > best.bound:
            best = Duals(worths, on_bars, least, bound)
        new = bool(_add_all(master, table, found, relaxed))
        if new or smooth == 0.0:
            return new, least, best, smooth
        smooth = 0.0 if smooth < 0.2 else smooth / 2  # nothing new there: go nearer to the true duals


def _by_stock(grid: Grid, found: list[Found]) -> dict[int, float]:
    least: dict[int, float] = {}
    for place in found:
        stock = grid.endings[place.ending].stock
        least[stock] = min(least.get(stock, np.inf), place.reduced)
    return least


def _add_all(master: Master, table: Table, found: list[Found], relaxed: Relaxed) -> bool:
    """Add the patterns found that the linear programme's own duals want; whether any was new."""
    grid = table.grid
    order = sorted(found, key=lambda f: (f.reduced - relaxed.bar_worths[grid.endings[f.ending].stock], f.ending))
    held = []
    if grid.cells * len(table.moves) <= EACH_KIND_CELLS:
        plain = [f.ending for f in order if not grid.problem.stocks[grid.endings[f.ending].stock].ready]
        if plain:
            held = table.with_each_kind(plain[:EACH_KIND_ENDINGS])
    for best in order:
        places = [best] if held else [best, *table.others(best, MORE_PER_TABLE)]
        held += [table.trace(place) for place in places]
    new = False
    for stock, pieces in held:
        pattern = master.problem.pattern(stock, pieces) if pieces else None
        if pattern is None:
            continue
        worth = sum(relaxed.worths[kind] * n for kind, n in pieces) + relaxed.bar_worths[stock]
        if pattern.cost - worth < -TINY and master.add(pattern):
            new = True
    return new


def dual_bound(
    grid: Grid, rest: Sequence[int], bars: Sequence[Span], worths: Numbers, least: dict[int, float]
) -> float:
    """The bound that these worths give.

    The better of two: Lagrange's (what patterns overpay, on as many bars as there could be) and, where bars are free,
    Farley's (1990; all worths lowered until nothing is overpaid).
    """
    whole = float(np.dot(worths, rest))
    overpaid = whole + sum(bars[s][1 if r < 0 else 0] * r for s, r in least.items())
    negative = {s: r for s, r in least.items() if r < 0}
    if whole <= 0 or any(grid.cheapest[s] <= 0 for s in negative):
        return overpaid
    lowered = whole * min((grid.cheapest[s] / (grid.cheapest[s] - r) for s, r in negative.items()), default=1.0)
    return max(overpaid, lowered)


class DualBound(Struct, frozen=True):
    """A bound for every choice of bars: cost * scale >= constant + the sum of per_bar * bars."""

    scale: int
    constant: int
    per_bar: dict[int, int]


def exact_dual_bound(grid: Grid, rest: Sequence[int], duals: Duals) -> DualBound:
    """The bound that worths give, in exact arithmetic: worths as whole numbers, a table of whole numbers."""
    most = max(float(duals.worths.max(initial=0.0)), 1e-9)
    # The largest scale at which no sum over a bar, nor the value of a rest, can pass 2**61.
    dearest = 1 + max(stock.price for stock in grid.problem.stocks)
    per_bar = grid.cells / max(1, min(grid.steps)) * most + 2 * dearest
    scale = 1 << max(0, min(30, int(np.log2(2.0**61 / per_bar))))
    worths = np.floor(duals.worths * scale).astype(np.int64)
    least: dict[int, int] = {}
    for place in Table(grid, worths, rest).least_reduced(scale):
        stock = grid.endings[place.ending].stock
        reduced = int(place.reduced)
        least[stock] = min(least.get(stock, reduced), reduced)
    return DualBound(scale, sum(int(w) * n for w, n in zip(worths, rest, strict=True)), least)


def exact_bound(grid: Grid, bars: Sequence[Span], dual: DualBound) -> tuple[Fraction, Fraction | None]:
    """Cents that no plan on so many bars can be below (a plan's own cost is whole), and Farley's ratio where it won."""
    overpaid = dual.constant + sum(bars[s][1 if r < 0 else 0] * r for s, r in dual.per_bar.items())
    bound = Fraction(overpaid, dual.scale)
    negative = {s: r for s, r in dual.per_bar.items() if r < 0}
    if dual.constant <= 0 or any(least for least, _ in bars) or any(grid.cheapest[s] <= 0 for s in negative):
        return bound, None
    prices = {s: grid.cheapest[s] * dual.scale for s in negative}
    ratio = min((Fraction(prices[s], prices[s] - r) for s, r in negative.items()), default=Fraction(1))
    lowered = Fraction(dual.constant, dual.scale) * ratio
    return (lowered, ratio) if lowered > bound else (bound, None)
