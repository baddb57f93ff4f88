"""Wrong programs, made by changing one sign, comparison, constant or branch: does a test notice each?

Run from the project's root: ``python tests/bench/bench_mutants.py [--seed 1] [--budget 300] [--only flares]``. A copy
of the tree is made wrong in one place at a time, and the tests of that module run on it, the pins left out. Of what
survives, the pins tell whether it changes a number that the demos print. Printed: each survivor with its line, and the
share that was noticed. A mutant that neither tests nor pins notice may be no other program at all.
"""

from __future__ import annotations

import argparse
import ast
import copy
import random
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parent.parent.parent
TESTS = {  # the formula modules, and the tests that are theirs
    "geometry/bends.py": "tubing/geometry tests/published/test_bend_arithmetic.py tests/laws/test_centreline_laws.py",
    "geometry/vectors.py": "tubing/geometry tests/laws/test_centreline_laws.py tests/unit/test_run.py",
    "centreline/develop.py": "tubing/centreline tests/laws/test_centreline_laws.py "
    "tests/published/test_bend_arithmetic.py tests/unit/test_tubes_by_libraries.py",
    "flares.py": "tubing/flares.py tests/unit/test_flares.py tests/published/test_flares_published.py "
    "tests/published/test_flare_tables.py",
    "pieces/blanks.py": "tubing/pieces tests/unit/test_pieces_by_hand.py tests/unit/test_last_check.py "
    "tests/unit/test_sheet_contract.py",
    "pieces/sawn.py": "tubing/pieces tests/unit/test_check_sawn.py tests/unit/test_sheet_content.py",
    "pieces/clips.py": "tubing/pieces tests/unit/test_pieces_by_hand.py tests/unit/test_tolerance.py",
    "pieces/tolerance.py": "tubing/pieces tests/unit/test_tolerance.py tests/unit/test_pieces_by_hand.py",
    "pieces/as_cut.py": "tubing/pieces tests/unit/test_tolerance.py tests/laws/test_as_cut_laws.py "
    "tests/unit/test_pieces_by_hand.py tests/unit/test_plan_warnings.py",
    "drive/rack.py": "tubing/drive tests/unit/test_drive.py tests/laws/test_drive_laws.py "
    "tests/published/test_drive_published.py",
    "drive/pull.py": "tubing/drive tests/unit/test_drive.py tests/laws/test_drive_laws.py "
    "tests/published/test_drive_published.py",
    "drive/hole.py": "tubing/drive tests/unit/test_drive_hole_park.py tests/laws/test_drive_laws.py",
    "drive/motion.py": "tubing/drive tests/unit/test_drive.py tests/laws/test_drive_laws.py "
    "tests/published/test_drive_published.py",
    "drive/park.py": "tubing/drive tests/unit/test_drive_hole_park.py tests/laws/test_drive_laws.py",
    "check.py": "tests/unit/test_last_check.py tests/unit/test_check_sawn.py tests/unit/test_in_the_way.py",
    "nesting/check.py": "tests/unit/test_last_check.py",
    "nesting/problem.py": "tubing/nesting tests/unit/test_nesting.py tests/laws/test_nesting_laws.py",
}
COMPARED = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
}  # fmt: skip
REVERSED = {ast.Lt: ast.Gt, ast.Gt: ast.Lt, ast.LtE: ast.GtE, ast.GtE: ast.LtE}
CALCULATED = {ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult}
EACH_S = 120.0  # a mutant that takes longer hangs, and a fitter would notice that


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


def noticed(tree: Path, tests: str) -> bool:
    """Whether any of these tests fails, or hangs, on the copy."""
    words = [sys.executable, "-m", "pytest", "-x", "-q", "-p", "no:cacheprovider", *tests.split()]
    try:
        return subprocess.run(words, cwd=tree, capture_output=True, timeout=EACH_S, check=False).returncode != 0
    except subprocess.TimeoutExpired:
        return True


def main(seed: int, budget_s: float, only: str) -> int:
    """Try wrong programs until the budget is spent; print what survives and the shares. Always 0: a measurement."""
    started, tally = time.monotonic(), Counter[str]()
    modules = [name for name in TESTS if only in name]
    every = []
    for name in modules:
        source = (ROOT / "tubing" / name).read_text(encoding="utf-8")
        every += [(name, line, what, ast.unparse(wrong)) for line, what, wrong in changes(ast.parse(source))]
    random.Random(seed).shuffle(every)
    with tempfile.TemporaryDirectory() as room:
        tree = Path(room) / "tree"
        left_out = shutil.ignore_patterns(".*", "__pycache__", "*.egg-info")
        shutil.copytree(ROOT, tree, ignore=left_out)
        for name in modules:
            if noticed(tree, TESTS[name]):
                print(f"{name}: its tests fail without any change", file=sys.stderr)
                return 1
        for name, line, what, wrong in every:
            if time.monotonic() - started > budget_s:
                break
            place = tree / "tubing" / name
            right = place.read_text(encoding="utf-8")
            place.write_text(wrong, encoding="utf-8")
            verdict = "noticed" if noticed(tree, TESTS[name]) else "survives"
            if verdict == "survives" and noticed(tree, "tests/pinned"):
                verdict = "noticed by the pins alone"
            place.write_text(right, encoding="utf-8")
            tally[verdict] += 1
            if verdict != "noticed":
                print(f"{name}, line {line}: {what}: {verdict}", flush=True)
    tried, changing = sum(tally.values()), tally["noticed"] + tally["noticed by the pins alone"]
    spent_s = time.monotonic() - started
    print(f"seed {seed}: {tried} of {len(every)} wrong programs tried in {spent_s:.0f} s: {dict(tally)}")
    if changing:
        print(f"of those that change a number {100 * tally['noticed'] / changing:.1f} % noticed without the pins")
    return 0


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--budget", type=float, default=300.0)
    parser.add_argument("--only", default="")
    given = parser.parse_args()
    sys.exit(main(given.seed, given.budget, given.only))
