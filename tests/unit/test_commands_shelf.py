"""The shelf's commands: what they print, and every wrong word with its whole sentence. All bars are invented."""

from __future__ import annotations

import json
import os
import re
import tomllib
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import pytest

from tests.killed import killed_while_it_replaces
from tests.shops import BOOK, job_in, now, shop_with_book
from tubing.commands import main
from tubing.inputs.records import ReadyEnd
from tubing.inputs.shop_file import data_folder, read_shop
from tubing.shelf.records import NewBar

OFFCUT = NewBar("steel-8", Fraction(640))
Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def run(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Run:
    """Runs a shelf command on a shop with three offcuts; exit status, output, message."""
    shop_with_book(tmp_path, OFFCUT, OFFCUT, NewBar("steel-8", Fraction(3000), (), 1560))

    def command(*words: object) -> tuple[int, str, str]:
        status = main(["shelf", *map(str, words), "--shop", str(tmp_path / "shop.toml")])
        streams = capsys.readouterr()
        return status, streams.out, streams.err

    return command


def test_the_shelf_is_a_table(run: Run):
    _, text, _ = run()
    assert text.splitlines()[0] == "The shelf, by shelf.sqlite"
    assert "In every row: tube steel-8; for whom free; since 20" in text
    assert [line.split()[:2] for line in text.splitlines() if line.strip()[:1].isdigit()] == [
        ["1", "640.00"], ["2", "640.00"], ["3", "3000.00"],
    ]  # fmt: skip


def test_the_shelf_as_data(run: Run, tmp_path: Path):
    """The keys of the contract; a kept bar says for whom."""
    run("keep", job_in(tmp_path, "lined-up-twin"))
    data = json.loads(run("--json")[1])
    assert set(data["bars"][0]) == {"number", "tube", "length_mm", "ready_ends", "state", "job", "since"}
    kept = [(bar["number"], bar["job"]) for bar in data["bars"] if bar["state"] == "kept"]
    assert kept
    assert {job for _, job in kept} == {"lined-up-twin.toml"}


def test_bars_come_with_numbers_price_and_ready_ends(run: Run, tmp_path: Path):
    status, text, _ = run("add", "steel-8", "78 3/4 in", "--bars", 3, "--price", "11.20", "--ready-end", "double + nut")
    assert (status, text) == (
        0,
        "2  3 bars of steel-8, 2000.25 mm, came: bars 4 to 6.\nWrite the number on each: bars 4 to 6.\n",
    )
    bar = now(tmp_path).bars[-1]
    assert (bar.length_mm, bar.price_cents, bar.ready_ends) == (Fraction(8001, 4), 1120, (ReadyEnd("double", True),))


def test_a_word_of_ones_own_makes_a_command_safe_to_repeat(run: Run, tmp_path: Path):
    run("add", "steel-8", "500 mm", "--key", "van's offcut")
    _, text, _ = run("add", "steel-8", "500 mm", "--key", "van's offcut")
    assert text.startswith("2  Nothing was changed, it stands in the book already:")
    assert len(now(tmp_path).bars) == 4


def test_a_day_from_keep_to_undo(run: Run, tmp_path: Path):
    """Keep, keep again, cut, cut again, undo twice, history."""
    job = job_in(tmp_path, "lined-up-twin")
    assert run("keep", job)[1].startswith("2  For lined-up-twin.toml: ")
    assert run("keep", job)[1].startswith("Nothing was changed: all of it is kept already.\n")
    assert run("cut", job)[1].startswith("3  Cut ")
    assert run("cut", job) == (
        2, "", "lined-up-twin.toml: no bar is kept for it; it must have been kept; tubing shelf keep comes first\n",
    )  # fmt: skip
    assert run("keep", job)[2].endswith(
        "all its pieces are cut; there must be a piece to saw; for another vehicle write vehicles = 2 in the job, or "
        "name the job twice\n"
    )
    assert run("undo")[1].startswith("4  Undone: cut ")
    assert run("undo")[1].startswith("5  Undone: for lined-up-twin.toml: ")
    assert [bar.keeping for bar in now(tmp_path).bars] == [None] * 3
    assert re.findall(r"^ +([0-9]+)  ", run("history")[1], re.M) == ["5", "4", "3", "2", "1"]
    assert re.findall(r"^ +([0-9]+)  ", run("history", 3)[1], re.M) == ["1"]


def test_free_takes_the_books_name_where_the_file_is_gone(run: Run, tmp_path: Path):
    """A job that was moved or thrown away does not hold its bars for ever."""
    job = job_in(tmp_path, "lined-up-twin")
    run("keep", job)
    job.unlink()
    assert run("free", "lined-up-twin.toml")[0] == 0
    assert run("free", "lined-up-twin.toml")[2] == (
        "lined-up-twin.toml: no bar is kept for it; bars are kept for nobody; name one of these\n"
    )


def test_labels_go_into_a_new_file(run: Run, tmp_path: Path):
    page = tmp_path / "labels.html"
    assert run("labels", "-o", page)[1] == f"{page}: 3 labels; print them at 100 %\n"
    assert page.read_text(encoding="utf-8").count("<li><b>") == 3
    assert run("labels", "2", "-o", page) == (
        3, "", f"{page}: it is there already; it must be a new file; give it another name\n"
    )  # fmt: skip
    assert run("labels", "9", "-o", tmp_path / "other.html") == (
        2, "", "bar 9: it does not lie on the shelf; it must; look at tubing shelf\n"
    )  # fmt: skip


def count_list(folder: Path, text: str) -> Path:
    path = folder / "count.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_count_is_told_and_settled_only_when_asked(run: Run, tmp_path: Path):
    rows = count_list(
        tmp_path, "number,tube,length,quantity\n1,steel-8,640 mm,1\n,steel-8,3000 mm,1\n,copper-8,1 m,2\n"
    )
    status, text, _ = run("count", rows)
    assert status == 0
    assert "IN THE BOOK, AND NOT FOUND" in text
    assert text.endswith("Nothing was changed. Count again, or add --settle: the book then agrees with the count.\n")
    assert len(now(tmp_path).bars) == 3
    assert run("count", rows, "--settle")[1].endswith("2  Counted: not found: bar 2; found: bars 4, 5.\n")
    agreed = count_list(
        tmp_path, "number,tube,length\n1,steel-8,640 mm\n3,steel-8,3000 mm\n4,copper-8,1 m\n5,copper-8,1 m\n"
    )
    assert "Shelf and book agree." in run("count", agreed)[1]


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("tube,length\nstel-8,640 mm\n", "count.csv, line 2, tube: there is no tube 'stel-8'; "),
        ("tube,length\nsteel-8,640\n", "count.csv, line 2, length: '640' has no unit; it must be a "),
        ("number,tube,length\nx,steel-8,640 mm\n", "count.csv, line 2, number: it is 'x'; it must be what "),
        ("number,tube,length,quantity\n1,steel-8,640 mm,2\n", "count.csv, line 2, quantity: it is 2; a bar "),
        ("number,tube,length\n1,steel-8,1 m\n1,steel-8,1 m\n", "count.csv, number 1: it stands twice; each bar has a "),
        ("tube;length\nsteel-8;1 m\n", "count.csv, line 1: its columns are not parted by commas; "),
    ],
)  # fmt: skip
def test_a_wrong_count_is_told_with_its_place(text: str, message: str, run: Run, tmp_path: Path):
    status, out, err = run("count", count_list(tmp_path, text))
    assert (status, out) == (2, "")
    assert err.startswith(message)


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["scrap", "17"], "bar 17: there is no such number; it must be a bar in the book; look at tubing shelf"),
        (["scrap", "x"], "number: it is 'x'; it must be a whole number; write it like 12"),
        (["scrap"], "shelf scrap: NUMBER... | JOB PIECE... is missing; it must be given; see tubing shelf scrap --help "
         "for how it is written"),
        (["scrap", "van.toml"], "van.toml: no piece is named; the book has as cut: none; name those that are of "
         "no use"),
        (["scrap", "van.toml", "near-far"], "van.toml, near-far: it was not cut; the book has as cut: none; name one "
         "of these"),
        (["add", "stel-8", "1 m"], "tube: there is no tube 'stel-8'; it must be a row of tubes.csv; did you mean "
         "'steel-8' or 'steel-9.53' or 'steel-7.94'?"),
        (["add", "steel-8", "640"], "length: '640' has no unit; it must be a length; write it '640 mm'"),
        (["add", "steel-8", "64 m"], "length: '64 m' is too much (bar); it must be from 20 mm to 20000 mm, for bars of "
         "tube are sold and kept so; did you mean '64 mm'?"),
        (["add", "steel-8", "1 m", "--bars", "0"], "--bars: it is 0; it must be from 1 to 10000; give how many came"),
        (["add", "steel-8", "1 m", "--price", "1,50"], "--price: '1,50' is not an amount; it must be text with at most "
         "two decimals; write it like \"1.50\""),
        (["add", "steel-8", "1 m", "--ready-end", "triple"], "--ready-end: it is 'triple'; it must be single, double, "
         "or one with a nut; write 'double + nut'"),
        (["history", "17"], "bar 17: there is no such number; it must be a bar in the book; look at tubing shelf"),
        (["undo", "17"], "operation 17: there is none; it must be one of 1 to 1; look at tubing shelf history"),
        (["keep", "nowhere.toml"], "nowhere.toml: there is no such file; it must be a file that can be read; check its "
         "name and folder"),
        (["kep"], "command: there is no 'kep'; it must be one of start, add, scrap, keep, free, cut, undo, history, "
         "count, need, labels, copy; did you mean 'keep'?"),
    ],
)  # fmt: skip
def test_wrong_words_are_told(words: list[str], message: str, run: Run):
    """§13 Errors: one line says which thing, what it is, what it had to be and what to do."""
    assert run(*words) == (2, "", f"{message}\n")


def test_a_book_that_is_not_there_is_told_by_every_command_that_needs_it(run: Run, tmp_path: Path):
    """A wrong name in the shop's file does not become a new, empty shelf."""
    (tmp_path / BOOK).unlink()
    for words in ((), ("history",), ("add", "steel-8", "1 m")):
        status, _, err = run(*words)
        assert status == 2
        assert err.startswith(f"{tmp_path / BOOK}: there is no such book; ")
    assert not (tmp_path / BOOK).exists()
    assert main(["plan", str(job_in(tmp_path, "lined-up-twin")), "--shop", str(tmp_path / "shop.toml")]) == 2


def listed_shop(folder: Path) -> Path:
    """The invented shop with its list of the shelf, and a remark of the fitter's own."""
    path = folder / "shop.toml"
    text = (data_folder() / "shop.toml").read_text(encoding="utf-8")
    path.write_text(text.replace("\n[offcuts]", "\n[offcuts] # my own rule"), encoding="utf-8")
    return path


def test_a_shop_with_a_list_is_offered_a_book_and_nothing_is_changed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    path = listed_shop(tmp_path)
    before = path.read_bytes()
    assert main(["shelf", "--shop", str(path)]) == 0
    assert "tubing shelf start FILE begins a book" in " ".join(capsys.readouterr().out.split())
    assert main(["shelf", "add", "steel-8", "1 m", "--shop", str(path)]) == 2
    assert capsys.readouterr().err == (
        f"{path}: it keeps no book of its shelf; it must say [shelf] file; tubing shelf start begins a book and writes "
        "that line\n"
    )
    assert path.read_bytes() == before
    assert [each.name for each in tmp_path.iterdir()] == ["shop.toml"]


def test_the_takeover_keeps_all_else_of_the_shops_file(tmp_path: Path):
    """Only the shelf's tables and the counts of bars go, only [shelf] comes; every remark stays."""
    path = listed_shop(tmp_path)
    before = path.read_text(encoding="utf-8")
    assert main(["shelf", "start", "--shop", str(path)]) == 0
    after = path.read_text(encoding="utf-8")
    shelf, rest = before.index("[[shelf]]"), before.index("[offcuts] # my own rule")
    bars = before[:shelf].replace("bars   = 4\n", "")
    assert after == f'{bars}{before[rest:]}\n[shelf]\nfile = "{BOOK}"\n'
    was, is_now = tomllib.loads(before), tomllib.loads(after)
    assert {key: value for key, value in was.items() if key not in ("shelf", "stock")} == {
        key: value for key, value in is_now.items() if key not in ("shelf", "stock")
    }
    assert read_shop(path).book == str(tmp_path.resolve() / BOOK)
    assert len(now(tmp_path).bars) == 4 + 3


@pytest.mark.parametrize("when", ["before", "after"])
@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a process that can be split in two")
@pytest.mark.filterwarnings("ignore:This process .* is multi-threaded:DeprecationWarning")
def test_a_takeover_that_was_killed_goes_on(when: str, tmp_path: Path):
    """Killed between the book and the shop's file, the same command ends in the same shelf, each bar once."""
    path = listed_shop(tmp_path)
    assert killed_while_it_replaces(lambda: main(["shelf", "start", "--shop", str(path)]), when)
    assert main(["shelf", "start", "--shop", str(path)]) == 0
    assert len(now(tmp_path).bars) == 7
    assert read_shop(path).book


def test_a_takeover_into_a_book_in_use_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    shop_with_book(tmp_path, OFFCUT)
    path = listed_shop(tmp_path)
    assert main(["shelf", "start", "--shop", str(path)]) == 2
    assert capsys.readouterr().err == (
        f"{tmp_path / BOOK}: it has a history of its own; a shop's list is taken over into a new book; name another "
        "file, or write [shelf] file into the shop's file by hand, in place of the list\n"
    )
    assert read_shop(path).book == ""


def test_start_with_a_folder_in_the_name_or_a_second_book_is_refused(run: Run, tmp_path: Path):
    assert run("start", "books/shelf.sqlite") == (
        2, "",
        "FILE: it is 'books/shelf.sqlite'; it must be a plain name: the book lies beside the shop's file; write "
        "shelf.sqlite\n",
    )  # fmt: skip
    assert run("start", "other.sqlite") == (
        2, "", f"shop.toml: its book is {tmp_path / BOOK} already; a shelf has one book; leave FILE out\n"
    )  # fmt: skip
    assert run("start") == (0, f"The book is {tmp_path / BOOK}; shop.toml names this book already.\n", "")


def test_bars_counted_in_the_file_beside_a_book_are_refused(run: Run, tmp_path: Path):
    """One record for one fact: a count in [[stock]] and the book would disagree one day."""
    path = tmp_path / "shop.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace('price  = "15.60"\n', 'price  = "15.60"\nbars = 4\n'), encoding="utf-8")
    assert run() == (
        2, "",
        "shop.toml, stock 3, bars: it is 4, and [shelf] file names a book; bars that are there must stand in the book "
        "alone; take the line out; tubing shelf add, with --bars and --price, brings them into the book\n",
    )  # fmt: skip
