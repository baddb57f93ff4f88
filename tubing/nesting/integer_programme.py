"""Integer programmes: stated through PuLP, solved by HiGHS in process, with CBC beside it where a proof may be long.

Imported only where one is needed.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Sequence
from threading import Thread
from typing import Any

import highspy
import pulp

from tubing.nesting.records import Proof
from tubing.nesting.second_opinion import SecondOpinion

POLL_S = 0.05
ALONE_S = 1.0  # a programme that HiGHS solves in this time needs no second opinion

# Keyed on ``sol_status``, never on ``status``: that reads "Optimal" when only the time limit stopped the solve.
PROOF_OF = {
    pulp.LpSolutionOptimal: Proof.OPTIMAL,
    pulp.LpSolutionIntegerFeasible: Proof.FEASIBLE,
    pulp.LpSolutionInfeasible: Proof.IMPOSSIBLE,
}


class QuietHighs(highspy.Highs):
    """HiGHS that says nothing, not even its name, and can be stopped from another thread."""

    def enableCallbacks(self) -> None:  # noqa: N802 - highspy's name
        """Silence it before the first thing that would print."""
        self.setOptionValue("output_flag", False)
        super().enableCallbacks()  # type: ignore[no-untyped-call]


class StoppableHighs(pulp.HiGHS):  # type: ignore[misc]
    """PuLP's door to HiGHS, solving beside the main thread so that an interrupt is heard."""

    def __init__(self, time_limit_s: float, gap: float, nodes: int, waiting: Callable[[], None], doubted: bool) -> None:
        super().__init__(msg=False, timeLimit=max(time_limit_s, 0.01), gapAbs=gap, gapRel=0.0, threads=1)
        self.nodes, self.waiting, self.doubted = nodes, waiting, doubted
        self.second: SecondOpinion | None = None
        self.impossible = False

    def createAndConfigureSolver(self, lp: Any) -> None:  # noqa: N802 - PuLP's name
        """A silent solver with our options."""
        lp.solverModel = QuietHighs()  # type: ignore[no-untyped-call]
        lp.solverModel.HandleUserInterrupt = True
        options = {"mip_abs_gap": self.gapAbs, "mip_rel_gap": 0.0, "threads": 1, "time_limit": self.timeLimit}
        options["mip_max_nodes"] = self.nodes
        for name, value in options.items():
            lp.solverModel.setOptionValue(name, value)

    def callSolver(self, lp: Any) -> None:  # noqa: N802 - PuLP's name
        """Solve; the main thread looks up now and then, and stops the solver when it is interrupted."""
        worker = Thread(target=lp.solverModel.run, daemon=True)
        worker.start()
        started_s = time.monotonic()
        try:
            while worker.is_alive() and not self.impossible:
                worker.join(POLL_S)
                self.waiting()
                self._ask_second(lp, time.monotonic() - started_s)
        finally:
            if self.second is not None:
                self.second.stop()
            if worker.is_alive():
                lp.solverModel.cancelSolve()
                worker.join()

    def _ask_second(self, lp: Any, passed_s: float) -> None:
        """After a while start CBC on the same programme, then hear what it says."""
        if self.second is not None:
            self.impossible = self.second.impossible()
        elif self.doubted and passed_s > ALONE_S:
            self.second = SecondOpinion(lp, self.timeLimit - passed_s)

    def findSolutionValues(self, lp: Any) -> tuple[int, int]:  # noqa: N802 - PuLP's name
        """Values and verdict; PuLP knows no word for a limit on nodes."""
        if self.impossible:
            return pulp.LpStatusInfeasible, pulp.LpSolutionInfeasible
        if lp.solverModel.getModelStatus() != highspy.HighsModelStatus.kSolutionLimit:
            status: tuple[int, int] = super().findSolutionValues(lp)
            return status
        if lp.solverModel.getInfo().primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
            return pulp.LpStatusNotSolved, pulp.LpSolutionNoSolutionFound
        for variable, value in zip(lp.variables(), lp.solverModel.getSolution().col_value, strict=True):
            variable.varValue = value
        return pulp.LpStatusOptimal, pulp.LpSolutionIntegerFeasible


class Programme:
    """Least ``sum cost x`` over whole numbers ``0 <= x <= most``, with rows of whole coefficients."""

    def __init__(self, costs: Sequence[int], most: Sequence[int]) -> None:
        self.model = pulp.LpProblem("nest", pulp.LpMinimize)
        self.variables = [self.model.add_variable(f"x{i}", 0, top, pulp.LpInteger) for i, top in enumerate(most)]
        self.model += pulp.LpAffineExpression(zip(self.variables, costs, strict=True))

    def row(self, terms: Iterable[tuple[int, float]], sense: str, right: float) -> None:
        """Add a row; ``terms`` are variable and coefficient, ``sense`` one of ``=``, ``<``, ``>``."""
        left = pulp.LpAffineExpression([(self.variables[i], c) for i, c in terms])
        senses = {"=": pulp.LpConstraintEQ, "<": pulp.LpConstraintLE, ">": pulp.LpConstraintGE}
        self.model += pulp.LpConstraint(left, sense=senses[sense], rhs=right)

    def solve(
        self,
        time_limit_s: float,
        gap: float = 0.99,
        nodes: int = 2**31 - 1,
        waiting: Callable[[], None] = lambda: None,
        doubted: bool = False,
    ) -> tuple[Proof, list[int] | None]:
        """Verdict and values. ``gap``: costs are whole, so nothing within less than one can be better.

        ``doubted``: it may well have no solution, so CBC is asked as well when it lasts.
        """
        self.model.solve(StoppableHighs(time_limit_s, gap, nodes, waiting, doubted))
        verdict = PROOF_OF.get(self.model.sol_status)
        if verdict is None or verdict is Proof.IMPOSSIBLE:
            return verdict or Proof.FEASIBLE, None
        # A variable that no row and no cost mentions has no value; 0 is as good as any.
        return verdict, [round(v.varValue or 0) for v in self.variables]
