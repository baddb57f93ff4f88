"""[[trial_flare]] in the shop's file: what is refused, and what the plan makes of it."""

import re

import pytest
from msgspec.structs import replace

from tubing.errors import InputError
from tubing.inputs.job_file import read_job
from tubing.inputs.records import TrialFlare
from tubing.inputs.shop_file import data_folder, read_shop
from tubing.plan import plan
from tubing.units import quantity

SHOP = read_shop(None)
GOOD = 'tube = "steel-8"\nkind = "double"\nbefore = "200 mm"\nafter = "197.7 mm"\n'


def test_every_double_flare_takes_the_mean_of_the_trials():
    """2.3 and 2.5 mm: each blank with a double flare is as much longer as 2.4 mm is more than what is worked out."""
    job = read_job(data_folder() / "jobs" / "round-the-corner.toml", SHOP)
    trials = tuple(
        TrialFlare("steel-8", "double", quantity(200, "mm"), quantity(after, "mm")) for after in (197.7, 197.5)
    )
    for before, after in zip(plan(job, SHOP).pieces, plan(job, replace(SHOP, trial_flares=trials)).pieces, strict=True):
        worked_out = [end.consumed_mm for end in before.ends if end.flare == "double"]
        longer_mm = sum(2.4 - each for each in worked_out)
        assert after.blank_mm - before.blank_mm == pytest.approx(longer_mm, abs=1e-9)
        assert after.finished_mm == before.finished_mm


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (
            ('"197.7 mm"', '"200.5 mm"'),
            "trial_flare 1, after: 200.5 mm are left of 200 mm; a flare takes tube, so after is at most before; "
            "measure the piece again, from rim to the other end, or change the two round",
        ),
        (
            ('"197.7 mm"', '"150 mm"'),
            "trial_flare 1, before less after: '50 mm' is too much (tube a flare consumes); it must be from 0 mm to 20 "
            "mm, for a flare takes a few millimetres; did you mean '5 mm'?",
        ),
        (
            ('"200 mm"', '"200"'),
            "trial_flare 1, before: '200' has no unit; it must be a length; write it '200 mm'",
        ),
        (
            ('"double"', '"plain"'),
            "trial_flare 1, kind: 'plain' is not known; it must be 'single' or 'double'; choose one",
        ),
        (
            ('"steel-8"', '"copper-9"'),
            "trial_flare 1, tube: there is no tube 'copper-9'; it must be a row of tubes.csv; did you mean 'copper-8' "
            "or 'copper-9.53' or 'copper-12.7'?",
        ),
    ],
)
def test_a_trial_that_cannot_be_is_refused(tmp_path, change, told):
    text = (data_folder() / "shop.toml").read_text(encoding="utf-8")
    trial = f"[[trial_flare]]\n{GOOD.replace(*change)}\n[rack]"
    shop = tmp_path / "shop.toml"
    shop.write_text(re.sub(r"^\[rack\]", trial, text, flags=re.M), encoding="utf-8")
    with pytest.raises(InputError) as error:
        read_shop(shop)
    assert str(error.value) == f"shop.toml, {told}"


def test_a_shop_file_of_earlier_days_is_told_where_its_figure_belongs(tmp_path):
    text = (data_folder() / "shop.toml").read_text(encoding="utf-8")
    shop = tmp_path / "shop.toml"
    shop.write_text(text.replace("[bench]\n", '[bench]\ndouble_consumes = "2.1 mm"\n'), encoding="utf-8")
    with pytest.raises(InputError) as error:
        read_shop(shop)
    assert str(error.value).startswith("shop.toml, bench: there is no key 'double_consumes'; the keys are flare_grip, ")
    assert str(error.value).endswith(
        "; write what was measured as a [[trial_flare]]: the blank before, and what is left after"
    )
