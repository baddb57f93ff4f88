"""One question, and what its answer must look like."""

from __future__ import annotations

from enum import Enum
from typing import Any

from msgspec import Struct

from tubing.ask import answers
from tubing.units import Kind


class Form(Enum):
    """What an answer is."""

    TEXT = "words"
    LENGTH = "a length"
    ANGLE = "an angle"
    POINT = "three lengths"
    NUMBERS = "three plain numbers"
    CHOICE = "one of the list"
    COUNT = "a count"
    NAMES = "some of the list"


class Question(Struct, frozen=True):
    """What is asked, how it is explained, and what Enter alone answers."""

    key: str  # what the answer is kept under
    label: str  # stands before the answer
    asks: str
    form: Form
    default: str | None = None  # None: there must be an answer
    explains: str = ""  # more, when asked with ?
    choices: tuple[tuple[str, str], ...] = ()  # a word, and what it says
    least: int = 1  # of a count, or of names
    most: int = 9
    shows: bool = False  # a position: what was entered so far is shown after it
    none: str | None = None  # the word that leaves names or a length out
    repeats: bool = False  # of a wheelbox: what was answered for the one before is proposed

    def offers(self, text: str) -> bool:
        """Whether an answer that was given elsewhere may stand here: of a list, it must be on it."""
        return self.form is not Form.CHOICE or text in [word for word, _ in self.choices]

    def value(self, text: str, usual: str) -> Any:
        """The answer as it stands in a job file. ``usual``: the unit that the fitter has chosen for bare lengths.

        Raises JobError and UnitError.
        """
        words = [word for word, _ in self.choices]
        match self.form:
            case Form.TEXT:
                return text
            case Form.LENGTH:
                if text == self.none:
                    return None
                return answers.measured(text, Kind.LENGTH, usual, bare=True)
            case Form.ANGLE:
                return answers.measured(text, Kind.ANGLE, usual)
            case Form.POINT:
                return answers.point(text, usual, bare=True)
            case Form.NUMBERS:
                return answers.numbers(text)
            case Form.CHOICE:
                return answers.choice(text, words, [said for _, said in self.choices])
            case Form.COUNT:
                return answers.count(text, self.least, self.most)
            case Form.NAMES:
                return [] if text == self.none else answers.some_of(text, words, self.least, self.most)
