"""The time allowed, what is known so far, and who wants to hear of it."""

from __future__ import annotations

import time
from collections.abc import Callable

from tubing.nesting.problem import Pattern
from tubing.nesting.records import Progress

TELL_EVERY_S = 0.25


class OutOfTime(Exception):
    """The time allowed is over; the best plan so far is what there is."""


class Watch:
    """What is known of one size while it is solved, and of the whole nest."""

    def __init__(self, end_by_s: float, progress: Callable[[Progress], None] | None) -> None:
        self.end_by_s, self.progress = end_by_s, progress
        self.told_s = time.monotonic()
        self.other_cost = self.other_bound = 0  # cents of the other sizes
        self.plan: tuple[Pattern, ...] | None = None
        self.bound: int | None = None

    @property
    def left_s(self) -> float:
        """Seconds left."""
        return self.end_by_s - time.monotonic()

    @property
    def cost(self) -> int | None:
        """Cents of the best plan so far."""
        return None if self.plan is None else sum(pattern.cost for pattern in self.plan)

    @property
    def proved(self) -> bool:
        """Whether no plan can be cheaper than the best so far."""
        return self.cost is not None and self.bound is not None and self.cost <= self.bound

    def better(self, plan: tuple[Pattern, ...]) -> bool:
        """Keep a plan if it is cheaper than the best so far."""
        cost = self.cost
        if cost is not None and sum(pattern.cost for pattern in plan) >= cost:
            return False
        self.plan = plan
        return True

    def raised(self, bound: int) -> None:
        """Keep a bound if it is higher."""
        self.bound = bound if self.bound is None else max(self.bound, bound)

    def look(self) -> None:
        """Tell how far it is, now and then. Raises OutOfTime."""
        now = time.monotonic()
        if now > self.end_by_s:
            raise OutOfTime
        cost = self.cost
        if self.progress and cost is not None and self.bound is not None and now - self.told_s > TELL_EVERY_S:
            self.told_s = now
            self.progress(Progress(self.other_cost + cost, self.other_bound + min(self.bound, cost)))
