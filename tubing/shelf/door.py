"""The book's file: opened, brought up to date, written in whole transactions. The only door to sqlite3.

Settings, from SQLite's own documentation: rollback journal and synchronous FULL, so that a crash leaves all of an
operation or none; foreign keys on and an untrusted schema for every connection; BEGIN IMMEDIATE, so that what was read
in a transaction still holds when it writes.
"""

from __future__ import annotations

import contextlib
import os
import sqlite3
from collections.abc import Iterator
from pathlib import Path

from tubing.errors import BookError, OutputError, TubingError
from tubing.inputs.whole_files import under_new_name
from tubing.shelf.schema import APPLICATION, MIGRATIONS, VERSION, statements

BUSY_S = 10.0  # how long one command waits for another that is writing
OLDEST_LIBRARY = (3, 37, 0)  # the first with STRICT tables

Connection = sqlite3.Connection  # for those who write types, and do not open this door


@contextlib.contextmanager
def opened(path: Path, *, busy_s: float = BUSY_S) -> Iterator[Connection]:
    """A book that is there, for reading and writing; one of an earlier version is brought up to this one.

    Raises BookError: no file, another kind of file, a newer version, damage; OutputError: locked, or a disk that
    cannot be written where it must be.
    """
    if not path.is_file():
        raise BookError(
            str(path),
            "there is no such book" if not path.exists() else "it is no file",
            "it must be the shelf's book",
            "check [shelf] file in the shop's file; tubing shelf start begins a new book",
        )
    with _in_words(path), contextlib.closing(_connected(path, busy_s)) as connection:
        _check_ours(connection, path)
        _migrate(connection, path)
        yield connection


@contextlib.contextmanager
def begun(path: Path, *, busy_s: float = BUSY_S) -> Iterator[Connection]:
    """A book that may be new. An empty file, or none, becomes a book without a bar. Raises as :func:`opened` does."""
    if path.exists() and path.stat().st_size:
        with opened(path, busy_s=busy_s) as connection:
            yield connection
        return
    if not path.parent.is_dir():
        raise BookError(
            str(path), "its folder is not there", "a book needs a folder", "make the folder, or name another"
        )
    with _in_words(path), contextlib.closing(_connected(path, busy_s, mode="rwc")) as connection:
        _migrate(connection, path)
        yield connection


def _connected(path: Path, busy_s: float, mode: str = "rw") -> Connection:
    if sqlite3.sqlite_version_info < OLDEST_LIBRARY:
        raise BookError(
            "shelf",
            f"this Python comes with SQLite {sqlite3.sqlite_version}",
            f"the book needs {'.'.join(map(str, OLDEST_LIBRARY[:2]))} or later",
            "use a newer Python",
        )
    # as_uri writes what would be special in a name, such as a question mark, as a code.
    connection = sqlite3.connect(
        f"{path.resolve().as_uri()}?mode={mode}", uri=True, isolation_level=None, timeout=busy_s
    )
    try:
        for setting in ("foreign_keys = ON", "trusted_schema = OFF", "journal_mode = DELETE", "synchronous = FULL"):
            connection.execute(f"PRAGMA {setting}")
    except BaseException:
        connection.close()
        raise
    return connection


def _pragma(connection: Connection, name: str) -> int:
    return int(connection.execute(f"PRAGMA {name}").fetchone()[0])


def _check_ours(connection: Connection, path: Path) -> None:
    """Raises BookError for a database that is not a book, or that a later program has made."""
    version, application = _pragma(connection, "user_version"), _pragma(connection, "application_id")
    empty = not connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()[0]
    if application != APPLICATION and not (empty and version == 0):
        raise BookError(str(path), "it is another program's database", "it must be the shelf's book", "check its name")
    if version > VERSION:
        raise BookError(
            str(path),
            f"it is of version {version}",
            f"this program knows versions up to {VERSION}",
            "use the newer program that wrote it; nothing was changed",
        )


def _migrate(connection: Connection, path: Path) -> None:
    """Bring the book to this version in one transaction; another process may be doing the same."""
    if _pragma(connection, "user_version") == VERSION:
        return
    with transaction(connection):
        _check_ours(connection, path)  # again: the other process may have been a newer program's
        version = _pragma(connection, "user_version")
        for script in MIGRATIONS[version:]:
            for statement in statements(script):
                connection.execute(statement)
        if connection.execute("PRAGMA foreign_key_check").fetchone():
            raise sqlite3.DatabaseError("a row refers to one that is not there")
        connection.execute(f"PRAGMA application_id = {APPLICATION}")
        connection.execute(f"PRAGMA user_version = {VERSION}")


@contextlib.contextmanager
def transaction(connection: Connection) -> Iterator[None]:
    """All that is written inside, or nothing."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise


@contextlib.contextmanager
def one_moment(connection: Connection) -> Iterator[None]:
    """Several reads of the same state, whatever another process writes meanwhile."""
    connection.execute("BEGIN")
    try:
        yield
    finally:
        if connection.in_transaction:
            connection.execute("ROLLBACK")


def check_sound(connection: Connection, path: Path) -> None:
    """Raises BookError where the book is damaged: SQLite's own checks, and every movement's sum over all places."""
    faults = [row[0] for row in connection.execute("PRAGMA integrity_check") if row[0] != "ok"]
    faults += [f"a row of {row[0]} refers to nothing" for row in connection.execute("PRAGMA foreign_key_check")]
    if connection.execute("SELECT coalesce(sum(length_pm), 0) FROM entry").fetchone()[0]:
        faults.append("its movements do not add up to nothing")
    if faults:
        raise _damaged(path, faults[0].splitlines()[0])


def copied(connection: Connection, path: Path, to: Path) -> None:
    """A copy of the book in a new file, whole or not at all. Raises BookError where a file is there already."""
    if to.exists():
        raise _there_already(to)
    room = to.with_name(f".{to.name}.copy-{os.getpid()}")
    try:
        with _in_words(to):
            with contextlib.closing(sqlite3.connect(room)) as copy:
                connection.backup(copy)
                check_sound(copy, path)
            if not under_new_name(room, to):
                raise _there_already(to)
    except OSError as cause:
        raise _unwritable(to, cause.strerror or str(cause)) from cause
    finally:
        with contextlib.suppress(OSError):
            room.unlink()


def _there_already(to: Path) -> BookError:
    return BookError(str(to), "it is there already", "a copy goes into a new file", "give the copy another name")


@contextlib.contextmanager
def _in_words(path: Path) -> Iterator[None]:
    """SQLite's complaints as ours."""
    try:
        yield
    except sqlite3.Error as cause:
        raise _said(cause, path) from cause


def _said(cause: sqlite3.Error, path: Path) -> TubingError:
    code = getattr(cause, "sqlite_errorcode", 0) & 0xFF  # the error's family
    if code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        return OutputError(
            str(path),
            "another command has been writing in it for too long",
            "one writes at a time",
            "wait for the other, or end it, and start this again; nothing was changed",
        )
    if code in (sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_CORRUPT):
        return _damaged(path, "it is no SQLite file" if code == sqlite3.SQLITE_NOTADB else str(cause))
    return _unwritable(path, str(cause))


def _unwritable(path: Path, why: str) -> OutputError:
    return OutputError(
        str(path),
        f"it cannot be written or read ({why})",
        "it must lie on a disk with room that can be written",
        "make room there, or mend its rights; nothing was changed",
    )


def _damaged(path: Path, why: str) -> BookError:
    return BookError(
        str(path),
        f"it is damaged or no book ({why})",
        "it must be the shelf's book",
        "check its name; if it is damaged, put back a copy made by tubing shelf copy",
    )
