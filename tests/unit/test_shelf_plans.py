"""Plans of a shop that keeps a book of its shelf. The fixture's bars, jobs and prices are invented."""

from __future__ import annotations

import csv
import json
from fractions import Fraction
from pathlib import Path

import pytest

from tests.demos import NAMES
from tests.shelf_replay import check_replay
from tests.shops import BOOK, asked, job_in, now, shop_with_book
from tubing.commands import main
from tubing.inputs.records import ReadyEnd
from tubing.plan import Plan, plan_together
from tubing.shelf.records import NewBar

OFFCUT = NewBar("steel-8", Fraction(640))
READY = NewBar("steel-8", Fraction(455), (ReadyEnd("double", True),))


def said(capsys: pytest.CaptureFixture[str], folder: Path, *words: object, status: int = 0) -> str:
    """What a command prints, or its message."""
    assert main([*map(str, words), "--shop", str(folder / "shop.toml")]) == status
    streams = capsys.readouterr()
    return streams.err if status else streams.out


def planned(folder: Path, *paths: Path) -> tuple[Plan, ...]:
    """The plans of these jobs by the book as it stands."""
    jobs, shop, book = asked(folder, *paths)
    return plan_together(jobs, shop, None, book)


def numbers(plan: Plan) -> list[int | None]:
    """The shelf bars of a plan; None for a new one."""
    return [bar.stock.number for bar in plan.nest.bars]


@pytest.fixture
def twin(tmp_path: Path) -> Path:
    """A twin beside a shop with one offcut and one bar with a ready end."""
    shop_with_book(tmp_path, OFFCUT, READY)
    return job_in(tmp_path, "lined-up-twin")


def test_three_jobs_on_one_morning_do_not_get_the_same_offcut(
    twin: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    """Each plan alone wants the offcut; once it is kept for one, no other plan sees it."""
    jobs = [twin, job_in(tmp_path, "lined-up-twin", "second"), job_in(tmp_path, "lined-up-twin", "third")]
    assert {tuple(numbers(planned(tmp_path, job)[0])) for job in jobs} == {(1, 2)}
    for job in jobs:
        said(capsys, tmp_path, "shelf", "keep", job)
    taken = [n for job in jobs for n in numbers(planned(tmp_path, job)[0]) if n is not None]
    assert sorted(taken) == sorted(set(taken)) == [1, 2]


def test_taking_over_a_list_changes_no_plan(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    """The same bars from the shop's list and from the book give the same sheet but for where they come from."""
    from tubing.inputs.shop_file import data_folder

    shop = tmp_path / "shop.toml"
    shop.write_text((data_folder() / "shop.toml").read_text(encoding="utf-8"), encoding="utf-8")
    job = job_in(tmp_path, "lined-up-twin")
    before = json.loads(said(capsys, tmp_path, "plan", job, "--json"))
    said(capsys, tmp_path, "shelf", "start")
    after = json.loads(said(capsys, tmp_path, "plan", job, "--json"))
    for data in (before, after):
        data.pop("mark")
        for bar in data["bars"]:
            bar.pop("shelf_number")
        for line in data["cost"]["lines"]:
            line.pop("what"), line.pop("source")
    assert before == after


def test_a_kept_plan_stays_although_a_better_bar_comes(twin: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    """What was printed and kept is what is sawn: a later bar changes nothing until the keeping is freed."""
    said(capsys, tmp_path, "shelf", "keep", twin)
    before = planned(tmp_path, twin)[0]
    said(capsys, tmp_path, "shelf", "add", "steel-8", "1000 mm", "--price", "0.01")
    assert planned(tmp_path, twin)[0].nest == before.nest
    said(capsys, tmp_path, "shelf", "free", twin)
    assert 3 in numbers(planned(tmp_path, twin)[0])


def test_a_plan_that_changed_after_keeping_says_so_before_anything_is_cut(
    twin: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    """Measured again, the middle piece is 10 mm longer: the sheet says so, and the cut is refused."""
    said(capsys, tmp_path, "shelf", "keep", twin)
    text = twin.read_text(encoding="utf-8")
    twin.write_text(text.replace('"200 mm"', '"210 mm"'), encoding="utf-8")
    again = planned(tmp_path, twin)[0]
    assert len([text for text in again.warnings if text.startswith("This plan differs from what was kept on ")]) == 1
    assert set(numbers(again)) == {1, 2}, "what is kept for it is offered to it"
    message = said(capsys, tmp_path, "shelf", "cut", twin, status=2)
    assert "near-far was to be 454 mm and is now 464 mm" in message
    assert message.endswith("if the bars were sawn as they were kept all the same, add --as-kept\n")
    assert len(now(tmp_path).bars) == 2
    said(capsys, tmp_path, "shelf", "keep", twin)
    assert [text for text in planned(tmp_path, twin)[0].warnings if "differs" in text] == []
    said(capsys, tmp_path, "shelf", "cut", twin)


def test_what_is_cut_leaves_the_shelf_and_is_not_told_again(
    twin: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    """After `cut` the plan saws nothing, costs what its bars cost, and another job gets other bars."""
    before = planned(tmp_path, twin)[0]
    said(capsys, tmp_path, "shelf", "keep", twin)
    said(capsys, tmp_path, "shelf", "cut", twin)
    after = planned(tmp_path, twin)[0]
    assert after.nest.bars == ()
    assert [blank.length_mm for blank in after.sawn] == [blank.length_mm for blank in before.sawn]
    assert [blank.ready for blank in after.sawn] == [blank.ready for blank in before.sawn]
    assert after.cost.total == before.cost.total
    text = said(capsys, tmp_path, "plan", twin)
    assert "SAW LIST" not in text
    assert "Saw " not in text[text.index("ORDER OF WORK") : text.index("TAKE CARE")]
    assert "Check the stock" not in text
    assert "Sawn by the shelf's book: nose-near from bar 2, near-far from bar 1" in " ".join(text.split())
    assert numbers(planned(tmp_path, job_in(tmp_path, "lined-up-twin", "next"))[0]) == [None]


def test_a_spoiled_piece_is_cut_anew(twin: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    said(capsys, tmp_path, "shelf", "keep", twin)
    said(capsys, tmp_path, "shelf", "cut", twin)
    said(capsys, tmp_path, "shelf", "scrap", twin, "near-far")
    assert [bar.items for bar in planned(tmp_path, twin)[0].nest.bars] == [("near-far",)]
    said(capsys, tmp_path, "shelf", "undo")
    assert planned(tmp_path, twin)[0].nest.bars == ()


def test_a_piece_that_the_plan_wants_at_another_length_is_planned_anew_and_said(
    twin: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    """Cut, then measured again: the cut piece is not silently taken for the new one, nor silently thrown away."""
    said(capsys, tmp_path, "shelf", "keep", twin)
    said(capsys, tmp_path, "shelf", "cut", twin)
    text = twin.read_text(encoding="utf-8").replace('"200 mm"', '"210 mm"')
    twin.write_text(text, encoding="utf-8")
    again = planned(tmp_path, twin)[0]
    assert [bar.items for bar in again.nest.bars] == [("near-far",)]
    assert again.warnings[0].startswith("near-far was cut to 454 mm from bar 1, and the plan now saws 464 mm.")
    twin.write_text(f'{text}\n[[cut]]\npiece = "near-far"\nlength = "454 mm"\n', encoding="utf-8")
    assert planned(tmp_path, twin)[0].nest.bars == ()


def test_two_jobs_kept_together_share_a_bar_and_go_together(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    """Each job's own sheet shows the shared bar and says whose it is; neither can be freed or cut alone."""
    shop_with_book(tmp_path, NewBar("steel-8", Fraction(3000), (), 100))
    one, two = job_in(tmp_path, "lined-up-twin", "one"), job_in(tmp_path, "lined-up-twin", "two")
    said(capsys, tmp_path, "shelf", "keep", one, two)
    alone, other = planned(tmp_path, one)[0], planned(tmp_path, two)[0]
    assert numbers(alone) == numbers(other) == [1]
    assert alone.together == ("one.toml", "two.toml")
    assert [name for name in alone.nest.bars[0].items if ":" not in name] == ["near-far", "nose-near", "far-end"]
    together = planned(tmp_path, one, two)
    assert [plan.nest.bars[0].stock.number for plan in together] == [1, 1]
    message = said(capsys, tmp_path, "shelf", "free", one, status=2)
    assert message == (
        "one.toml: its bars are kept for two.toml as well; a bar that they share can only go with all of them; "
        "name all of them in one command\n"
    )
    for command in ("cut", "keep"):
        assert said(capsys, tmp_path, "shelf", command, one, status=2) == (
            "two.toml: it is not named, and shares kept bars with one that is; bars that are kept together go "
            "together; name all of them in one command\n"
        )
    said(capsys, tmp_path, "shelf", "cut", one, two)
    assert planned(tmp_path, one)[0].nest.bars == planned(tmp_path, two)[0].nest.bars == ()


def test_vehicles_of_one_job_are_kept_apart(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    """vehicles = 2: both are kept and cut by one command, and each has its own pieces in the book."""
    shop_with_book(tmp_path, OFFCUT, OFFCUT, READY, READY)
    job = job_in(tmp_path, "lined-up-twin", "pair", ('layout = "twin"', 'layout = "twin"\nvehicles = 2'))
    said(capsys, tmp_path, "shelf", "keep", job)
    said(capsys, tmp_path, "shelf", "cut", job)
    cut = now(tmp_path).cut
    assert [(piece.vehicle.number, piece.name) for piece in sorted(cut, key=lambda p: (p.vehicle, p.name))] == [
        (vehicle, name) for vehicle in (1, 2) for name in ("far-end", "near-far", "nose-near")
    ]


def test_a_new_bar_that_came_since_is_the_one_that_is_cut(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    """Kept before it was bought, bought and put on the shelf, then sawn: it is not bought a second time."""
    shop_with_book(tmp_path)
    job = job_in(tmp_path, "lined-up-twin")
    assert numbers(planned(tmp_path, job)[0]) == [None]
    said(capsys, tmp_path, "shelf", "keep", job)
    length = planned(tmp_path, job)[0].nest.bars[0].stock.length_mm
    said(capsys, tmp_path, "shelf", "add", "steel-8", f"{length} mm", "--price", "5.00")
    assert numbers(planned(tmp_path, job)[0]) == [1]
    said(capsys, tmp_path, "shelf", "cut", job)
    assert {piece.bar for piece in now(tmp_path).cut} == {1}
    assert all(bar.cut_from == 1 for bar in now(tmp_path).bars)


def test_the_offcuts_number_stands_on_sheet_csv_label_and_data(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    """A bar of 3 m leaves an offcut that is kept; its number is promised when the bar is."""
    shop_with_book(tmp_path, NewBar("steel-8", Fraction(3000), (), 100))
    job = job_in(tmp_path, "lined-up-twin")
    assert said(capsys, tmp_path, "shelf", "keep", job).count("Write 2 on what is left of bar 1") == 1
    said(capsys, tmp_path, "sheet", job, "-o", tmp_path / "bench")
    page = (tmp_path / "bench" / "sheet.html").read_text(encoding="utf-8")
    assert "offcut, keep it, write 2 on it" in page
    assert '<ul class="labels">\n<li><b>2</b> steel-8<br>' in page
    rows = list(csv.reader((tmp_path / "bench" / "saw-list.csv").read_text(encoding="utf-8").splitlines()))
    assert any("shelf, no. 1" in row for row in rows)
    assert any("offcut, keep it, write 2 on it" in row for row in rows)
    bar = json.loads(said(capsys, tmp_path, "plan", job, "--json"))["bars"][0]
    assert (bar["shelf_number"], bar["offcut_number"]) == (1, 2)
    said(capsys, tmp_path, "shelf", "cut", job)
    left = {shelf_bar.number: shelf_bar.length_mm for shelf_bar in now(tmp_path).bars}
    assert left == {2: Fraction(bar["left_mm"]).limit_denominator(1000)}


def test_a_bar_of_the_shelf_is_taken_before_the_same_is_bought(tmp_path: Path):
    """At the same price, and also where it was bought dearer: what lies there is used up first."""
    for paid in (640, 900):
        folder = tmp_path / str(paid)
        folder.mkdir()
        shop_with_book(folder, NewBar("steel-8", Fraction(1000), (), paid))
        assert numbers(planned(folder, job_in(folder, "lined-up-twin"))[0]) == [1]


def test_an_unused_ready_end_stays_on_what_is_left(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    """A bar whose ready end no piece can use is sawn from its plain end, and what is left comes flared."""
    shop_with_book(tmp_path, NewBar("steel-8", Fraction(1700), (ReadyEnd("single", True),), 1))
    job = job_in(tmp_path, "lined-up-twin")
    said(capsys, tmp_path, "shelf", "keep", job)
    assert "its plain end" in said(capsys, tmp_path, "plan", job)
    said(capsys, tmp_path, "shelf", "cut", job)
    assert [bar.ready_ends for bar in now(tmp_path).bars] == [(ReadyEnd("single", True),)]


def test_what_is_to_be_bought_for_several_vehicles(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    """Bars of the shelf are named by number; parts of both vehicles are added up."""
    shop_with_book(tmp_path, OFFCUT, READY)
    job = job_in(tmp_path, "lined-up-twin")
    text = said(capsys, tmp_path, "shelf", "need", job, job)
    assert "From the shelf: 1 and 2." in text
    assert "New tube together: " in text
    motor = next(line for line in text.splitlines() if line.startswith("bench-motor"))
    assert motor.split()[1] == "2"


def test_a_bar_that_was_taken_while_the_plan_was_made_makes_it_anew(
    twin: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
):
    """Two commands at once: the second finds its bars kept for the first, plans again, and keeps others."""
    from tubing.commands import keeping_bars

    other = job_in(tmp_path, "lined-up-twin", "other")
    plan_first = keeping_bars._planned
    waiting = [other]

    def planned_too_early(asked_for: keeping_bars.Asked) -> object:
        found = plan_first(asked_for)
        if waiting:
            said(capsys, tmp_path, "shelf", "keep", waiting.pop())
        return found

    monkeypatch.setattr(keeping_bars, "_planned", planned_too_early)
    said(capsys, tmp_path, "shelf", "keep", twin)
    kept = [[bar.number for bar in keeping.plan.bars] for keeping in now(tmp_path).keepings]
    assert kept == [[1, 2], [None]]


def test_the_sheet_says_whether_its_bars_are_kept(twin: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    def stock_lines() -> str:
        text = said(capsys, tmp_path, "plan", twin, "buying")
        return " ".join(text[text.index("STOCK") :].split())

    assert "Its bars are not kept for it: tubing shelf keep" in stock_lines()
    said(capsys, tmp_path, "shelf", "keep", twin)
    assert "Its bars are kept for it in the shelf's book since 20" in stock_lines()
    said(capsys, tmp_path, "shelf", "cut", twin)
    assert "By the shelf's book all its pieces are sawn." in stock_lines()


def test_a_length_under_cut_changes_what_is_left(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    """Sawn 1 mm too long and said so: the plan stands, and the offcut comes 1 mm shorter into the book."""
    shop_with_book(tmp_path, NewBar("steel-8", Fraction(3000), (), 100))
    job = job_in(tmp_path, "lined-up-twin")
    said(capsys, tmp_path, "shelf", "keep", job)
    left_mm = planned(tmp_path, job)[0].nest.bars[0].left_mm
    with job.open("a", encoding="utf-8") as file:
        file.write('\n[[cut]]\npiece = "near-far"\nlength = "455 mm"\n')
    assert [text for text in planned(tmp_path, job)[0].warnings if "differs" in text] == []
    said(capsys, tmp_path, "shelf", "cut", job)
    assert [bar.length_mm for bar in now(tmp_path).bars] == [left_mm - 1]
    assert planned(tmp_path, job)[0].nest.bars == ()


def test_a_shop_with_a_list_and_a_book_is_refused(twin: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    path = tmp_path / "shop.toml"
    path.write_text(
        path.read_text(encoding="utf-8") + '\n[[shelf]]\ntube = "steel-8"\nlength = "1 m"\n', encoding="utf-8"
    )
    assert said(capsys, tmp_path, "plan", twin, status=2).startswith("shop.toml, line ")


def test_nest_takes_what_is_kept_and_says_what_changed(twin: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    """The saw list of several jobs has the same bars as their own sheets."""
    said(capsys, tmp_path, "shelf", "keep", twin)
    other = job_in(tmp_path, "lined-up-twin", "other")
    bars = json.loads(said(capsys, tmp_path, "nest", twin, other, "--json"))["bars"]
    assert [bar["shelf_number"] for bar in bars] == [1, 2, None]
    assert [bar["shelf_number"] for bar in json.loads(said(capsys, tmp_path, "nest", other, "--json"))["bars"]] == [
        None
    ]
    twin.write_text(twin.read_text(encoding="utf-8").replace('"200 mm"', '"210 mm"'), encoding="utf-8")
    assert "This plan differs from what was kept on" in " ".join(said(capsys, tmp_path, "nest", twin).split())


@pytest.mark.long
def test_every_demo_job_kept_and_cut_with_kerf_and_trim_adds_up(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    """§4 Kerf: all demo jobs from one shelf, one after another; every bar is its pieces, saw cuts, trims and rest."""
    bars = [NewBar("steel-8", Fraction(length), (), 900) for length in (3000, 3000, 2000, 2000, 1500, 1000)]
    path = shop_with_book(tmp_path, *bars, OFFCUT, READY, NewBar("steel-7.94", Fraction("3657.6"), (), 2150))
    text = path.read_text(encoding="utf-8")
    for key, length in (("kerf             ", "1.2 mm"), ("end_trim         ", "2.5 mm")):
        assert f'{key} = "0 mm"' in text
        text = text.replace(f'{key} = "0 mm"', f'{key} = "{length}"')
    path.write_text(text, encoding="utf-8")
    for name in NAMES:
        job = job_in(tmp_path, name)
        said(capsys, tmp_path, "shelf", "keep", job)
        data = json.loads(said(capsys, tmp_path, "plan", job, "--json"))
        promised = {bar["offcut_number"]: bar["left_mm"] for bar in data["bars"] if bar["kept"]}
        said(capsys, tmp_path, "shelf", "cut", job)
        lies = check_replay(tmp_path / BOOK)
        assert {number: lies[number] / 1e9 for number in promised} == pytest.approx(promised)
        assert json.loads(said(capsys, tmp_path, "plan", job, "--json"))["bars"] == []


def test_a_list_may_be_cut_from_a_tube_that_only_the_shelf_has(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    """The shop cannot buy this size any more, and one bar of it lies there."""
    shop_with_book(tmp_path, NewBar("steel-9.53", Fraction(1000)))
    rows = tmp_path / "list.csv"
    rows.write_text("piece,length,quantity,size\nstub,300 mm,2,steel-9.53\n", encoding="utf-8")
    bars = json.loads(said(capsys, tmp_path, "nest", rows, "--json"))["bars"]
    assert [(bar["shelf_number"], bar["pieces"]) for bar in bars] == [(1, ["stub", "stub"])]
