"""Whatever a job or shop file holds, reading it succeeds or ends in one message for the fitter: never a traceback."""

import copy
import functools
import json
import math
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tubing.errors import InputError
from tubing.inputs.job_file import read_job
from tubing.inputs.piece_lists import read_list
from tubing.inputs.records import Job, Shop
from tubing.inputs.shop_file import read_shop

FILES = Path(__file__).parent.parent / "unit" / "job_files"
JOB = tomllib.loads((FILES / "example.toml").read_text(encoding="utf-8"))
SHOP = tomllib.loads((FILES / "example_shop.toml").read_text(encoding="utf-8"))

TEXTS = st.sampled_from(
    ["", " ", "near", "far", "nose", "end", "0 mm", "-1 mm", "1 mm", "1e3 mm", "1/0 mm", "99999999999999 m", "1,5 mm",
     "nan deg", "360 deg", "12 in", "1 1/64 in", "steel-8", "steel-4.76", "bench-box", "twin", "20 %", "12.50"]
)  # fmt: skip
LEAVES = st.one_of(
    TEXTS,
    st.text(max_size=8),
    st.booleans(),
    st.integers(-(10**20), 10**20),
    st.floats(),
    st.sampled_from([0, -1, 0.0, 1e308, -1e308, 5e-324, math.inf, math.nan]),
)
VALUES = st.recursive(
    LEAVES,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.sampled_from(["from", "to", "lean", "x"]), inner),
    max_leaves=6,
)


def toml(value: Any) -> str:
    """A value in TOML, tables inline."""
    match value:
        case bool():
            return "true" if value else "false"
        case str():
            return json.dumps(value, ensure_ascii=False)
        case list():
            return "[" + ", ".join(toml(inner) for inner in value) + "]"
        case dict():
            return "{" + ", ".join(f"{toml(key)} = {toml(inner)}" for key, inner in value.items()) + "}"
        case _:
            return str(value)


def places(value: Any, here: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """The paths to everything in a document."""
    inside = list(value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ())
    found = [(*here, key) for key, _ in inside]
    return found + [place for key, inner in inside for place in places(inner, (*here, key))]


@st.composite
def spoiled(draw: st.DrawFn, good: dict[str, Any]) -> str:
    """A good document with a few things deleted, renamed, doubled or replaced, as TOML."""
    document = copy.deepcopy(good)
    for _ in range(draw(st.integers(1, 3))):
        found = places(document)
        if not found:
            break
        *way, last = draw(st.sampled_from(found))
        holder = functools.reduce(lambda at, step: at[step], way, document)
        kind = draw(st.sampled_from(["delete", "rename", "double", "replace", "replace", "move"]))
        if kind == "delete":
            del holder[last]
        elif kind == "rename" and isinstance(holder, dict):
            holder[draw(st.sampled_from([f"{last}s", str(last)[1:] or "x", "from", "name"]))] = holder.pop(last)
        elif kind == "double" and isinstance(holder, list):
            holder.append(copy.deepcopy(holder[last]))
        elif kind == "move":
            other = draw(st.sampled_from(found))
            holder[last] = copy.deepcopy(functools.reduce(lambda at, step: at[step], other, document))
        else:
            holder[last] = draw(VALUES)
    return "\n".join(f"{toml(key)} = {toml(value)}" for key, value in document.items())


@functools.cache
def demo_shop() -> Shop:
    """The shop that comes with the program."""
    return read_shop(None)


def test_the_unspoiled_documents_are_read(tmp_path: Path) -> None:
    """Else the laws below would hold of nothing."""
    path = tmp_path / "x.toml"
    path.write_text("\n".join(f"{key} = {toml(value)}" for key, value in JOB.items()), encoding="utf-8")
    assert isinstance(read_job(path, demo_shop()), Job)
    path.write_text("\n".join(f"{key} = {toml(value)}" for key, value in SHOP.items()), encoding="utf-8")
    assert isinstance(read_shop(path), Shop)


FUZZ = settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


def read_or_refused(reader: Callable[[Path], Any], path: Path) -> Any:
    """What was read, or the error; any other exception is a defect and fails the test."""
    try:
        return reader(path)
    except InputError as error:
        return error


def check_refusal(error: InputError, file: str) -> None:
    """One message with four parts, on one line, and exit status 2."""
    assert error.exit_status == 2
    assert str(error).startswith(file)
    assert str(error).isprintable()
    assert all((error.thing, error.found, error.needed, error.remedy))


@pytest.mark.long
@FUZZ
@given(text=spoiled(JOB))
def test_a_spoiled_job_is_read_or_refused_in_one_line(tmp_path: Path, text: str) -> None:
    """What is read is sound: its layout's boxes exist, its directions have length 1."""
    path = tmp_path / "job.toml"
    path.write_text(text, encoding="utf-8")
    job = read_or_refused(lambda at: read_job(at, demo_shop()), path)
    if isinstance(job, InputError):
        check_refusal(job, "job.toml")
    else:
        assert set(job.layouts[job.layout]) <= set(job.mountings)
        assert all(math.isclose(math.hypot(*box.spindle), 1) for box in job.mountings.values())


@pytest.mark.long
@FUZZ
@given(text=spoiled(SHOP))
def test_a_spoiled_shop_is_read_or_refused_in_one_line(tmp_path: Path, text: str) -> None:
    """What is read is sound: its stock is of known tubes, its prices are not negative."""
    path = tmp_path / "shop.toml"
    path.write_text(text, encoding="utf-8")
    shop = read_or_refused(read_shop, path)
    if isinstance(shop, InputError):
        check_refusal(shop, "shop.toml")
    else:
        assert all(bar.tube in shop.catalogue.tubes and bar.price_cents >= 0 for bar in shop.stock)


@pytest.mark.long
@FUZZ
@given(raw=st.binary(max_size=60) | st.text('piece,length_mmquantity123." \n\t;#', max_size=60).map(str.encode))
@pytest.mark.parametrize("reader", [read_list, read_shop, lambda path: read_job(path, demo_shop())])
def test_bytes_are_read_or_refused(tmp_path: Path, reader: Callable[[Path], Any], raw: bytes) -> None:
    """Any bytes at all in a file."""
    path = tmp_path / "bytes"
    path.write_bytes(raw)
    found = read_or_refused(reader, path)
    if isinstance(found, InputError):
        check_refusal(found, "bytes")
    else:
        assert found
