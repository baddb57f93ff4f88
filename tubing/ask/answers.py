"""What a fitter types to what stands in a job file. The job's own reader judges the values; here only the writing.

Word:    right, left, forward, back, up or down behind a length, instead of its sign.
Numbers: a direction by its three components, which have no unit.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from tubing.errors import JobError, TubingError, UnitError
from tubing.inputs.table_rows import PLAIN_NUMBER, near
from tubing.units import Kind, read

WORDS = {"right": (0, ""), "left": (0, "-"), "forward": (1, ""), "back": (1, "-"), "up": (2, ""), "down": (2, "-")}
WORDED = re.compile(rf"(?P<length>.*?) +(?P<word>{'|'.join(WORDS)})")
AXES = ("to the right", "forward", "up")
LIKE = {"mm": "-650 mm, -50 mm, 35.5 mm", "cm": "-65 cm, -5 cm, 3.5 cm", "in": "-25 1/2 in, -2 in, 1.5 in"}
WHOLE = re.compile(r"[0-9]{1,4}")


def printable(text: str) -> str:
    """What was typed, without blanks around it. Raises JobError for control characters."""
    for place, letter in enumerate(text.strip(), start=1):
        if not letter.isprintable():
            raise JobError(
                "answer",
                f"character {place} is the control character {letter.encode('unicode_escape', 'replace').decode()}",
                "it must be letters that can be printed",
                "type it again, without the arrow keys",
            )
    return text.strip()


def measured(text: str, kind: Kind, usual: str, thing: str = "", *, bare: bool = False) -> str:
    """A text that the job's reader takes for a measure. ``usual`` is the unit that is proposed.

    ``bare``: whether a length without a unit is in that one, because the fitter has chosen it; else it is refused.

    >>> measured("12 1/4 in", Kind.LENGTH, "mm"), measured("0", Kind.LENGTH, "in")
    ('12 1/4 in', '0 in')
    >>> measured("12 1/4", Kind.LENGTH, "in", bare=True)
    '12 1/4 in'
    >>> measured("12 1/4", Kind.LENGTH, "in")
    Traceback (most recent call last):
    ...
    tubing.errors.UnitError: : 12 1/4 what?; it must be a length; write 12 1/4 in
    """
    text = text.strip()
    if kind is Kind.LENGTH and text == "0":
        return f"0 {usual}"  # nothing is as long in any unit
    try:
        read(text, kind, thing)
    except UnitError:
        unit = usual if usual in kind.units else kind.units[0]
        if not _reads(f"{text} {unit}", kind):
            raise
        if bare and kind is Kind.LENGTH:
            return f"{text} {unit}"
        needed = f"it must be {kind.called}"
        raise UnitError(thing, f"{text} what?", needed, f"write {text} {unit}") from None
    return text


def _reads(text: str, kind: Kind) -> bool:
    try:
        read(text, kind)
    except UnitError:
        return False
    return True


def point(text: str, usual: str, *, bare: bool = False) -> list[str]:
    """Three lengths: right, forward, up; or each with its word, in any order. ``bare`` as in :func:`measured`.

    >>> point("-650 mm, 50 mm, -1 3/8 in", "mm")
    ['-650 mm', '50 mm', '-1 3/8 in']
    >>> point("35 mm down, 650 mm left, 0 mm forward", "mm")
    ['-650 mm', '0 mm', '-35 mm']

    Raises JobError and UnitError.
    """
    parts = [part.strip() for part in re.split("[,;]", text)]
    if len(parts) != 3:
        raise JobError(
            "",
            f"it has {len(parts)} part{'' if len(parts) == 1 else 's'}",
            "it must be three lengths with commas between them",
            f"write it like {LIKE.get(usual, LIKE['mm'])} (a point in decimals, not a comma)",
        )
    worded = [WORDED.fullmatch(part) for part in parts]
    if not any(worded):
        return [measured(part, Kind.LENGTH, usual, axis, bare=bare) for part, axis in zip(parts, AXES, strict=True)]
    along = ["", "", ""]
    for part, match in zip(parts, worded, strict=True):
        if match is None:
            raise JobError("", f"{part!r} has no word", "all three must have one, or none", "add left, forward, up ...")
        axis, sign = WORDS[match["word"]]
        along[axis] = _signed(match["length"], sign, match["word"], usual, bare=bare)
    if "" in along:
        raise JobError(
            "",
            f"it says nothing of {AXES[along.index('')]}",
            "it must say how far right or left, forward or back, up or down",
            f"write 0 {usual} where it is level",
        )
    return along


def _signed(text: str, sign: str, word: str, usual: str, *, bare: bool) -> str:
    length = measured(text, Kind.LENGTH, usual, bare=bare)
    if length[0] in "+-":
        raise JobError(
            "", f"'{length} {word}' has a sign and a word", "it must have one of them", f"write {length[1:]} {word}"
        )
    return length if read(length, Kind.LENGTH).magnitude == 0 else sign + length


def numbers(text: str) -> list[float]:
    """A direction: three plain numbers, or one word.

    >>> numbers("0, 0.71, 0.71"), numbers("left")
    ([0.0, 0.71, 0.71], [-1.0, 0.0, 0.0])
    """
    if text in WORDS:
        axis, sign = WORDS[text]
        return [float(f"{sign}1") if k == axis else 0.0 for k in range(3)]
    parts = [part.strip() for part in re.split("[,;]", text)]
    if len(parts) != 3 or not all(PLAIN_NUMBER.fullmatch(part) for part in parts):
        raise JobError(
            "",
            f"{text!r} is not three plain numbers",
            f"it must be three, without a unit, or one of {', '.join(WORDS)}",
            "write it like 0, 0.71, 0.71 (right, forward, up)",
        )
    return [float(part) for part in parts]


def choice(text: str, words: Sequence[str], said: Sequence[str] = ()) -> str:
    """One of the words: typed, by its number in the list, or as the beginning of just one of them or of what it says.

    >>> choice("2", ["mm", "in"]), choice("Bench-m", ["bench-motor", "own"])
    ('in', 'bench-motor')
    >>> choice("inch", ["mm", "in"], ["millimetres", "inches"])
    'in'

    Raises JobError.
    """
    if text in words:
        return text
    if WHOLE.fullmatch(text) and 1 <= int(text) <= len(words):
        return words[int(text) - 1]
    for starts in (words, said):
        found = [word for word, start in zip(words, starts, strict=False) if start.lower().startswith(text.lower())]
        if text and len(found) == 1:
            return found[0]
    raise JobError("", f"{text!r} is not on offer", "it must be a word of the list, or its number", near(text, words))


def count(text: str, least: int, most: int) -> int:
    """A whole number. Raises JobError."""
    if not WHOLE.fullmatch(text) or not least <= int(text) <= most:
        raise JobError("", f"{text!r} is no such count", f"it must be a number from {least} to {most}", "count again")
    return int(text)


def some_of(text: str, names: Sequence[str], least: int, most: int) -> list[str]:
    """So many names with commas between them, each typed or by its number. Raises JobError."""
    found = [choice(part.strip(), names) for part in text.split(",")]
    if not least <= len(found) <= most:
        raise JobError("", f"it names {len(found)}", f"it must name {least} to {most}", "put commas between the names")
    return found


def sentence(error: TubingError) -> str:
    """What is wrong with an answer, to the one who just gave it.

    >>> sentence(UnitError("", "12 what?", "it must be a length", "write 12 mm"))
    '12 what? Write 12 mm.'
    """
    if error.found.endswith(" what?"):
        thing = f"{error.thing}: " if error.thing else ""
        return f"{thing}{error.found} {error.remedy[:1].upper()}{error.remedy[1:]}."
    text = ": ".join(part for part in (error.thing, f"{error.found}; {error.needed}; {error.remedy}") if part)
    return text if text.endswith("?") else f"{text}."
