"""What nesting is given and what it answers, as frozen records. Lengths are exact fractions of a mm."""

from __future__ import annotations

from enum import StrEnum
from fractions import Fraction
from typing import Protocol

from msgspec import Struct


class Proof(StrEnum):
    """What is known of a plan's cost."""

    OPTIMAL = "proved optimal"
    FEASIBLE = "best found in the time allowed"
    IMPOSSIBLE = "impossible"


class End(Struct, frozen=True):
    """An end of a piece."""

    flare: str
    nut: bool
    consumed_mm: Fraction = Fraction(0)  # tube that forming it takes


class Item(Struct, frozen=True):
    """A piece to cut, ``quantity`` times."""

    id: str
    size: str
    length_mm: Fraction  # the blank, before a ready end shortens it
    quantity: int = 1
    ends: tuple[End, ...] = ()  # up to two ends that a ready end of a bar may save


class BarEnd(Protocol):
    """An end of a bar that comes flared, as whoever keeps the stock records it."""

    @property
    def flare(self) -> str:
        """Its kind."""

    @property
    def nut(self) -> bool:
        """Whether a nut is on it."""


class Stock(Struct, frozen=True):
    """A length of tube as bought, or an offcut on the shelf."""

    name: str
    size: str
    length_mm: Fraction
    price_cents: int  # an offcut on the shelf: what it would be worth left whole
    limit: int | None = None  # how many there are; None: without limit (on the shelf: one)
    on_shelf: bool = False
    ready_ends: tuple[BarEnd, ...] = ()  # at most two
    number: int | None = None  # written on it, where a book is kept of the shelf


class OffcutRule(Struct, frozen=True):
    """Which offcuts are kept, and what they are worth: whole cents, rounded down."""

    keep_from_mm: Fraction
    value_cents_per_metre: Fraction


class Cutting(Struct, frozen=True):
    """What each cut and each bar's raw end takes, and what becomes of the rest."""

    kerf_mm: Fraction
    end_trim_mm: Fraction  # at each end of a bar that does not come flared
    offcuts: OffcutRule
    formed_end_mm: Fraction = Fraction(0)  # behind the rim of a ready end; it is lost where that end is cut off

    @property
    def lost_ready_end_mm(self) -> Fraction:
        """What a ready end that no piece uses takes of the bar."""
        return max(self.end_trim_mm, self.formed_end_mm)


class SavedEnd(Struct, frozen=True):
    """A piece that uses a ready end of its bar."""

    ready_end: int  # index into the stock's ready_ends
    piece: int  # index into the bar's items
    piece_end: int  # index into that item's ends


class Bar(Struct, frozen=True):
    """``count`` equal bars and what is cut from each."""

    stock: Stock
    count: int
    items: tuple[str, ...]  # ids along the bar: longest first, but a piece on a ready end sits at that end
    lengths_mm: tuple[Fraction, ...]  # as cut, so less what a ready end saves
    marks_mm: tuple[Fraction, ...]  # the cuts from one end: after the trim, then at the end of each piece
    left_mm: Fraction
    kept: bool  # left_mm is worth keeping
    saved_ends: tuple[SavedEnd, ...] = ()
    offcut_number: int | None = None  # to be written on what is left, where a book is kept of the shelf

    @property
    def ends_left(self) -> tuple[BarEnd, ...]:
        """The ready end that stays on what is left; of two that no piece uses the first is cut off."""
        used = {saved.ready_end for saved in self.saved_ends}
        return tuple(end for k, end in enumerate(self.stock.ready_ends) if k not in used)[-1:]


class Progress(Struct, frozen=True):
    """What is known while a solve lasts."""

    cost_so_far_cents: int
    cannot_be_below_cents: int

    @property
    def could_still_save_cents(self) -> int:
        """The gap, in cents."""
        return self.cost_so_far_cents - self.cannot_be_below_cents


class Nest(Struct, frozen=True):
    """The plan for the bars: stock bought less the value of offcuts kept, and how good it is known to be."""

    bars: tuple[Bar, ...]
    cost_cents: int
    bound_cents: int
    proof: Proof
    note: str = ""
    interrupted: bool = False
    numbers: tuple[int, ...] = ()  # of the bars, where these are part of a greater plan's
    sawn: tuple[Bar, ...] = ()  # bars that were sawn before this plan, by the shelf's book; not part of its cost

    @property
    def numbered(self) -> list[tuple[int, Bar]]:
        """The bars with the numbers by which they are called, from 1 where this is a whole plan."""
        return list(zip(self.numbers or range(1, len(self.bars) + 1), self.bars, strict=True))

    @property
    def bar_count(self) -> int:
        """How many bars are cut."""
        return sum(bar.count for bar in self.bars)
