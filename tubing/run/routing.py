"""The cheapest run: fewest bends, then least turn, then length.

Ports with their candidate headings are a layered graph, tubes and throughs its edges. Each order and each choice of
sides is one such graph; the best path of all is the run.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import networkx as nx

from tubing.centreline.between import Bending, Laid, PortAt, tube_between
from tubing.errors import GeometryError, JobError
from tubing.flares import USUAL, where_is
from tubing.geometry.vectors import Vector
from tubing.job.records import Bench, Flare, Job, Mounting, Shop, TubeBetween
from tubing.run.placing import (
    Aim,
    PlacedBox,
    box_port,
    fanned,
    heading_past,
    nose_port,
    pierced_mm,
    rack_centre_mm,
    sides_to_try,
    with_heading,
    without_repeats,
)
from tubing.run.tail import tail_tube
from tubing.units import mm, rad

MOST_ORDERED = 4  # wheelboxes whose order may be left free
THOROUGH_EDGES = 400  # more tubes than this are only looked at for gentle bends

TailLength = Callable[[Mounting, Mounting], float]  # of the first and the last wheelbox, [mm]


@dataclass(frozen=True, slots=True)
class Measured:
    """A tube that the fitter laid out with a wire: its length is known, its shape is not."""

    length_mm: float  # along the centre line from datum to datum
    bends_rad: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class RunTube:
    """One tube of the run."""

    start: PortAt
    end: PortAt
    flares: tuple[Flare, Flare]  # at its start and its end
    shape: Laid | Measured

    @property
    def id(self) -> str:
        """The piece's name, such as ``nose-near``."""
        return f"{self.start.name}-{self.end.name}"

    @property
    def length_mm(self) -> float:
        """Along the centre line from datum to datum."""
        return self.shape.line.length_mm if isinstance(self.shape, Laid) else self.shape.length_mm

    @property
    def bend_angles_rad(self) -> tuple[float, ...]:
        """Its bends' angles in order from its start."""
        if isinstance(self.shape, Laid):
            return tuple(bend.angle_rad for bend in self.shape.line.bends)
        return self.shape.bends_rad


@dataclass(frozen=True, slots=True)
class Cost:
    """What a run is chosen by; compared in this order."""

    bends: int
    turn_rad: float
    length_mm: float

    @property
    def weight(self) -> int:
        """One whole number that orders as (bends, turn, length) do, turn to 1e-7 rad, length to 1e-4 mm."""
        return self.bends * 10**30 + round(self.turn_rad * 1e7) * 10**15 + round(self.length_mm * 1e4)


@dataclass(frozen=True, slots=True)
class Run:
    """The whole guide tube, decided."""

    boxes: tuple[PlacedBox, ...]  # in order from the motor
    tubes: tuple[RunTube, ...]  # the last one is the tail tube
    cost: Cost
    free: tuple[str, ...]  # what the program chose: "order", "side", "heading of NAME"
    next_best: Cost | None  # of the best run that chooses otherwise; None: there was no other


@dataclass(slots=True)
class _Search:
    """One job and layout being routed; remembers every tube it has laid."""

    job: Job
    bench: Bench
    bending: Bending
    tail_length_mm: TailLength
    laid: dict[tuple[object, ...], RunTube | GeometryError] = field(default_factory=dict)
    thorough: bool = True

    def flare(self, start: str, end: str, at_start: bool) -> Flare:
        said = self.said(start, end)
        asked = (said.start_flare if at_start else said.end_flare) if said else None
        return asked or USUAL[where_is(start if at_start else end)]

    def said(self, start: str, end: str) -> TubeBetween | None:
        """What the job says of a tube."""
        return next((t for t in self.job.between if (t.start, t.end) == (start, end)), None)

    def tube(self, before: PlacedBox | None, after: PlacedBox) -> RunTube | GeometryError:
        """The tube into a box from the box before it, or from the nose."""
        key = (before and (before.name, before.heading, before.side), after.name, after.heading, after.side)
        known = self.laid.get((*key, self.thorough))
        if known is None:
            try:
                known = self._lay(before, after)
            except GeometryError as error:
                known = error
            self.laid[(*key, self.thorough)] = known
        return known

    def _lay(self, before: PlacedBox | None, after: PlacedBox) -> RunTube:
        start_name = before.name if before else "nose"
        flares = self.flare(start_name, after.name, True), self.flare(start_name, after.name, False)
        start = (
            box_port(before, self.bench, flares[0], out=True)
            if before
            else nose_port(self.job.nose, self.bench, flares[0])
        )
        end = box_port(after, self.bench, flares[1], out=False)
        said = self.said(start_name, after.name)
        if said and said.measured is not None:
            inside_mm = _mouth_to_groove_mm(after.mounting) + (_mouth_to_groove_mm(before.mounting) if before else 0.0)
            measured = Measured(mm(said.measured) + inside_mm, tuple(rad(b) for b in said.bends))
            return RunTube(start, end, flares, measured)
        corners = said.corners_mm if said else ()
        return RunTube(start, end, flares, tube_between(start, end, self.bending, corners, self.thorough))

    def tail(self, first: PlacedBox, last: PlacedBox) -> RunTube | GeometryError:
        """The tail tube behind the last box."""
        flares = self.flare(last.name, "end", True), self.flare(last.name, "end", False)
        port = box_port(last, self.bench, flares[0], out=True)
        try:
            laid = tail_tube(port, self.job.tail, self.tail_length_mm(first.mounting, last.mounting), self.bending)
        except GeometryError as error:
            return error
        end = PortAt("end", laid.line.points_mm[-1], laid.line.directions[-1], 0.0)
        return RunTube(port, end, flares, laid)


def route(job: Job, shop: Shop, layout: str, tail_length_mm: TailLength) -> Run:
    """The cheapest run of a layout.

    ``tail_length_mm`` gives the tail tube's length for a first and a last wheelbox. Raises GeometryError where no run
    fits, JobError where sides or headings contradict each other.
    """
    names = job.layouts[layout]
    search = _Search(job, shop.bench, bending_of(job, shop), tail_length_mm)
    orders = _orders(job, names)
    runs: list[Run] = []
    errors: list[GeometryError] = []
    for order in orders:
        mountings = [job.mountings[name] for name in order]
        for sides in sides_to_try(mountings, job.motion):
            found = _best_for(search, mountings, sides)
            (errors if isinstance(found, GeometryError) else runs).append(found)  # type: ignore[arg-type]
    if not runs:
        raise max(errors, key=lambda e: e.largest_radius_mm or 0.0)
    runs.sort(key=lambda run: run.cost.weight)
    return _explained(runs, job, len(orders) > 1)


def bending_of(job: Job, shop: Shop) -> Bending:
    """What the job's former and the shop's fit-up ask of every tube."""
    bench = shop.bench
    return Bending(mm(job.former.radius), mm(job.former.grip), mm(bench.fit_up_distance), rad(bench.fit_up_angle))


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


def _mouth_to_groove_mm(mounting: Mounting) -> float:
    return mm(mounting.model.mouth_offset) - mm(mounting.model.groove_offset)


def _best_for(search: _Search, order: Sequence[Mounting], sides: Sequence[int]) -> Run | GeometryError:
    """The cheapest run for one order and one choice of sides."""
    layers = _candidates(search, order, sides)
    edges = len(layers[0]) + sum(len(a) * len(b) for a, b in itertools.pairwise(layers))
    search.thorough = edges == len(layers)  # every heading given: there is nothing to be quick about
    found = _cheapest(search, layers)
    if isinstance(found, GeometryError) and not search.thorough:
        search.thorough = True
        found = _cheapest(search, [layer[: max(1, int(math.sqrt(THOROUGH_EDGES / len(layers))))] for layer in layers])
    return found


def _cheapest(search: _Search, layers: Sequence[Sequence[PlacedBox]]) -> Run | GeometryError:
    """The cheapest path through the layered graph of ports; an error: the tube for which no heading does."""
    graph = nx.DiGraph()
    errors: list[tuple[int, GeometryError]] = []
    for depth, layer in enumerate(layers):
        befores: Sequence[PlacedBox | None] = layers[depth - 1] if depth else [None]
        for k, after in enumerate(layer):
            for j, before in enumerate(befores):
                if depth and not graph.has_node((depth, j, "out")):
                    continue
                tube = search.tube(before, after)
                if isinstance(tube, GeometryError):
                    errors.append((depth, tube))
                    continue
                start = (depth, j, "out") if depth else "nose"
                graph.add_edge(start, (depth + 1, k, "in"), weight=_cost_of([tube]).weight, tube=tube)
            if graph.has_node((depth + 1, k, "in")):
                graph.add_edge((depth + 1, k, "in"), (depth + 1, k, "out"), weight=0, box=after)
    last = len(layers)
    for k, box in enumerate(layers[-1]):
        if graph.has_node((last, k, "out")):
            tail = search.tail(layers[0][0], box)
            if isinstance(tail, GeometryError):
                errors.append((last, tail))
            else:
                graph.add_edge((last, k, "out"), "end", weight=_cost_of([tail]).weight, tube=tail)
    if not graph.has_node("end"):
        deepest = max(depth for depth, _ in errors)
        return max((e for depth, e in errors if depth == deepest), key=lambda e: e.largest_radius_mm or 0.0)
    paths = itertools.islice(nx.shortest_simple_paths(graph, "nose", "end", weight="weight"), 2)
    best, *others = [_run_along(graph, path) for path in paths]
    return Run(best.boxes, best.tubes, best.cost, (), others[0].cost if others else None)


def _run_along(graph: nx.DiGraph, path: Sequence[object]) -> Run:
    steps = [graph.edges[a, b] for a, b in itertools.pairwise(path)]
    tubes = tuple(step["tube"] for step in steps if "tube" in step)
    boxes = tuple(step["box"] for step in steps if "box" in step)
    return Run(boxes, tubes, _cost_of(tubes), (), None)


def _cost_of(tubes: Sequence[RunTube]) -> Cost:
    return Cost(
        sum(len(t.bend_angles_rad) for t in tubes),
        math.fsum(angle for t in tubes for angle in t.bend_angles_rad),
        math.fsum(t.length_mm for t in tubes),
    )


def _candidates(search: _Search, order: Sequence[Mounting], sides: Sequence[int]) -> list[list[PlacedBox]]:
    """For each wheelbox the headings worth trying: the given one, or those that its neighbours suggest."""
    nose = nose_port(search.job.nose, search.bench, "double")
    layers: list[list[Vector]] = []
    for k, (mounting, side) in enumerate(zip(order, sides, strict=True)):
        if mounting.heading is not None:
            layers.append([mounting.heading])
            continue
        behind = _aim_at(order[k - 1], sides[k - 1]) if k else Aim(nose.datum_mm)
        aims = [heading_past(mounting, side, behind, ahead=False)]
        if k + 1 < len(order):
            aims.append(heading_past(mounting, side, _aim_at(order[k + 1], sides[k + 1]), ahead=True))
        layers.append(fanned(mounting, aims))
    placed = [[with_heading(m, h, s) for h in headings] for m, s, headings in zip(order, sides, layers, strict=True)]
    _add_single_bends(search, nose, placed, order, sides)
    for mounting, layer in zip(order, placed, strict=True):
        if not layer:
            raise GeometryError(
                f"wheelbox {mounting.name!r}",
                "no heading could be found for it",
                "its neighbours must lie outside its pitch circle",
                "give its heading, or check the holes",
            )
    return placed


def _aim_at(mounting: Mounting, side: int) -> Aim:
    return Aim(rack_centre_mm(mounting), side * mm(mounting.model.pitch_radius))


def _add_single_bends(
    search: _Search, nose: PortAt, placed: list[list[PlacedBox]], order: Sequence[Mounting], sides: Sequence[int]
) -> None:
    """Add to each free box the headings that a single bend can reach from its neighbours' candidates."""
    count = len(order)
    for k, ahead in [*((k, False) for k in range(count)), *((k, True) for k in reversed(range(count - 1)))]:
        mounting = order[k]
        if mounting.heading is not None:
            continue
        if ahead:
            ports = [box_port(b, search.bench, "single", out=False) for b in placed[k + 1]]
        else:
            ports = [box_port(b, search.bench, "single", out=True) for b in placed[k - 1]] if k else [nose]
        corners = [pierced_mm(mounting, port, ahead=not ahead) for port in ports]
        reached = [heading_past(mounting, sides[k], Aim(c), ahead=ahead) for c in corners if c is not None]
        headings = without_repeats([*(b.heading for b in placed[k]), *(h for h in reached if h is not None)])
        placed[k] = [with_heading(mounting, h, sides[k]) for h in headings]


def _explained(runs: Sequence[Run], job: Job, order_free: bool) -> Run:
    """The best run, with what was chosen and how the next best compares."""
    best = runs[0]
    free = [f"heading of {box.name}" for box in best.boxes if box.mounting.heading is None]
    if all(box.mounting.side is None for box in best.boxes):
        free.insert(0, "side")
    if order_free:
        free.insert(0, "order")
    rivals = [run.cost for run in runs[1:]] + [run.next_best for run in runs if run.next_best is not None]
    return Run(best.boxes, best.tubes, best.cost, tuple(free), min(rivals, key=lambda c: c.weight, default=None))
