"""Free headings are refined: the run is never dearer, and a heading that the job gives is never changed."""

import math

import pytest
from msgspec.structs import replace
from scipy.spatial.transform import Rotation

from tests.bench.bench_run import clutter
from tests.carried_jobs import Carrier
from tests.free_vehicles import SHOP, TAIL_MM, free_vehicle, second_opinion
from tubing.errors import GeometryError
from tubing.geometry.vectors import dot
from tubing.inputs.records import TubeBetween
from tubing.run import polish, routing
from tubing.run.laying import Layer
from tubing.run.records import total_cost
from tubing.units import quantity


def routed(job, monkeypatch=None):
    """The run of a job; with ``monkeypatch`` as the graph of ports alone finds it."""
    if monkeypatch is not None:
        monkeypatch.setattr(routing, "polished", lambda runs, layer: list(runs))
    return routing.route(job, SHOP, "all", lambda first, last: TAIL_MM)


@pytest.mark.long
@pytest.mark.parametrize("seed", range(12))
def test_a_refined_run_is_never_dearer_and_its_headings_stay_square_to_their_spindles(seed, monkeypatch):
    """The cost told is that of its tubes; bends never grow in number, and turn never grows at as many bends."""
    job = free_vehicle(seed)
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
        fine = routed(free_vehicle(seed))
        with monkeypatch.context() as patch:
            gains.append(math.degrees(routed(free_vehicle(seed), patch).cost.turn_rad - fine.cost.turn_rad))
    assert sum(gain > 0.01 for gain in gains) >= 8
    assert max(gains) > 1


@pytest.mark.long
@pytest.mark.parametrize("seed", range(4))
def test_headings_that_the_job_gives_are_left_alone(seed):
    """Every heading as the free run chose it, but said: the run is that run, to the last digit."""
    job = free_vehicle(seed)
    free = routed(job)
    held = {box.name: replace(job.mountings[box.name], heading=box.heading, side=box.side) for box in free.boxes}
    said = routed(replace(job, mountings=held))
    for one, other in zip(said.boxes, free.boxes, strict=True):
        assert one.heading == pytest.approx(other.heading, abs=1e-12)
    layer = Layer(replace(job, mountings=held), SHOP, job.layouts["all"], lambda first, last: TAIL_MM)
    assert polish.polished([said], layer)[0] is said


@pytest.mark.long
@pytest.mark.parametrize("seed", [0, 1, 2, 4])
def test_refining_again_changes_nothing(seed):
    """What a second round still finds is less than anybody can set."""
    job = free_vehicle(seed)
    layer = Layer(job, SHOP, job.layouts["all"], lambda first, last: TAIL_MM)
    once = routed(job)
    [again] = polish.polished([once], layer)
    assert again.cost.weight <= once.cost.weight
    assert again.cost.bends == once.cost.bends
    assert math.degrees(once.cost.turn_rad - again.cost.turn_rad) < 0.01


@pytest.mark.long
@pytest.mark.parametrize("seed", [0, 2, 4, 5, 6, 7, 11, 13])
def test_a_global_optimiser_finds_no_better_headings(seed):
    """Source of the second opinion: scipy's differential evolution. Never a bend fewer, never half a degree less."""
    cost = routed(free_vehicle(seed)).cost
    bends, turn_deg = second_opinion(free_vehicle(seed))
    assert cost.bends <= bends
    assert cost.bends < bends or math.degrees(cost.turn_rad) <= turn_deg + 0.5


TURN = Carrier(Rotation.from_euler("xyz", [0.3, -0.8, 1.9]), (400.0, -30.0, 77.0))


@pytest.mark.long
@pytest.mark.parametrize("carrier", [TURN, Carrier(mirror=True)], ids=["turned", "mirrored"])
@pytest.mark.parametrize("seed", [0, 1, 2, 5, 6, 9])
def test_a_vehicle_turned_moved_or_mirrored_keeps_its_cost(seed, carrier):
    """Of 60 vehicles none changed by a bend or a tenth of a degree; here six of them."""
    job = free_vehicle(seed, (2, 3, 4))
    one, other = routed(job).cost, routed(carrier.job(job)).cost
    assert other.bends == one.bends
    assert math.degrees(other.turn_rad) == pytest.approx(math.degrees(one.turn_rad), abs=0.1)


@pytest.mark.long
@pytest.mark.parametrize("seed", [0, 2, 4, 7, 11, 13])
def test_something_in_the_way_never_makes_a_run_better_nor_does_more_clearance(seed):
    """Four things made up by chance, with 2, 10 and 25 mm of clearance."""
    job = free_vehicle(seed, (2, 3))
    best = routed(job).cost
    for clearance_mm in (2, 10, 25):
        things = tuple(replace(thing, clearance=quantity(clearance_mm, "mm")) for thing in clutter(job, 4, seed, 200.0))
        try:
            cost = routed(replace(job, in_the_way=things)).cost
        except GeometryError:
            break
        assert (cost.bends, cost.turn_rad) >= (best.bends, best.turn_rad - math.radians(0.05))
        best = cost


@pytest.mark.long
@pytest.mark.parametrize("seed", range(10))
def test_there_and_back_a_run_costs_the_same(seed):
    """Tubes between three or four boxes; the nose's own tube is a wire of known length, whichever box it goes to."""
    job = free_vehicle(seed, (3, 4))
    there, back = routed(_wired(job, job.layouts["all"])).cost, routed(_wired(job, job.layouts["all"][::-1])).cost
    assert back.bends == there.bends
    assert math.degrees(back.turn_rad) == pytest.approx(math.degrees(there.turn_rad), abs=0.1)
    assert back.length_mm == pytest.approx(there.length_mm, abs=2.0)


def _wired(job, names):
    wire = TubeBetween("nose", names[0], measured=quantity(4000, "mm"), bends=())
    return replace(job, layouts={"all": names}, between=(wire,))
