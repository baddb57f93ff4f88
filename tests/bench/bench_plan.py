"""How long a whole ``plan`` takes beside importing the bare libraries, both as processes of their own.

Run from the project's root: ``python tests/bench/bench_plan.py [PAIRS] [JOB]``; the ratio of the median wall times is
to stay at 1.6 or below. Both take turns, so that a machine that slows down slows both. Processor time is told beside
it. Each is run once before, so that both find their compiled modules, as they do after the README's first command; they
are kept in a folder of this benchmark's own. Run it without the ``bench`` extra: pulp imports every solver it finds.
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
MOST = 1.6


def seconds(command: list[str], compiled: str) -> tuple[float, float]:
    """Wall and processor seconds of one process."""
    environment = {k: v for k, v in os.environ.items() if k not in ("PYTHONDONTWRITEBYTECODE", "PYTHONPATH")}
    environment["PYTHONPYCACHEPREFIX"] = compiled
    before, start = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    subprocess.run(command, cwd=ROOT, env=environment, stdout=subprocess.DEVNULL, check=True)
    wall, after = time.perf_counter() - start, resource.getrusage(resource.RUSAGE_CHILDREN)
    return wall, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def main(times: int, job: str) -> int:
    """Print medians of both times; 1 where the ratio of the median wall times is above what it may be."""
    plan_command = [sys.executable, "cli.py", "plan", job]
    with tempfile.TemporaryDirectory() as compiled:
        for command in (BARE, plan_command):
            seconds(command, compiled)
        pairs = [(seconds(BARE, compiled), seconds(plan_command, compiled)) for _ in range(times)]
    ratio = 0.0
    for name, kind in (("processor", 1), ("wall", 0)):
        bare, plan = (statistics.median(pair[which][kind] for pair in pairs) for which in (0, 1))
        ratio = plan / bare
        print(f"{name:<10} median of {times}: bare {bare:6.3f} s   plan {plan:6.3f} s   ratio {ratio:.2f}")
    print(f"ratio of the median wall times {ratio:.2f}, to stay at {MOST} or below")
    return int(ratio > MOST)


if __name__ == "__main__":
    pairs_wanted = int(sys.argv[1]) if len(sys.argv) > 1 else 15
    sys.exit(main(pairs_wanted, sys.argv[2] if len(sys.argv) > 2 else "data/jobs/lined-up-twin.toml"))
