"""The CSV files, read back by the standard library."""

from __future__ import annotations

import csv
import io

import pytest

from tubing.job import data_folder, read_job, read_shop
from tubing.plan import Plan, plan
from tubing.sheet.content import job_sheet
from tubing.sheet.tables import csv_files, safe


@pytest.fixture(scope="module")
def planned() -> Plan:
    shop = read_shop(None)
    return plan(read_job(data_folder() / "jobs" / "round-the-corner.toml", shop), shop)


@pytest.fixture(scope="module")
def files(planned: Plan) -> dict[str, list[dict[str, str]]]:
    return {
        name: list(csv.DictReader(io.StringIO(text, newline=""), strict=True))
        for name, text in csv_files(job_sheet(planned)).items()
    }


def test_the_cut_list_has_every_piece_with_its_length(planned: Plan, files: dict[str, list[dict[str, str]]]) -> None:
    cuts = {row["piece"]: float(row["cut [mm]"]) for row in files["cut-list.csv"]}
    assert cuts == {piece.id: float(piece.cut_mm) for piece in planned.pieces}


def test_the_bends_are_those_of_the_pieces(planned: Plan, files: dict[str, list[dict[str, str]]]) -> None:
    rows = [(row["piece"], int(row["bend"])) for row in files["bends.csv"]]
    assert rows == [(piece.id, k) for piece in planned.pieces for k in range(1, len(piece.bends) + 1)]


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
