"""What the sheet and the table of sweeps say of the glass, the cranks and the arms, beside triangles by hand."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from msgspec.structs import replace

import tubing.glass
from tubing.commands import main
from tubing.commands.sheeting import sheet_files
from tubing.glass import sweep_table
from tubing.glass.arms import signed_crank_rad
from tubing.inputs.job_file import read_job
from tubing.inputs.records import FittedArm, Job
from tubing.inputs.shop_file import data_folder, read_shop
from tubing.plan import plan
from tubing.sheet.content import job_sheet
from tubing.sheet.driving import crank_hand
from tubing.sheet.glazing import sweep_sheet
from tubing.sheet.records import JobSheet, Lines, Table
from tubing.units import quantity
from tubing.writers.plan_data import plan_data

SHOP = read_shop(None)
MEET = "Not kept on the glass at the job's own 110.0 deg: the blades on 'near' and 'far' meet."
SUITED = "A blade parks along the edge of the glass only where its arm is cranked to suit."


def demo() -> Job:
    """Both pivots 30 mm below a level edge, the upper edge 440 mm above them; arms of 250, blades of 230 mm."""
    return read_job(data_folder() / "jobs" / "lined-up-twin.toml", SHOP)


def arm(on: str, crank_deg: float, length_mm: float | None = 250, blade_mm: float | None = 230) -> FittedArm:
    length, blade = (None if x is None else quantity(x, "mm") for x in (length_mm, blade_mm))
    return FittedArm(on=on, length=length, blade=blade, crank=quantity(crank_deg, "deg"))


def crossing(length_mm: float = 250, blade_mm: float = 230) -> Job:
    """Pivots 100 mm apart, the arm on the right 25 degrees further to the left: they cross 100/tan(25) = 214 mm up."""
    job = demo()
    assert job.screen is not None
    near, far = (arm(name, 5, length_mm, blade_mm) for name in ("near", "far"))
    return replace(
        job,
        screen=replace(job.screen, pivots_mm={"near": (-50.0, 0.0), "far": (50.0, 0.0)}),
        arms=(replace(near, parked=quantity(40, "deg")), replace(far, parked=quantity(15, "deg"))),
    )


def sheet_of(job: Job) -> JobSheet:
    return job_sheet(plan(job, SHOP), with_glass=True)


def sweeps_of(job: Job) -> tuple[Table | Lines, ...]:
    planned = plan(job, SHOP)
    return tuple(sweep_sheet(planned, sweep_table(planned.on_glass.glass), "mm").parts)


def test_what_the_jobs_own_sweep_does_not_keep_is_to_be_settled_first():
    sheet = sheet_of(crossing())
    assert sheet.warnings.lines[-1] == MEET
    assert sheet.glass.before == (MEET,)


def test_a_sweep_that_keeps_clear_has_nothing_to_settle():
    planned = plan(demo(), SHOP)
    assert job_sheet(planned, with_glass=True).warnings == job_sheet(planned).warnings


def test_the_page_says_it_before_the_run_and_again_over_the_glass(tmp_path: Path):
    source = (data_folder() / "jobs" / "lined-up-twin.toml").read_text(encoding="utf-8")
    pivots = 'near = ["-300 mm", "0 mm"], far = ["200 mm", "0 mm"]'
    before, near, far = source.split("[[arm]]\n")
    assert before.count(pivots) == 1
    before = before.replace(pivots, 'near = ["-50 mm", "0 mm"], far = ["50 mm", "0 mm"]')
    text = f'{before}[[arm]]\nparked = "40 deg"\n{near}[[arm]]\nparked = "15 deg"\n{far}'
    (tmp_path / "job.toml").write_text(text, encoding="utf-8")
    assert main(["sheet", str(tmp_path / "job.toml"), "--output", str(tmp_path / "out")]) == 0
    (written,) = (tmp_path / "out").rglob("*.html")
    head, rest = written.read_text(encoding="utf-8").split("<h2>The run</h2>")
    said = MEET.replace("'", "&#39;")
    assert head.count(said) == 1
    assert rest.split('<section id="glass">')[1].count(said) == 1


def stands_off_deg(crank_deg: float) -> float:
    """Blade and arm rise together by half degrees from where the blade is level, until its inner tip keeps 5 mm.

    The blade's middle, which is the arm's tip, stands 250 sin(raised + crank) above the pivot, its inner tip
    115 sin(raised) below that; the edge lies 30 mm above the pivot.
    """

    def inner_mm(raised_deg: float) -> float:
        tip_mm = 250 * math.sin(math.radians(raised_deg + crank_deg))
        return tip_mm - 115 * math.sin(math.radians(raised_deg)) - 30

    return next(step / 2 for step in range(61) if inner_mm(step / 2) >= 5)


@pytest.mark.parametrize(
    ("crank_deg", "has"),
    [
        (5, "with the 5.0 deg to the left that it has"),
        (0, "with a straight arm"),
        (-5, "with the 5.0 deg to the right that it has, which is the wrong hand"),
    ],
)
def test_the_crank_that_the_arm_has_bears_its_hand(crank_deg: float, has: str):
    """asin(35/250) = 8.05 degrees are wanted."""
    after = sheet_of(replace(demo(), arms=(arm("near", crank_deg), arm("far", 5)))).glass.after
    assert after[0] == (
        "near: an arm cranked 8.0 deg to the left and parked at 172.0 deg lays its blade along the lower edge, 5.0 mm "
        f"clear of it; {has}, the parked blade stands {stands_off_deg(crank_deg):.1f} deg off the edge's direction."
    )


@pytest.mark.parametrize(("parks", "turning"), [("left", -1), ("right", 1)])
@pytest.mark.parametrize("crank_deg", [-4, 4])
def test_the_hand_is_that_of_the_glass(parks: str, turning: int, crank_deg: float):
    """Anticlockwise from an arm that points up the glass is to the left."""
    leans_rad = signed_crank_rad(quantity(crank_deg, "deg"), turning)
    assert crank_hand(crank_deg, parks) == ("left" if leans_rad > 0 else "right")


@pytest.mark.parametrize(
    ("arms", "park", "said"),
    [
        ((), "left", "Put the arms on at park, blades along the edge of the glass, cranks to the left."),
        (
            (arm("near", 0), arm("far", 0)),
            "left",
            f"Put the arms on at park as the job has them: near and far straight. {SUITED}",
        ),
        (
            (arm("near", -4), arm("far", 5)),
            "left",
            "Put the arms on at park as the job has them: near cranked 4.0 deg to the right and far cranked 5.0 deg to "
            f"the left. {SUITED}",
        ),
        (
            (arm("near", 4), arm("far", 4)),
            "right",
            f"Put the arms on at park as the job has them: near and far cranked 4.0 deg to the right. {SUITED}",
        ),
        (
            (arm("far", 0),),
            "left",
            "Put the arms on at park as the job has them: far straight; near along the edge of the glass, cranks to "
            f"the left. {SUITED}",
        ),
    ],
)
def test_the_arms_go_on_as_the_job_has_them(arms: tuple[FittedArm, ...], park: str, said: str):
    assert said in job_sheet(plan(replace(demo(), arms=arms, park=park), SHOP)).fitting.lines


def pull_remark(job: Job) -> object:
    return next(row[2] for row in job_sheet(plan(job, SHOP)).drive.rows if row[0] == "pull needed")


def test_the_pull_says_where_lengths_left_free_are_chosen():
    free = replace(demo(), arms=(arm("near", 5), arm("far", 5, None, None)))
    said = "not worked out: no arm and blade with their lengths are given for far"
    assert pull_remark(free) == (
        f"{said}; lengths left free are chosen on the glass, by the command sweep: write those you fit into the job"
    )
    assert pull_remark(replace(free, screen=None)) == said


def test_the_glass_says_which_arms_it_chose():
    said = (
        "Arm and blade lengths that the job leaves free, on far, are chosen here: write those you fit into the job, "
        "and the pull is worked out for them."
    )
    assert said in sheet_of(replace(demo(), arms=(arm("near", 5), arm("far", 5, None, None)))).glass.after
    assert not any("leaves free" in line for line in sheet_of(demo()).glass.after)


def test_rows_of_searched_arms_are_not_of_the_same_arms():
    said = "Arm and blade lengths left free are searched for each sweep anew: each row has its own best arms."
    assert sweeps_of(replace(demo(), arms=(arm("near", 5), arm("far", 5, None))))[0].before[1:] == (said,)
    assert sweeps_of(demo())[0].before[1:] == ()


def test_all_that_a_sweep_does_not_keep_is_told():
    """Blades of 280 on arms of 300 cranked 5 reach to within half a millimetre of the upper edge, and cross."""
    reach_mm = math.sqrt(300**2 + 140**2 + 2 * 300 * 140 * math.cos(math.radians(5)))
    lines = next(part for part in sweeps_of(crossing(300, 280)) if part.title == "What is not kept").lines
    near, far = (f"the blade on '{name}' comes within {440 - reach_mm:.1f} mm of the edge" for name in ("near", "far"))
    told = dict(line.rstrip(".").split(" deg: ") for line in lines)
    assert list(told) == ["90", "100", "110", "120", "130", "140"]
    assert set(told["110"].split("; ")) == {"the blades on 'near' and 'far' meet", near, far}


def test_the_glass_is_worked_out_once_for_page_tables_and_drawings_and_not_at_all_for_the_printed_plan(monkeypatch):
    """It is the slowest part of a sheet; two workings of it could also come to disagree."""
    calls: list[float] = []
    judge = tubing.glass.at_sweep

    def counted(*given):
        calls.append(1.0)
        return judge(*given)

    monkeypatch.setattr(tubing.glass, "at_sweep", counted)
    planned = plan(demo(), SHOP)
    job_sheet(planned)
    assert calls == []
    sheet_files(planned, "mm", prices=True)
    plan_data(planned)
    assert len(calls) == 1
