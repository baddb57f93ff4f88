"""How many bars of each stock: a bound that knows that bars are whole.

The linear programme may take a fifth of a bar, and keep a tenth of an offcut. Every set of worths bounds the cost of
any whole numbers of bars (Benders 1962, with the worths of column generation as cuts), and so does plain arithmetic:
what the bars cost, less the value of what they leave, which is none where all they leave together is too short to
keep. A small integer programme over those numbers alone gives the least bound, and the numbers worth a closer look.
"""

from __future__ import annotations

from fractions import Fraction
from math import ceil, floor

from tubing.nesting.columns import Cut
from tubing.nesting.problem import Problem
from tubing.nesting.programme import Programme
from tubing.nesting.records import Proof
from tubing.nesting.watch import Watch

MOST_WEIGHT = 10_000
FINE = 1_000_000  # cuts are rounded down to millionths of a cent
SLACK = 1e-5  # cents by which a solver's floats may miss a row


def least_counts(
    problem: Problem, cuts: list[Cut], step: int, below: int, watch: Watch
) -> tuple[int, list[int] | None]:
    """The least cost that is possible, and bars of each stock that it is possible with.

    None where no numbers of bars can cost less than ``below``, or time is over.
    """
    base = watch.bound or 0
    stocks = range(len(problem.stocks))
    most = [stock.limit for stock in problem.stocks]
    cost, worth, kept = len(most), len(most) + 1, len(most) + 2
    # Among numbers of bars at one cost, the fewest; the weight must outweigh any number of bars.
    bars = min(sum(most), problem.pieces)
    weight = bars + 1 if bars < MOST_WEIGHT else 0
    room = [problem.most_room(s) for s in stocks]
    needed = sum((kind.length + problem.kerf) * kind.demand for kind in problem.kinds)
    value = problem.cents_per_tick
    most_worth = floor(value * sum(r * n for r, n in zip(room, most, strict=True))) + 1 if value else 0
    programme = Programme(
        [min(weight, 1)] * cost + [max(weight, 1), 0, 0], [*most, (below - step - base) // step, most_worth, 1]
    )
    programme.row([(s, 1) for s in stocks], "<", bars)
    programme.row([(s, room[s]) for s in stocks], ">", needed)
    for cut in cuts:
        terms = [(s, -floor(Fraction(cut.per_bar.get(s, 0), cut.scale) * FINE) / FINE) for s in stocks]
        constant = floor(Fraction(cut.constant, cut.scale) * FINE) / FINE - base
        programme.row([(cost, float(step)), *terms], ">", constant - SLACK)
    # cost + worth >= prices; an unused ready end leaves its trim on the rest.
    price = [(s, -problem.stocks[s].price) for s in stocks]
    programme.row([(cost, step), (worth, 1), *price], ">", -base)
    if value:
        left = [r + (problem.trim if problem.stocks[s].ready else 0) for s, r in enumerate(room)]
        each = [(s, -ceil(value * left[s] * FINE) / FINE) for s in stocks]
        lost = floor(value * problem.kerf * FINE) / FINE
        programme.row([(worth, 1), (kept, lost), *each], "<", -floor(value * needed * FINE) / FINE + SLACK)
        programme.row([(worth, 1), (kept, -most_worth)], "<", 0)
        least = problem.keep_from + problem.kerf
        programme.row([(kept, -least), *((s, left[s]) for s in stocks)], ">", needed)
    proof, values = programme.solve(watch.left_s, waiting=watch.look)
    if proof is Proof.IMPOSSIBLE:
        return below, None
    if proof is not Proof.OPTIMAL or values is None:
        return base, None
    return base + values[cost] * step, values[:cost]
