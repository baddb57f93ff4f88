"""Patterns to bars: which piece lies where, marks for the saw, ids dealt out, equal bars once with a count."""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Iterable, Iterator
from fractions import Fraction

from msgspec.structs import replace

from tubing.nesting.problem import Pattern, Problem
from tubing.nesting.records import Bar, Item, SavedEnd, Stock


def bars_of(problem: Problem, plan: Iterable[Pattern]) -> list[Bar]:
    """The plan's bars in a fixed order, whatever order the patterns came in: new first, longest first."""
    ids = [deque(item for item in kind.items for _ in range(item.quantity)) for kind in problem.kinds]
    bars = []
    sources = {index: _deal(stock.sources) for index, stock in enumerate(problem.stocks)}
    for pattern in sorted(plan, key=lambda p: _order(problem, p)):
        bars.append(_bar(problem, pattern, next(sources[pattern.stock]), ids))
    grouped: dict[Bar, int] = Counter(bars)
    return [replace(bar, count=count) for bar, count in grouped.items()]


def _order(problem: Problem, pattern: Pattern) -> tuple[object, ...]:
    stock = problem.stocks[pattern.stock]
    along = tuple(k for k, n in pattern.pieces for _ in range(n))
    return (stock.sources[0].on_shelf, -stock.length, stock.price, pattern.stock, along)


def _deal(sources: tuple[Stock, ...]) -> Iterator[Stock]:
    """The stocks of a kind one bar after another; the last without limit goes on."""
    for stock in sorted(sources, key=lambda s: s.limit is None and not s.on_shelf):
        there = 1 if stock.limit is None and stock.on_shelf else stock.limit
        if there is None:
            while True:
                yield stock
        for _ in range(there):
            yield stock


def _bar(problem: Problem, pattern: Pattern, stock: Stock, ids: list[deque[Item]]) -> Bar:
    """One bar with its pieces taken from the ids still to be dealt."""
    best = problem.best_use(pattern.stock, pattern.pieces)
    assert best is not None
    left, use = best
    rest = Counter(dict(pattern.pieces))
    rest.subtract(kind for kind in use if kind is not None)
    along: list[tuple[int, int | None]] = [(k, None) for k in sorted(rest) for _ in range(rest[k])]
    at_ends = [(kind, end) for end, kind in enumerate(use) if kind is not None]
    along[:0] = at_ends[:1]
    along += at_ends[1:]
    items = [ids[kind].popleft() for kind, _ in along]
    saved_ends = []
    lengths = [item.length_mm for item in items]
    for place, (_, ready_end) in enumerate(along):
        if ready_end is not None:
            wanted = stock.ready_ends[ready_end]
            matching = [
                (end.consumed_mm, -i)
                for i, end in enumerate(items[place].ends)
                if (end.flare, end.nut) == (wanted.flare, wanted.nut)
            ]
            consumed_mm, index = max(matching)
            lengths[place] -= consumed_mm
            saved_ends.append(SavedEnd(ready_end, place, -index))
    left_mm = left * problem.tick_mm
    both = len(saved_ends) == 2
    first_mm = Fraction(0) if saved_ends else _first_mm(problem, stock)
    marks = _marks(lengths, stock.length_mm, problem, first_mm, far_end_used=both)
    return Bar(
        stock=stock,
        count=1,
        items=tuple(item.id for item in items),
        lengths_mm=tuple(lengths),
        marks_mm=marks,
        left_mm=left_mm,
        kept=problem.kept(left),
        saved_ends=tuple(saved_ends),
    )


def _first_mm(problem: Problem, stock: Stock) -> Fraction:
    """What is cut off before the first piece of a bar whose ready ends are not used: a raw end, or a flare."""
    return (problem.lost_ready_end if len(stock.ready_ends) == 2 else problem.trim) * problem.tick_mm


def _marks(
    lengths: list[Fraction], bar_mm: Fraction, problem: Problem, first_mm: Fraction, *, far_end_used: bool
) -> tuple[Fraction, ...]:
    """Where to cut, from the end where the first piece lies. ``first_mm``: what is cut off there."""
    kerf_mm, at = problem.kerf * problem.tick_mm, first_mm
    marks = [at] if at else []
    for length in lengths[:-1] if far_end_used else lengths:
        marks.append(at + length)
        at += length + kerf_mm
    if far_end_used:
        last = bar_mm - lengths[-1] - kerf_mm
        if last != marks[-1]:
            marks.append(last)
    return tuple(marks)
