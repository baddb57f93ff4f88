"""The files of `new`: the unfinished answers beside the job, replaced whole at every answer, and the job at the end.

Nothing half-written stays: a file is written under another name, then put in place in one step.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Mapping
from pathlib import Path

from msgspec import Struct, field

from tubing.ask.answers import printable
from tubing.ask.writing import quoted
from tubing.errors import JobError
from tubing.inputs.toml_files import read_toml, shown
from tubing.inputs.whole_files import written_beside

SUFFIX, UNFINISHED = ".toml", ".unfinished"
HEAD = (
    "# Answers of a job that is not finished. Start `new` with the job's name to go on.\n"
    "# This file goes away when the job is written.\n"
)


class Kept(Struct):
    """What is kept between two starts: answers as typed by their question, and how many are behind the fitter."""

    answers: dict[str, str] = field(default_factory=dict)
    behind: int = 0
    pictures: bool = True


def unfinished(path: Path) -> Path:
    """Where a job's answers are kept until it is written."""
    return path.with_name(path.name + UNFINISHED)


def job_path(word: str) -> Path:
    """The job's file by its name, or by that of its unfinished answers. Raises JobError."""
    name = printable(word).removesuffix(UNFINISHED)
    path = Path(name)
    if not name.endswith(SUFFIX) or path.name == SUFFIX:
        raise JobError(
            name or "file", "it is no name for a job", "it must end in .toml", f"write it like {_stem(path)}{SUFFIX}"
        )
    try:
        if not path.parent.is_dir():
            raise JobError(
                name, f"there is no folder {str(path.parent)!r}", "it must exist", "make it, or name another"
            )
        if path.exists() and not path.is_file():
            raise JobError(name, "it is not a file", "it must be a new file", "give another name")
    except OSError as cause:
        why = f"it cannot be looked at ({cause.strerror or cause})"
        raise JobError(name, why, "it must be a file that can be written", "give another name") from cause
    return path


def _stem(path: Path) -> str:
    return path.stem if path.stem not in ("", SUFFIX) and path.stem.strip(".") else "two-seater"


def load(path: Path) -> Kept | None:
    """The unfinished answers of a job; None: there are none. Raises JobError and InputError for a spoilt file."""
    source = unfinished(path)
    if not source.exists():
        return None
    data = read_toml(source)
    answers, behind, pictures = data.get("answers"), data.get("behind"), data.get("pictures")
    sound = isinstance(answers, dict) and all(isinstance(text, str) and text.isprintable() for text in answers.values())
    if not sound or type(behind) is not int or behind < 0 or not isinstance(pictures, bool):
        wrong = "its answers are not texts" if not sound else f"behind is {shown(behind)}, pictures {shown(pictures)}"
        raise JobError(
            str(source), wrong, "it must be as `new` wrote it", "mend it, or take it away to start anew"
        )  # fmt: skip
    assert answers is not None  # sound
    return Kept(dict(answers), behind, pictures)


def save(path: Path, kept: Kept) -> None:
    """Replace the unfinished answers of a job in one step. Raises OutputError."""
    target = unfinished(path)
    with written_beside(target, _kept_text(kept)) as temporary:
        os.replace(temporary, target)


def _kept_text(kept: Kept) -> str:
    lines: Mapping[str, str] = {"behind": str(kept.behind), "pictures": str(kept.pictures).lower()}
    head = "".join(f"{key} = {value}\n" for key, value in lines.items())
    answers = "".join(f"{quoted(key)} = {quoted(text)}\n" for key, text in kept.answers.items())
    return f"{HEAD}{head}\n[answers]\n{answers}"


def forget(path: Path) -> None:
    """Take the unfinished answers away: the job is written."""
    with contextlib.suppress(OSError):  # if it stays, it does no harm
        unfinished(path).unlink()
