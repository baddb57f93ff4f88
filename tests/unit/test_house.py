"""The house: layers, doors, names, lengths, words. Each rule stands in DEVELOPERS.md."""

import ast
import importlib
import inspect
import pkgutil
import re
import subprocess
from collections import Counter
from pathlib import Path

import pytest

import tubing

ROOT = Path(tubing.__file__).parent
TOP = ROOT.parent
MODULES = sorted(ROOT.rglob("*.py"))
LAYERS = (
    ("errors",),
    ("units", "geometry", "measuring", "trial_statistics"),
    ("inputs", "centreline", "nesting"),
    ("flares", "springback", "shelf"),
    ("run",),
    ("pieces",),
    ("drive", "glass", "check", "bench_work"),
    ("cost",),
    ("plan", "quote"),
    ("ask",),
    ("sheet",),
    ("drawing",),
    ("writers",),
    ("desk",),
    ("commands",),
)
LEVEL = {name: level for level, names in enumerate(LAYERS) for name in names}
KERNELS = ("geometry", "measuring", "centreline", "nesting")  # plain floats in mm and radians


def layer_of(path):
    """The first name under the package: a module or a package of the house."""
    return path.relative_to(ROOT).parts[0].removesuffix(".py")


def imported(path):
    """Names of the house that a module imports at run time; those for the type checker alone do not count."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    only_types = {
        id(inner)
        for node in ast.walk(tree)
        if isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING"
        for inner in ast.walk(node)
    }
    for node in ast.walk(tree):
        if id(node) in only_types:
            continue
        if isinstance(node, ast.ImportFrom) and node.module and node.module.startswith("tubing."):
            yield node.module.split(".")[1]
        elif isinstance(node, ast.Import):
            yield from (alias.name.split(".")[1] for alias in node.names if alias.name.startswith("tubing."))


def test_every_module_has_its_place_in_the_house():
    """A new module is given a layer before it is used."""
    assert {layer_of(p) for p in MODULES} - {"__init__", "data"} == set(LEVEL)


def test_imports_only_point_down():
    """§1 Layers: a module imports only from layers below its own, so each can be read without those above it."""
    assert [
        f"{path.relative_to(ROOT)} imports {name}"
        for path in MODULES
        if layer_of(path) != "__init__"
        for name in imported(path)
        if name != layer_of(path) and LEVEL[name] >= LEVEL[layer_of(path)]
    ] == []


def test_the_layer_table_of_the_developers_page_is_this_one():
    """§1 Layers: what DEVELOPERS.md prints is what the test holds."""
    text = (TOP / "DEVELOPERS.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| (\d+) \| ((?:`[a-z_/]+`(?:, )?)+) \|", text, re.M)
    found = [(int(level), name.strip("`/")) for level, names in rows for name in names.split(", ")]
    assert sorted(found) == sorted((level, name) for name, level in LEVEL.items())


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(ROOT)))
def test_no_module_is_longer_than_400_lines_and_no_function_than_40(path):
    """§2 Size: a file that grows past that has two subjects; a function's docstring does not count."""
    text = path.read_text(encoding="utf-8")
    assert text.count("\n") <= 400
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.FunctionDef):
            doc = node.body[0].end_lineno - node.body[0].lineno + 1 if ast.get_docstring(node) else 0
            assert node.end_lineno - node.lineno + 1 - doc <= 40, f"{path.name}: {node.name}"


def public_kernel_functions():
    """Public functions of the kernels."""
    for package in KERNELS:
        for info in pkgutil.walk_packages([str(ROOT / package)], f"tubing.{package}."):
            module = importlib.import_module(info.name)
            for name, function in inspect.getmembers(module, inspect.isfunction):
                if function.__module__ == info.name and not name.startswith("_"):
                    yield pytest.param(function, id=f"{info.name}.{name}")


@pytest.mark.parametrize("function", list(public_kernel_functions()))
def test_a_float_of_the_kernels_says_its_unit_in_its_name(function):
    """§3 Names: a plain float is a length in mm, an angle in radians, or a factor without a unit, and says which."""
    named = {"dot", "norm", "dual_bound"}  # what they give back is said by their docstring
    unitless = {"times", "springback", "factor", "share"}
    for name, parameter in inspect.signature(function).parameters.items():
        if parameter.annotation in ("float", "float | None", float):
            assert re.search(r"_(mm|rad|deg|s|cents)$", name) or name in unitless, f"{function.__qualname__}: {name}"
    if inspect.signature(function).return_annotation in ("float", float):
        assert re.search(r"_(mm|rad|deg|s|cents)$", function.__name__) or function.__name__ in named


def tracked():
    """Files that git knows of, with their texts; a checkout without git has none to look at."""
    listed = subprocess.run(["git", "ls-files"], cwd=TOP, capture_output=True, text=True, check=False).stdout.split(
        "\n"
    )
    return [name for name in listed if name and (TOP / name).is_file()]


def test_the_top_level_holds_only_what_it_should():
    """§2 Size: README.md, DEVELOPERS.md, pyproject.toml, tubing/, tests/, data/, cli.py and dotfiles."""
    files = tracked()
    if not files:
        pytest.skip("not a git checkout")
    tops = {name.split("/")[0] for name in files}
    allowed = {"README.md", "DEVELOPERS.md", "pyproject.toml", "tubing", "tests", "data", "cli.py"}
    assert {t for t in tops if not t.startswith(".")} <= allowed


def test_published_tests_name_their_source():
    """§16 Tests: each file of published values opens with where they come from, and when it was printed."""
    for path in sorted((TOP / "tests" / "published").glob("test_*.py")):
        head = ast.get_docstring(ast.parse(path.read_text(encoding="utf-8"))) or ""
        assert re.search(r"\b(19|20)\d\d\b|from memory|[Dd]erived", head), path.name


def test_every_numbered_convention_is_cited_by_a_test_and_no_other_number_is():
    """§16 Tests: a rule that no test cites is a wish, and a citation must name what DEVELOPERS.md says."""
    stated = re.findall(r"^- §(\d+) \*\*([^*]+)\.\*\*", (TOP / "DEVELOPERS.md").read_text(encoding="utf-8"), re.M)
    cited = Counter(
        number
        for path in sorted((TOP / "tests").rglob("test_*.py"))
        for number in re.findall(r"§(\d+)\b(?! \*)", path.read_text(encoding="utf-8"))
    )
    assert [number for number, _ in stated] == [str(k) for k in range(1, len(stated) + 1)]
    assert set(cited) == {number for number, _ in stated}
