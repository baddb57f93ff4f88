"""One order and one choice of sides as a graph of ports, and its cheapest path.

Ports with their candidate headings are the nodes, tubes and throughs the edges. A tube starts as a look: the least it
can cost. Only where the cheapest path so far asks for a tube is more found out about it, step by step: the direct
tube; where that is not clear, which costs two bends at least, a tube of two bends led clear; where there is none, a
tube of more bends. What the search may spend on ways round is counted, for it must end in time where nothing fits.
"""

from __future__ import annotations

import itertools
import math
from collections import Counter
from collections.abc import Sequence
from enum import IntEnum
from typing import Any

import networkx as nx
from msgspec import Struct

from tubing.errors import ClearanceError, GeometryError
from tubing.geometry.quick_look import Look, Looks, least_rad
from tubing.geometry.vectors import distance_mm
from tubing.run.laying import Layer
from tubing.run.placing import PlacedBox
from tubing.run.records import Run, RunCost, RunTube, total_cost

THOROUGH = 2  # headings a wheelbox that are tried in full where no gentle tube fits
NO_LOOK = Look(0, 0.0, 0.0)  # of a tube that has not been looked at: it may cost nothing
AHEAD = 200  # tubes that are looked at together for what is in their way
EACH_SHIFTED, EACH_LED = 20, 2  # searches for ways round of each two ports: of two bends, of more
SAME_MM = 1e-6
MOST_IN_BODIES = 40  # runs that may be found to enter a box's body before a search ends

Edge = tuple[Any, Any]


class Known(IntEnum):
    """What is known of a tube."""

    LOOKED = 0  # the least it can cost
    BLOCKED = 1  # its direct tube is not clear
    CROOKED = 2  # nor is any of two bends
    LAID = 3


class Field(Struct):
    """One order and one choice of sides: the candidates of each box, and what each tube would cost at least."""

    layers: tuple[tuple[PlacedBox, ...], ...]
    looks: tuple[Looks, ...]  # of the tubes into each layer
    direct_mm: float  # the way from the nose to the first box and on from box to box, straight
    settled: bool = False  # whether tubes of two bends have been looked at
    most_rad: float = math.pi / 2  # of a bend that is looked at

    @classmethod
    def of(cls, layer: Layer, layers: Sequence[Sequence[PlacedBox]], most_rad: float = math.pi / 2) -> Field:
        """The field of the boxes in order, each with its candidates."""
        befores: list[Sequence[PlacedBox | None]] = [[None], *layers]
        looks = tuple(layer.looks(b, a, most_rad) for b, a in zip(befores, layers, strict=False))
        stops = [layer.job.nose.position_mm, *(boxes[0].mounting.seat.rack_centre_mm for boxes in layers)]
        direct_mm = math.fsum(distance_mm(a, b) for a, b in itertools.pairwise(stops))
        return cls(tuple(tuple(boxes) for boxes in layers), looks, direct_mm, most_rad=most_rad)

    @property
    def free(self) -> bool:
        """Whether the heading of any box was left free."""
        return any(boxes[0].mounting.heading is None for boxes in self.layers)

    @property
    def bound(self) -> float:
        """No run costs less, by :attr:`RunCost.rough_rad`; infinite: there is none."""
        return least_rad(self.looks)

    def settle(self) -> None:
        """Look at tubes of two bends too."""
        for looks in self.looks:
            looks.settle()
        self.settled = True

    def thorough(self) -> Field:
        """The same with fewer headings, and tubes that are only known once they are laid out in full."""
        layers = tuple(layer[:THOROUGH] for layer in self.layers)
        counts = [1, *map(len, layers)]
        looks = tuple(Looks.known([[NO_LOOK] * n for _ in range(m)]) for m, n in itertools.pairwise(counts))
        return Field(layers, looks, self.direct_mm, settled=True)


class PortGraph:
    """The graph of one field, with what is known of its tubes so far."""

    def __init__(self, layer: Layer, field: Field, spent: Counter[tuple[object, ...]]) -> None:
        self.layer, self.field, self.spent = layer, field, spent
        self.errors: dict[int, list[tuple[Known, GeometryError]]] = {}  # by which tube of the run
        self._left = [0] * (len(field.layers) + 1)  # tubes that may still do, by which tube of the run
        self._queues: list[list[tuple[int, int]]] = []  # pairs whose way has not been looked at, the cheapest first
        self._graph = nx.DiGraph()
        self._graph.add_nodes_from(["nose", "end"])
        self._build()
        self._seeking = True  # whether ways round may be sought

    def run(self, rival: bool = True) -> Run | NoRun | None:
        """The cheapest run; or the tube that stands in every way; None: the detour budget was used up.

        ``rival``: whether its next best is sought too.
        """
        steps = self._cheapest()
        if steps is None:
            return self._why_not()
        tubes = self._tubes(steps)
        return Run(self._boxes(steps), tubes, total_cost(tubes), (), self._next_best(steps) if rival else None)

    def _build(self) -> None:
        layers = self.field.layers
        for depth, (looks, afters) in enumerate(zip(self.field.looks, layers, strict=True)):
            befores: Sequence[PlacedBox | None] = layers[depth - 1] if depth else [None]
            queue = looks.cheapest()
            for j, k in queue:
                look = looks.at(j, k)
                assert look is not None
                ports = (befores[j], afters[k])
                self._graph.add_edge(*_edge(depth, j, k), weight=_weight(look), look=look, ports=ports, known=0)
            for k in range(len(afters)):
                self._graph.add_edge((depth + 1, k, "in"), (depth + 1, k, "out"), weight=0)
            self._queues.append(queue)
            self._left[depth] = len(queue)
        last = len(layers)
        for k, box in enumerate(layers[-1]):
            self._graph.add_edge((last, k, "out"), "end", weight=0, look=NO_LOOK, ports=(box, None), known=0)
        self._left[last] = len(layers[-1])

    def _cheapest(self) -> list[Edge] | None:
        """The tubes of the cheapest path once all of them are laid, and none enters a body; None: no path is left.

        While a box's heading is free its body is not known; a tube that the body then stands in is given up.
        """
        for _ in range(MOST_IN_BODIES):
            steps = self._cheapest_laid()
            if steps is None:
                return None
            wrong = self.layer.too_near(self._boxes(steps), self._tubes(steps))
            if wrong is None:
                return steps
            step = steps[wrong[0]]
            self.errors.setdefault(_depth(step), []).append((Known.LAID, wrong[1]))
            self._give_up(step)
        return None

    def _cheapest_laid(self) -> list[Edge] | None:
        while True:
            try:
                path = nx.shortest_path(self._graph, "nose", "end", weight="weight")
            except nx.NetworkXNoPath:
                return None
            steps = [step for step in itertools.pairwise(path) if "ports" in self._graph.edges[step]]
            unknown = next((step for step in steps if self._graph.edges[step]["known"] < Known.LAID), None)
            if unknown is None:
                return steps
            self._find_out(unknown)

    def _boxes(self, steps: Sequence[Edge]) -> tuple[PlacedBox, ...]:
        return tuple(self._graph.edges[step]["ports"][1] for step in steps[:-1])

    def _tubes(self, steps: Sequence[Edge]) -> tuple[RunTube, ...]:
        return tuple(self._graph.edges[step]["tube"] for step in steps)

    def _find_out(self, step: Edge) -> None:
        """Take one tube one step further."""
        edge = self._graph.edges[step]
        before, after = edge["ports"]
        if edge["known"] == Known.LOOKED and after is None:
            self._note(step, self.layer.direct_tail(self.field.layers[0][0], before))
        elif edge["known"] == Known.LOOKED:
            self._look_ahead(step)
            if edge["known"] == Known.LOOKED:
                self._note(step, self.layer.direct(before, after))
        elif not self._may_spend(step):
            self._give_up_alike(step)
        elif after is None:
            self._note(step, self.layer.tail(self.field.layers[0][0], before))
        elif edge["known"] == Known.BLOCKED:
            direct = self.layer.direct(before, after)  # looked at ahead, its ports were not
            self._note(step, direct or self.layer.of_two_bends(before, after))
        else:
            self._note(step, self.layer.tube(before, after))

    def _note(self, step: Edge, found: RunTube | GeometryError | None) -> None:
        """Write down what was found out."""
        edge = self._graph.edges[step]
        if isinstance(found, RunTube):
            edge.update(tube=found, weight=found.cost.weight, known=Known.LAID)
        elif found is None:
            self._mark(edge, Known(edge["known"] + 1))
        else:
            after = edge["ports"][1]
            known = edge["known"]
            if known == Known.BLOCKED and after and found is self.layer.direct(*edge["ports"]):
                known = Known.LOOKED
            self.errors.setdefault(_depth(step), []).append((known, found))
            self._give_up(step)

    def _mark(self, edge: dict[str, Any], known: Known) -> None:
        """A tube that is not clear costs the more bends for it: two at least, then three; a tail tube one."""
        look = edge["look"]
        bends = max(look.bends, known + 1 if edge["ports"][1] else known)
        edge.update(known=known, weight=_weight(Look(bends, look.turn_rad, look.length_mm)))

    def _give_up(self, step: Edge) -> None:
        self._graph.remove_edge(*step)
        self._left[_depth(step)] -= 1

    def _look_ahead(self, step: Edge) -> None:
        """Look at the next of the cheapest tubes together, until this one is among them."""
        depth = _depth(step)
        queue = self._queues[depth]
        edge = self._graph.edges[step]
        names = tuple(port.name if port else "nose" for port in edge["ports"])
        while queue and not edge.get("ahead"):
            pairs, queue[:AHEAD] = queue[:AHEAD], []
            blocked = self.layer.entering(self.field.looks[depth], names, pairs)  # type: ignore[arg-type]
            for (j, k), is_blocked in zip(pairs, blocked, strict=True):
                if not self._graph.has_edge(*_edge(depth, j, k)):  # given up, or left out for the next best
                    continue
                other = self._graph.edges[_edge(depth, j, k)]
                other["ahead"] = True
                if is_blocked and other["known"] == Known.LOOKED:
                    self._mark(other, Known.BLOCKED)

    def _may_spend(self, step: Edge) -> bool:
        """Whether one more way round may be sought between two ports; counts it."""
        key, pair, led = self._key(step)
        if key in self.spent:
            return True
        if not self._seeking or self.spent[pair] >= (EACH_LED if led else EACH_SHIFTED):
            return False
        self.spent[key] += 1
        self.spent[pair] += 1
        return True

    def _key(self, step: Edge) -> tuple[tuple[object, ...], tuple[object, ...], bool]:
        """What a search for a way round is counted by: itself, and its two ports; whether it is a long one."""
        edge = self._graph.edges[step]
        before, after = edge["ports"]
        pair = (edge["known"], before.name if before else "nose", after.name if after else "end")
        led = edge["known"] == Known.CROOKED or after is None
        return (*pair, *((box.heading, box.side) for box in (before, after) if box)), pair, led

    def _give_up_alike(self, step: Edge) -> None:
        """Give up this tube and all between the same ports that would need the same search."""
        known, depth = self._graph.edges[step]["known"], _depth(step)
        for other in [e for e in self._graph.edges if "ports" in self._graph.edges[e] and _depth(e) == depth]:
            if self._graph.edges[other]["known"] == known and self._key(other)[0] not in self.spent:
                self._give_up(other)

    def _why_not(self) -> NoRun | None:
        """The error of the tube that stands in every way: of those tried, the one that came furthest."""
        if not self.errors:
            return None
        gone = [depth for depth, left in enumerate(self._left) if not left and depth in self.errors]
        depth = gone[0] if gone else max(self.errors, key=lambda d: (len(self.errors[d]), -d))
        furthest = max(known for known, _ in self.errors[depth])
        way_mm = self.field.direct_mm
        error = to_tell([NoRun(known, error, way_mm) for known, error in self.errors[depth] if known == furthest])
        if 0 < depth < len(self.field.layers) and not isinstance(error, ClearanceError):
            before, after = (self.field.layers[k][0] for k in (depth - 1, depth))
            error = self._too_near(before, after, error) or error
        return NoRun(furthest, error, way_mm)

    def _too_near(self, before: PlacedBox, after: PlacedBox, error: GeometryError) -> GeometryError | None:
        """The error of two boxes that stand too near for a straight tube, where no other joins them either."""
        seats = before.mounting.seat, after.mounting.seat
        apart_mm = distance_mm(seats[0].rack_centre_mm, seats[1].rack_centre_mm)
        straight_mm = sum(seat.groove_offset_mm for seat in seats) + self.layer.straight_mm(before.name, after.name)
        needed_mm = math.hypot(
            straight_mm, before.side * seats[0].pitch_radius_mm - after.side * seats[1].pitch_radius_mm
        )
        if apart_mm >= needed_mm:
            return None
        radius_mm = error.largest_radius_mm
        return GeometryError(
            f"wheelboxes {before.name!r} and {after.name!r}",
            f"they stand {apart_mm:.1f} mm apart, spindle to spindle, and no tube of radius "
            f"{self.layer.bending.radius_mm:.4g} mm (as bent) joins them",
            f"a straight tube between them needs {needed_mm:.1f} mm"
            + (f", or a radius of {math.floor(radius_mm * 10) / 10:g} mm at most" if radius_mm else ""),
            "move them apart, or plan a layout without one of them",
            radius_mm,
        )

    def _next_best(self, steps: Sequence[Edge]) -> RunCost | None:
        """What the cheapest path costs that leaves out one of these tubes; None: there is none.

        No more ways round are sought for it: of tubes that are not clear, it has those that the search had led round.
        """
        self._seeking = False
        costs: list[RunCost] = []
        best = [(*step, dict(self._graph.edges[step])) for step in steps]
        for step in steps:
            self._graph.remove_edge(*step)
            other = self._cheapest()
            if other is not None:
                costs.append(total_cost(self._tubes(other)))
            # A tube of the best run may have been given up too: beside others it can be one too many.
            self._graph.add_edges_from(best)
        return min(costs, key=lambda cost: cost.weight, default=None)


class NoRun(Struct, frozen=True):
    """Why a field has no run."""

    known: Known  # how far the tubes came that stand in every way
    error: GeometryError
    direct_mm: float  # the field's way, straight


def to_tell(reasons: Sequence[NoRun]) -> GeometryError:
    """The error to tell of several: first a tube that could not be led round something, then one that nothing joins.

    Of the first, the one with the least clearance missing, of the others that of the shortest order, and of its sides
    the one for which the largest radius would fit.
    """
    led = [r.error for r in reasons if isinstance(r.error, ClearanceError) and r.known > Known.LOOKED]
    alone = [r for r in reasons if not isinstance(r.error, ClearanceError)]
    if alone and not led:
        shortest_mm = min(r.direct_mm for r in alone) + SAME_MM
        return max((r.error for r in alone if r.direct_mm <= shortest_mm), key=lambda e: e.largest_radius_mm or 0.0)
    blocked = led or [r.error for r in reasons if isinstance(r.error, ClearanceError)]
    return min(blocked, key=lambda e: e.missing_mm)


def _edge(depth: int, start: int, end: int) -> Edge:
    """The tube into a box from a heading of the one before; depth 0: from the nose."""
    return ((depth, start, "out") if depth else "nose", (depth + 1, end, "in"))


def _depth(step: Edge) -> int:
    """Which tube of the run an edge is."""
    return 0 if step[0] == "nose" else int(step[0][0])


def _weight(look: Look) -> int:
    return RunCost(look.bends, look.turn_rad, look.length_mm).weight
