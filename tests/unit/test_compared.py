"""A plan's mark, and what changed since an earlier plan."""

import json

import pytest
from msgspec.structs import replace

from tubing.commands import main
from tubing.inputs.job_file import read_job
from tubing.inputs.shop_file import data_folder, read_shop
from tubing.plan import plan
from tubing.writers.compared import facts, mark_of
from tubing.writers.plan_data import plan_data

SHOP = read_shop(None)
JOB = data_folder() / "jobs" / "lined-up-twin.toml"


def data(job=None):
    return plan_data(plan(job or read_job(JOB, SHOP), SHOP))


def moved(by_mm):
    """The demo with its far box so much farther to the right."""
    job = read_job(JOB, SHOP)
    far = job.mountings["far"]
    x, y, z = far.hole_mm
    return replace(job, mountings={**job.mountings, "far": replace(far, hole_mm=(x + by_mm, y, z))})


def test_the_same_plan_has_the_same_mark_whatever_it_is_called():
    assert mark_of(data()) == mark_of(data()) == data()["mark"]
    assert mark_of(data(replace(read_job(JOB, SHOP), title="Another name"))) == data()["mark"]


@pytest.mark.parametrize("by_mm", [0.5, 3.0, 25.0])
def test_a_plan_that_is_worked_otherwise_has_another_mark(by_mm):
    assert mark_of(data(moved(by_mm))) != data()["mark"]


def test_every_piece_port_and_bar_has_its_facts():
    found = facts(data())
    for piece in data()["pieces"]:
        assert f"piece {piece['id']}, sawn" in found
    assert sum(label.startswith("bar ") for label in found) == len(data()["bars"])
    assert found["rack, cut"] == f"{data()['drive']['rack_cut_mm']:.1f} mm"


def test_what_changed_is_told_old_beside_new(tmp_path, capsys):
    """The far box 3 mm farther on: its tube is as much longer, and the nose's stays."""
    old = tmp_path / "old.json"
    old.write_text(json.dumps(data(moved(-3.0))))
    assert main(["plan", str(JOB), "--against", str(old)]) == 0
    said = " ".join(capsys.readouterr().out.split())
    before, now = facts(data(moved(-3.0))), facts(data())
    assert before["piece near-far, sawn"] != now["piece near-far, sawn"]
    assert f"piece near-far, sawn {before['piece near-far, sawn']} {now['piece near-far, sawn']}" in said
    assert "piece nose-near, sawn" not in said
    assert f"Plan {data()['mark']}, held against {mark_of(data(moved(-3.0)))} in old.json." in said


def test_a_plan_against_itself_says_that_nothing_changed(tmp_path, capsys):
    old = tmp_path / "old.json"
    old.write_text(json.dumps(data()))
    assert main(["plan", str(JOB), "--against", str(old)]) == 0
    assert "Nothing changed that is sawn" in " ".join(capsys.readouterr().out.split())


@pytest.mark.parametrize(
    ("text", "why"),
    [
        (None, "it cannot be read (No such file or directory)"),
        ("[job]", "it is not JSON"),
        ("3", "it is not the data of a plan"),
        ('{"layout": "twin"}', "it is not the data of a plan"),
    ],
)
def test_what_is_no_plan_is_refused(tmp_path, capsys, text, why):
    old = tmp_path / "old.json"
    if text is not None:
        old.write_text(text)
    assert main(["plan", str(JOB), "--against", str(old)]) == 2
    assert (
        f"old.json: {why}; it must be a plan's data; give a file that plan --json wrote, or a folder that sheet wrote"
        in capsys.readouterr().err
    )


def test_the_mark_stands_at_the_foot_of_every_page(tmp_path):
    assert main(["sheet", str(JOB), "-o", str(tmp_path / "s")]) == 0
    assert f'content: "Plan {data()["mark"]} ' in (tmp_path / "s" / "sheet.html").read_text()


def test_a_plan_is_held_against_the_folder_with_its_sheet(tmp_path, capsys):
    """The folder keeps the plan without its money: it may go out of the house."""
    folder = tmp_path / "bench"
    assert main(["sheet", str(JOB), "-o", str(folder), "--no-prices"]) == 0
    kept = (folder / "plan.json").read_text()
    assert "price" not in kept
    assert "cost" not in kept
    capsys.readouterr()
    assert main(["plan", str(JOB), "--against", str(folder)]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert f"held against {data()['mark']} in bench. Nothing changed" in said


def test_what_is_cut_out_of_the_paper_bears_the_plans_mark(tmp_path):
    assert main(["sheet", str(JOB), "-o", str(tmp_path / "s")]) == 0
    page = (tmp_path / "s" / "sheet.html").read_text()
    for box in ("near", "far"):
        assert f"{box}, plan {data()['mark']}, " in page
