"""Writing the sheet's folder: all or nothing, and nothing of what lies there without leave."""

from __future__ import annotations

import errno
import itertools
import os
import re
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from tubing.commands import folder as module
from tubing.commands import main
from tubing.commands.folder import write_folder
from tubing.errors import OutputError
from tubing.inputs.shop_file import data_folder

FILES = {"a.csv": b"new a", "b.csv": b"new b"}


def held(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in sorted(folder.iterdir())}


@pytest.mark.parametrize("there", [False, True])
def test_a_new_or_an_empty_folder_takes_the_files_and_nothing_else(tmp_path: Path, there: bool) -> None:
    folder = tmp_path / "x" / "y"
    if there:
        folder.mkdir(parents=True)
    write_folder(folder, FILES, replace=False)
    assert held(folder) == FILES


def test_a_folder_that_holds_something_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "mine.doc").write_bytes(b"mine")
    (tmp_path / "a.csv").write_bytes(b"old a")
    with pytest.raises(OutputError) as error:
        write_folder(tmp_path, FILES, replace=False)
    assert str(error.value) == (
        f"{tmp_path}: it holds a.csv and 1 more; it must be new or empty; "
        "name another folder, or add --replace to overwrite an earlier sheet in it"
    )
    assert held(tmp_path) == {"a.csv": b"old a", "mine.doc": b"mine"}


def test_replace_overwrites_its_own_names_only(tmp_path: Path) -> None:
    (tmp_path / "mine.doc").write_bytes(b"mine")
    (tmp_path / "a.csv").write_bytes(b"old a")
    write_folder(tmp_path, FILES, replace=True)
    assert held(tmp_path) == {**FILES, "mine.doc": b"mine"}


@pytest.mark.parametrize(("replace", "step"), [(False, "fsync"), (False, "rename"), (True, "fsync"), (True, "replace")])
def test_a_disk_that_fails_half_way_keeps_nothing_new_and_loses_nothing_old(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str, replace: bool
) -> None:
    """A call fails: when a file has been written, when the new folder gets its name, when one file has been moved."""
    folder = tmp_path / "out"
    before = {}
    if replace:
        folder.mkdir()
        (folder / "a.csv").write_bytes(b"old a")
        (folder / "b.csv").write_bytes(b"old b")
        before = held(folder)
    real, calls = getattr(os, step), []

    def failing(*words: object) -> object:
        calls.append(words)
        if len(calls) == (1 if step == "rename" else 2):
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        return real(*words)

    monkeypatch.setattr(module.os, step, failing)
    with pytest.raises(OutputError) as error:
        write_folder(folder, FILES, replace=replace)
    assert str(error.value) == (
        f"{folder}: the sheet cannot be written there (No space left on device), and nothing of it was kept; "
        "it must be a folder with room, on a disk that can be written; make room, or name another folder"
    )
    assert (held(folder) if folder.exists() else {}) == before
    assert folder.exists() == replace


KILLED = """
import os, signal, sys
from pathlib import Path
from tubing.commands.folder import write_folder

left = int(sys.argv[2])
KINDS = {"open", "os.rename", "os.mkdir", "os.remove", "os.rmdir"}

def hook(event, words):
    global left
    if event in KINDS and str(words[0]).startswith(sys.argv[1].rsplit("/", 1)[0]):
        left -= 1
        if left < 0:
            os.kill(os.getpid(), signal.SIGKILL)

sys.addaudithook(hook)
write_folder(Path(sys.argv[1]), {"a.csv": b"new a", "b.csv": b"new b"}, replace=sys.argv[3] == "replace")
"""


def killed_after(steps: int, folder: Path, replace: bool) -> bool:
    """Write in a process of its own, which is killed before the disk is touched once more; whether that came first."""
    words = [sys.executable, "-c", KILLED, str(folder), str(steps), "replace" if replace else "new"]
    ended = subprocess.run(words, cwd=Path(__file__).parents[2], check=False, capture_output=True)
    assert ended.returncode in (0, -signal.SIGKILL), ended.stderr
    return ended.returncode != 0


@pytest.mark.skipif(os.name != "posix", reason="processes are killed so on POSIX systems only")
def test_a_killed_one_leaves_no_half_sheet_in_a_new_folder_and_nothing_the_next_time(tmp_path: Path) -> None:
    """Killed before each of its steps in turn: the folder is not there or whole, and the next call clears away."""
    for steps in itertools.count():
        folder = tmp_path / str(steps) / "out"
        folder.parent.mkdir()
        was_killed = killed_after(steps, folder, replace=False)
        assert not folder.exists() or held(folder) == FILES
        if not was_killed:
            break
        if not folder.exists():
            write_folder(folder, FILES, replace=False)
        else:
            write_folder(folder, FILES, replace=True)
        assert held(folder) == FILES
        assert [path.name for path in folder.parent.iterdir()] == ["out"]
    assert steps >= 4, "it was killed at several steps"


@pytest.mark.skipif(os.name != "posix", reason="processes are killed so on POSIX systems only")
def test_what_a_killed_one_replaced_half_is_put_back_the_next_time(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Killed before each of its steps in turn; the next call fails on a full disk, and has put all right by then."""
    old = {"a.csv": b"old a", "mine.doc": b"mine"}

    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    for steps in itertools.count():
        folder = tmp_path / str(steps) / "out"
        folder.mkdir(parents=True)
        for name, content in old.items():
            (folder / name).write_bytes(content)
        was_killed = killed_after(steps, folder, replace=True)
        with monkeypatch.context() as patched:
            patched.setattr(module.os, "fsync", full)
            with pytest.raises(OutputError, match="No space left on device"):
                write_folder(folder, FILES, replace=True)
        assert held(folder) in (old, {**old, **FILES})
        if not was_killed:
            break
    assert held(folder) == {**old, **FILES}
    assert steps > 8, "it was killed at several steps"


@pytest.mark.parametrize(
    ("room", "inside"),
    [
        (f".sheet-{os.getppid()}", "a.csv"),  # of a process that lives
        (".sheet-old", "a.csv"),  # of nobody
        (".sheet-999999999", "holiday.jpg"),  # with something in it that we never write
    ],
)
def test_what_is_not_surely_a_dead_ones_room_stays(tmp_path: Path, room: str, inside: str) -> None:
    (tmp_path / room).mkdir()
    (tmp_path / room / inside).write_bytes(b"x")
    with pytest.raises(OutputError, match=rf"it holds {re.escape(room)}; it must be new or empty"):
        write_folder(tmp_path, FILES, replace=False)
    assert (tmp_path / room / inside).exists()


def test_a_stop_from_the_keyboard_waits_for_the_move(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The interrupt comes after the first file has been moved, and is heard when all are."""
    real = os.replace

    def stopped(*words: object) -> None:
        real(*words)  # type: ignore[arg-type]
        signal.raise_signal(signal.SIGINT)

    monkeypatch.setattr(module.os, "replace", stopped)
    with pytest.raises(KeyboardInterrupt):
        write_folder(tmp_path, FILES, replace=False)
    assert held(tmp_path) == FILES


def test_a_folder_that_cannot_be_written_is_one_line_and_nothing_is_left(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Read-only: making anything in it is refused (by hand, for the superuser may write anywhere)."""

    def refused(self: Path, *_: object, **__: object) -> None:
        raise OSError(errno.EROFS, os.strerror(errno.EROFS), str(self))

    monkeypatch.setattr(module.Path, "mkdir", refused)
    for folder in (tmp_path, tmp_path / "new" / "deep"):
        with pytest.raises(OutputError) as error:
            write_folder(folder, FILES, replace=False)
        assert str(error.value) == (
            f"{folder}: the sheet cannot be written there (Read-only file system), and nothing of it was kept; "
            "it must be a folder with room, on a disk that can be written; make room, or name another folder"
        )
    assert list(tmp_path.iterdir()) == []


def test_a_file_in_the_folders_place_is_named(tmp_path: Path) -> None:
    (tmp_path / "f").write_bytes(b"")
    with pytest.raises(OutputError) as error:
        write_folder(tmp_path / "f", FILES, replace=True)
    assert str(error.value) == (
        f"{tmp_path / 'f'}: it is a file; the sheet goes into a folder of its own; name a folder that is not there yet"
    )


def test_a_file_above_the_folder_is_one_message(tmp_path: Path) -> None:
    (tmp_path / "f").write_bytes(b"")
    with pytest.raises(OutputError, match="Not a directory"):
        write_folder(tmp_path / "f" / "g", FILES, replace=False)


def test_a_folder_in_a_files_place_is_named(tmp_path: Path) -> None:
    (tmp_path / "a.csv").mkdir()
    with pytest.raises(OutputError) as error:
        write_folder(tmp_path, FILES, replace=True)
    assert str(error.value) == (
        f"{tmp_path / 'a.csv'}: it is a folder; a file of the sheet goes there; move it, or name another folder"
    )


def test_a_full_disk_is_one_message_and_status_3(capsys: pytest.CaptureFixture[str]) -> None:
    """A place where nothing can be made, through the command line."""
    job = str(data_folder() / "jobs" / "lined-up-twin.toml")
    assert main(["sheet", job, "-o", "/proc/nothing/here"]) == 3
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.startswith("/proc/nothing/here: the sheet cannot be written there (")
    assert told.err.count("\n") == 1


def test_the_command_names_every_file_it_wrote(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job = str(data_folder() / "jobs" / "lined-up-twin.toml")
    assert main(["sheet", job, "-o", str(tmp_path / "out")]) == 0
    names = [line.split(": ")[0] for line in capsys.readouterr().out.splitlines()]
    assert names == [str(tmp_path / "out" / name) for name in (
        "sheet.html", "cut-list.csv", "bends.csv", "saw-list.csv", "parts.csv", "run.dxf", "templates.dxf", "plan.json"
    )]  # fmt: skip
    assert main(["sheet", job, "-o", str(tmp_path / "out")]) == 3
    assert "it holds bends.csv and 7 more" in capsys.readouterr().err


@pytest.mark.long
def test_sheets_of_fewer_vehicles_say_what_is_left_of_more(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Two vehicles' sheets, then one's over them: the old ones stay, and are named so that nobody saws by them."""
    twin = str(data_folder() / "jobs" / "lined-up-twin.toml")
    assert main(["sheet", twin, twin, "-o", str(tmp_path)]) == 0
    assert "From an earlier sheet" not in capsys.readouterr().out
    (tmp_path / "mine.html").write_text("mine", encoding="utf-8")
    assert main(["sheet", twin, "-o", str(tmp_path), "--replace"]) == 0
    last = capsys.readouterr().out.splitlines()[-1]
    assert last.startswith("From an earlier sheet, and not of this one: 1-bends.csv, 1-cut-list.csv, ")
    assert "2-sheet.html" in last
    assert "mine.html" not in last
    assert (tmp_path / "2-sheet.html").is_file()
