"""What a plan leaves for the fitter to settle: whole sentences."""

import math
from pathlib import Path

from msgspec.structs import replace

from tubing.job import read_job, read_shop
from tubing.plan import plan
from tubing.units import quantity

JOBS = Path(__file__).parents[2] / "data" / "jobs"
SHOP = read_shop(None)


def twin():
    return read_job(JOBS / "lined-up-twin.toml", SHOP)


def test_bends_too_slight_to_set_are_told_with_what_would_spare_them():
    """The nose 4 mm too high, over more than 300 mm: beyond the fit-up of 3 mm, and two bends below 2 deg."""
    job = twin()
    x, y, z = job.nose.position_mm
    raised = replace(job, nose=replace(job.nose, position_mm=(x, y, z + 4.0)))
    planned = plan(raised, SHOP)
    first = planned.pieces[0]
    assert len(first.bends) == 2
    most_deg = max(math.degrees(bend.angle_rad) for bend in first.bends)
    _, groove_y, groove_z = planned.run.boxes[0].groove_in_mm
    off_mm = math.hypot(groove_y - y, groove_z - z - 4.0)  # the rack leaves the nose along x
    assert (
        f"piece nose-near: its 2 bends turn no more than {most_deg:.1f} deg, which is hard to set; wheelbox near is "
        f"{off_mm:.1f} mm off the line on which the rack leaves nose: move either by that and the tube is straight, or "
        "allow the shop's fit_up so much"
    ) in planned.warnings
    bench = replace(SHOP.bench, fit_up_distance=quantity(5, "mm"))
    assert plan(raised, replace(SHOP, bench=bench)).pieces[0].bends == ()


def test_tube_of_another_wall_than_its_stock_is_told():
    job = twin()
    thin = replace(job, tube=replace(job.tube, name="8 mm steel", wall=quantity(0.6, "mm")))
    said = [text for text in plan(thin, SHOP).warnings if text.startswith("tube ")]
    assert said == [
        "tube 8 mm steel: its wall is 0.6 mm, and the stock steel-8 that it is cut from has 0.8 mm; bore, bends and "
        "flares are worked out for 0.6 mm: put the tube you cut among the shop's stock, or give its wall"
    ]
    assert not [text for text in plan(job, SHOP).warnings if text.startswith("tube ")]


def test_bodies_that_stand_in_each_other_are_told():
    """The demo's boxes are 90 mm long and stand in line: spindles 88 mm apart, they overlap by 2 mm."""
    job = twin()
    near, far = job.mountings["near"], job.mountings["far"]
    assert [quantity(side, "mm") for side in (90, 56)] == list(near.model.body[:2])
    x, y, z = near.hole_mm
    shorter = replace(SHOP, bench=replace(SHOP.bench, flare_grip=quantity(10, "mm")))
    model = replace(near.model, groove_offset=quantity(20, "mm"), mouth_offset=quantity(20, "mm"))
    for apart_mm, said in ((88.0, ["2.0"]), (90.5, [])):
        boxes = {"near": replace(near, model=model), "far": replace(far, model=model, hole_mm=(x + apart_mm, y, z))}
        warnings = plan(replace(job, mountings=boxes), shorter).warnings
        assert [text for text in warnings if text.startswith("wheelboxes ")] == [
            f"wheelboxes near and far: their bodies overlap by {deep} mm as they are turned; move them apart, or give "
            "headings that turn them clear"
            for deep in said
        ]
