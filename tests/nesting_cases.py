"""Small nests with everything in them, and the best plan of each by trying everything."""

from __future__ import annotations

import random
from collections.abc import Iterator
from fractions import Fraction
from functools import cache
from itertools import product
from math import floor

from tubing.nesting import Cutting, End, Item, Nest, OffcutRule, Stock, check_nest, nest
from tubing.nesting.greedy import greedy_plan
from tubing.nesting.problem import Problem, problem_of_size

DOUBLE, SINGLE = ("double", True), ("single", False)


class Case:
    """A small nest with everything in it; the seed decides."""

    def __init__(self, seed: int) -> None:
        chance = random.Random(seed)
        unit = chance.choice([Fraction(1), Fraction(1, 2), Fraction(127, 320)])
        self.kerf = unit * chance.choice([0, 0, 1, 2])
        self.trim = unit * chance.choice([0, 0, 1, 3])
        self.formed = unit * random.Random(-1 - seed).choice([0, 0, 2, 4])  # of its own, so that the cases stay
        ready = chance.random() < 0.5
        self.items = [self._item(chance, number, unit, ready) for number in range(chance.randint(1, 4))]
        self.stocks = []
        for number in range(chance.randint(1, 3)):
            length = unit * chance.randint(14, 34)
            price = chance.randint(1, 40)
            ends = chance.choice([(), (DOUBLE,), (DOUBLE, SINGLE), (DOUBLE, DOUBLE)]) if ready else ()
            limit = chance.choice([None, None, 1, 2, 3])
            shelf = chance.random() < 0.3
            self.stocks.append(
                Stock(f"stock {number}", "8", length, price, limit, shelf, tuple(End(*end) for end in ends))
            )
        worth = chance.choice([Fraction(0), Fraction(700), Fraction(2500, 3)])
        self.offcuts = OffcutRule(unit * chance.choice([0, 3, 8]), worth / unit)

    @staticmethod
    def _item(chance: random.Random, number: int, unit: Fraction, ready: bool) -> Item:
        ends = ()
        if ready and chance.random() < 0.7:
            kinds = chance.choice([(DOUBLE,), (SINGLE,), (DOUBLE, SINGLE)])
            ends = tuple(End(*kind, unit * chance.randint(0, 2)) for kind in kinds)
        return Item(f"piece {number}", "8", unit * chance.randint(4, 13), chance.choice([1, 1, 2, 3]), ends)

    @property
    def cutting(self) -> Cutting:
        return Cutting(self.kerf, self.trim, self.offcuts, self.formed)

    def solve(self) -> Nest:
        return nest(self.items, self.stocks, cutting=self.cutting, time_limit_s=20)

    def problem(self) -> Problem:
        return problem_of_size(self.items, self.stocks, self.cutting)

    def by_greed(self) -> bool:
        """Whether the first, greedy plan exists: limited bars may be too few for it."""
        return greedy_plan(self.problem()) is not None

    def check(self, answer: Nest) -> None:
        check_nest(
            self.items,
            answer,
            stocks=self.stocks,
            cutting=self.cutting,
        )

    def left_mm(self, stock: Stock, pieces: list[Item]) -> Fraction | None:
        """The most that can be left, over every way to lay pieces on the ready ends; None: they do not fit."""
        best = None
        for on_ends in product(range(-1, len(pieces)), repeat=len(stock.ready_ends)):
            used = [p for p in on_ends if p >= 0]
            if len(set(used)) < len(used):
                continue
            saved = Fraction(0)
            for ready, piece in zip(stock.ready_ends, on_ends, strict=True):
                if piece < 0:
                    continue
                fitting = [e.consumed_mm for e in pieces[piece].ends if (e.flare, e.nut) == (ready.flare, ready.nut)]
                saved = saved + max(fitting) if fitting else Fraction(-(10**9))
            cut_off = max(self.trim, self.formed)
            unused = len(stock.ready_ends) - len(used)
            rest = stock.length_mm - self.trim * (2 - len(stock.ready_ends)) - cut_off * unused + saved
            rest -= sum(p.length_mm for p in pieces) + self.kerf * (len(pieces) - 1)
            if rest < 0:
                continue
            over = rest - self.kerf + (cut_off if unused else 0)
            best = max(best or Fraction(0), over)
        return best

    def by_hand(self) -> tuple[int, int, Fraction] | None:
        """Least cost, bars, minus the longest offcut, by trying every partition on every stock; None: impossible."""
        counts = tuple(item.quantity for item in self.items)
        limits = tuple(s.limit if s.limit is not None else (1 if s.on_shelf else sum(counts)) for s in self.stocks)

        @cache
        def bar(stock: int, taken: tuple[int, ...]) -> tuple[int, Fraction] | None:
            pieces = [item for item, n in zip(self.items, taken, strict=True) for _ in range(n)]
            left = self.left_mm(self.stocks[stock], pieces)
            if left is None:
                return None
            kept = left > 0 and left >= self.offcuts.keep_from_mm
            value = floor(left * self.offcuts.value_cents_per_metre / 1000) if kept else 0
            return self.stocks[stock].price_cents - value, left

        @cache
        def best(rest: tuple[int, ...], there: tuple[int, ...]) -> tuple[int, int, Fraction] | None:
            if not any(rest):
                return (0, 0, Fraction(0))
            first = next(i for i, n in enumerate(rest) if n)
            answers = []
            for taken in product(*(range(n + 1) for n in rest)):
                if not taken[first]:
                    continue
                for stock, limit in enumerate(there):
                    if not limit or (one := bar(stock, taken)) is None:
                        continue
                    fewer = tuple(n - (i == stock) for i, n in enumerate(there))
                    more = best(tuple(a - b for a, b in zip(rest, taken, strict=True)), fewer)
                    if more is not None:
                        answers.append((one[0] + more[0], 1 + more[1], min(-one[1], more[2])))
            return min(answers, default=None)

        return best(counts, limits)


def cases(first: int, last: int) -> Iterator[Case]:
    """Cases whose stock is not given twice."""
    for seed in range(first, last):
        case = Case(seed)
        if len({(s.length_mm, s.ready_ends) for s in case.stocks}) == len(case.stocks):
            yield case
