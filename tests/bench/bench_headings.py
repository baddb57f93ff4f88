"""How long vehicles with free headings take to plan, and whether a global optimiser finds better headings.

Run from the project's root: ``python tests/bench/bench_headings.py [VEHICLES [OPINIONS]]``. Whole plans of vehicles
made up by chance, twins to four boxes, in this process with everything loaded before; processor time, of which the
median is to stay under 0.2 s and the worst under 2 s. Of so many of them scipy's differential evolution gives a second
opinion: it is to find no bend fewer and no half degree less.
"""

from __future__ import annotations

import math
import statistics
import sys

sys.path.insert(0, ".")
from tests.bench.bench_run import planned
from tests.free_vehicles import SHOP, free_vehicle, second_opinion
from tubing.errors import FitError
from tubing.plan import plan

MEDIAN_MOST_S, WORST_MOST_S = 0.2, 2.0
BETTER_DEG = 0.5


def main(vehicles: int, opinions: int) -> int:
    """Print both tables; 1 where a figure is over what it may be."""
    planned(free_vehicle(0), SHOP)
    times = sorted(planned(free_vehicle(seed, (2, 3, 4)), SHOP)[0] for seed in range(vehicles))
    print(f"{vehicles} vehicles: median {statistics.median(times):.2f} s, worst {times[-1]:.2f} s")
    better = [seed for seed in range(opinions) if _worse(seed)]
    print(f"second opinion on {opinions}: better in {len(better)} {better or ''}")
    return int(bool(better) or statistics.median(times) > MEDIAN_MOST_S or times[-1] > WORST_MOST_S)


def _worse(seed: int) -> bool:
    """Whether the second opinion has a better run."""
    job = free_vehicle(seed)
    try:
        cost = plan(job, SHOP).run.cost
    except FitError:
        return False
    other = second_opinion(job)
    if other is None:
        return False
    return other[0] < cost.bends or (other[0] == cost.bends and other[1] < math.degrees(cost.turn_rad) - BETTER_DEG)


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 60, int(sys.argv[2]) if len(sys.argv) > 2 else 50))
