"""How long positions from a tape take; every network here is made up by chance.

Run from the project's root: ``python tests/bench/bench_measuring.py``. Processor time with everything loaded before,
median of 9. To be reached: 40 points and 200 readings adjusted in 50 ms, 12 points in 10 ms. The whole way, with start
values, mirror images, snooping and tolerances, is told beside it.
"""

from __future__ import annotations

import itertools
import statistics
import sys
import time
from collections.abc import Callable

sys.path.insert(0, ".")
from tests.taped_networks import network
from tubing.measuring import measured
from tubing.measuring.adjustment import adjusted

TIMES = 9
CASES = ((8, 12, 10.0), (36, 40, 50.0))  # points beside the four marks, points in all, most ms to adjust them


def main() -> int:
    """Print both times of each network; 1 where an adjustment takes longer than it may."""
    over = 0
    for beside, points, most_ms in CASES:
        net, _ = network(5, beside, 0.5)
        fit = measured(net, "bench").fit
        adjust_ms = median_ms(lambda fit=fit, net=net: adjusted(fit.unknowns, fit.x + 0.5, net.readings))
        whole_ms = median_ms(lambda net=net: measured(net, "bench"))
        print(
            f"{points} points, {len(net.readings)} readings: adjusted in {adjust_ms:.1f} ms, all in {whole_ms:.0f} ms"
        )
        over += adjust_ms > most_ms
    return int(over > 0)


def median_ms(work: Callable[[], object]) -> float:
    """Milliseconds of processor time, the median."""
    times = []
    for _ in itertools.repeat(None, TIMES):
        start = time.process_time()
        work()
        times.append(1000 * (time.process_time() - start))
    return statistics.median(times)


if __name__ == "__main__":
    sys.exit(main())
