"""A file's text put in place whole or not at all, and never over what somebody else wrote meanwhile."""

from __future__ import annotations

import contextlib
import os
import secrets
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

from tubing.errors import OutputError


@contextlib.contextmanager
def written_beside(target: Path, text: str) -> Iterator[Path]:
    """The text in a file beside the target, gone again afterwards whatever happens. Raises OutputError."""
    temporary = target.with_name(f".tubing-{secrets.token_hex(4)}{target.suffix}")
    try:
        with open(temporary, "x", encoding="utf-8", newline="") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        yield temporary
    except OSError as cause:
        raise OutputError(
            str(target),
            f"it cannot be written ({cause.strerror or cause})",
            "it must lie in a folder with room that may be written",
            "make room or name another folder",
        ) from cause
    finally:
        with contextlib.suppress(OSError):
            temporary.unlink()


def put_in_place(path: Path, text: str, check: Callable[[Path], object]) -> bool:
    """Write a file where there is none, after ``check`` has read it. False: one of that name is there, untouched.

    Raises OutputError, and what ``check`` raises.
    """
    with written_beside(path, text) as temporary:
        check(temporary)
        return under_new_name(temporary, path)


def under_new_name(finished: Path, path: Path) -> bool:
    """Give a finished file a name that is free. False: a file of that name is there, untouched. Raises OSError."""
    try:
        os.link(finished, path)  # unlike a renaming, it never replaces
    except FileExistsError:
        return False
    except OSError:  # a file system without links
        return _put_without_link(finished, path)
    return True


def _put_without_link(finished: Path, path: Path) -> bool:
    try:
        path.touch(exist_ok=False)  # claims the name
    except FileExistsError:
        return False
    try:
        os.replace(finished, path)
    except BaseException:
        path.unlink()
        raise
    return True


def new_file(path: Path, text: str) -> None:
    """Write a file where there is none. Raises OutputError."""
    if not put_in_place(path, text, lambda _: None):
        raise OutputError(str(path), "it is there already", "it must be a new file", "give it another name")


def replace_text(path: Path, before: str, text: str, check: Callable[[Path], object]) -> None:
    """Replace a file whose text is still ``before``, after ``check`` has read the new one.

    Raises OutputError where it was changed meanwhile or cannot be written, and what ``check`` raises.
    """
    path = path.resolve()  # the file itself, where the name is a link to it
    with written_beside(path, text) as temporary:
        check(temporary)
        if path.read_bytes().decode("utf-8") != before:
            raise OutputError(
                str(path),
                "it was changed meanwhile",
                "it must be as it was read",
                "start again; nothing was changed",
            )
        shutil.copymode(path, temporary)
        os.replace(temporary, path)
