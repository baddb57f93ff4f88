"""The cheapest run: fewest bends, then least turn, then length.

Each order and each choice of sides is a field of candidates; a quick look gives every tube in it, and so the field,
the least it can cost. The fields are searched in that order, until none that is left can change the outcome.
"""

from __future__ import annotations

import heapq
import itertools
import math
from collections import Counter
from collections.abc import Sequence

from msgspec.structs import replace

from tubing.errors import ClearanceError, GeometryError, JobError
from tubing.inputs.records import Job, Shop
from tubing.run.heading_grid import on_a_grid
from tubing.run.headings import candidates
from tubing.run.laying import Layer, TailLength
from tubing.run.placing import check_nose, sides_to_try
from tubing.run.polish import laid_over, polished
from tubing.run.port_graph import Field, Known, NoRun, PortGraph, to_tell
from tubing.run.records import Run, RunCost

Spent = Counter[tuple[object, ...]]

MOST_ORDERED = 4  # wheelboxes whose order may be left free
THOROUGH_FIELDS = 4  # orders and sides that are tried in full where no gentle tubes fit, the shortest first
GRIDS = 2  # orders and sides whose headings are looked at all round the circle, the cheapest first
MOST_RAD = 1e9  # more than any run costs
ROUNDING_RAD = 1e-6  # a bound may be over by so much


def route(job: Job, shop: Shop, layout: str, tail_length_mm: TailLength) -> Run:
    """The cheapest run of a layout.

    ``tail_length_mm`` gives the tail tube's length for a first and a last wheelbox. Raises GeometryError where no run
    fits, JobError where sides or headings contradict each other.
    """
    check_nose(job, job.layouts[layout])
    layer = Layer(job, shop, job.layouts[layout], tail_length_mm)
    orders = _orders(job, job.layouts[layout])
    fields, without = _fields(layer, job, orders)
    runs, reasons = _best_run(layer, fields)
    if not runs:
        raise to_tell([*reasons, *without])
    best, *rest = polished(runs, layer)
    others = [run.cost for run in rest] + _rivals(runs)
    return replace(best, free=_free(job, best, len(orders) > 1), next_best=min(others, key=_weight, default=None))


def _weight(cost: RunCost) -> int:
    return cost.weight


def _orders(job: Job, names: Sequence[str]) -> list[tuple[str, ...]]:
    if job.order == "written" or len(names) == 1:
        return [tuple(names)]
    if len(names) > MOST_ORDERED:
        raise JobError(
            "drive.order",
            f"it is free for {len(names)} wheelboxes",
            f"the order of {MOST_ORDERED} at most can be left free",
            'write order = "written" and list the boxes in order from the motor',
        )
    return list(itertools.permutations(names))


def _free(job: Job, best: Run, order_free: bool) -> tuple[str, ...]:
    free = ["order"] if order_free else []
    if all(box.mounting.side is None for box in best.boxes):
        free.append("side")
    return (*free, *(f"heading of {box.name}" for box in best.boxes if box.mounting.heading is None))


def _fields(layer: Layer, job: Job, orders: Sequence[Sequence[str]]) -> tuple[list[Field], list[NoRun]]:
    """Every order with every choice of sides, and why some have no headings to try."""
    fields: list[Field] = []
    reasons: list[NoRun] = []
    for order in orders:
        mountings = [job.mountings[name] for name in order]
        for sides in sides_to_try(mountings, job.motion):
            try:
                fields.append(Field.of(layer, candidates(layer.nose(order[0]), mountings, sides)))
            except GeometryError as error:
                reasons.append(NoRun(Known.LOOKED, error, math.inf))
    return fields, reasons


def _best_run(layer: Layer, fields: Sequence[Field]) -> tuple[list[Run], list[NoRun]]:
    """The cheapest runs of the fields that matter, the cheapest first, and why others have none.

    A field matters while it may hold a run that is cheaper than the next best known.
    """
    spent: Spent = Counter()
    runs: list[Run] = []
    reasons: list[NoRun] = []
    queue = [(field.bound, k, field) for k, field in enumerate(fields)]
    heapq.heapify(queue)
    while queue and queue[0][0] <= _limit_rad(runs):
        _, k, field = heapq.heappop(queue)
        if not field.settled:
            field.settle()
            heapq.heappush(queue, (field.bound, k, field))
            continue
        _take(PortGraph(layer, field, spent).run(), runs, reasons)
    for field in sorted(fields, key=lambda f: (f.bound, f.direct_mm))[:GRIDS]:
        _take_grid(layer, field, spent, runs, reasons)
    if not runs and not any(isinstance(reason.error, ClearanceError) for reason in reasons):
        nearest = sorted(fields, key=lambda f: f.direct_mm)[:THOROUGH_FIELDS]
        for field in nearest:
            _take_grid(layer, Field.of(layer, field.layers, layer.bending.greatest_rad), spent, runs, reasons)
        for field in nearest if not runs else ():
            _take(PortGraph(layer, field.thorough(), spent).run(), runs, reasons)
    return sorted(runs, key=lambda run: run.cost.weight), reasons


def _take_grid(layer: Layer, field: Field, spent: Spent, runs: list[Run], reasons: list[NoRun]) -> None:
    """Take the runs over headings all round the circle, where any is free."""
    if field.free:
        grid, gentle = on_a_grid(layer, field)
        _take(PortGraph(layer, grid, spent).run(rival=False), runs, reasons)
        found = laid_over(gentle, layer) if gentle else None
        runs += [found] if isinstance(found, Run) else []


def _take(found: Run | NoRun | None, runs: list[Run], reasons: list[NoRun]) -> None:
    if isinstance(found, NoRun):
        reasons.append(found)
    elif found is not None:
        runs.append(found)


def _limit_rad(runs: Sequence[Run]) -> float:
    """A field that costs more than this, by a bound, changes neither the best run nor the next best."""
    costs = sorted([run.cost.rough_rad for run in runs] + [cost.rough_rad for cost in _rivals(runs)])
    return costs[1] + ROUNDING_RAD if len(costs) > 1 else MOST_RAD


def _rivals(runs: Sequence[Run]) -> list[RunCost]:
    return [run.next_best for run in runs if run.next_best is not None]
