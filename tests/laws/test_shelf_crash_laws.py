"""The shelf's book under a process that is killed, a disk that is full or read-only, and two that write at once.

How: SQLite's own documentation, "How SQLite Is Tested", crash testing (sqlite.org, read in its source of 2023): a child
process does the work and dies at a step; the parent opens the file again and demands all of the work or none. Here the
child dies by SIGKILL at its k-th statement or its k-th stretch of instructions, or by an alarm that nothing catches
after a time drawn at random, which also falls into the writing of the file itself.
"""

from __future__ import annotations

import errno
import os
import random
import resource
import shutil
import signal
import sqlite3
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from fractions import Fraction
from pathlib import Path

import pytest

from tests.shelf_replay import check_replay, rows_of
from tests.unit.test_shelf_book import BOOKS, plan_on
from tubing.errors import OutputError
from tubing.shelf import door, stock_changes
from tubing.shelf.counting import Counted, compared, settle
from tubing.shelf.door import BUSY_S, Connection, begun, copied, opened
from tubing.shelf.kept_bars import cut, free, keep, spoil
from tubing.shelf.reading import live_keepings, shelf
from tubing.shelf.records import NewBar, Vehicle
from tubing.shelf.schema import VERSION

pytestmark = [
    pytest.mark.long,
    pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a process that can be split in two"),
    pytest.mark.filterwarnings("ignore:This process .* is multi-threaded:DeprecationWarning"),
]

BAR = NewBar("steel-8", Fraction(1000), (), 640)
LAUNCH = Vehicle("launch.toml")
KILLED_AT_RANDOM = 100


def settled(book: Connection) -> object:
    there = shelf(book, Path("/none/shelf.sqlite")).bars
    found = [Counted("steel-8", Fraction(1000), 1, number=4), Counted("copper-8", Fraction(700), 2)]
    return settle(book, compared(there, found), "work")


def spoiled(book: Connection) -> object:
    return spoil(book, shelf(book, Path("/none/shelf.sqlite")).cut[:1], "work")


WORK: dict[str, Callable[[Connection], object]] = {
    "add": lambda book: stock_changes.add(book, [BAR] * 5, "work"),
    "scrap": lambda book: stock_changes.scrap(book, [1, 2], "work"),
    "keep": lambda book: keep(book, plan_on(1, 300, 250, vehicle=LAUNCH), "work"),
    "keep anew": lambda book: keep(book, plan_on(4, 310), "work"),
    "free": lambda book: free(book, [Vehicle("van.toml")], "work"),
    "cut": lambda book: cut(book, live_keepings(book), "work"),
    "spoil": spoiled,
    "undo": lambda book: stock_changes.undo(book),
    "count": settled,
}


@pytest.fixture
def tmp_path() -> Iterator[Path]:
    """A folder in memory where the system has one: a killed process leaves the same there, and it is far quicker."""
    memory = Path("/dev/shm")
    with tempfile.TemporaryDirectory(dir=memory if os.access(memory, os.W_OK) else None) as folder:
        yield Path(folder)


@pytest.fixture(scope="module")
def before(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A book in use: bars, one keeping that is cut, one that is live."""
    path = tmp_path_factory.mktemp("before") / "shelf.sqlite"
    with begun(path) as book:
        stock_changes.add(book, [BAR] * 4, "bars")
        keep(book, plan_on(3, 200, vehicle=Vehicle("heater.toml")), "first")
        cut(book, live_keepings(book), "first cut")
        keep(book, plan_on(4, 300), "second")
    return path


def killed(path: Path, work: Callable[[Connection], object], arm: Callable[[Connection], None]) -> bool:
    """Do some work on a book in a child process that ``arm`` makes ready to die; whether it died."""
    child = os.fork()
    if child == 0:
        try:
            connect = door._connected

            def armed(*words: object, **more: object) -> Connection:
                book = connect(*words, **more)
                arm(book)
                return book

            door._connected = armed
            with opened(path) as book:
                work(book)
            os._exit(0)
        except BaseException as error:
            os.write(2, f"{error!r}\n".encode())
            os._exit(1)
    _, status = os.waitpid(child, 0)
    assert os.WIFSIGNALED(status) or os.WEXITSTATUS(status) == 0
    return os.WIFSIGNALED(status)


def die() -> None:
    os.kill(os.getpid(), signal.SIGKILL)


def at_statement(k: int) -> Callable[[Connection], None]:
    """Die when the k-th statement begins."""

    def arm(book: Connection) -> None:
        left = iter(range(k))
        book.set_trace_callback(lambda _: die() if next(left, None) is None else None)

    return arm


def at_instructions(k: int, each: int = 20) -> Callable[[Connection], None]:
    """Die after about k times ``each`` instructions of SQLite's machine, in the middle of a statement."""

    def arm(book: Connection) -> None:
        left = iter(range(k))
        book.set_progress_handler(lambda: die() if next(left, None) is None else 0, each)

    return arm


def all_or_nothing(path: Path, before: Path, after: Path) -> str:
    """The book opens, is sound, and is as before or as after."""
    with opened(path) as book:  # rolls back what a dead process left
        shelf(book, path)
    check_replay(path)
    found = without_times(path)
    if found == without_times(before):
        return "nothing"
    assert found == without_times(after)
    return "all"


def without_times(path: Path) -> dict[str, list[tuple]]:
    """A book's rows without the clock's."""
    rows = rows_of(path)
    rows["operation"] = [(number, key, kind, said, undoes) for number, key, kind, _, said, undoes in rows["operation"]]
    return rows


@pytest.mark.parametrize("name", WORK)
def test_killed_at_any_step_all_of_an_operation_stands_or_nothing(name: str, before: Path, tmp_path: Path):
    """Every statement, every stretch of instructions, and a hundred times at random, most of them while it writes."""
    after, path = tmp_path / "after.sqlite", tmp_path / "shelf.sqlite"
    shutil.copy(before, after)
    started = time.perf_counter()
    assert not killed(after, WORK[name], lambda book: None)
    took_s = time.perf_counter() - started
    found = {"all": 0, "nothing": 0}
    for at in (at_statement, at_instructions):
        k = 0
        while True:
            shutil.copy(before, path)
            died = killed(path, WORK[name], at(k))
            found[all_or_nothing(path, before, after)] += 1
            if not died:
                break
            k += 1 if at is at_statement or k < 40 else 15
        assert k > 3
    chance = random.Random(name)
    for _ in range(KILLED_AT_RANDOM):
        shutil.copy(before, path)
        delay_s = chance.uniform(0, 1.2 * took_s)
        killed(path, WORK[name], lambda book, s=delay_s: signal.setitimer(signal.ITIMER_REAL, s) and None)
        found[all_or_nothing(path, before, after)] += 1
    assert min(found.values()) > 1


def test_killed_while_an_old_book_is_brought_up_to_date_it_is_the_old_one_or_todays(tmp_path: Path):
    """A book of version 1, killed at every statement and every stretch of instructions of the migration."""
    old, path = tmp_path / "old.sqlite", tmp_path / "shelf.sqlite"
    with closing(sqlite3.connect(old)) as book:
        book.executescript((BOOKS / "version_1.sql").read_text(encoding="utf-8"))
    found = {1: 0, VERSION: 0}
    for at, step in ((at_statement, 1), (at_instructions, 10)):
        k = 0
        while True:
            shutil.copy(old, path)
            died = killed(path, lambda book: None, at(k))
            with closing(sqlite3.connect(path)) as book:
                found[book.execute("PRAGMA user_version").fetchone()[0]] += 1
            rows = rows_of(path)
            assert {table: rows[table] for table in ("operation", "bar", "given")} == {
                table: each for table, each in rows_of(old).items() if table in ("operation", "bar", "given")
            }
            with opened(path):
                pass
            check_replay(path)
            if not died:
                break
            k += step
    assert found[1] > 20
    assert found[VERSION] > 1


def test_killed_while_it_copies_there_is_a_whole_copy_or_none(before: Path, tmp_path: Path):
    """At any time drawn at random; what the dead process left beside it does not hinder the next copy."""
    path, to = tmp_path / "shelf.sqlite", tmp_path / "copy.sqlite"
    shutil.copy(before, path)
    chance = random.Random("copy")
    found = {True: 0, False: 0}
    for _ in range(KILLED_AT_RANDOM):
        to.unlink(missing_ok=True)
        delay_s = chance.uniform(0.0005, 0.03)
        killed(
            path,
            lambda book: copied(book, path, to),
            lambda book, s=delay_s: signal.setitimer(signal.ITIMER_REAL, s) and None,
        )
        found[to.exists()] += 1
        if to.exists():
            assert rows_of(to) == rows_of(before)
            check_replay(to)
    assert min(found.values()) > 1
    to.unlink(missing_ok=True)
    with opened(path) as book:
        copied(book, path, to)


@pytest.mark.parametrize("name", [*WORK, "copy"])
def test_a_full_disk_at_any_byte_changes_nothing_and_is_told(name: str, before: Path, tmp_path: Path):
    """No file may grow beyond so many bytes: the journal or the book meets that limit at each of its writes."""
    path = tmp_path / "shelf.sqlite"
    full = 0
    # A book that has grown to its limit, its journal too: from nothing to twice its size.
    for limit in range(0, 2 * before.stat().st_size, 1024):
        shutil.copy(before, path)
        to = tmp_path / "copy.sqlite"
        to.unlink(missing_ok=True)
        child = os.fork()
        if child == 0:
            signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
            resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))
            os._exit(_on_full_disk(path, to, name))
        code = os.WEXITSTATUS(os.waitpid(child, 0)[1])
        assert code in (0, 3)
        check_replay(path)
        if code == 3:
            full += 1
            assert without_times(path) == without_times(before)
            assert not to.exists()
    assert full > 3
    assert code == 0, "with room enough it is done"


def _on_full_disk(path: Path, to: Path, name: str) -> int:
    """3 where the work is told to have met a full disk, 0 where it was done."""
    try:
        with opened(path) as book:
            if name == "copy":
                copied(book, path, to)
            else:
                WORK[name](book)
    except OutputError:
        return 3
    except BaseException:
        return 1
    return 0


@pytest.mark.parametrize("name", WORK)
def test_a_book_that_cannot_be_written_can_be_read_and_says_so(name: str, before: Path, tmp_path: Path):
    """A file and folder without the right to write, by a user who is not the machine's master."""
    folder = tmp_path / "read-only"
    folder.mkdir()
    path = folder / "shelf.sqlite"
    shutil.copy(before, path)
    for parent in (folder, *folder.parents):
        if os.stat(parent).st_uid == os.getuid() and parent != Path("/tmp") and parent != Path("/"):
            parent.chmod(0o755)
    path.chmod(0o444)
    folder.chmod(0o555)
    child = os.fork()
    if child == 0:
        if os.getuid() == 0:
            os.setuid(65534)
        os._exit(_read_then_write(path, name))
    code = os.WEXITSTATUS(os.waitpid(child, 0)[1])
    folder.chmod(0o755)
    assert code == 3
    assert rows_of(path) == rows_of(before)


def _read_then_write(path: Path, name: str) -> int:
    try:
        with opened(path) as book:
            assert len(shelf(book, path).bars) == 4
        with opened(path) as book:
            WORK[name](book)
    except OutputError as error:
        return 3 if "it cannot be written or read (attempt to write a readonly database)" in str(error) else 2
    except BaseException as error:
        os.write(2, f"{error!r}\n".encode())
        return 1
    return 0


OPERATIONS = 500  # of each of two processes


def test_two_processes_at_once_lose_nothing_and_do_nothing_twice(tmp_path: Path):
    """A thousand operations by two writers; each tells what it was given, and the book has exactly that."""
    path = tmp_path / "shelf.sqlite"
    with begun(path) as book:
        stock_changes.add(book, [BAR] * 20, "first")
    told = [tmp_path / "0", tmp_path / "1"]
    children = []
    for number, file in enumerate(told):
        child = os.fork()
        if child == 0:
            try:
                os._exit(_writer(path, number, file))
            except BaseException as error:
                os.write(2, f"{error!r}\n".encode())
                os._exit(1)
        children.append(child)
    assert [os.WEXITSTATUS(os.waitpid(child, 0)[1]) for child in children] == [0, 0]
    done = [line.split() for file in told for line in file.read_text().splitlines()]
    assert max(float(waited) for _, _, waited in done) < BUSY_S
    numbers = [int(number) for what, number, _ in done if what == "add"]
    assert len(set(numbers)) == len(numbers) > OPERATIONS // 2
    scrapped = [int(number) for what, number, _ in done if what == "scrap"]
    assert len(set(scrapped)) == len(scrapped), "no bar went twice"
    there = set(check_replay(path))
    assert there == (set(range(1, 21)) | set(numbers)) - set(scrapped)
    assert len(rows_of(path)["operation"]) == 1 + len(numbers) + len(scrapped)


def _writer(path: Path, number: int, file: Path) -> int:
    """Adds bars and scraps any that lies there, as a person at one of two screens would; tells how long each took."""
    chance = random.Random(number)
    with opened(path) as book, file.open("w") as told:
        for k in range(OPERATIONS):
            started = time.perf_counter()
            if chance.random() < 0.6:
                what, bar = "add", stock_changes.add(book, [BAR], f"{number} {k}").bars[0]
            else:
                there = [each.number for each in shelf(book, path).bars]
                what, bar = "scrap", chance.choice(there)
                try:
                    stock_changes.scrap(book, [bar], f"{number} {k}")
                except ValueError:  # the other took it meanwhile, and that was told
                    continue
            told.write(f"{what} {bar} {time.perf_counter() - started:.6f}\n")
    return 0


def test_the_limit_on_files_is_what_stops_the_writing():
    """The full disk above is one: a write beyond the limit fails, and does not kill."""
    child = os.fork()
    if child == 0:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (10, 10))
        try:
            descriptor = os.memfd_create("x") if hasattr(os, "memfd_create") else os.open(os.devnull, os.O_WRONLY)
            os.write(descriptor, b"y" * 10)
            os.write(descriptor, b"y")
        except OSError as error:
            os._exit(3 if error.errno == errno.EFBIG else 1)
        os._exit(0)
    assert os.WEXITSTATUS(os.waitpid(child, 0)[1]) == 3 or sys.platform == "darwin"
