"""The shelf's book by itself: what each operation does, and every refusal with its whole sentence."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from fractions import Fraction
from pathlib import Path

import pytest

from tubing.errors import BookError, InputError, OutputError
from tubing.inputs.records import ReadyEnd
from tubing.shelf import stock_changes
from tubing.shelf.counting import Counted, compared, settle
from tubing.shelf.door import Connection, begun, check_sound, copied, opened
from tubing.shelf.kept_bars import as_sawn, cut, free, keep
from tubing.shelf.reading import history, live_keepings, place_of, shelf
from tubing.shelf.records import KeptBar, KeptPiece, NewBar, StockPlan, Vehicle, mm_of, pm_of
from tubing.shelf.schema import APPLICATION, VERSION

OFFCUT = NewBar("steel-8", Fraction(640))
VAN, LAUNCH = Vehicle("van.toml"), Vehicle("launch.toml")
MM = 10**9
BOOKS = Path(__file__).parent / "shelf_books"


def plan_on(number: int | None, *lengths_mm: int, bar_mm: int = 1000, vehicle: Vehicle = VAN) -> StockPlan:
    """A stock plan of one bar, sawn without kerf into pieces of these lengths; 300 mm and more is kept."""
    left = bar_mm - sum(lengths_mm)
    pieces = tuple(KeptPiece(vehicle, f"piece {k}", length * MM) for k, length in enumerate(lengths_mm, 1))
    bar = KeptBar(number, "steel-8", bar_mm * MM, 640, (), pieces, (), left * MM, left >= 300, ())
    return StockPlan((vehicle,), (bar,), 640, 640, "proved optimal")


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "shelf.sqlite"


@pytest.fixture
def book(path: Path):
    """A book with three equal bars of 1 m, numbers 1 to 3."""
    with begun(path) as connection:
        stock_changes.add(connection, [NewBar("steel-8", Fraction(1000), (), 640)] * 3, "three")
        yield connection


def there(book: Connection) -> dict[int, Fraction]:
    """The bars on the shelf with their lengths."""
    return {bar.number: bar.length_mm for bar in shelf(book, Path("/none/shelf.sqlite")).bars}


def refused(what, *arguments: object) -> str:
    """The sentence with which the book refuses something."""
    with pytest.raises((BookError, InputError, OutputError)) as error:
        what(*arguments)
    return str(error.value)


def test_numbers_are_given_once_and_for_all(book: Connection):
    """A number that was scrapped, or whose coming was undone, is never given again: it may be written on a bar."""
    stock_changes.scrap(book, [3], "scrap")
    stock_changes.undo(book, stock_changes.add(book, [OFFCUT], "fourth").operation)
    assert stock_changes.add(book, [OFFCUT], "fifth").bars == (5,)


def test_the_same_key_twice_changes_nothing(book: Connection):
    first = stock_changes.add(book, [OFFCUT], "once")
    again = stock_changes.add(book, [OFFCUT], "once")
    assert (again.operation, again.said, again.bars, again.repeated) == (first.operation, first.said, (4,), True)
    assert len(there(book)) == 4


def test_a_length_is_kept_to_the_last_picometre(book: Connection):
    """31 63/64 in, added and read again, is the same fraction; a third of an inch has no end of decimals."""
    length = Fraction(31 * 64 + 63, 64) * Fraction(254, 10)
    (number,) = stock_changes.add(book, [NewBar("steel-8", length)], "inches").bars
    assert there(book)[number] == length
    assert refused(stock_changes.add, book, [NewBar("steel-8", Fraction(25400, 3))], "third") == (
        "steel-8: its length of about 8466.66667 mm has no end of decimals; the book keeps lengths exactly, to nine "
        "decimals of a mm; give it in mm, or in halves, quarters and so on of an inch"
    )
    assert mm_of(pm_of(length, "bar")) == length


def test_keep_cut_and_what_is_left(book: Connection):
    """1000 mm into 300 and 250: 450 stay with the number that was promised, and nothing else is on the bar."""
    kept = keep(book, plan_on(1, 300, 250), "keep")
    assert kept.bars == (4,)
    assert place_of(book, 1) == ("kept", kept.operation)
    cut(book, live_keepings(book), "cut")
    assert there(book) == {2: 1000, 3: 1000, 4: 450}
    assert place_of(book, 1) == ("cut", None)
    now = shelf(book, Path("/none/shelf.sqlite"))
    assert {(piece.name, piece.length_mm, piece.bar) for piece in now.cut} == {("piece 1", 300, 1), ("piece 2", 250, 1)}
    assert next(bar for bar in now.bars if bar.number == 4).from_job == "van.toml"


def test_what_is_not_worth_keeping_goes_for_scrap(book: Connection):
    keep(book, plan_on(1, 300, 450), "keep")
    cut(book, live_keepings(book), "cut")
    assert there(book) == {2: 1000, 3: 1000}
    assert book.execute("SELECT sum(length_pm) FROM entry WHERE place = 'scrap'").fetchone()[0] == 250 * MM


def test_cut_undone_and_cut_again_gives_the_same_number(book: Connection):
    """What is left may bear its number already."""
    keep(book, plan_on(1, 300), "keep")
    cut(book, live_keepings(book), "cut")
    stock_changes.undo(book)
    assert there(book) == {1: 1000, 2: 1000, 3: 1000}
    cut(book, live_keepings(book), "cut again")
    assert there(book) == {2: 1000, 3: 1000, 4: 700}


def test_keeping_anew_frees_what_was_kept_and_keeps_the_promised_number(book: Connection):
    keep(book, plan_on(1, 300), "keep")
    keep(book, plan_on(1, 310), "anew")
    (keeping,) = live_keepings(book)
    assert [(bar.number, bar.offcut) for bar in keeping.plan.bars] == [(1, 4)]
    stock_changes.undo(book)
    assert [piece.length_pm for piece in live_keepings(book)[0].plan.bars[0].pieces] == [300 * MM]


def test_a_bar_that_is_kept_for_one_job_is_refused_to_another(book: Connection):
    keep(book, plan_on(1, 300), "keep")
    message = (
        "bar 1: it is kept for van.toml; it must be free; take another, or free it first: tubing shelf free van.toml"
    )
    assert refused(keep, book, plan_on(1, 300, vehicle=LAUNCH), "other") == message
    assert refused(stock_changes.scrap, book, [1], "scrap") == message


def test_what_cannot_be_is_refused_with_its_reason(book: Connection):
    """A number that is not there, one that went for scrap, one that was cut; freeing and cutting what is not kept."""
    assert refused(stock_changes.scrap, book, [99], "a") == (
        "bar 99: there is no such number; it must be a bar in the book; look at tubing shelf"
    )
    stock_changes.scrap(book, [2], "b")
    assert refused(stock_changes.scrap, book, [2], "c") == (
        "bar 2: it went for scrap; it must lie on the shelf; look at tubing shelf history 2"
    )
    assert refused(free, book, [VAN], "d") == (
        "van.toml: no bar is kept for it; it must have been kept; tubing shelf keep comes first"
    )
    keep(book, plan_on(1, 300), "e")
    kept = live_keepings(book)
    cut(book, kept, "f")
    assert refused(cut, book, kept, "g") == (
        "van.toml: no bar is kept for it; it must have been kept; tubing shelf keep comes first"
    )
    assert refused(stock_changes.scrap, book, [1], "h") == (
        "bar 1: it was cut; it must lie on the shelf; look at tubing shelf history 1"
    )


def test_undo_refuses_what_has_gone_on_and_what_is_an_undo(book: Connection):
    stock_changes.scrap(book, [1], "a")
    assert refused(stock_changes.undo, book, 1) == (
        "operation 1: bar 1 has gone on since; what it moved must still lie where it was put; undo first what was done "
        "to bar 1: tubing shelf history 1"
    )
    undone = stock_changes.undo(book)
    assert refused(stock_changes.undo, book, undone.operation) == (
        f"operation {undone.operation}: it took another back; only what was done can be undone; do that again instead"
    )
    assert refused(stock_changes.undo, book, 77) == (
        "operation 77: there is none; it must be one of 1 to 3; look at tubing shelf history"
    )
    stock_changes.undo(book)
    assert refused(stock_changes.undo, book) == (
        "shelf undo: nothing is left to undo; there must be an operation; look at tubing shelf history"
    )
    assert [(past.number, past.undone_by) for past in history(book)] == [(1, 4), (2, 3), (3, None), (4, None)]


def test_undo_by_number_twice_changes_nothing(book: Connection):
    stock_changes.scrap(book, [1], "a")
    stock_changes.undo(book, 2)
    assert stock_changes.undo(book, 2).repeated
    assert there(book) == {1: 1000, 2: 1000, 3: 1000}


def test_the_database_itself_refuses_to_edit_or_to_take_more_than_there_is(book: Connection):
    """Whoever writes past this program is stopped as well."""
    for statement in ("UPDATE movement SET length_pm = 1", "DELETE FROM bar", "UPDATE operation SET said = ''"):
        with pytest.raises(sqlite3.IntegrityError, match="what stands in the book is never"):
            book.execute(statement)
    row = "INSERT INTO movement (operation, from_place, from_bar, to_place, to_bar, length_pm"
    with pytest.raises(sqlite3.IntegrityError, match="more is taken from a place than lies there"):
        book.execute(f"{row}) VALUES (1, 'shelf', 1, 'scrap', 1, 2000000000000)")
    with pytest.raises(sqlite3.IntegrityError, match="a bar is kept for nobody"):
        book.execute(f"{row}) VALUES (1, 'shelf', 1, 'kept', 1, 1)")
    with pytest.raises(sqlite3.IntegrityError, match="cannot store REAL value in INTEGER column"):
        book.execute(f"{row}) VALUES (1, 'shelf', 1, 'scrap', 1, 0.5)")


def test_a_piece_cut_longer_than_planned_leaves_less(book: Connection):
    """§4 Kerf: the offcut shrinks by what the piece grew; a bar that is too short for it is refused."""
    bar = plan_on(1, 300).bars[0]
    longer = as_sawn(bar, {(VAN, "piece 1"): 302 * MM}, 0, 300 * MM)
    assert (longer.left_pm, longer.left_is_kept) == (698 * MM, True)
    assert as_sawn(bar, {(VAN, "piece 1"): 701 * MM}, 0, 300 * MM).left_is_kept is False
    assert refused(as_sawn, bar, {(VAN, "piece 1"): 1001 * MM}, 0, 300 * MM) == (
        "bar 1: its pieces were cut 701 mm longer than planned; only 700 mm were left of it; check the lengths under "
        "[[cut]] in the job"
    )


def test_a_count_finds_what_is_missing_more_and_of_another_length(book: Connection):
    """Numbers first, then any bar alike; settling makes both agree, and a second settling finds nothing."""
    now = shelf(book, Path("/none/shelf.sqlite"))
    rows = [
        Counted("steel-8", Fraction(1000), 1, number=2),
        Counted("steel-8", Fraction(990), 1, number=3),
        Counted("copper-8", Fraction(500), 2),
    ]
    found = compared(now.bars, rows)
    assert [bar.number for bar in found.missing] == [1, 3]
    assert [(row.tube, row.count, row.number) for row in found.extra] == [("steel-8", 1, 3), ("copper-8", 2, None)]
    settle(book, found, "count")
    assert there(book) == {2: 1000, 4: 990, 5: 500, 6: 500}
    rows[1] = Counted("steel-8", Fraction(990), 1)
    assert compared(shelf(book, Path("/none/shelf.sqlite")).bars, rows).nothing


def test_a_missing_bar_that_is_kept_must_be_freed_first(book: Connection):
    keep(book, plan_on(1, 300), "keep")
    found = compared(shelf(book, Path("/none/shelf.sqlite")).bars, [Counted("steel-8", Fraction(1000), 1, 3)])
    assert refused(settle, book, found, "count").startswith("bar 1: it is kept for van.toml;")


def test_a_copy_is_a_book_of_its_own_and_nothing_is_overwritten(book: Connection, path: Path, tmp_path: Path):
    to = tmp_path / "copy.sqlite"
    copied(book, path, to)
    with opened(to) as copy:
        check_sound(copy, to)
        assert there(copy) == there(book)
        stock_changes.scrap(copy, [1], "only there")
    assert there(book) == {1: 1000, 2: 1000, 3: 1000}
    assert refused(copied, book, path, to) == (
        f"{to}: it is there already; a copy goes into a new file; give the copy another name"
    )
    assert sorted(each.name for each in tmp_path.iterdir()) == ["copy.sqlite", "shelf.sqlite"]


def test_what_is_no_book_is_told_and_left_alone(tmp_path: Path):
    """No file, a folder, a text, another program's database, a newer version, a file cut short."""
    path = tmp_path / "shelf.sqlite"

    def open_it() -> None:
        with opened(path):
            pass

    ends = "it must be the shelf's book; check [shelf] file in the shop's file; tubing shelf start begins a new book"
    assert refused(open_it) == f"{path}: there is no such book; {ends}"
    path.mkdir()
    assert refused(open_it) == f"{path}: it is no file; {ends}"
    path.rmdir()
    path.write_text("a shopping list, long enough to be looked at " * 40, encoding="utf-8")
    assert refused(open_it) == (
        f"{path}: it is damaged or no book (it is no SQLite file); it must be the shelf's book; check its name; if it "
        "is damaged, put back a copy made by tubing shelf copy"
    )
    path.unlink()
    with closing(sqlite3.connect(path)) as other:
        other.execute("CREATE TABLE letters (a)")
    before = path.read_bytes()
    assert refused(open_it) == (
        f"{path}: it is another program's database; it must be the shelf's book; check its name"
    )
    assert path.read_bytes() == before
    path.unlink()
    with begun(path):
        pass
    with closing(sqlite3.connect(path)) as other:
        other.execute(f"PRAGMA user_version = {VERSION + 1}")
    before = path.read_bytes()
    assert refused(open_it) == (
        f"{path}: it is of version {VERSION + 1}; this program knows versions up to {VERSION}; use the newer program "
        "that wrote it; nothing was changed"
    )
    assert path.read_bytes() == before


def test_a_damaged_book_is_found_by_its_check(book: Connection, path: Path):
    """A page in the middle overwritten: `copy` looks before it copies."""
    stock_changes.add(book, [OFFCUT] * 300, "many")
    book.close()
    raw = bytearray(path.read_bytes())
    middle = len(raw) // 2 // 4096 * 4096
    raw[middle : middle + 4096] = b"\xff" * 4096
    path.write_bytes(raw)

    def look() -> None:
        with opened(path) as connection:
            check_sound(connection, path)

    assert "it is damaged or no book (" in refused(look)


def test_a_locked_book_is_waited_for_and_then_told(book: Connection, path: Path):
    """Another command holds the book in the middle of its writing; nothing is changed by the one that waits."""
    book.execute("BEGIN IMMEDIATE")

    def scrap() -> None:
        with opened(path, busy_s=0.05) as waiting:
            stock_changes.scrap(waiting, [1], "scrap")

    assert refused(scrap) == (
        f"{path}: another command has been writing in it for too long; one writes at a time; wait for the other, or "
        "end it, and start this again; nothing was changed"
    )
    book.execute("ROLLBACK")
    assert there(book) == {1: 1000, 2: 1000, 3: 1000}


def test_a_book_of_version_1_becomes_one_of_today_and_loses_nothing(path: Path):
    """The file was written by version 1 of the program and kept as SQL; then it takes part in everything."""
    with closing(sqlite3.connect(path)) as old:
        old.executescript((BOOKS / "version_1.sql").read_text(encoding="utf-8"))
        assert old.execute("PRAGMA user_version").fetchone()[0] == 1
        assert old.execute("PRAGMA application_id").fetchone()[0] == APPLICATION
        before = old.execute("SELECT * FROM operation").fetchall(), old.execute("SELECT * FROM bar").fetchall()
    with opened(path) as connection:
        check_sound(connection, path)
        after = (
            connection.execute("SELECT * FROM operation").fetchall(),
            connection.execute("SELECT * FROM bar").fetchall(),
        )
        assert before == after
        inch_bar = Fraction(63 * 254, 20)
        assert there(connection) == {1: 2000, 3: 2000, 4: 455, 5: inch_bar}
        assert shelf(connection, path).bars[2].ready_ends == (ReadyEnd("double", True),)
        keep(connection, plan_on(1, 300, bar_mm=2000), "keep")
        cut(connection, live_keepings(connection), "cut")
        assert there(connection) == {3: 2000, 4: 455, 5: inch_bar, 6: 1700}


def test_an_empty_file_is_a_book_that_begins(tmp_path: Path):
    """A program that was killed between making the file and writing into it leaves an empty one."""
    path = tmp_path / "shelf.sqlite"
    path.touch()
    with begun(path) as connection:
        assert shelf(connection, path).bars == ()
    assert refused(begun(tmp_path / "nowhere" / "shelf.sqlite").__enter__) == (
        f"{tmp_path / 'nowhere' / 'shelf.sqlite'}: its folder is not there; a book needs a folder; make the folder, or "
        "name another"
    )


def test_a_name_with_signs_that_mean_something_in_a_uri_is_a_name(tmp_path: Path):
    path = tmp_path / "shelf ?mode=ro#50%.sqlite"
    with begun(path) as connection:
        stock_changes.add(connection, [OFFCUT], "one")
    assert [each.name for each in tmp_path.iterdir()] == [path.name]
