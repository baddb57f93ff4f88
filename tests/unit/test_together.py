"""Several vehicles by one stock plan: their sheets are those of the nest, and share what is shared."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

import pytest
from msgspec.structs import replace

from tubing.commands import main
from tubing.inputs.job_file import read_job
from tubing.inputs.records import Job
from tubing.inputs.shop_file import data_folder, read_shop
from tubing.plan import Plan, plan, plan_together
from tubing.sheet.content import job_sheet
from tubing.units import quantity

JOBS = data_folder() / "jobs"
SHOP = read_shop(None)


def job(name: str, vehicles: int = 1) -> Job:
    return replace(read_job(JOBS / f"{name}.toml", SHOP), vehicles=vehicles)


@pytest.fixture(scope="module")
def three() -> tuple[Plan, ...]:
    return plan_together([job("lined-up-twin", 2), job("round-the-corner")], SHOP)


def test_each_vehicle_has_its_sheet_and_all_have_one_stock_plan(three: tuple[Plan, ...]) -> None:
    names = ("Lined-up two-seater (1)", "Lined-up two-seater (2)", "Round-the-corner van")
    assert tuple(each.job.title for each in three) == names
    assert {each.together for each in three} == {names}
    assert {(each.nest.cost_cents, each.nest.bound_cents) for each in three} == {
        (three[0].nest.cost_cents, three[0].nest.bound_cents)
    }


def test_the_sheets_saw_what_the_nest_saws(three: tuple[Plan, ...], capsys: pytest.CaptureFixture[str]) -> None:
    """By the command ``nest``, which is asked for the same vehicles: bars, numbers, marks and pieces."""
    twin, van = (str(JOBS / f"{name}.toml") for name in ("lined-up-twin", "round-the-corner"))
    assert main(["nest", twin, twin, van, "--json"]) == 0
    bars = {bar["number"]: bar for bar in json.loads(capsys.readouterr().out)["bars"]}
    seen = set()
    for each in three:
        own = {piece.id for piece in each.pieces}
        for number, bar in each.nest.numbered:
            named = [f"{each.job.title}: {name}" if name in own else name for name in bar.items]
            assert named == bars[number]["pieces"]
            assert [float(mark) for mark in bar.marks_mm] == bars[number]["marks_mm"]
            seen.add(number)
        on_bars = {name: mm for bar in each.nest.bars for name, mm in zip(bar.items, bar.lengths_mm, strict=True)}
        assert {blank.piece.id: blank.length_mm for blank in each.sawn} == {name: on_bars[name] for name in own}
    assert seen == set(bars)


def test_what_the_bars_cost_is_shared_out_by_length(three: tuple[Plan, ...]) -> None:
    """The shares of every bar make it whole, to a thousandth for each vehicle."""
    prices = {number: bar.stock.price_cents for each in three for number, bar in each.nest.numbered}
    told = sum(line.amount or 0 for each in three for line in each.cost.lines if line.what.startswith("tube "))
    assert float(told) == pytest.approx(sum(prices.values()) / 100, abs=0.05)


def test_a_ready_end_serves_one_of_two_vehicles_and_each_sheet_says_its_own_length() -> None:
    ready = next(bar for bar in SHOP.stock if bar.ready_ends)
    ready = replace(ready, length=quantity(390, "mm"), price_cents=1, bars=1)
    shop = replace(SHOP, stock=(ready, *(bar for bar in SHOP.stock if not bar.on_shelf)))
    sure = replace(job("lined-up-twin", 2), measuring_error=None)
    found = plan_together([sure], shop)
    assert sorted(each.sawn[0].ready[0] for each in found) == [False, True]
    lengths = {each.sawn[0].ready[0]: each.sawn[0].length_mm for each in found}
    assert lengths[False] - lengths[True] == Fraction(2)  # its double flare takes 2.38 mm: whole steps of 0.5 mm
    for each in found:
        assert job_sheet(each).cut_list.rows[0][1] == each.sawn[0].length_mm


def test_another_vehicle_changes_no_piece_of_this_one(three: tuple[Plan, ...]) -> None:
    """Only bars, and what comes ready with them, are shared."""
    alone = plan(job("round-the-corner"), SHOP)
    assert [piece.blank_mm for piece in three[2].pieces] == [piece.blank_mm for piece in alone.pieces]
    assert three[2].drive == alone.drive


def test_one_vehicle_together_is_that_vehicle_alone() -> None:
    [together] = plan_together([job("lined-up-twin")], SHOP)
    assert together == plan(job("lined-up-twin"), SHOP)


def test_every_sheet_says_whose_the_bars_are(three: tuple[Plan, ...]) -> None:
    said = job_sheet(three[1]).saw_list.before[0]
    assert said.startswith("This stock plan is for Lined-up two-seater (1), Lined-up two-seater (2) and Round-the-")
    rows = job_sheet(three[1]).saw_list.rows
    assert {"nose-near", "Lined-up two-seater (1): nose-near"} <= {row[7] for row in rows}


def test_the_files_of_each_vehicle_bear_its_number(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = (JOBS / "lined-up-twin.toml").read_text(encoding="utf-8")
    path = tmp_path / "fleet.toml"
    path.write_text(f"vehicles = 2\n{text}", encoding="utf-8")
    assert main(["sheet", str(path), "-o", str(tmp_path / "out")]) == 0
    assert "1-sheet.html: the job sheet; print it at 100 % (Lined-up two-seater (1))" in capsys.readouterr().out
    names = {file.name for file in (tmp_path / "out").iterdir()}
    assert {"1-sheet.html", "2-sheet.html", "1-plan.json", "2-saw-list.csv"} <= names
    assert "sheet.html" not in names
    assert main(["plan", str(path), "--against", str(tmp_path / "out" / "1-plan.json")]) == 0


def test_a_job_that_does_not_fit_is_named_by_its_title(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    words = ["sheet", str(JOBS / "lined-up-twin.toml"), str(JOBS / "works-truck.toml"), "-o", str(tmp_path / "x")]
    assert main([*words, "--layout", "triple"]) == 2
    assert capsys.readouterr().err == (
        "Lined-up two-seater, layout: 'triple' is not in the job; it must be one of twin; choose one\n"
    )
