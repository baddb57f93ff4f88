"""Wrong programs, made by changing one sign, comparison, constant or branch: does a test notice each?

Run from the root: ``python tests/bench/bench_mutants.py [--seed 1] [--budget 300] [--only flares]``. A process
of its own, forked from one that has the libraries loaded, takes the wrong module for the right one and runs the tests
of that module, the pins left out. No file is changed. Of what survives, the pins tell whether it changes something that
the demos print. Printed: each survivor with its line, and the shares that were noticed. A wrong program that neither
tests nor pins notice may be no other program at all. Where a test starts a program anew, that program is right.
"""

from __future__ import annotations

import argparse
import ast
import contextlib
import copy
import importlib.abc
import importlib.machinery
import importlib.util
import math
import os
import random
import signal
import sys
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType

ROOT = Path(__file__).parent.parent.parent
LIBRARIES = "pytest hypothesis numpy scipy.optimize pint msgspec pydantic networkx shapely jinja2 ezdxf typer rich pulp"
TUBES = (
    "tests/unit/test_tubes_by_hand.py tests/published/test_plane_paths.py tests/published/test_bend_arithmetic.py "
    "tests/unit/test_offsets_derived.py tests/unit/test_pieces_by_hand.py tests/unit/test_run.py "
    "tests/unit/test_tubes_by_libraries.py tests/laws/test_centreline_laws.py"
)
GLASS = (
    "tests/unit/test_glass_surface.py tests/unit/test_glass_park.py tests/unit/test_glass_areas.py "
    "tests/unit/test_glass_cranks.py tests/unit/test_seldom_met.py tests/unit/test_glass_clearances.py "
    "tests/unit/test_glass_sweeps.py tests/unit/test_swept_area_derived.py tests/published/test_glass_published.py "
    "tests/laws/test_glass_laws.py"
)
DRIVE = (
    "tests/unit/test_drive.py tests/unit/test_drive_hole_park.py tests/unit/test_motion_and_holes_by_hand.py "
    "tests/published/test_drive_published.py tests/unit/test_sheet_driving.py tests/laws/test_drive_laws.py"
)
PIECES = "tests/unit/test_pieces_by_hand.py tests/unit/test_tolerance.py tests/unit/test_check_sawn.py"
NESTING = "tests/unit/test_nesting.py tests/unit/test_nesting_stock.py tests/laws/test_nesting_laws.py"
TESTS = {  # the formula modules, and the tests that are theirs, the quick ones first
    "geometry/bends.py": TUBES,
    "geometry/vectors.py": f"tubing/geometry/vectors.py {TUBES}",
    "geometry/two_bends.py": f"tubing/geometry/two_bends.py {TUBES}",
    "geometry/solids.py": "tubing/geometry/solids.py tests/unit/test_in_the_way.py tests/laws/test_in_the_way_laws.py",
    "centreline/develop.py": f"tubing/centreline/develop.py {TUBES}",
    "centreline/between.py": f"tubing/centreline/between.py {TUBES} tests/unit/test_in_the_way.py",
    "run/placing.py": "tests/unit/test_run.py tests/unit/test_seldom_met.py tests/laws/test_job_laws.py",
    "flares.py": "tubing/flares.py tests/unit/test_flares.py tests/published/test_flares_published.py "
    "tests/published/test_flare_tables.py",
    "pieces/blanks.py": f"tubing/pieces/blanks.py {PIECES} tests/unit/test_last_check.py "
    "tests/unit/test_sheet_contract.py",
    "pieces/sawn.py": f"tubing/pieces/sawn.py {PIECES} tests/unit/test_sheet_content.py",
    "pieces/clips.py": f"tubing/pieces/clips.py {PIECES}",
    "pieces/tolerance.py": f"tubing/pieces/tolerance.py {PIECES}",
    "pieces/as_cut.py": f"tubing/pieces/as_cut.py {PIECES} tests/unit/test_plan_warnings.py "
    "tests/laws/test_as_cut_laws.py",
    "drive/rack.py": f"tubing/drive/rack.py {DRIVE}",
    "drive/pull.py": f"tubing/drive/pull.py {DRIVE}",
    "drive/hole.py": f"tubing/drive/hole.py {DRIVE}",
    "drive/motion.py": f"tubing/drive/motion.py {DRIVE}",
    "drive/park.py": f"tubing/drive/park.py {DRIVE}",
    "glass/arms.py": GLASS,
    "glass/blade.py": GLASS,
    "glass/cranks.py": GLASS,
    "glass/nearness.py": GLASS,
    "glass/plane.py": GLASS,
    "glass/surface.py": GLASS,
    "glass/sweeps.py": GLASS,
    "cost.py": "tubing/cost.py tests/unit/test_cost.py tests/laws/test_cost_laws.py",
    "units.py": "tubing/units.py tests/unit/test_units.py tests/laws/test_units_laws.py",
    "check/made.py": "tests/unit/test_last_check.py tests/unit/test_check_sawn.py",
    "check/clear.py": "tests/unit/test_in_the_way.py tests/unit/test_crowding.py",
    "nesting/nest_check.py": "tests/unit/test_last_check.py",
    "nesting/length_bound.py": NESTING,
    "nesting/bar_layout.py": NESTING,
    "nesting/problem.py": NESTING,
    "nesting/remainder_states.py": NESTING,
}
PINS = "tests/pinned"
COMPARED = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
}  # fmt: skip
REVERSED = {ast.Lt: ast.Gt, ast.Gt: ast.Lt, ast.LtE: ast.GtE, ast.GtE: ast.LtE}
CALCULATED = {ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult}
EACH_S = 120  # what a wrong program may take; one that takes longer hangs, and a fitter would notice that


class Wrong(importlib.abc.MetaPathFinder, importlib.abc.SourceLoader):
    """Gives one module of the program another source."""

    def __init__(self, module: str, source: str) -> None:
        self.name = module
        self.path = str(ROOT / "tubing" / module)
        self.dotted = "tubing." + module.removesuffix(".py").replace("/", ".")
        self.source = source

    def find_spec(
        self, fullname: str, path: object = None, target: ModuleType | None = None
    ) -> importlib.machinery.ModuleSpec | None:
        """The wrong module under the right one's name; None for all others."""
        if fullname != self.dotted:
            return None
        return importlib.util.spec_from_file_location(fullname, self.path, loader=self)

    def get_filename(self, fullname: str) -> str:
        """Where the right one stands, so that errors and doctests name it."""
        return self.path

    def get_data(self, path: str) -> bytes:
        """The wrong source; no compiled file is ever found."""
        if path != self.path:
            raise OSError(path)
        return self.source.encode()


def changes(tree: ast.Module) -> Iterator[tuple[int, str, ast.Module]]:
    """Every wrong program: its line, what was changed, the whole tree."""
    nodes = [node for node in ast.walk(tree) if hasattr(node, "lineno")]
    for place, node in enumerate(nodes):
        for what, wrong in alternatives(node):
            whole = copy.deepcopy(tree)
            same = [n for n in ast.walk(whole) if hasattr(n, "lineno")][place]
            for field, value in wrong.items():
                setattr(same, field, value)
            yield node.lineno, what, ast.fix_missing_locations(whole)


def alternatives(node: ast.AST) -> Iterator[tuple[str, dict[str, object]]]:
    """What one node can be changed to."""
    if isinstance(node, ast.Compare) and len(node.ops) == 1:
        for table in (COMPARED, REVERSED):
            other = table.get(type(node.ops[0]))
            if other is not None:
                yield f"{type(node.ops[0]).__name__} to {other.__name__}", {"ops": [other()]}
    elif isinstance(node, ast.BinOp) and type(node.op) in CALCULATED and not isinstance(node.left, ast.JoinedStr):
        other = CALCULATED[type(node.op)]
        yield f"{type(node.op).__name__} to {other.__name__}", {"op": other()}
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub):
        yield "minus to plus", {"op": ast.UAdd()}
    elif isinstance(node, ast.BoolOp):
        other = ast.Or if isinstance(node.op, ast.And) else ast.And
        yield f"{type(node.op).__name__} to {other.__name__}", {"op": other()}
    elif isinstance(node, (ast.If, ast.IfExp)):
        yield "branch turned", {"test": ast.UnaryOp(ast.Not(), node.test)}
    elif isinstance(node, ast.Constant) and type(node.value) in (int, float):
        yield f"{node.value} to {node.value + 1}", {"value": node.value + 1}


def noticed(wrong: Wrong | None, tests: str) -> bool:
    """Whether any of these tests fails, or hangs, where the wrong module stands for the right one; None: none does."""
    child = os.fork()
    if child == 0:
        os.setsid()
        status = 1
        try:
            import pytest

            if wrong is not None:
                silent = os.open(os.devnull, os.O_RDWR)
                for stream in (0, 1, 2):
                    os.dup2(silent, stream)
                sys.meta_path.insert(0, wrong)
            sys.dont_write_bytecode = True
            words = ["-x", "-q", "-m", "", "-p", "no:cacheprovider", "-W", "ignore::pytest.PytestAssertRewriteWarning"]
            status = int(pytest.main([*words, *tests.split()]))
        finally:
            os._exit(status)
    until = time.monotonic() + (EACH_S if wrong is not None else math.inf)
    while time.monotonic() < until:
        ended, status = os.waitpid(child, os.WNOHANG)
        if ended:
            return status != 0
        time.sleep(0.02)
    os.killpg(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return True


def judged(wrong: Wrong) -> str:
    """Whether the tests notice it, the pins alone, or nothing."""
    if noticed(wrong, TESTS[wrong.name]):
        return "noticed"
    return "noticed by the pins alone" if noticed(wrong, PINS) else "survives"


def main(seed: int, budget_s: float, only: str) -> int:
    """Try wrong programs until the budget is spent; print what survives and the shares. 1: tests that fail anyway."""
    sys.path.insert(0, str(ROOT))
    os.chdir(ROOT)
    for library in LIBRARIES.split():
        with contextlib.suppress(ImportError):
            importlib.import_module(library)
    sources = {name: (ROOT / "tubing" / name).read_text(encoding="utf-8") for name in TESTS if only in name}
    files = dict.fromkeys(file for name in sources for file in TESTS[name].split())
    if noticed(None, " ".join(files)):
        print("tests fail without any change", file=sys.stderr)
        return 1
    every = [
        (name, line, what, wrong)
        for name, source in sources.items()
        for line, what, wrong in changes(ast.parse(source))
    ]
    random.Random(seed).shuffle(every)
    started, tally = time.monotonic(), Counter[str]()
    for name, line, what, tree in every:
        if time.monotonic() - started > budget_s:
            break
        verdict = judged(Wrong(name, ast.unparse(tree)))
        tally[verdict] += 1
        if verdict != "noticed":
            print(f"{name}, line {line}: {what}: {verdict}", flush=True)
    tried, changing = sum(tally.values()), tally["noticed"] + tally["noticed by the pins alone"]
    spent_s = time.monotonic() - started
    print(f"seed {seed}: {tried} of {len(every)} wrong programs tried in {spent_s:.0f} s: {dict(tally)}")
    if changing:
        print(f"noticed without the pins: {100 * tally['noticed'] / tried:.1f} % of all", end=", ")
        print(f"{100 * tally['noticed'] / changing:.1f} % of those that tests or pins notice")
    return 0


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--budget", type=float, default=300.0)
    parser.add_argument("--only", default="")
    given = parser.parse_args()
    sys.exit(main(given.seed, given.budget, given.only))
