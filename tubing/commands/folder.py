"""Writes a set of files into a folder: all of them or none, and nothing of what lies there without leave.

Room:    a folder of our own, beside the new folder or inside one that is there, in which everything is written first.
Journal: a file in it with the names that are being moved; while it is there, the move is not whole.
"""

from __future__ import annotations

import contextlib
import os
import re
import shutil
import signal
import time
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from tubing.errors import OutputError

JOURNAL, EARLIER = "moving", "earlier"
OURS = re.compile(r"[a-z0-9-]+\.(html|csv|dxf|svg|json)")  # what may lie in a room beside the two
DEAD_AFTER_S = 3600.0  # a room this old is nobody's, whatever process bears its number by now


def write_folder(folder: Path, files: Mapping[str, bytes], *, replace: bool) -> None:
    """Write the files, each by a plain name, into a folder that is new or empty.

    ``replace``: into one that holds other files too; those of the same name are replaced, others stay as they are.
    Everything is written in a room first. A new folder is that room under its own name, so that it is there whole or
    not at all; into one that is there, the files are moved one by one, and a move that was cut off by a power cut or
    a kill is undone by the next call. Raises OutputError: a folder that holds something, a name that is no folder, a
    disk that is full or cannot be written.
    """
    try:
        _put_right(folder)
        _check_free(folder, files, replace)
        if folder.exists():
            _write_into(folder, files)
        else:
            _write_new(folder, files)
    except OSError as error:
        raise OutputError(
            str(folder),
            f"the sheet cannot be written there ({error.strerror or error}), and nothing of it was kept",
            "it must be a folder with room, on a disk that can be written",
            "make room, or name another folder",
        ) from error


def _put_right(folder: Path) -> None:
    """Undo what an earlier call that was killed has begun, and clear away its room; only ours, only a dead one's."""
    for place, start in ((folder.parent, f".{folder.name}.sheet-"), (folder, ".sheet-")):
        for room in _entries(place):
            number = room.name.removeprefix(start)
            if not room.name.startswith(start) or not number.isdecimal() or not _ours(room):
                continue
            if _alive(int(number), room):
                continue
            if place == folder and (room / JOURNAL).exists():
                _undo(folder, room, (room / JOURNAL).read_text(encoding="utf-8").split("\n")[:-1])
            shutil.rmtree(room)


def _entries(place: Path) -> list[Path]:
    """What lies in a folder; nothing where there is none, or where we may not look."""
    try:
        return sorted(place.iterdir())
    except (FileNotFoundError, NotADirectoryError, PermissionError):
        return []


def _ours(room: Path) -> bool:
    """Whether a folder holds nothing but what a room holds."""
    if room.is_symlink() or not room.is_dir():
        return False
    return all(path.name in (JOURNAL, EARLIER) or OURS.fullmatch(path.name) for path in room.iterdir())


def _alive(number: int, room: Path) -> bool:
    """Whether the process that made a room may still be at work in it."""
    if number == os.getpid() or time.time() - room.stat().st_mtime > DEAD_AFTER_S:
        return False
    if os.name != "posix":
        return True  # elsewhere, to ask after a process may end it
    try:
        os.kill(number, 0)
    except ProcessLookupError:
        return False
    except (OverflowError, PermissionError):
        pass
    return True


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


def _write_new(folder: Path, files: Mapping[str, bytes]) -> None:
    """A folder that is not there yet: written under another name, then named."""
    made = _made(folder.parent)
    try:
        with _room(folder.with_name(f".{folder.name}.sheet-{os.getpid()}")) as room:
            _fill(room, files)
            os.rename(room, folder)
    except BaseException:
        for path in reversed(made):
            path.rmdir()
        raise


def _write_into(folder: Path, files: Mapping[str, bytes]) -> None:
    """A folder that is there: everything is written inside it before anything is moved."""
    with _room(folder / f".sheet-{os.getpid()}") as room:
        _fill(room, files)
        with _undisturbed():
            _move(folder, room, list(files))


@contextlib.contextmanager
def _room(room: Path) -> Iterator[Path]:
    """A folder to work in, gone afterwards."""
    room.mkdir()
    try:
        yield room
    finally:
        shutil.rmtree(room, ignore_errors=True)


def _fill(room: Path, files: Mapping[str, bytes]) -> None:
    for name, content in files.items():
        with (room / name).open("xb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())  # a full disk must be told of now, not when half is moved


@contextlib.contextmanager
def _undisturbed() -> Iterator[None]:
    """Whoever stops the program from here on has to wait some thousandths of a second."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT, signal.SIGTERM, signal.SIGHUP})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _move(folder: Path, room: Path, names: list[str]) -> None:
    """Every file to its place; where one cannot go, those before it go back and the old ones too."""
    _fill(room, {JOURNAL: "".join(f"{name}\n" for name in names).encode()})
    (room / EARLIER).mkdir()
    try:
        for name in names:
            if (folder / name).exists() or (folder / name).is_symlink():
                os.replace(folder / name, room / EARLIER / name)
            os.replace(room / name, folder / name)
        (room / JOURNAL).unlink()
    except BaseException:
        _undo(folder, room, names)
        raise


def _undo(folder: Path, room: Path, names: Sequence[str]) -> None:
    """Each name as it was before the move. Cut off as well, it can be done again: a new file goes back first."""
    for name in reversed(names):
        if not (room / name).exists():
            with contextlib.suppress(FileNotFoundError):
                os.replace(folder / name, room / name)
        old = room / EARLIER / name
        if old.exists() or old.is_symlink():
            os.replace(old, folder / name)
