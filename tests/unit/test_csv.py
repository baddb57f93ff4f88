"""The CSV files, read back by the standard library."""

from __future__ import annotations

import csv
import io

import pytest
from msgspec.structs import replace

from tests.demos import demo_plan
from tubing.inputs.job_file import read_job
from tubing.inputs.shop_file import data_folder, read_shop
from tubing.plan import Plan, plan
from tubing.sheet.content import job_sheet
from tubing.units import quantity
from tubing.writers.csv_tables import csv_files, safe


@pytest.fixture(scope="module")
def planned() -> Plan:
    return demo_plan("round-the-corner")


@pytest.fixture(scope="module")
def files(planned: Plan) -> dict[str, list[dict[str, str]]]:
    return {
        name: list(csv.DictReader(io.StringIO(text, newline=""), strict=True))
        for name, text in csv_files(job_sheet(planned), "ABCDE").items()
    }


def test_the_cut_list_has_every_piece_with_its_length(planned: Plan, files: dict[str, list[dict[str, str]]]) -> None:
    cuts = {row["piece"]: float(row["cut [mm]"]) for row in files["cut-list.csv"]}
    assert cuts == {blank.piece.id: float(blank.length_mm) for blank in planned.sawn}


def test_each_end_has_its_own_flare(planned: Plan, files: dict[str, list[dict[str, str]]]) -> None:
    """What is printed twice as "its end" has two columns; working by one of them would flare the motor's end wrong."""
    ends = [(row["from: its end"], row["to: its end"]) for row in files["cut-list.csv"]]
    assert ends == [("double + nut", "single"), ("single", "single"), ("single", "plain")]
    assert [(a.flare, b.flare) for a, b in (piece.ends for piece in planned.pieces)] == [
        ("double", "single"),
        ("single", "single"),
        ("single", "plain"),
    ]


def test_no_heading_stands_twice(planned: Plan) -> None:
    """A reader of CSV keeps the last of two columns of one name."""
    for text in csv_files(job_sheet(planned), "ABCDE").values():
        headings = next(csv.reader(io.StringIO(text, newline="")))
        assert len(set(headings)) == len(headings)


def test_a_bar_that_comes_flared_says_from_which_end_its_marks_count() -> None:
    """Marked from the other end, the flare and its nut would go to scrap."""
    shop = read_shop(None)
    offcut = replace(next(bar for bar in shop.stock if bar.ready_ends), length=quantity(390, "mm"), price_cents=1)
    shop = replace(shop, stock=(offcut, *(bar for bar in shop.stock if not bar.on_shelf)))
    written = csv_files(job_sheet(plan(read_job(data_folder() / "jobs" / "lined-up-twin.toml", shop), shop)), "ABCDE")
    rows = list(csv.DictReader(io.StringIO(written["saw-list.csv"], newline="")))
    assert [row["marks count from"] for row in rows if row["what lies before the mark"] == "nose-near"] == [
        "its double + nut end"
    ]


def test_the_bends_are_those_of_the_pieces(planned: Plan, files: dict[str, list[dict[str, str]]]) -> None:
    rows = [(row["piece"], int(row["bend"])) for row in files["bends.csv"]]
    assert rows == [(blank.piece.id, mark.number) for blank in planned.sawn for mark in blank.marks]


def test_the_saw_list_cuts_every_piece_once(planned: Plan, files: dict[str, list[dict[str, str]]]) -> None:
    cut = [row["what lies before the mark"].split(",")[0] for row in files["saw-list.csv"]]
    for piece in planned.pieces:
        assert cut.count(piece.id) == 1


def test_the_parts_are_those_of_the_sheet(planned: Plan, files: dict[str, list[dict[str, str]]]) -> None:
    assert [row["what"] for row in files["parts.csv"]] == [str(row[2]) for row in job_sheet(planned).parts.rows]


@pytest.mark.parametrize("words", ["=1+1", "+1", "-x", "@SUM(A1)", "\t=1", "\r=1"])
def test_words_that_a_spreadsheet_would_run_begin_with_an_apostrophe(words: str) -> None:
    assert safe(words).startswith("'")


def test_names_with_commas_quotes_and_lines_come_back_as_they_were() -> None:
    text = io.StringIO()
    csv.writer(text).writerow([safe('a,"b"')])
    assert next(csv.reader(io.StringIO(text.getvalue()))) == ['a,"b"']


def test_every_row_bears_the_plans_mark(files: dict[str, list[dict[str, str]]]) -> None:
    """A table that was printed alone still tells which plan it belongs to."""
    assert {row["plan"] for rows in files.values() for row in rows} == {"ABCDE"}
