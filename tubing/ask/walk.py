"""A walk along the questions: the one that stands next, and the values of those behind it. It goes forward only."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from tubing.ask.questions import questions
from tubing.ask.records import Question
from tubing.inputs.records import Shop


class Walk:
    """``question`` stands next (None: there is no more); ``values`` are those of the answers so far, by key."""

    def __init__(self, shop: Shop) -> None:
        self._asking = questions(shop)
        self.values: dict[str, Any] = {}
        self.question: Question | None = next(self._asking)

    @property
    def usual(self) -> str:
        """The fitter's unit; mm until it is asked for."""
        return str(self.values.get("unit", "mm"))

    def step(self, value: Any) -> None:
        """Answer the question that stands next."""
        assert self.question is not None  # there was one to answer
        self.values[self.question.key] = value
        try:
            self.question = self._asking.send(value)
        except StopIteration:
            self.question = None

    def follow(self, answers: Mapping[str, str], steps: int) -> None:
        """Go along answers that were accepted before. Raises JobError and UnitError where the shop has changed."""
        for _ in range(steps):
            if self.question is None or self.question.key not in answers:
                return
            self.step(self.question.value(answers[self.question.key], self.usual))
