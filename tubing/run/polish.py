"""The last touch to a run: free headings refined together while that makes the run cheaper.

The graph of ports knows a few dozen headings of each wheelbox. Between them a cheaper run may lie: gentler bends, or a
tube with a bend less. Round the run's own headings a finer and finer set is looked at, all boxes at once, with the
headings that a single bend reaches from a neighbour's; what looks cheapest is laid out and taken if it is.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from typing import Any

from msgspec.structs import replace

from tubing.geometry.quick_look import Looks, cheapest_way
from tubing.geometry.vectors import turned
from tubing.run.headings import add_single_bends
from tubing.run.laying import Layer
from tubing.run.placing import PlacedBox, with_heading
from tubing.run.records import Run, RunTube, total_cost

SHARES = (0.0, 0.2, -0.2, 0.4, -0.4, 0.6, -0.6, 0.8, -0.8, 1.0, -1.0)  # of the widest turn looked at
WIDEST_DEG, NARROWER = 5.0, 0.4  # of a round's turns; the last round's headings are 0.0007 degrees apart
REFINED = (6, 4, 2, 1, 1, 1, 1, 1, 1)  # runs that each round refines, the cheapest first
SINGLE_BENDS = 2  # rounds that look at single bends from the neighbours too
MOST_LAID = 12  # runs laid out in one round; a count and no clock: same job, same bytes


def polished(runs: Sequence[Run], layer: Layer) -> list[Run]:
    """The runs, given and given back the cheapest first, with free headings refined by their true cost.

    Bends, then turn with pull-in, then length. The first few are refined coarsely, the best of them to the end. None
    becomes dearer. Tubes that are not clear of what is in the way, or enter a wheelbox's body, are not taken, but for
    a run's own. Headings that the job gives are never changed.
    """
    if all(box.mounting.heading is not None for box in runs[0].boxes):
        return list(runs)
    others = list(runs)
    for k, most in enumerate(REFINED):
        widest_rad = math.radians(WIDEST_DEG * NARROWER**k)
        refined = [_refined(run, layer, widest_rad, k < SINGLE_BENDS) for run in others[:most]]
        others = sorted([*refined, *others[most:]], key=_weight)
    return others


def _weight(run: Run) -> int:
    return run.cost.weight


def _refined(run: Run, layer: Layer, widest_rad: float, single_bends: bool) -> Run:
    """The cheapest of the runs with headings round the run's own, or the run itself."""
    layers = _around(run, layer, widest_rad, single_bends)
    befores: list[Sequence[PlacedBox | None]] = [[None], *layers]
    sharp = any(angle > math.pi / 2 for tube in run.tubes for angle in tube.bend_angles_rad)
    most_rad = layer.bending.greatest_rad if sharp else math.pi / 2
    costs = [_costs_rad(layer.looks(before, after, most_rad)) for before, after in zip(befores, layers, strict=False)]
    for cost, tube in zip(costs, run.tubes, strict=False):
        cost[0, 0] = tube.cost.rough_rad
    costs[-1] = costs[-1] + _tail_costs_rad(run, layer, layers[-1])
    for _ in range(MOST_LAID):
        way = cheapest_way(costs)
        if way is None or not any(way):
            return run
        boxes = tuple(boxes[k] for boxes, k in zip(layers, way, strict=True))
        found = laid_over(boxes, layer, run)
        if isinstance(found, Run):
            return replace(found, next_best=run.next_best) if found.cost.weight < run.cost.weight else run
        costs[found][way[found - 1] if found else 0, way[found]] = math.inf
    return run


def _around(run: Run, layer: Layer, widest_rad: float, single_bends: bool) -> list[list[PlacedBox]]:
    """For each box its heading and those round it; its own is the first."""
    placed = [_turned(box, widest_rad) for box in run.boxes]
    if single_bends:
        order = [box.mounting for box in run.boxes]
        add_single_bends(layer.nose(run.boxes[0].name), placed, order, [box.side for box in run.boxes])
    return placed


def _turned(box: PlacedBox, widest_rad: float) -> list[PlacedBox]:
    if box.mounting.heading is not None:
        return [box]
    turns = (turned(box.heading, box.mounting.spindle, share * widest_rad) for share in SHARES[1:])
    return [box, *(with_heading(box.mounting, heading, box.side) for heading in turns)]


def _costs_rad(looks: Looks) -> Any:
    looks.settle()
    return looks.costs_rad()


def _tail_costs_rad(run: Run, layer: Layer, boxes: Sequence[PlacedBox]) -> list[float]:
    """What the tail tube behind each of these headings of the last box costs; infinite: it is not clear."""
    tail = layer.job.tail
    if tail.toward is None and not tail.corners_mm:
        return [run.tubes[-1].cost.rough_rad, *[0.0] * (len(boxes) - 1)]
    found = [layer.direct_tail(run.boxes[0], box) for box in boxes[1:]]
    rest = [tube.cost.rough_rad if isinstance(tube, RunTube) else math.inf for tube in found]
    return [run.tubes[-1].cost.rough_rad, *rest]


def laid_over(boxes: tuple[PlacedBox, ...], layer: Layer, run: Run | None = None) -> Run | int:
    """The run over these boxes; or the place of the box into which no tube can be laid so.

    Tubes that ``run`` has between the same headings are kept, led round something or not.
    """
    own = [None, *(run.boxes if run else ()), None]
    tubes: list[RunTube] = []
    for k, (before, after) in enumerate(itertools.pairwise((None, *boxes, None))):
        if run and before is own[k] and after is own[k + 1]:
            tubes.append(run.tubes[k])
            continue
        found = layer.direct(before, after) if after else layer.direct_tail(boxes[0], boxes[-1])
        if not isinstance(found, RunTube):
            return min(k, len(boxes) - 1)
        tubes.append(found)
    wrong = layer.too_near(boxes, tubes)
    if wrong is not None:
        return min(wrong[0], len(boxes) - 1)
    return Run(boxes, tuple(tubes), total_cost(tubes), (), None)
