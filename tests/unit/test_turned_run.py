"""The run as lines in space: nothing is left out, and every length is the run's own."""

from __future__ import annotations

import itertools
import math

import pytest

from tests.demos import demo_plan, demo_shapes
from tubing.drawing.turned_run import turned_ports, turned_run


@pytest.mark.long
def test_every_tube_has_its_own_length_and_place(demo: str):
    """Chords of an arc are shorter than the arc, by less than a hundredth of what the bend takes."""
    plan, found = demo_plan(demo), turned_run(demo_shapes(demo).run)
    tubes = {line["name"]: line["points"] for line in found["lines"] if line["kind"] == "tube"}
    assert list(tubes) == [tube.id for tube in plan.run.tubes]
    for tube in plan.run.tubes:
        points = tubes[tube.id]
        length = sum(math.dist(a, b) for a, b in itertools.pairwise(points))
        if any(shape.known for shape in demo_shapes(demo).run.tubes if shape.piece == tube.id):
            assert length == pytest.approx(tube.length_mm, rel=0.01, abs=1.0)
        assert points[0] == pytest.approx(tube.start.datum_mm, abs=0.06)
        assert points[-1] == pytest.approx(tube.end.datum_mm, abs=0.06)


@pytest.mark.long
def test_every_port_and_thing_has_its_name(demo: str):
    run = demo_shapes(demo).run
    names = [name["words"] for name in turned_run(run)["names"]]
    assert names == ["nose", "end", *(box.name for box in run.boxes), *(solid.name for solid in run.in_the_way)]


def test_without_a_run_what_was_measured_is_still_shown():
    """Nose, holes, spindles and things where the job has them; a look at a job that fits nothing has the picture."""
    from tubing.desk.looking import Task, look
    from tubing.inputs.shop_file import data_folder

    plan = demo_plan("round-the-corner")
    found = turned_ports(plan.job, "twin")
    places = {name["words"]: name["at"] for name in found["names"]}
    assert places["near"] == pytest.approx(plan.job.mountings["near"].hole_mm, abs=0.06)
    assert places["nose"] == pytest.approx(plan.job.nose.position_mm, abs=0.06)
    text = (data_folder() / "jobs" / "round-the-corner.toml").read_text(encoding="utf-8")
    shown = look(Task("van.toml", text.replace("[0.0, 1.0, 0.0]", "[0.0, -1.0, 0.0]"), text, "", ""))
    assert shown.error
    assert "data-run=" in shown.html
    assert "heater" in shown.html
