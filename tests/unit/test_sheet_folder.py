"""Writing the sheet's folder: all or nothing, and nothing of what lies there without leave."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from tubing.commands import folder as module
from tubing.commands import main
from tubing.commands.folder import write_folder
from tubing.errors import OutputError
from tubing.job import data_folder

FILES = {"a.txt": b"new a", "b.txt": b"new b"}


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
    (tmp_path / "mine.txt").write_bytes(b"mine")
    (tmp_path / "a.txt").write_bytes(b"old a")
    with pytest.raises(OutputError) as error:
        write_folder(tmp_path, FILES, replace=False)
    assert str(error.value) == (
        f"{tmp_path}: it holds a.txt and 1 more; it must be new or empty; "
        "name another folder, or add --replace to overwrite an earlier sheet in it"
    )
    assert held(tmp_path) == {"a.txt": b"old a", "mine.txt": b"mine"}


def test_replace_overwrites_its_own_names_only(tmp_path: Path) -> None:
    (tmp_path / "mine.txt").write_bytes(b"mine")
    (tmp_path / "a.txt").write_bytes(b"old a")
    write_folder(tmp_path, FILES, replace=True)
    assert held(tmp_path) == {**FILES, "mine.txt": b"mine"}


@pytest.mark.parametrize("replace", [False, True])
@pytest.mark.parametrize("step", ["fsync", "replace"])
def test_a_disk_that_fails_half_way_keeps_nothing_new_and_loses_nothing_old(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str, replace: bool
) -> None:
    """The third call fails: after a file is written, or after one has been moved."""
    folder = tmp_path / "out"
    before = {}
    if replace:
        folder.mkdir()
        (folder / "a.txt").write_bytes(b"old a")
        (folder / "b.txt").write_bytes(b"old b")
        before = held(folder)
    real, calls = getattr(os, step), []

    def failing(*words: object) -> object:
        calls.append(words)
        if len(calls) == 2:
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
    (tmp_path / "a.txt").mkdir()
    with pytest.raises(OutputError) as error:
        write_folder(tmp_path, FILES, replace=True)
    assert str(error.value) == (
        f"{tmp_path / 'a.txt'}: it is a folder; a file of the sheet goes there; move it, or name another folder"
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
        "sheet.html", "cut-list.csv", "bends.csv", "saw-list.csv", "parts.csv", "run.dxf", "templates.dxf"
    )]  # fmt: skip
    assert main(["sheet", job, "-o", str(tmp_path / "out")]) == 3
    assert "it holds bends.csv and 6 more" in capsys.readouterr().err
