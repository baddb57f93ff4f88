"""Headings all round the circle, thinned to those that cheap runs use.

The candidates of :mod:`tubing.run.headings` are the likely ones. A grid round each spindle holds the unlikely ones too;
what the cheapest run through each of them costs tells which are worth laying out.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from tubing.geometry.quick_look import Looks, all_costs_rad, cheapest_way
from tubing.geometry.vectors import turned
from tubing.run.laying import Layer
from tubing.run.placing import PlacedBox, with_heading
from tubing.run.port_graph import Field

CIRCLE_DEG = tuple(range(6, 360, 6))  # the grid
CLOSE_DEG = (-2.0, 2.0)  # round those worth it
KEPT = 24  # headings of one wheelbox that are laid out
A_BEND_RAD = math.radians(30)  # what a bend counts as where gentle ways are sought
APART = 2 * math.sin(math.radians(1) / 2)  # of two headings that are kept, as unit vectors


def on_a_grid(layer: Layer, field: Field) -> tuple[Field, tuple[PlacedBox, ...] | None]:
    """The field with headings all round the circle beside its own, the worthwhile ones of both; and the gentlest way.

    The gentlest way turns little though it may have a bend more, which refining can spare it; None: there is no way.
    A box with one heading keeps it. What is in the way is not looked at here.
    """
    layers = [[*boxes, *_turned(boxes[:1], CIRCLE_DEG)] for boxes in field.layers]
    kept = _worthwhile(layers, _looks(layer, layers, field.most_rad))
    layers = [[*boxes, *_turned(boxes, CLOSE_DEG)] for boxes in kept]
    looks = _looks(layer, layers, field.most_rad)
    found = Field.of(layer, _worthwhile(layers, looks), field.most_rad)
    found.settle()
    gentle = cheapest_way([each.costs_rad(A_BEND_RAD) for each in looks])
    return found, tuple(boxes[k] for boxes, k in zip(layers, gentle, strict=True)) if gentle else None


def _looks(layer: Layer, layers: Sequence[Sequence[PlacedBox]], most_rad: float) -> list[Looks]:
    befores: list[Sequence[PlacedBox | None]] = [[None], *layers]
    looks = [layer.looks(before, after, most_rad) for before, after in zip(befores, layers, strict=False)]
    for each in looks:
        each.settle()
    return looks


def _turned(boxes: Sequence[PlacedBox], by_deg: Sequence[float]) -> list[PlacedBox]:
    """Each of the boxes turned about its spindle by each angle; none where the heading is given."""
    if boxes[0].mounting.heading is not None:
        return []
    return [
        with_heading(box.mounting, turned(box.heading, box.mounting.spindle, math.radians(by)), box.side)
        for box in boxes
        for by in by_deg
    ]


def _worthwhile(layers: Sequence[Sequence[PlacedBox]], looks: Sequence[Looks]) -> list[list[PlacedBox]]:
    """Of each box the headings that the cheapest ways go through, no two close together."""
    return [_apart(boxes, costs) for boxes, costs in zip(layers, all_costs_rad(looks), strict=True)]


def _apart(boxes: Sequence[PlacedBox], costs_rad: Any) -> list[PlacedBox]:
    kept: list[PlacedBox] = []
    for k in costs_rad.argsort(kind="stable").tolist():
        if len(kept) == KEPT or not math.isfinite(costs_rad[k]):
            break
        if all(math.dist(boxes[k].heading, other.heading) > APART for other in kept):
            kept.append(boxes[k])
    return kept or list(boxes[:1])
