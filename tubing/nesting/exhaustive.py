"""Few pieces: the best plan by exhausting what is left to cut. No solver, so a vehicle's kit costs no import.

Aims in order: cost, bars, longest single offcut. The best way to cut what remains depends only on what remains
(and on the limited bars already used), so each remainder is solved once; without limits that is exact at once,
with limits it is the bound of a branch and bound.
"""

from __future__ import annotations

from tubing.nesting.patterns import TooManyPatterns, needed_patterns
from tubing.nesting.problem import Counts, Pattern, Problem

MOST_REMAINDERS = 400  # product of demand + 1 over the kinds
MOST_PATTERNS = 1500
MOST_NODES = 20000

Score = tuple[int, int, int]  # cost, bars, minus the longest offcut
NEVER: Score = (1 << 62, 0, 0)


class TooMuchWork(Exception):
    """The search would be too long; another method is better."""


def best_of_few(problem: Problem) -> tuple[Pattern, ...] | None:
    """The best plan of a small problem, an empty one for too few bars; None: too large for this method."""
    remainders = 1
    for kind in problem.kinds:
        remainders *= kind.demand + 1
        if remainders > MOST_REMAINDERS:
            return None
    try:
        return _Search(problem, needed_patterns(problem, MOST_PATTERNS)).best()
    except (TooManyPatterns, TooMuchWork):
        return None


def added(pattern: Pattern, rest: Score) -> Score:
    """The score of a bar and the rest together."""
    return (rest[0] + pattern.cost, rest[1] + 1, min(rest[2], -pattern.left))


class _Search:
    """Branch and bound over what remains to be cut; the longest remaining kind is always on the next bar."""

    def __init__(self, problem: Problem, patterns: list[Pattern]) -> None:
        self.problem = problem
        self.with_longest: dict[int, list[Pattern]] = {}
        for pattern in patterns:
            self.with_longest.setdefault(pattern.pieces[0][0], []).append(pattern)
        for same in self.with_longest.values():
            same.sort(key=lambda p: (p.cost - sum(n for _, n in p.pieces), p.stock, p.pieces))
        self.free: dict[Counts, Score] = {}
        self.nodes = 0
        self.best_score = NEVER
        self.best_plan: tuple[Pattern, ...] = ()

    def best(self) -> tuple[Pattern, ...]:
        """The best plan; empty where limits allow none."""
        start = tuple(kind.demand for kind in self.problem.kinds)
        self._walk(start, (0, 0, 0), (), {})
        return self.best_plan

    def _choices(self, rest: Counts) -> list[tuple[Pattern, Counts]]:
        longest = next(index for index, count in enumerate(rest) if count)
        fitting = []
        for pattern in self.with_longest.get(longest, ()):
            if all(n <= rest[k] for k, n in pattern.pieces):
                after = list(rest)
                for k, n in pattern.pieces:
                    after[k] -= n
                fitting.append((pattern, tuple(after)))
        return fitting

    def _free_score(self, rest: Counts) -> Score:
        """The best score of what remains if no stock were limited."""
        if not any(rest):
            return (0, 0, 0)
        known = self.free.get(rest)
        if known is None:
            known = min((added(p, self._free_score(after)) for p, after in self._choices(rest)), default=NEVER)
            self.free[rest] = known
        return known

    def _walk(self, rest: Counts, so_far: Score, plan: tuple[Pattern, ...], used: dict[int, int]) -> None:
        self.nodes += 1
        if self.nodes > MOST_NODES:
            raise TooMuchWork
        if not any(rest):
            if so_far < self.best_score:
                self.best_score, self.best_plan = so_far, plan
            return
        for pattern, after in self._choices(rest):
            if used.get(pattern.stock, 0) >= self.problem.stocks[pattern.stock].limit:
                continue
            score = added(pattern, so_far)
            free = self._free_score(after)
            if (score[0] + free[0], score[1] + free[1], min(score[2], free[2])) >= self.best_score:
                continue
            count = used.get(pattern.stock, 0)
            self._walk(after, score, (*plan, pattern), {**used, pattern.stock: count + 1})
