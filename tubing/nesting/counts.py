"""How many bars of each stock: a bound that knows that bars are whole.

The linear programme may take a fifth of a bar, and keep a tenth of an offcut. Every set of worths bounds the cost of
any whole numbers of bars (Benders 1962, with the worths of column generation as cuts), and so does plain arithmetic:
what the bars cost, less the value of what they leave, which is none where all they leave together is too short to
keep. On short bars, where few patterns are tight, whole patterns are chosen: what such a bar must waste is then known.
A small integer programme over all that gives the least bound, and the bars worth a closer look.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from math import ceil, floor

from msgspec import Struct

from tubing.nesting.columns import Cut
from tubing.nesting.problem import Pattern, Problem
from tubing.nesting.programme import Programme
from tubing.nesting.records import Proof
from tubing.nesting.tight import Tight
from tubing.nesting.watch import Watch

MOST_WEIGHT = 10_000
FINE = 1_000_000  # cuts are rounded down to millionths of a cent
SLACK = 1e-5  # cents by which a solver's floats may miss a row


class Counted(Struct, frozen=True):
    """The least cost that is possible, and what it is possible with."""

    cost: int
    bars: tuple[int, ...]  # of each stock
    chosen: tuple[Pattern, ...]  # on bars whose patterns are few
    partly: int | None  # the stock of which one bar keeps the rest, where that is a short one


def least_counts(
    problem: Problem, tight: Mapping[int, Tight], cuts: Sequence[Cut], step: int, below: int, watch: Watch
) -> tuple[int, Counted | None]:
    """The least cost that is possible, and bars of each stock that it is possible with.

    None where no numbers of bars can cost less than ``below``, or time is over.
    """
    base = watch.bound or 0
    stated = _Stated(problem, tight, (below - step - base) // step)
    for cut in cuts:
        stated.cut(cut, step, base)
    stated.worths(step, base)
    proof, values = stated.programme.solve(watch.left_s, stated.gap, waiting=watch.look)
    if proof is Proof.IMPOSSIBLE:
        return below, None
    if proof is not Proof.OPTIMAL or values is None:
        return base, None
    counted = stated.read(values, base, step)
    return counted.cost, counted


class _Stated:
    """The programme: bars of each stock, cost, worth of what is kept, kept bars, then the bars with few patterns."""

    def __init__(self, problem: Problem, tight: Mapping[int, Tight], dearest: int) -> None:
        self.problem, self.tight = problem, tight
        stocks = range(len(problem.stocks))
        most = [stock.limit for stock in problem.stocks]
        self.cost, self.worth, self.kept = len(most), len(most) + 1, len(most) + 2
        self.value = problem.cents_per_tick
        # What pieces can take of a bar, and what of it can be kept: an unused ready end leaves its trim on the rest.
        self.room = [problem.most_room(s) for s in stocks]
        self.left = [r + (problem.trim if problem.stocks[s].ready else 0) for s, r in enumerate(self.room)]
        self.needed = sum((kind.length + problem.kerf) * kind.demand for kind in problem.kinds)
        self.most_worth = floor(self.value * sum(r * n for r, n in zip(self.left, most, strict=True))) + 1
        # Fewer bars at one cost are liked, but need no proof here: the gap allows any number of them.
        bars = min(sum(most), problem.pieces)
        weight = 4 * (bars + 1) if bars < MOST_WEIGHT else 0
        self.gap = 0.99 + 3 * (bars + 1) if weight else 0.99
        costs = [min(weight, 1)] * len(most) + [max(weight, 1), 0, 0]
        tops = [*most, dearest, self.most_worth if self.value else 0, bars]
        self.wasted: list[tuple[int, int]] = []  # variable, ticks
        self.keeping: list[tuple[int, int, int]] = []  # variable, stock, most ticks left
        self.fillings: list[tuple[int, int, tuple[tuple[int, int], ...]]] = []  # variable, stock, pieces
        of_stock: dict[int, list[int]] = {}
        shortest = min(kind.length for kind in problem.kinds) + problem.kerf
        for stock, known in tight.items():
            first = len(tops)
            for over, pieces in (*known.fillings, (known.others, ())):
                self.wasted.append((len(tops), over))
                self.fillings.append((len(tops), stock, pieces))
                tops.append(most[stock])
            for left, pieces in known.keeping if known.keeping is not None else ((self.room[stock] - shortest, ()),):
                self.keeping.append((len(tops), stock, left))
                self.fillings.append((len(tops), stock, pieces))
                tops.append(most[stock])
            costs += [0] * (len(tops) - first)
            of_stock[stock] = list(range(first, len(tops)))
        self.partly = {x for x, _, pieces in self.fillings if not pieces}
        self.programme = Programme(costs, tops)
        self.programme.row([(s, 1) for s in stocks], "<", bars)
        self.programme.row([*((s, self.room[s]) for s in stocks), *((x, -t) for x, t in self.wasted)], ">", self.needed)
        for stock, ways_of in of_stock.items():
            self.programme.row([(stock, -1), *((x, 1) for x in ways_of)], "=", 0)
        cut_on: dict[int, list[tuple[int, int]]] = {}
        for x, _, pieces in self.fillings:
            for kind, count in pieces:
                cut_on.setdefault(kind, []).append((x, count))
        for kind, terms in sorted(cut_on.items()):
            self.programme.row(terms, "<", problem.kinds[kind].demand)

    def cut(self, cut: Cut, step: int, base: int) -> None:
        """The bound that a set of worths gives."""
        terms = [(s, -floor(Fraction(cut.per_bar.get(s, 0), cut.scale) * FINE) / FINE) for s in range(self.cost)]
        constant = floor(Fraction(cut.constant, cut.scale) * FINE) / FINE - base
        self.programme.row([(self.cost, float(step)), *terms], ">", constant - SLACK)

    def worths(self, step: int, base: int) -> None:
        """Cost and worth are at least the prices; each bar whose rest is kept loses a kerf and needs a long rest."""
        problem, value = self.problem, self.value
        stocks = range(self.cost)
        price = [(s, -problem.stocks[s].price) for s in stocks]
        self.programme.row([(self.cost, step), (self.worth, 1), *price], ">", -base)
        if not value:
            return
        each = [(s, -ceil(value * self.left[s] * FINE) / FINE) for s in stocks]
        wasted = [(x, floor(value * ticks * FINE) / FINE) for x, ticks in self.wasted]
        known = [(x, problem.value(left - problem.kerf), left) for x, _, left in self.keeping if x not in self.partly]
        lost = floor(value * problem.kerf * FINE) / FINE
        # Where the pattern is known so is the value of its rest, in whole cents.
        cents = [(x, floor(value * (left - problem.kerf) * FINE) / FINE - worth) for x, worth, left in known]
        whole = -floor(value * self.needed * FINE) / FINE + SLACK
        self.programme.row([(self.worth, 1), (self.kept, lost), *each, *wasted, *cents], "<", whole)
        most = max(self.left) - problem.kerf
        top = ceil(value * most * FINE) / FINE
        short = [(x, top - worth) for x, worth, _ in known]
        short += [
            (x, floor(value * (most - left + problem.kerf) * FINE) / FINE)
            for x, _, left in self.keeping
            if x in self.partly
        ]
        self.programme.row([(self.worth, 1), (self.kept, -top), *short], "<", SLACK)
        self.programme.row([(self.kept, 1), *((x, -1) for x, _, _ in self.keeping)], ">", 0)
        least = max(problem.keep_from, 1) + problem.kerf
        rest = [*((s, self.left[s]) for s in stocks), *((x, -ticks) for x, ticks in self.wasted)]
        more = [(x, least - left) for x, _, left in known]
        self.programme.row([(self.kept, -least), *more, *rest], ">", self.needed)

    def read(self, values: Sequence[int], base: int, step: int) -> Counted:
        """What the programme's values mean."""
        chosen = []
        for x, stock, pieces in self.fillings:
            pattern = self.problem.pattern(stock, pieces) if pieces and values[x] else None
            if pattern is not None:
                chosen += [pattern] * values[x]
        partly = next((stock for x, stock, _ in self.keeping if values[x] and x in self.partly), None)
        return Counted(base + values[self.cost] * step, tuple(values[: self.cost]), tuple(chosen), partly)
