"""Free headings are refined: the run is never dearer, and a heading that the job gives is never changed."""

import math
from pathlib import Path
from random import Random

import pytest
from msgspec.structs import replace

from tubing.geometry.vectors import dot, unit
from tubing.inputs.job_file import read_job
from tubing.inputs.shop_file import data_folder, read_shop
from tubing.run import polish, routing
from tubing.run.laying import Layer
from tubing.run.records import total_cost

SHOP = read_shop(None)
TWIN = read_job(Path(data_folder()) / "jobs" / "lined-up-twin.toml", SHOP)
TAIL_MM = 140.0


def invented(seed):
    """A twin or triple with free headings, its boxes along a scuttle, the motor somewhere before them."""
    random = Random(seed)
    base = next(iter(TWIN.mountings.values()))
    mountings, x = {}, 0.0
    for k in range(random.choice((2, 2, 3))):
        spindle = unit((random.uniform(-0.2, 0.2), random.uniform(0.3, 0.8), random.uniform(0.5, 1.0)))
        hole = (x, random.uniform(-60, 60), random.uniform(-40, 40))
        mountings[f"b{k}"] = replace(
            base, name=f"b{k}", hole_mm=hole, spindle=spindle, panel=spindle, heading=None, side=None
        )
        x += random.uniform(420, 650)
    position = (random.uniform(-650, -400), random.uniform(-250, 150), random.uniform(-200, 50))
    heading = unit((random.uniform(0.2, 1), random.uniform(-0.6, 0.6), random.uniform(-0.5, 0.5)))
    nose = replace(TWIN.nose, position_mm=position, heading=heading)
    return replace(TWIN, nose=nose, mountings=mountings, layouts={"all": tuple(mountings)}, layout="all")


def routed(job, monkeypatch=None):
    """The run of a job; with ``monkeypatch`` as the graph of ports alone finds it."""
    if monkeypatch is not None:
        monkeypatch.setattr(routing, "polished", lambda run, layer: run)
    return routing.route(job, SHOP, "all", lambda first, last: TAIL_MM)


@pytest.mark.long
@pytest.mark.parametrize("seed", range(12))
def test_a_refined_run_is_never_dearer_and_its_headings_stay_square_to_their_spindles(seed, monkeypatch):
    """The cost told is that of its tubes; bends never grow in number, and turn never grows at as many bends."""
    job = invented(seed)
    fine = routed(job)
    coarse = routed(job, monkeypatch)
    assert fine.cost.weight <= coarse.cost.weight
    assert (fine.cost.bends, fine.cost.turn_rad) <= (coarse.cost.bends, coarse.cost.turn_rad + 1e-6)
    assert fine.cost == total_cost(fine.tubes)
    for box in fine.boxes:
        assert abs(dot(box.heading, box.mounting.spindle)) < 1e-9
    for tube, box in zip(fine.tubes, fine.boxes, strict=False):
        assert tube.end.heading == box.heading


@pytest.mark.long
def test_refining_gains_what_no_heading_of_the_graph_had(monkeypatch):
    """Of forty invented vehicles most gain a little, and some several degrees of turn."""
    gains = []
    for seed in range(12):
        fine = routed(invented(seed))
        with monkeypatch.context() as patch:
            gains.append(math.degrees(routed(invented(seed), patch).cost.turn_rad - fine.cost.turn_rad))
    assert sum(gain > 0.01 for gain in gains) >= 8
    assert max(gains) > 1


@pytest.mark.long
@pytest.mark.parametrize("seed", range(4))
def test_headings_that_the_job_gives_are_left_alone(seed):
    """Every heading as the free run chose it, but said: the run is that run, to the last digit."""
    job = invented(seed)
    free = routed(job)
    held = {box.name: replace(job.mountings[box.name], heading=box.heading, side=box.side) for box in free.boxes}
    said = routed(replace(job, mountings=held))
    for one, other in zip(said.boxes, free.boxes, strict=True):
        assert one.heading == pytest.approx(other.heading, abs=1e-12)
    layer = Layer(replace(job, mountings=held), SHOP, job.layouts["all"], lambda first, last: TAIL_MM)
    assert polish.polished(said, layer) is said


@pytest.mark.long
@pytest.mark.parametrize("seed", range(4))
def test_refining_again_changes_little(seed):
    """What a second round still finds is below the smallest step's worth, unless the count of turns ended the first."""
    job = invented(seed)
    layer = Layer(job, SHOP, job.layouts["all"], lambda first, last: TAIL_MM)
    once = routed(job)
    again = polish.polished(once, layer)
    assert again.cost.weight <= once.cost.weight
    assert again.cost.bends == once.cost.bends
    assert math.degrees(once.cost.turn_rad - again.cost.turn_rad) < 1.0
