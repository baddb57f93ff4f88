"""A job that leaves its former open: all that will do are tried, and the sheet says what each would give."""

import pytest
from msgspec.structs import replace

from tubing.errors import GeometryError
from tubing.inputs.job_file import job_of
from tubing.inputs.shop_file import data_folder, read_shop
from tubing.inputs.toml_files import read_toml
from tubing.plan import plan
from tubing.sheet.content import job_sheet

SHOP = read_shop(None)
FILE = data_folder() / "jobs" / "round-the-corner.toml"


def job_with(former):
    """The demo job with another former; None: it is left out."""
    data = read_toml(FILE)
    data["tube"] = {"size": "steel-8"} if former is None else {"size": "steel-8", "former": former}
    return job_of(data, "job.toml", SHOP)


def test_left_out_all_that_tube_and_rack_can_stand_are_tried():
    """The rack bends no tighter than 229 mm: the two tight formers of the table are left out."""
    names = [former.name for former in job_with(None).formers]
    assert names == ["sheave-230", "sheave-240", "sheave-260", "sheave-300"]


def test_the_best_is_taken_and_the_others_are_told():
    """Each is planned alone too: the one chosen is the cheapest, and what the sheet says of each is its own run."""
    names = ["sheave-230", "sheave-260", "sheave-300"]
    planned = plan(job_with(names), SHOP)
    alone = {name: plan(job_with(name), SHOP).run.cost for name in names}
    assert planned.on_formers == alone
    assert planned.run.cost == min(alone.values(), key=lambda cost: cost.weight)
    assert planned.job.former.name == min(alone, key=lambda name: alone[name].weight)
    said = " ".join(job_sheet(planned).chosen.lines)
    for name, cost in alone.items():
        assert f"On {name}: {cost.bends} bends" in said


def test_the_order_of_the_list_matters_as_little_as_a_former_named_twice():
    lists = ["sheave-230", "sheave-300"], ["sheave-300", "sheave-230", "sheave-300"]
    one, other = (plan(job_with(names), SHOP) for names in lists)
    assert one.run == other.run
    assert one.job.former == other.job.former


def test_a_former_that_will_not_do_is_told_with_its_reason_and_one_named_alone_is_no_choice():
    planned = plan(job_with(["bender-40", "sheave-230"]), SHOP)
    assert planned.job.former.name == "sheave-230"
    assert "no tighter than 229 mm" in str(planned.on_formers["bender-40"])
    assert any(line.startswith("On bender-40: no run, for tube") for line in job_sheet(planned).chosen.lines)
    assert not any("former" in line for line in job_sheet(plan(job_with("sheave-230"), SHOP)).chosen.lines)


def test_where_none_will_do_the_first_says_why():
    with pytest.raises(GeometryError, match="no tighter than 229 mm"):
        plan(job_with(["bender-40", "sheave-150"]), SHOP)


def test_a_shop_without_a_former_for_its_rack_says_so(tmp_path):
    bench = replace(SHOP.bench, rack_least_radius=3 * SHOP.bench.rack_least_radius)
    data = read_toml(FILE)
    data["tube"] = {"size": "steel-8"}
    with pytest.raises(Exception, match=r"no row of formers.csv has a radius of 687 mm or more"):
        job_of(data, "job.toml", replace(SHOP, bench=bench))
