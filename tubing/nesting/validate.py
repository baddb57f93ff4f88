"""What nesting refuses: each with which thing, what it is, what it had to be, what to do."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from tubing.errors import InputError, StockError
from tubing.nesting.problem import Problem
from tubing.nesting.records import Cutting, Item, Stock


def millimetres(length_mm: Fraction) -> str:
    """A length for a message: ``412.5 mm``.

    >>> millimetres(Fraction(825, 2)), millimetres(Fraction(6000))
    ('412.5 mm', '6000 mm')
    """
    return f"{float(length_mm):.10g} mm"


def check_input(
    items: Sequence[Item],
    stocks: Sequence[Stock],
    cutting: Cutting,
    time_limit_s: float,
) -> None:
    """Raise InputError for figures that mean nothing, StockError for a size that no stock has."""
    for item in items:
        _check_item(item)
    for stock in stocks:
        _check_stock(stock)
    _check_duplicates(stocks)
    for thing, amount in (
        ("kerf", cutting.kerf_mm),
        ("end trim", cutting.end_trim_mm),
        ("least offcut kept", cutting.offcuts.keep_from_mm),
    ):
        if amount < 0:
            raise InputError(thing, f"it is {millimetres(amount)}", "it must be 0 mm or more", "give 0 mm for none")
    if cutting.offcuts.value_cents_per_metre < 0:
        cents = float(cutting.offcuts.value_cents_per_metre)
        raise InputError(
            "value of offcuts",
            f"it is {cents:g} cents per metre",
            "it must be 0 or more",
            "give 0 for offcuts of no worth",
        )
    if not time_limit_s > 0:
        raise InputError("time limit", f"it is {time_limit_s:g} s", "it must be longer than 0 s", "give 10 s or so")
    offered = sorted({stock.size for stock in stocks})
    for item in items:
        if item.size not in offered:
            raise StockError(
                f"piece {item.id!r}",
                f"no stock of its size {item.size!r}",
                f"the stock is {', '.join(repr(size) for size in offered) or 'empty'}",
                f"add a bar of {item.size!r} to the stock",
            )


def _check_item(item: Item) -> None:
    thing = f"piece {item.id!r}"
    if item.length_mm <= 0:
        raise InputError(
            thing,
            f"its length is {millimetres(item.length_mm)}",
            "it must be longer than 0 mm",
            "correct the length",
        )
    if not isinstance(item.quantity, int) or isinstance(item.quantity, bool) or item.quantity < 1:
        raise InputError(
            thing,
            f"its quantity is {item.quantity}",
            "it must be a whole number from 1",
            "correct it or leave it out",
        )
    if len(item.ends) > 2:
        raise InputError(thing, f"it has {len(item.ends)} ends", "a piece has at most two", "leave out the others")
    for end in item.ends:
        if end.consumed_mm < 0 or end.consumed_mm >= item.length_mm:
            raise InputError(
                thing,
                f"a flare of it consumes {millimetres(end.consumed_mm)}",
                f"it must be 0 mm or more and less than its length, {millimetres(item.length_mm)}",
                "correct what the flare consumes",
            )


def _check_stock(stock: Stock) -> None:
    thing = f"stock {stock.name!r}"
    if stock.length_mm <= 0:
        raise InputError(
            thing,
            f"its length is {millimetres(stock.length_mm)}",
            "it must be longer than 0 mm",
            "correct the length",
        )
    if stock.price_cents < 0:
        raise InputError(thing, f"its price is {stock.price_cents} cents", "it must be 0 or more", "correct the price")
    if stock.limit is not None and stock.limit < 0:
        raise InputError(
            thing, f"there are {stock.limit} bars of it", "it must be 0 or more", "leave it out for no limit"
        )
    if len(stock.ready_ends) > 2:
        raise InputError(
            thing,
            f"it has {len(stock.ready_ends)} ready ends",
            "a bar has at most two",
            "leave out the others",
        )


def _check_duplicates(stocks: Sequence[Stock]) -> None:
    """New stock of one length twice, at one price or both times without limit, means nothing clear."""
    seen: dict[tuple[object, ...], list[Stock]] = {}
    for stock in stocks:
        if stock.on_shelf:
            continue  # the same length twice on the shelf is two offcuts
        ends = tuple((end.flare, end.nut) for end in stock.ready_ends)
        for other in seen.setdefault((stock.size, stock.length_mm, ends), []):
            if other.price_cents == stock.price_cents or (other.limit is None and stock.limit is None):
                raise InputError(
                    f"stock {stock.name!r}",
                    f"size {stock.size!r} in {millimetres(stock.length_mm)} is given twice",
                    "each length of new stock must be given once",
                    "remove one, or say how many bars there are at each price",
                )
        seen[stock.size, stock.length_mm, ends].append(stock)


def check_fit(problem: Problem) -> None:
    """Raise StockError for a piece that is too long for every bar there is."""
    there = [index for index, stock in enumerate(problem.stocks) if stock.limit > 0]
    for index, kind in enumerate(problem.kinds):
        if any(problem.pattern(stock, ((index, 1),)) is not None for stock in there):
            continue
        usable = [problem.room(s, len(problem.stocks[s].ready)) - problem.kerf for s in there]
        longest = "there are no bars"
        if usable and max(usable) > 0:
            longest = f"the longest usable bar is {millimetres(max(usable) * problem.tick_mm)}"
        elif usable:
            trim = millimetres(problem.trim * problem.tick_mm)
            longest = f"nothing of any bar is left when {trim} are trimmed off its ends"
        raise StockError(
            f"piece {kind.items[0].id!r}",
            f"its length is {millimetres(kind.length * problem.tick_mm)}",
            longest,
            "buy a longer bar, or lead the run shorter or move the motor: guide tube is not to be joined",
        )


def too_few_bars(problem: Problem) -> StockError:
    """The error for limited bars that cannot hold all pieces."""
    bars = sum(stock.limit for stock in problem.stocks)
    kind = problem.kinds[0]
    return StockError(
        f"{problem.pieces} pieces of size {problem.size!r}",
        f"they do not all fit the {bars} bars there are (the longest piece, {kind.items[0].id!r}, is "
        f"{millimetres(kind.length * problem.tick_mm)})",
        "every piece needs room on a bar",
        "add stock, or take the limit off a bar",
    )


def no_plan_in_time(problem: Problem) -> StockError:
    """The error for a search that ended before it had any plan, which only limited bars can cause."""
    needed = sum((kind.length + problem.kerf) * kind.demand for kind in problem.kinds)
    room = sum(problem.most_room(s) * stock.limit for s, stock in enumerate(problem.stocks) if stock.limit > 0)
    return StockError(
        f"{problem.pieces} pieces of size {problem.size!r}",
        "no plan was found in the time allowed",
        f"with their saw cuts the pieces need {millimetres(needed * problem.tick_mm)}, and the limited bars have "
        f"{millimetres(room * problem.tick_mm)}: whether they can be shared out so is not known",
        "give more time, or add stock",
    )
