"""CBC as a second opinion on the other core: it may say "impossible" before HiGHS does.

Only that word counts. It is the same whoever says it first, while a plan of the faster one would make the answer depend
on the machine.
"""

from __future__ import annotations

import subprocess
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pulp

IMPOSSIBLE = ("Infeasible", "Integer infeasible")  # how the first line of its answer begins


class SecondOpinion:
    """CBC in a process of its own, which ends with this."""

    def __init__(self, lp: Any, time_limit_s: float) -> None:
        self.process: subprocess.Popen[bytes] | None = None
        self.folder = TemporaryDirectory(prefix="nest-")
        solver = pulp.PULP_CBC_CMD(msg=False, _skip_v4_deprecation=True)
        if not solver.available():
            return
        problem, self.answer = Path(self.folder.name, "nest.mps"), Path(self.folder.name, "nest.sol")
        lp.writeMPS(str(problem), rename=1)
        words = [solver.path, str(problem), "-sec", f"{max(time_limit_s, 1.0):.0f}", "-timeMode", "elapsed"]
        words += ["-allow", "0.99", "-solve", "-solution", str(self.answer)]
        self.process = subprocess.Popen(
            words, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )

    def impossible(self) -> bool:
        """Whether it has ended, and found that there is no solution."""
        if self.process is None or self.process.poll() != 0 or not self.answer.exists():
            return False
        return self.answer.read_text(encoding="ascii", errors="replace").startswith(IMPOSSIBLE)

    def stop(self) -> None:
        """End it, whatever it is doing, and take its files away."""
        if self.process is not None:
            self.process.kill()
            self.process.wait()
        self.folder.cleanup()
