"""The last touch to a run: free headings turned little by little while that makes it cheaper.

The graph of ports knows a few dozen headings of each wheelbox. Between them a cheaper one may lie: gentler bends, or a
tube with one bend less. Each free heading is turned both ways about its spindle, by steps that grow smaller.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from msgspec.structs import replace

from tubing.geometry.vectors import turned
from tubing.run.laying import Layer
from tubing.run.placing import PlacedBox, with_heading
from tubing.run.records import Run, RunTube, total_cost

STEPS_DEG = (4.0, 1.0, 0.25)
MOST_TURNS = 40  # headings tried for one run; a count and no clock: same job, same bytes


def polished(run: Run, layer: Layer) -> Run:
    """The run with its free headings refined by its true cost: bends, then turn with pull-in, then length.

    Never dearer than the run given. Tubes that are not clear of what is in the way, or enter a wheelbox's body, are
    not taken. Headings that the job gives are never changed.
    """
    turns = _turns(run)
    tried = 0
    turn = next(turns, None)
    while turn is not None and tried < MOST_TURNS:
        k, by_rad = turn
        other = _turned(run, k, by_rad, layer)
        tried += 1
        if other is not None and other.cost.weight < run.cost.weight:
            run = other  # and once more the same way
        else:
            turn = next(turns, None)
    return run


def _turns(run: Run) -> Iterator[tuple[int, float]]:
    """Which box to turn, and by how much: every free one, both ways, by smaller and smaller steps."""
    free = [k for k, box in enumerate(run.boxes) if box.mounting.heading is None]
    for step_deg in STEPS_DEG:
        for k in free:
            for way in (1.0, -1.0):
                yield k, way * math.radians(step_deg)


def _turned(run: Run, k: int, by_rad: float, layer: Layer) -> Run | None:
    """The run with one box turned about its spindle; None: its tubes cannot be laid so."""
    box = run.boxes[k]
    moved = with_heading(box.mounting, turned(box.heading, box.mounting.spindle, by_rad), box.side)
    boxes = (*run.boxes[:k], moved, *run.boxes[k + 1 :])
    tubes = list(run.tubes)
    for place in (k, k + 1):
        tube = _laid(boxes, place, layer)
        if tube is None:
            return None
        tubes[place] = tube
    if layer.in_a_body(boxes, tubes) is not None:
        return None
    return replace(run, boxes=boxes, tubes=tuple(tubes), cost=total_cost(tubes))


def _laid(boxes: Sequence[PlacedBox], place: int, layer: Layer) -> RunTube | None:
    """The tube into the box at this place, or the tail tube behind the last; None: not laid, or not clear."""
    if place == len(boxes):
        found = layer.direct_tail(boxes[0], boxes[-1])
    else:
        found = layer.direct(boxes[place - 1] if place else None, boxes[place])
    return found if isinstance(found, RunTube) else None
