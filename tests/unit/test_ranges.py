"""Plausible ranges: every quantity has one, what lies outside is told with what was probably meant."""

import re
from pathlib import Path

import pytest

from tubing.errors import InputError
from tubing.inputs import job_schema, shop_file
from tubing.inputs.ranges import RANGES, read_plausible
from tubing.units import read

SOURCES = "".join(
    Path(module.__file__).with_name(name).read_text(encoding="utf-8")
    for module, name in (
        (job_schema, "job_schema.py"),
        (shop_file, "shop_file.py"),
        (job_schema, "records.py"),
        (job_schema, "trials.py"),
        (job_schema, "fields.py"),
        (job_schema, "taped_points.py"),
        (job_schema, "part_tables.py"),
        (job_schema, "piece_lists.py"),
    )
)


def refusal(text, name):
    with pytest.raises(InputError) as error:
        read_plausible(text, name)
    return str(error.value).removeprefix(": ")


@pytest.mark.parametrize("name", RANGES)
def test_every_range_runs_from_less_to_more_says_why_and_is_used(name):
    """Both ends are read as quantities of the kind; a range that no field uses would be a dead row."""
    of = RANGES[name]
    assert read(of.least, of.kind) < read(of.most, of.kind)
    assert len(of.why.split()) > 3
    assert f'"{name}"' in SOURCES


@pytest.mark.parametrize("name", RANGES)
def test_both_ends_of_a_range_are_taken(name):
    of = RANGES[name]
    for end in (of.least, of.most):
        assert read_plausible(end, name) == read(end, of.kind)


@pytest.mark.parametrize(
    ("text", "name", "told"),
    [
        (
            "0.001 mm",
            "pitch radius",
            "'0.001 mm' is too little (pitch radius); it must be from 3 mm to 100 mm, for a gear in a wheelbox "
            "is a few centimetres wide; check the number and its unit",
        ),
        (
            "0.63 mm",
            "pitch radius",
            "'0.63 mm' is too little (pitch radius); it must be from 3 mm to 100 mm, for a gear in a wheelbox "
            "is a few centimetres wide; did you mean '0.63 in'?",
        ),
        (
            "25 mm",
            "tooth pitch",
            "'25 mm' is too much (tooth pitch); it must be from 0.5 mm to 10 mm, for finer teeth shear, "
            "coarser ones do not mesh on a small gear; did you mean '2.5 mm'?",
        ),
        (
            "0.003 mm",
            "tooth pitch",
            "'0.003 mm' is too little (tooth pitch); it must be from 0.5 mm to 10 mm, for finer teeth shear, "
            "coarser ones do not mesh on a small gear; did you mean '3 mm'?",
        ),
        (
            "0.0001 deg",
            "sweep",
            "'0.0001 deg' is too little (sweep); it must be from 20 deg to 270 deg, for an arm wipes more than "
            "a strip and less than a circle; measure it again",
        ),
        (
            "-16000 mm",
            "coordinate",
            "'-16000 mm' is too far from the origin (coordinate); it must be from -10 m to 10 m, for everything lies "
            "near the windscreen; did you mean '-1600 mm'?",
        ),
        (
            "8 in",
            "tube diameter",
            "'8 in' is too much (tube diameter); it must be from 3 mm to 25 mm, for a toothed rack runs "
            "inside, and a hand bender bends it; did you mean '8 mm'?",
        ),
    ],
)
def test_what_was_probably_meant_is_told(text, name, told):
    """A missing decimal point, or inches for millimetres; where nothing fits, the fitter looks himself."""
    assert refusal(text, name) == told


def test_springback_of_less_than_nothing_is_refused_in_the_shop_file(tmp_path):
    """A plain number, not a quantity: its range stands with its reader."""
    text = (Path(shop_file.data_folder()) / "shop.toml").read_text(encoding="utf-8")
    shop = tmp_path / "shop.toml"
    shop.write_text(re.sub(r"springback +=.*", "springback = -0.5", text), encoding="utf-8")
    with pytest.raises(InputError) as error:
        shop_file.read_shop(shop)
    assert str(error.value) == "shop.toml, bench, springback: it is -0.5; it must be from 0 to 0.5; check the number"
