"""How long a whole ``plan`` takes beside importing the bare libraries, both as processes of their own.

Run from the project's root: ``python tests/bench/bench_plan.py``; the ratio is to stay at 1.6 or below. Both take
turns, so that a machine that slows down slows both; what counts is the best of each, the median is told beside it. Wall
time and processor time are both measured. Each is run once before, so that both find their compiled modules, as any
second run of an installed program does; they are kept in a folder of this benchmark's own.
"""

from __future__ import annotations

import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).parent.parent.parent
BARE = [sys.executable, "-c", "import networkx, pulp, pint, rich"]
PLAN = [sys.executable, "cli.py", "plan", "data/jobs/lined-up-twin.toml"]
MOST = 1.6


def seconds(command: list[str], compiled: str) -> tuple[float, float]:
    """Wall and processor seconds of one process."""
    environment = {k: v for k, v in os.environ.items() if k not in ("PYTHONDONTWRITEBYTECODE", "PYTHONPATH")}
    environment["PYTHONPYCACHEPREFIX"] = compiled
    before, start = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    subprocess.run(command, cwd=ROOT, env=environment, stdout=subprocess.DEVNULL, check=True)
    wall, after = time.perf_counter() - start, resource.getrusage(resource.RUSAGE_CHILDREN)
    return wall, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def main(times: int) -> int:
    """Print a table; 1 where the best wall times are further apart than they may be."""
    with tempfile.TemporaryDirectory() as compiled:
        for command in (BARE, PLAN):
            seconds(command, compiled)
        pairs = [(seconds(BARE, compiled), seconds(PLAN, compiled)) for _ in range(times)]
    ratios = {}
    for name, kind in (("processor", 1), ("wall", 0)):
        bare, plan = [b[kind] for b, _ in pairs], [p[kind] for _, p in pairs]
        for word, of in (("best", min), ("median", statistics.median)):
            ratio = ratios[name, word] = of(plan) / of(bare)
            print(f"{name:<10} {word:<7} bare {of(bare):6.3f} s   plan {of(plan):6.3f} s   ratio {ratio:.2f}")
    best = ratios["wall", "best"]
    print(f"ratio of the best wall times {best:.2f}, to stay at {MOST} or below")
    return int(best > MOST)


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 15))
