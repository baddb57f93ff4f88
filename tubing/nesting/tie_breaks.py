"""Among plans at the proved cost: fewest bars, then the longest single offcut, and whether each is proved.

Plans are sought by filling and by exchanges; what they are measured against is the programme over bars of each stock.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

from msgspec import Struct

from tubing.nesting.exchange import with_longer_offcut
from tubing.nesting.filling import filled_plan
from tubing.nesting.problem import Pattern, Problem
from tubing.nesting.watch import Watch

if TYPE_CHECKING:
    from tubing.nesting.bar_counts import Counted
    from tubing.nesting.column_generation import DualBound
    from tubing.nesting.tight_patterns import Tight

FILLS = 2
MOST_NODES = 100  # later aims are not worth long searches; not a time, so that plans do not depend on it


class Proved(Struct, frozen=True):
    """Which of the later aims no plan at this cost can better."""

    bars: bool
    longest: bool


def later_aims(problem: Problem, watch: Watch, tight: Mapping[int, Tight], dual_bounds: Sequence[DualBound]) -> Proved:
    """Improve the tie-breaks (fewest bars, longest offcut) at the proved cost."""
    bars = _fewest_bars(problem, watch, tight, dual_bounds)
    assert watch.plan is not None
    watch.plan = with_longer_offcut(problem, watch.plan, watch.look)
    return Proved(bars, _longest_offcut(problem, watch, tight))


def notes_of(proved: Proved) -> list[str]:
    """What to say where an aim is not proved.

    >>> notes_of(Proved(True, False))
    ['of plans at this cost, the longest offcut is not proved']
    """
    open_aims = [] if proved.bars else ["fewest bars"]
    open_aims += [] if proved.longest else ["the longest offcut"]
    if not open_aims:
        return []
    return [f"of plans at this cost, {' and '.join(open_aims)} {'are' if len(open_aims) > 1 else 'is'} not proved"]


def longest_of(plan: Sequence[Pattern]) -> int:
    """The longest single rest of a plan, in ticks."""
    return max((pattern.left for pattern in plan), default=0)


def bars_follow_from_cost(problem: Problem) -> bool:
    """Whether every bar costs the same, so that plans at one cost have as many bars."""
    prices = {stock.price for stock in problem.stocks}
    return len(prices) == 1 and min(prices) > 0 and not problem.offcuts_have_value


def _fewest_bars(problem: Problem, watch: Watch, tight: Mapping[int, Tight], dual_bounds: Sequence[DualBound]) -> bool:
    """Fewer bars at the same cost, where filling finds them; whether they are proved the fewest."""
    if bars_follow_from_cost(problem):
        return True
    from tubing.nesting.bar_counts import fewest_bars

    nothing: Mapping[int, Tight] = {}
    for ways in (nothing, tight):
        assert watch.plan is not None
        least, counted = fewest_bars(problem, ways, dual_bounds, watch.cost or 0, MOST_NODES, watch)
        for plan in _fillings(problem, counted) if counted is not None and least < len(watch.plan) else ():
            if _aims(plan) < _aims(watch.plan):
                watch.plan = plan
        if least == len(watch.plan):
            return True
    return False


def _longest_offcut(problem: Problem, watch: Watch, tight: Mapping[int, Tight]) -> bool:
    """A longer offcut at the same cost with as many bars, where filling finds it; whether it is proved the longest."""
    assert watch.plan is not None
    bars, has = len(watch.plan), longest_of(watch.plan)
    shortest = min(kind.length for kind in problem.kinds)
    room = max(problem.most_room(s) + problem.kept_more(s, 0) for s in range(len(problem.stocks)))
    possible = room - shortest - 2 * problem.kerf
    counted: Counted | None = None
    if len(problem.stocks) == 1 and not problem.stocks[0].ready:
        needed = sum((kind.length + problem.kerf) * kind.demand for kind in problem.kinds)
        possible = min(possible, max(0, bars * room - needed - problem.kerf))
    elif has < possible:
        from tubing.nesting.bar_counts import longest_rest

        found = longest_rest(problem, tight, watch.cost or 0, bars, has, MOST_NODES, watch)
        if found is not None:
            possible, counted = found
    for plan in _fillings(problem, counted) if counted is not None and has < possible else ():
        if _aims(plan) < _aims(watch.plan):
            watch.plan = plan
    return longest_of(watch.plan) >= possible


def _aims(plan: Sequence[Pattern]) -> tuple[int, int, int]:
    return sum(pattern.cost for pattern in plan), len(plan), -longest_of(plan)


def _fillings(problem: Problem, counted: Counted) -> Iterator[tuple[Pattern, ...]]:
    """Plans on these bars."""
    for seed in range(FILLS):
        for partly in dict.fromkeys((counted.partly, None)):
            plan = filled_plan(problem, counted.bars, counted.chosen, partly, seed)
            if plan is not None:
                yield plan
