"""The stock bars: what is cut from each, where to mark, what is left, and how good the plan is known to be."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from fractions import Fraction

from msgspec import Struct

from tubing.nesting import Bar, Nest, Proof
from tubing.sheet.records import Column, Lines, Show, Table
from tubing.sheet.words import end_text, listed, money_text, sentence, short_length
from tubing.units import rounded

MOST_NAMED = 4  # pieces named in the list of bars; a bar with more refers to its saw list
PROOF_WORDS = {
    Proof.OPTIMAL: "proved: no plan costs less",
    Proof.FEASIBLE: "best found in the time allowed; not proved",
    Proof.IMPOSSIBLE: "impossible",
}


OF_THIS_JOB = (
    "This stock plan is for this vehicle alone. One for several together (the commands sheet A B and nest) may cut "
    "other lengths from other bars: saw by one of the two."
)


def for_together(names: list[str]) -> str:
    """Which jobs a stock plan for several is for, and which sheets belong to it."""
    return (
        f"This stock plan is for {listed(names)} together. The sheets that belong to it are those that the command "
        "sheet makes of all of them at once; one made of a job alone may have other bars and lengths."
    )


def whose_bars(together: Sequence[str]) -> str:
    """Which vehicles the bars of a sheet are for; empty: for the sheet's own alone."""
    if not together:
        return OF_THIS_JOB
    return (
        f"This stock plan is for {listed(tuple(together))} together: saw each bar once, and lay aside what is another "
        "vehicle's."
    )


def kerf_words(kerf_mm: Fraction) -> str:
    """What each cut is reckoned to take, for whoever cuts otherwise."""
    if kerf_mm:
        return f"Each cut is reckoned to take {float(kerf_mm):g} mm of tube (the kerf), beyond its mark."
    return "Each cut is reckoned to take nothing, as a wheel cutter does: for a saw give its kerf in the shop file."


def bars_table(nested: Nest, currency: str | None, whose: str = "") -> Table:
    """The bars to take for several jobs or lists, and the verdict; without a currency, the cost is mm of bar.

    ``whose``: a sentence that says which jobs this stock plan is for; empty where there is but one.
    """
    rows = tuple(
        (
            number,
            bar.count,
            _source(bar),
            bar.stock.size,
            bar.stock.length_mm,
            _pieces_words(bar),
            bar.left_mm,
            _keep_words(bar) if bar.kept else ("scrap" if bar.left_mm else "nothing"),
        )
        for number, bar in nested.numbered
    )
    return Table(
        "Stock bars",
        (
            Column("bar"),
            Column("count"),
            Column("from"),
            Column("tube"),
            Column("length", "mm"),
            Column("pieces"),
            Column("left", "mm"),
            Column("what is left"),
        ),
        rows,
        before=(whose,) if whose else (),
        after=tuple(verdict(nested, currency)),
    )


def _source(bar: Bar) -> str:
    """Where a bar comes from: new, or the shelf with the number that is written on it."""
    if bar.stock.number is not None:
        return f"shelf, no. {bar.stock.number}"
    return "shelf" if bar.stock.on_shelf else "new"


def _keep_words(bar: Bar) -> str:
    return "keep" if bar.offcut_number is None else f"keep, write {bar.offcut_number} on it"


def stock_lines(
    nested: Nest,
    currency: str,
    together: Sequence[str] = (),
    by_book: str = "",
    *,
    with_prices: bool = True,
) -> Lines:
    """How good the bars of one vehicle, or of several together, are known to be.

    ``by_book``: a sentence on what the shelf's book has of them; empty where none is kept.
    """
    said = verdict(nested, currency) if with_prices else verdict_without_money(nested)
    if together:
        said.append(f"That is for {listed(tuple(together))} together; a shared bar is shared out by length.")
    said += [by_book] if by_book else []
    return Lines("Stock", tuple(said))


def book_words(kept_since: Sequence[str], bars: int) -> str:
    """Whether a plan's bars are kept in the shelf's book, for a shop that keeps one."""
    if kept_since:
        return f"Its bars are kept for it in the shelf's book since {listed(tuple(kept_since))}."
    if not bars:
        return "By the shelf's book all its pieces are sawn."
    return (
        "Its bars are not kept for it: tubing shelf keep, with the job's file, keeps them from other jobs and "
        "numbers what will be left of them."
    )


def _pieces_words(bar: Bar) -> str:
    """The pieces cut from a bar, or how many there are where they would not fit on a line."""
    named = repeats(bar.items)
    return ", ".join(named) if len(named) <= MOST_NAMED else f"{len(bar.items)} pieces, see its saw list"


def verdict(nested: Nest, currency: str | None) -> list[str]:
    """How good the plan is known to be, in money; without a currency, in mm of bar."""
    unit = currency or "mm"
    cost, bound, gap = (
        f"{money_text(amount)} {unit}"
        for amount in (nested.cost_cents, nested.bound_cents, nested.cost_cents - nested.bound_cents)
    )
    what = "Tube costs" if currency else "Bars taken, end to end:"
    less = " (bars less what the kept offcuts are worth)" if currency else ""
    said = [f"{what} {cost}{less}; it cannot be below {bound}; could still save {gap} ({PROOF_WORDS[nested.proof]})."]
    if nested.note:
        said.append(sentence(nested.note))
    return said


def verdict_without_money(nested: Nest) -> list[str]:
    """How good the plan is known to be, as a share instead of a sum: for a sheet without prices."""
    if nested.proof is Proof.OPTIMAL:
        said = ["These are the best bars to take (proved: no plan is better)."]
    else:
        gap = Fraction(nested.cost_cents - nested.bound_cents, max(1, nested.cost_cents))
        share = f"could still be better by {rounded(100 * gap, 1)} %"
        said = [f"These are the best bars found in the time allowed; not proved; {share}."]
    if nested.note:
        said.append(sentence(nested.note))
    return said


def repeats(ids: Iterable[str]) -> list[str]:
    """Ids in order; equal neighbours are named once, with their count.

    >>> repeats(["a", "a", "b", "a"])
    ['2 x a', 'b', 'a']
    """
    runs: list[tuple[str, int]] = []
    for name in ids:
        if runs and runs[-1][0] == name:
            runs[-1] = (name, runs[-1][1] + 1)
        else:
            runs.append((name, 1))
    return [f"{count} x {name}" if count > 1 else name for name, count in runs]


def bar_text(bar: Bar, show: Show) -> str:
    """A bar in words: its tube, its length and where it comes from."""
    number = "" if bar.stock.number is None else f", number {bar.stock.number}"
    where = f"from the shelf{number}" if bar.stock.on_shelf else "new"
    return f"{bar.stock.size}, {short_length(bar.stock.length_mm, show)}, {where}"


def saw_list(nested: Nest, kerf_mm: Fraction, whose: str = "", cut: Collection[str] = ()) -> Table:
    """Every mark on every kind of bar, in order, with what lies before it.

    ``whose``: a sentence that says which jobs this stock plan is for; empty where it was said before. ``cut``: pieces
    that were cut already.
    """
    rows = [
        (
            *_about(number, bar),
            row.mark_mm,
            f"{row.words} (cut already)" if row.words in cut else row.words,
            row.length_mm,
        )
        for number, bar in nested.numbered
        for row in saw_rows(bar)
    ]
    places = 2 if any((part * 10).denominator != 1 for bar in nested.bars for part in bar.marks_mm) else 1
    return Table(
        "Saw list",
        (
            Column("bar"),
            Column("count"),
            Column("from"),
            Column("tube"),
            Column("bar length", "mm"),
            Column("marks count from"),
            Column("mark", "mm", places),
            Column("what lies before the mark"),
            Column("length", "mm", places),
        ),
        tuple(rows),
        before=(*((whose,) if whose else ()), kerf_words(kerf_mm)),
        groups=6,
    )


def _about(number: int, bar: Bar) -> tuple[int, int, str, str, Fraction, str]:
    """The bar that a mark is on, and the end that its marks count from."""
    return number, bar.count, _source(bar), bar.stock.size, bar.stock.length_mm, _counts_from(bar)


def _counts_from(bar: Bar) -> str:
    """The end of a bar that its marks count from: a flared one that is used, else either.

    Of two that are used it is the first piece's.
    """
    used = [saved for saved in bar.saved_ends if saved.piece == 0] or list(bar.saved_ends)
    if not used:
        return _unused_end(bar)
    return f"its {end_text(bar.stock.ready_ends[used[0].ready_end])} end"


def _unused_end(bar: Bar) -> str:
    """The end to count from so that a flared one that no piece uses stays on what is left."""
    ends = bar.stock.ready_ends
    if not ends:
        return "either end"
    return "its plain end" if len(ends) == 1 else f"its {end_text(ends[0])} end"


class SawRow(Struct, frozen=True):
    """What lies between a mark and the mark before it."""

    mark_mm: Fraction
    words: str  # the piece, or what is left
    length_mm: Fraction | None  # None: scrap of no length worth saying
    is_piece: bool


def saw_rows(bar: Bar) -> list[SawRow]:
    """The marks of a bar in order, with what lies before each; the last row is the bar's own end.

    A mark is where the piece ends; the saw's kerf lies beyond it.
    """
    rows: list[SawRow] = []
    marks = list(bar.marks_mm)
    far_end_used = len(bar.saved_ends) == 2 and len(bar.items) > 1
    if len(marks) > len(bar.items) - far_end_used and not bar.saved_ends:
        rows.append(SawRow(marks[0], "end trim, scrap", None, is_piece=False))
        marks = marks[1:]
    items = list(zip(bar.items, bar.lengths_mm, strict=True))
    last = items.pop() if far_end_used else None
    rows += [SawRow(mark, item, length, is_piece=True) for mark, (item, length) in zip(marks, items, strict=False)]
    end_mm = bar.stock.length_mm
    if last is not None:
        if len(marks) > len(items):
            rows.append(_left(bar, marks[-1], marks[-2]))
        rows.append(SawRow(end_mm, f"{last[0]}, at the far end", last[1], is_piece=True))
    elif rows[-1].mark_mm < end_mm:
        rows.append(_left(bar, end_mm, rows[-1].mark_mm))
    return rows


def _left(bar: Bar, mark_mm: Fraction, from_mm: Fraction) -> SawRow:
    """What lies between the last piece and the end."""
    if not bar.left_mm:
        return SawRow(mark_mm, "saw's waste and end trim", None, is_piece=False)
    words = f"offcut, {_keep_words(bar).replace('keep', 'keep it')}" if bar.kept else "left over, scrap"
    if mark_mm - from_mm != bar.left_mm:
        words += " (saw's waste and end trim taken off)"
    return SawRow(mark_mm, words, bar.left_mm, is_piece=False)
