"""The cheapest run: fewest bends, then least turn, then length.

Ports with their candidate headings are a layered graph, tubes and throughs its edges; each order and each choice of
sides is one such graph. A quick look gives every tube the least it can cost; only the tubes of the path that is
cheapest so far are laid out in full, and the path is sought again until all of its tubes are.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

import networkx as nx
from msgspec import Struct
from msgspec.structs import replace

from tubing.centreline.between import Laid
from tubing.errors import GeometryError, JobError
from tubing.geometry.many import Look
from tubing.job.records import Job, Mounting, Shop
from tubing.run.headings import candidates
from tubing.run.in_the_way import blocked, bodies_placed, surroundings
from tubing.run.laying import Layer, TailLength
from tubing.run.placing import PlacedBox, sides_to_try
from tubing.run.records import Run, RunCost, RunTube, total_cost

MOST_ORDERED = 4  # wheelboxes whose order may be left free
THOROUGH = 2  # headings a wheelbox that are tried in full where no gentle tube fits
NO_LOOK = Look(0, 0.0, 0.0)  # of a tube that has not been looked at: it may cost nothing


def route(job: Job, shop: Shop, layout: str, tail_length_mm: TailLength) -> Run:
    """The cheapest run of a layout.

    ``tail_length_mm`` gives the tail tube's length for a first and a last wheelbox. Raises GeometryError where no run
    fits, JobError where sides or headings contradict each other.
    """
    layer = Layer(job, shop, job.layouts[layout], tail_length_mm)
    orders = _orders(job, job.layouts[layout])
    fields: list[_Field] = []
    for order in orders:
        mountings = [job.mountings[name] for name in order]
        for sides in sides_to_try(mountings, job.motion):
            fields.append(_Field.of(layer, mountings, sides))
    best, rivals = _best_run(layer, fields)
    _check_bodies(best, job, shop)
    return replace(best, free=_free(job, best, len(orders) > 1), next_best=min(rivals, key=_weight, default=None))


def _check_bodies(run: Run, job: Job, shop: Shop) -> None:
    """Raise ClearanceError where a tube enters a wheelbox whose heading was chosen after the tube was laid."""
    placed = surroundings(job, shop, bodies_placed(run.boxes, shop))
    for tube in run.tubes:
        around = placed.between(tube.start.name, tube.end.name)
        wrong = around.entered(tube.shape) if around.hazards and isinstance(tube.shape, Laid) else []
        if wrong:
            remedy = "give the box's heading, name corners for this tube"
            raise blocked(f"tube {tube.id}", around.hazards[wrong[0][0]], wrong[0][1], "the tube", remedy)


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


class _Field(Struct, frozen=True):
    """One order and one choice of sides: the candidates of each box, and what each tube would cost at least."""

    layers: tuple[tuple[PlacedBox, ...], ...]
    looks: tuple[list[list[Look | None]], ...]  # of the tubes into each layer
    bound: int  # no run costs less

    @classmethod
    def of(cls, layer: Layer, order: Sequence[Mounting], sides: Sequence[int]) -> _Field:
        layers = tuple(tuple(boxes) for boxes in candidates(layer.nose(order[0].name), order, sides))
        befores: list[Sequence[PlacedBox | None]] = [[None], *layers]
        looks = tuple(layer.looks(b, a) for b, a in zip(befores, layers, strict=False))
        return cls(layers, looks, _bound(looks))

    def thorough(self) -> _Field:
        """The same with fewer headings, and tubes that are only known once they are laid out in full."""
        layers = tuple(layer[:THOROUGH] for layer in self.layers)
        counts = [1, *map(len, layers)]
        looks = tuple([[NO_LOOK] * n for _ in range(m)] for m, n in itertools.pairwise(counts))
        return _Field(layers, tuple(looks), 0)  # type: ignore[arg-type]


UNREACHED = 10**40


def _bound(looks: Sequence[list[list[Look | None]]]) -> int:
    """The least that a run through these tubes can cost; UNREACHED: there is no way through."""
    reached = [0]
    for layer in looks:
        reached = [
            min(
                (cost + _weight_of(row[k]) for cost, row in zip(reached, layer, strict=True) if row[k] is not None),
                default=UNREACHED,
            )
            for k in range(len(layer[0]))
        ]
    return min(reached)


def _weight_of(look: Look | None) -> int:
    return UNREACHED if look is None else RunCost(look.bends, look.turn_rad, look.length_mm).weight


def _best_run(layer: Layer, fields: Sequence[_Field]) -> tuple[Run, list[RunCost]]:
    """The cheapest run of all fields, and what others cost."""
    runs: list[Run] = []
    errors: list[GeometryError] = []
    for field in sorted(fields, key=lambda f: f.bound):
        if field.bound >= UNREACHED or (runs and field.bound > min(run.cost.weight for run in runs)):
            continue
        found = _cheapest(layer, field)
        if isinstance(found, GeometryError):
            errors.append(found)
        else:
            runs.append(found)
    if not runs:
        for field in fields:
            found = _cheapest(layer, field.thorough())
            if isinstance(found, GeometryError):
                errors.append(found)
            else:
                runs.append(found)
    if not runs:
        raise max(errors, key=lambda e: e.largest_radius_mm or 0.0)
    runs.sort(key=lambda run: run.cost.weight)
    rivals = [run.cost for run in runs[1:]] + [run.next_best for run in runs if run.next_best is not None]
    return runs[0], rivals


def _cheapest(layer: Layer, field: _Field) -> Run | GeometryError:
    """The cheapest path through one field's graph of ports; an error: the tube that stands in every way."""
    graph = _graph(layer, field)
    errors: list[GeometryError] = []
    while True:
        try:
            path = nx.shortest_path(graph, "nose", "end", weight="weight")
        except nx.NetworkXNoPath:
            return max(errors, key=lambda e: e.largest_radius_mm or 0.0)
        steps = [(a, b) for a, b in itertools.pairwise(path) if "ports" in graph.edges[a, b]]
        unknown = next((step for step in steps if "tube" not in graph.edges[step]), None)
        if unknown is None:
            break
        before, after = graph.edges[unknown]["ports"]
        tube = layer.tail(field.layers[0][0], before) if after is None else layer.tube(before, after)
        if isinstance(tube, GeometryError):
            errors.append(tube)
            graph.remove_edge(*unknown)
        else:
            graph.edges[unknown].update(tube=tube, weight=tube.cost.weight)
    tubes = tuple(graph.edges[step]["tube"] for step in steps)
    boxes = tuple(graph.edges[step]["ports"][1] for step in steps[:-1])
    return Run(boxes, tubes, total_cost(tubes), (), _second(graph, tubes))


def _graph(layer: Layer, field: _Field) -> nx.DiGraph:
    """Ports and candidate headings as nodes, tubes and throughs as edges."""
    graph = nx.DiGraph()
    graph.add_nodes_from(["nose", "end"])
    for depth, (looks, afters) in enumerate(zip(field.looks, field.layers, strict=True)):
        befores: Sequence[PlacedBox | None] = field.layers[depth - 1] if depth else [None]
        for j, before in enumerate(befores):
            start = (depth, j, "out") if depth else "nose"
            for k, after in enumerate(afters):
                look = looks[j][k]
                if look is not None:
                    graph.add_edge(
                        start, (depth + 1, k, "in"), weight=_weight_of(look), look=look, ports=(before, after)
                    )
        for k in range(len(afters)):
            graph.add_edge((depth + 1, k, "in"), (depth + 1, k, "out"), weight=0)
    last = len(field.layers)
    for k, box in enumerate(field.layers[-1]):
        graph.add_edge((last, k, "out"), "end", weight=0, look=NO_LOOK, ports=(box, None))
    return graph


def _second(graph: nx.DiGraph, best: Sequence[RunTube]) -> RunCost | None:
    """What the second cheapest path costs: tubes not laid out as the quick look saw them; the tail as the best's."""
    paths = list(itertools.islice(nx.shortest_simple_paths(graph, "nose", "end", weight="weight"), 2))
    if len(paths) < 2:
        return None
    costs = []
    for a, b in itertools.pairwise(paths[1]):
        edge = graph.edges[a, b]
        if "tube" in edge:
            costs.append(edge["tube"].cost)
        elif b == "end":
            costs.append(best[-1].cost)
        elif "look" in edge:
            look = edge["look"]
            costs.append(RunCost(look.bends, look.turn_rad, look.length_mm))
    return RunCost(
        sum(c.bends for c in costs), math.fsum(c.turn_rad for c in costs), math.fsum(c.length_mm for c in costs)
    )
