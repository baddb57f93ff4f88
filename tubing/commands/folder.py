"""Writes a set of files into a folder: all of them or none, and nothing of what lies there without leave."""

from __future__ import annotations

import os
import shutil
from collections.abc import Mapping
from pathlib import Path

from tubing.errors import OutputError


def write_folder(folder: Path, files: Mapping[str, bytes], *, replace: bool) -> None:
    """Write the files, each by a plain name, into a folder that is new or empty.

    ``replace``: into one that holds other files too; those of the same name are replaced, others stay as they are.
    Everything is written beside its place first and moved when it is whole. Raises OutputError: a folder that
    holds something, a name that is no folder, a disk that is full or cannot be written.
    """
    try:
        _check_free(folder, files, replace)
        made = _made(folder)
        try:
            _write(folder, files)
        except BaseException:
            for path in reversed(made):
                path.rmdir()
            raise
    except OSError as error:
        raise OutputError(
            str(folder),
            f"the sheet cannot be written there ({error.strerror or error}), and nothing of it was kept",
            "it must be a folder with room, on a disk that can be written",
            "make room, or name another folder",
        ) from error


def _check_free(folder: Path, files: Mapping[str, bytes], replace: bool) -> None:
    if folder.exists() and not folder.is_dir():
        raise OutputError(
            str(folder),
            "it is a file",
            "the sheet goes into a folder of its own",
            "name a folder that is not there yet",
        )
    held = sorted(path.name for path in folder.iterdir()) if folder.exists() else []
    if held and not replace:
        more = f" and {len(held) - 1} more" if len(held) > 1 else ""
        raise OutputError(
            str(folder),
            f"it holds {held[0]}{more}",
            "it must be new or empty",
            "name another folder, or add --replace to overwrite an earlier sheet in it",
        )
    for name in files:
        if (folder / name).is_dir():
            raise OutputError(
                str(folder / name),
                "it is a folder",
                "a file of the sheet goes there",
                "move it, or name another folder",
            )


def _made(folder: Path) -> list[Path]:
    """The folder and those above it that had to be made, outermost first."""
    missing = []
    path = folder
    while not path.exists():
        missing.append(path)
        path = path.parent
    made: list[Path] = []
    try:
        for path in reversed(missing):
            path.mkdir()
            made.append(path)
    except OSError:
        for path in reversed(made):
            path.rmdir()
        raise
    return made


def _write(folder: Path, files: Mapping[str, bytes]) -> None:
    room = folder / f".sheet-{os.getpid()}"
    room.mkdir()
    try:
        for name, content in files.items():
            with (room / name).open("xb") as file:
                file.write(content)
                file.flush()
                os.fsync(file.fileno())  # a full disk must be told of now, not when half is moved
        _move(folder, room, list(files))
    finally:
        shutil.rmtree(room, ignore_errors=True)


def _move(folder: Path, room: Path, names: list[str]) -> None:
    """Every file to its place; where one cannot go, those before it go back and the old ones too."""
    aside = room / "earlier"
    aside.mkdir()
    moved: list[str] = []
    try:
        for name in names:
            if (folder / name).exists() or (folder / name).is_symlink():
                os.replace(folder / name, aside / name)
            moved.append(name)
            os.replace(room / name, folder / name)
    except BaseException:
        for name in reversed(moved):
            if (aside / name).exists() or (aside / name).is_symlink():
                os.replace(aside / name, folder / name)
            elif not (room / name).exists():
                (folder / name).unlink(missing_ok=True)
        raise
