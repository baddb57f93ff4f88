"""How long ``sheet`` takes on the demo of three wheelboxes, as a whole process, and how large its page is.

Run: python tests/bench/bench_sheet.py [JOB]
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).parents[2]
RUNS = 7


def main() -> None:
    job = sys.argv[1] if len(sys.argv) > 1 else str(ROOT / "data" / "jobs" / "curved-scuttle.toml")
    seconds = []
    with tempfile.TemporaryDirectory() as room:
        for run in range(RUNS):
            folder = Path(room) / str(run)
            start = time.perf_counter()
            words = [sys.executable, str(ROOT / "cli.py"), "sheet", job, "-o", str(folder)]
            subprocess.run(words, check=True, capture_output=True)
            seconds.append(time.perf_counter() - start)
        size = (folder / "sheet.html").stat().st_size
    print(f"sheet: {statistics.median(seconds):.2f} s (median of {RUNS}, {min(seconds):.2f} to {max(seconds):.2f})")
    print(f"page: {size / 1000:.0f} kB")


if __name__ == "__main__":
    main()
