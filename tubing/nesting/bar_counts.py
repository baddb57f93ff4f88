"""How many bars of each stock: a bound that knows that bars are whole.

The linear programme may take a fifth of a bar, and keep a tenth of an offcut. Every set of worths bounds the cost of
any whole numbers of bars (Benders 1962, with the worths of column generation), and so does plain arithmetic: what the
bars cost, less the value of what they leave, which is none where all they leave together is too short to
keep. On short bars, where few patterns are tight, whole patterns are chosen: what such a bar must waste is then known.
A small integer programme over all that gives the least bound, and the bars worth a closer look; at a cost that is
proved it also bounds the number of bars and the longest single rest.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from math import ceil, floor

from msgspec import Struct

from tubing.nesting.column_generation import DualBound
from tubing.nesting.integer_programme import Programme
from tubing.nesting.problem import Pattern, Problem
from tubing.nesting.records import Proof
from tubing.nesting.tight_patterns import Tight
from tubing.nesting.watch import Watch

MOST_WEIGHT = 10_000
FINE = 1_000_000  # a dual bound is rounded down to millionths of a cent
SLACK = 1e-5  # cents by which a solver's floats may miss a row

Terms = list[tuple[int, float]]


class Counted(Struct, frozen=True):
    """The least cost that is possible, and what it is possible with."""

    cost: int
    bars: tuple[int, ...]  # of each stock
    chosen: tuple[Pattern, ...]  # on bars whose patterns are few
    partly: int | None  # the stock of which one bar keeps the rest, where that is a short one


def least_counts(
    problem: Problem, tight: Mapping[int, Tight], dual_bounds: Sequence[DualBound], step: int, below: int, watch: Watch
) -> tuple[int, Counted | None]:
    """The least cost that is possible, and bars of each stock that it is possible with.

    None where no numbers of bars can cost less than ``below``, or time is over.
    """
    base = watch.bound or 0
    # Fewer bars at one cost are liked, but need no proof here: the gap allows any number of them.
    bars = most_bars(problem)
    weight = 4 * (bars + 1) if bars < MOST_WEIGHT else 0
    stated = _Stated(problem, tight, base, step, (below - step - base) // step)
    programme = stated.programme([min(weight, 1)] * len(problem.stocks), max(weight, 1), 0)
    for dual in dual_bounds:
        programme.row(*stated.of_duals(dual))
    gap = 0.99 + 3 * (bars + 1) if weight else 0.99
    proof, values = programme.solve(watch.left_s, gap, waiting=watch.look)
    if proof is Proof.IMPOSSIBLE:
        return below, None
    if proof is not Proof.OPTIMAL or values is None:
        return base, None
    counted = stated.read(values)
    return counted.cost, counted


def fewest_bars(
    problem: Problem, tight: Mapping[int, Tight], dual_bounds: Sequence[DualBound], cost: int, nodes: int, watch: Watch
) -> tuple[int, Counted | None]:
    """Bars that a plan at this cost has at least, and which those would be; 0 where that took too long."""
    stated = _Stated(problem, tight, cost, 1, 0)
    programme = stated.programme([1] * len(problem.stocks), 0, 0)
    for dual in dual_bounds:
        programme.row(*stated.of_duals(dual))
    proof, values = programme.solve(watch.left_s, nodes=nodes, waiting=watch.look)
    if proof is not Proof.OPTIMAL or values is None:
        return 0, None
    counted = stated.read(values)
    return sum(counted.bars), counted


def longest_rest(
    problem: Problem, tight: Mapping[int, Tight], cost: int, bars: int, has: int, nodes: int, watch: Watch
) -> tuple[int, Counted] | None:
    """Ticks that no single rest longer than ``has`` can pass, in plans at this cost with so many bars, and which those
    would be; None: it took too long.
    """
    kept = problem.offcuts_have_value and has >= problem.keep_from
    if not kept:  # then the bar with the longest rest is one whose rest need not be waste
        tight = {stock: Tight(known.fillings, known.others, None) for stock, known in tight.items()}
    stated = _Stated(problem, tight if kept or not problem.offcuts_have_value else {}, cost, 1, 0)
    programme = stated.programme([0] * len(problem.stocks), 0, -1)
    programme.row([(s, 1) for s in range(len(problem.stocks))], "=", bars)
    for row in stated.longest_rows(kept=kept):
        programme.row(*row)
    proof, values = programme.solve(watch.left_s, nodes=nodes, waiting=watch.look)
    if proof is not Proof.OPTIMAL or values is None:
        return None
    return max(0, values[stated.longest] - problem.kerf), stated.read(values)


def most_bars(problem: Problem) -> int:
    """No plan has more bars."""
    return min(sum(stock.limit for stock in problem.stocks), problem.pieces)


class _Stated:
    """The programme: bars of each stock; steps of cost above a base, worth of what is kept, bars that keep, spare
    of the bar with the longest rest; then the ways to cut the bars with few patterns."""

    def __init__(self, problem: Problem, tight: Mapping[int, Tight], base: int, step: int, most_steps: int) -> None:
        self.problem, self.base, self.step = problem, base, step
        self.stocks = range(len(problem.stocks))
        self.cost, self.worth, self.kept, self.longest = range(len(self.stocks), len(self.stocks) + 4)
        self.value = problem.cents_per_tick
        # What pieces can take of a bar, and what of it can be kept: an unused ready end leaves its trim on the rest.
        self.room = [problem.most_room(s) for s in self.stocks]
        self.left = [r + problem.kept_more(s, 0) for s, r in enumerate(self.room)]
        self.needed = sum((kind.length + problem.kerf) * kind.demand for kind in problem.kinds)
        most = [stock.limit for stock in problem.stocks]
        self.shortest = min(kind.length for kind in problem.kinds) + problem.kerf
        most_worth = floor(self.value * sum(r * n for r, n in zip(self.left, most, strict=True))) + 1
        self.tops = [
            *most,
            most_steps,
            most_worth if self.value else 0,
            most_bars(problem),
            max(self.left) - self.shortest,
        ]
        self.wasted: list[tuple[int, int]] = []  # variable, ticks
        self.keeping: list[tuple[int, int]] = []  # variable, ticks left at most
        self.fillings: list[tuple[int, int, tuple[tuple[int, int], ...]]] = []  # variable, stock, pieces
        for stock, known in tight.items():
            self._ways(stock, known)
        self.vague = {x for x, _, pieces in self.fillings if not pieces}

    def _ways(self, stock: int, known: Tight) -> None:
        """The ways to cut a stock with few patterns: tight ones, any other, those that keep what they leave."""
        for over, pieces in (*known.fillings, (known.others, ())):
            self.wasted.append((len(self.tops), over))
            self.fillings.append((len(self.tops), stock, pieces))
            self.tops.append(self.problem.stocks[stock].limit)
        for left, pieces in known.keeping if known.keeping is not None else ((self.room[stock] - self.shortest, ()),):
            self.keeping.append((len(self.tops), left))
            self.fillings.append((len(self.tops), stock, pieces))
            self.tops.append(self.problem.stocks[stock].limit)

    def programme(self, per_bar: Sequence[int], per_step: int, per_tick: int) -> Programme:
        """All rows but those of the dual bounds, for the least of these costs."""
        more = len(self.tops) - len(self.stocks) - 4
        programme = Programme([*per_bar, per_step, 0, 0, per_tick, *[0] * more], self.tops)
        programme.row([(s, 1) for s in self.stocks], "<", self.tops[self.kept])
        programme.row(self._slack(self.room), ">", self.needed)
        ways_of: dict[int, Terms] = {}
        cut_on: dict[int, Terms] = {}
        for x, stock, pieces in self.fillings:
            ways_of.setdefault(stock, []).append((x, 1))
            for kind, count in pieces:
                cut_on.setdefault(kind, []).append((x, count))
        for stock, terms in ways_of.items():
            programme.row([(stock, -1), *terms], "=", 0)
        for kind, terms in sorted(cut_on.items()):
            programme.row(terms, "<", self.problem.kinds[kind].demand)
        # Cost and worth are at least the prices.
        prices = [(s, -self.problem.stocks[s].price) for s in self.stocks]
        programme.row([(self.cost, self.step), (self.worth, 1), *prices], ">", -self.base)
        if self.value:
            for row in self._worth_rows():
                programme.row(*row)
        return programme

    def _slack(self, of_bar: Sequence[int]) -> Terms:
        """What bars hold less what is wasted."""
        return [*((s, of_bar[s]) for s in self.stocks), *((x, -ticks) for x, ticks in self.wasted)]

    def _worth_rows(self) -> list[tuple[Terms, str, float]]:
        """Each bar whose rest is kept loses a kerf and needs a long rest; what is kept lies on such bars."""
        kerf, value = self.problem.kerf, self.value
        known = [(x, left, self.problem.value(left - kerf)) for x, left in self.keeping if x not in self.vague]
        vague = [(x, left) for x, left in self.keeping if x in self.vague]
        worth = [(s, -_up(value * self.left[s])) for s in self.stocks] + [
            (x, _down(value * ticks)) for x, ticks in self.wasted
        ]
        # Where the pattern is known so is the value of its rest, in whole cents.
        cents = [(x, _down(value * (left - kerf)) - whole) for x, left, whole in known]
        most = max(self.left) - kerf
        short = [(x, _up(value * most) - whole) for x, _, whole in known]
        short += [(x, _down(value * (most - left + kerf))) for x, left in vague]
        least = max(self.problem.keep_from, 1) + kerf
        longer = [(x, least - left) for x, left, _ in known]
        whole = SLACK - _down(value * self.needed)
        return [
            ([(self.worth, 1), (self.kept, _down(value * kerf)), *worth, *cents], "<", whole),
            ([(self.worth, 1), (self.kept, -_up(value * most)), *short], "<", SLACK),
            ([(self.kept, 1), *((x, -1) for x, _ in self.keeping)], ">", 0),
            ([(self.kept, -least), *longer, *self._slack(self.left)], ">", self.needed),
        ]

    def longest_rows(self, *, kept: bool) -> list[tuple[Terms, str, float]]:
        """One bar's spare is no more than all that is left, nor worth more than the bars cost above the plan."""
        slack = [(x, -ticks) for x, ticks in self._slack(self.left)]
        rows: list[tuple[Terms, str, float]] = [([(self.longest, 1), *slack], "<", -self.needed)]
        if kept:
            prices = [(s, -self.problem.stocks[s].price) for s in self.stocks]
            most = 1 - self.base + _up(self.value * self.problem.kerf)
            rows.append(([(self.longest, _down(self.value)), *prices], "<", most))
        elif self.keeping:
            most_left = self.tops[self.longest]
            rows.append(([(x, 1) for x, _ in self.keeping], "<", 1))
            short = [(x, most_left - left) for x, left in self.keeping]
            rows.append(([(self.longest, 1), *short], "<", most_left))
        return rows

    def of_duals(self, dual: DualBound) -> tuple[Terms, str, float]:
        """The bound that a set of worths gives."""
        terms = [(s, -_down(Fraction(dual.per_bar.get(s, 0), dual.scale))) for s in self.stocks]
        return (
            [(self.cost, float(self.step)), *terms],
            ">",
            _down(Fraction(dual.constant, dual.scale)) - self.base - SLACK,
        )

    def read(self, values: Sequence[int]) -> Counted:
        """What the programme's values mean."""
        chosen = []
        for x, stock, pieces in self.fillings:
            pattern = self.problem.pattern(stock, pieces) if pieces and values[x] else None
            if pattern is not None:
                chosen += [pattern] * values[x]
        keeping = {x for x, _ in self.keeping}
        partly = next((stock for x, stock, _ in self.fillings if values[x] and x in keeping and x in self.vague), None)
        cost = self.base + values[self.cost] * self.step
        return Counted(cost, tuple(values[: self.cost]), tuple(chosen), partly)


def _down(number: Fraction) -> float:
    return floor(number * FINE) / FINE


def _up(number: Fraction) -> float:
    return ceil(number * FINE) / FINE
