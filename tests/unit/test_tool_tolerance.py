"""How sure the trials are joins the tape's error in each blank's tolerance."""

import math

import pytest
from msgspec.structs import replace

from tubing.inputs.job_file import read_job
from tubing.inputs.records import TrialBend, TrialFlare
from tubing.inputs.shop_file import data_folder, read_shop
from tubing.plan import plan
from tubing.sheet.cutting import sureness_table
from tubing.sheet.shop_tables import tables_sheet
from tubing.units import quantity
from tubing.writers.terminal import draw

SHOP = read_shop(None)
JOB = read_job(data_folder() / "jobs" / "round-the-corner.toml", SHOP)
BENDS = [(32.1, 30), (63, 60), (94.5, 90)]
FLARES = [197.7, 197.5, 197.6]


def bends(pairs):
    return tuple(TrialBend("steel-8", "sheave-230", quantity(s, "deg"), quantity(g, "deg")) for s, g in pairs)


def flares(kind, after):
    return tuple(TrialFlare("steel-8", kind, quantity(200, "mm"), quantity(a, "mm")) for a in after)


def test_the_mean_of_flares_adds_as_often_as_a_blank_uses_it():
    """Single flares of 2.3, 2.5 and 2.4 mm: the mean is sure to t 4.3027 x 0.1 / root 3, twice in a tube with two."""
    shop = replace(SHOP, trial_flares=flares("single", FLARES))
    each = 4.3027 * 0.1 / math.sqrt(3)
    for piece in plan(JOB, shop).pieces:
        found = plan(JOB, shop).tolerances[piece.id]
        count = sum(end.flare == "single" for end in piece.ends)
        assert found.flare_mm == pytest.approx(count * each, abs=1e-4)
        assert found.worst_mm == pytest.approx(found.tape_mm + found.flare_mm)
    before, after = plan(JOB, SHOP).tolerances["nose-near"], plan(JOB, shop).tolerances["nose-near"]
    assert after.likely_mm == pytest.approx(math.hypot(before.likely_mm, after.flare_mm))


def test_how_sure_the_springback_is_joins_by_what_bends_gain():
    """Slope deviation by hand: residuals 0.1, -0.2, 0.1 over 30, 60, 90 degrees: root(0.06) / root(1800)."""
    shop = replace(SHOP, trial_bends=bends(BENDS))
    planned = plan(JOB, shop)
    sure = 12.7062 * math.sqrt(0.06 / 1800)
    for piece in planned.pieces:
        gained = sum(2 * math.tan(b.angle_rad / 2) - b.angle_rad for b in piece.bends)
        expected = 0.0 if piece.id == "far-end" else 230 * sure * gained
        assert planned.tolerances[piece.id].bender_mm == pytest.approx(expected, rel=1e-4)


def test_the_sheet_says_which_of_the_three_matters_most():
    """A tape that is never wrong: what is left comes from the tools, and the sheet names the one that adds most."""
    sure = replace(JOB, measuring_error=quantity(0.01, "mm"))
    shop = replace(SHOP, trial_flares=flares("single", (197.7, 196.0)))
    planned = plan(sure, shop)
    assert planned.tolerances["near-far"].source == "flare"
    [row] = [row for row in sureness_table(planned.tolerances).rows if row[0] == "near-far"]
    assert row[-1] == "what a flare takes"
    [said] = [text for text in planned.warnings if text.startswith("piece near-far: mark it in place")]
    assert "for tape and flares may make it" in said
    assert "the flare adds most" in said
    assert plan(JOB, SHOP).tolerances["near-far"].source == "tape"


def test_a_trial_that_lies_off_the_others_is_named_where_it_matters():
    """Five bends on a line and one four degrees off; four flares alike and one that took 2 mm more."""
    good = [(got * 1.04 + 1, got) for got in (20, 40, 60, 80, 100)]
    shop = replace(SHOP, trial_bends=bends([*good, (77, 70)]), trial_flares=flares("single", (197.7,) * 4 + (195.7,)))
    said = plan(JOB, shop).warnings
    assert (
        "the trial bend of steel-8 on sheave-230 that was set to 77.0 deg and stayed at 70.0 deg lies off the others: "
        "measure it again, or bend it anew" in said
    )
    assert (
        "the single trial flare of steel-8 that left 195.7 mm of 200 mm lies off the others: measure it again, or "
        "flare it anew" in said
    )
    assert not any("lies off" in text for text in plan(JOB, replace(SHOP, trial_bends=bends(good))).warnings)


def test_the_tables_say_how_sure_the_trials_are_and_which_lies_off():
    """The interval in the middle, by hand t 12.7062 x root(0.06 / 3); and the trials that the plan warns of."""
    text = " ".join(draw(tables_sheet(replace(SHOP, trial_bends=bends(BENDS)), None, "mm"), 200).split())
    assert f"{12.7062 * math.sqrt(0.06 / 3):.1f}" in text
    good = [(got * 1.04 + 1, got) for got in (20, 40, 60, 80, 100)]
    shop = replace(SHOP, trial_bends=bends([*good, (77, 70)]), trial_flares=flares("single", (197.7,) * 4 + (195.7,)))
    text = " ".join(draw(tables_sheet(shop, None, "mm"), 200).split())
    assert "Off the others: steel-8 on sheave-230, set to 77.0 deg, got 70.0 deg." in text
    assert "Off the others: single on steel-8, 200 mm before, 195.7 mm after." in text
