"""The run as lines in space: nothing is left out, and every length is the run's own."""

from __future__ import annotations

import itertools
import math

import pytest

from tests.demos import demo_plan, demo_shapes
from tubing.drawing.turned_run import turned_run


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
