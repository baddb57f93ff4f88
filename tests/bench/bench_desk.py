"""How long the desk takes from a change to its picture, and whether its memory grows: medians, in one run.

    python tests/bench/bench_desk.py [LOOKS]

Each change is answered by the planning process alone; processor time is its own, wall time is what a fitter waits
beside the page's 50 ms after the last key. LOOKS: how many plans the memory is watched over, 2000 if left out.
"""

from __future__ import annotations

import asyncio
import re
import statistics
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent.parent))

from tubing.desk.looking import Task
from tubing.desk.worker import Looker
from tubing.inputs.shop_file import data_folder

RUNS = 15
JOBS = (
    "lined-up-twin",
    "round-the-corner",
    "inch-launch",
    "behind-the-heater",
    "taped-estate",
    "works-truck",
    "curved-scuttle",
)


def task(name: str, k: int, text: str) -> Task:
    """A job with a remark that makes its text new, so that nothing is remembered."""
    return Task(f"{name}.toml", f"{text}\n# {k}\n", text, "", "", f"/tmp/{name}.toml")


def processor_s(pid: int) -> float:
    """Processor time of a process so far, [s]; 0 where the system does not tell it so."""
    try:
        fields = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
    except OSError:
        return 0.0
    return (int(fields[11]) + int(fields[12])) / 100


def memory_mb(pid: int) -> float:
    """What a process holds in memory, [MB]."""
    try:
        found = re.search(r"VmRSS:\s+(\d+)", Path(f"/proc/{pid}/status").read_text())
    except OSError:
        return 0.0
    return int(found[1]) / 1024 if found else 0.0


async def main(looks: int) -> None:
    """One line for each demo job, then the memory."""
    looker = Looker()
    pid = looker._now.process.pid or 0
    texts = {name: (data_folder() / "jobs" / f"{name}.toml").read_text(encoding="utf-8") for name in JOBS}
    try:
        for name, text in texts.items():
            await looker.look(task(name, -1, text))
            wall, own = [], []
            for k in range(RUNS):
                started, before = time.perf_counter(), processor_s(pid)
                found = await looker.look(task(name, k, text))
                assert found is not None
                assert not found.error
                wall.append(time.perf_counter() - started)
                own.append(processor_s(pid) - before)
            waits, works = (1000 * statistics.median(times) for times in (wall, own))
            print(f"{name:20} wall {waits:6.0f} ms  processor {works:6.0f} ms")
        started_mb = memory_mb(pid)
        for k in range(looks):
            await looker.look(task("lined-up-twin", 1000 + k, texts["lined-up-twin"]))
            if k in (looks // 4, looks // 2, looks - 1):
                print(f"memory after {k + 1:5} plans {memory_mb(pid):6.1f} MB, at the start {started_mb:6.1f} MB")
    finally:
        looker.close()


if __name__ == "__main__":
    asyncio.run(main(int(sys.argv[1]) if len(sys.argv) > 1 else 2000))
