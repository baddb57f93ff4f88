"""What a plan leaves for the fitter to settle: whole sentences."""

import math
from pathlib import Path

import pytest
from msgspec.structs import replace

from tests.free_vehicles import free_vehicle
from tubing.centreline.between import Bending, PortAt, tube_between
from tubing.errors import ClearanceError, GeometryError, JobError, StockError
from tubing.geometry.vectors import scale, unit
from tubing.inputs.job_file import read_job
from tubing.inputs.records import Cut, Ends, FitUp, TubeBetween
from tubing.inputs.shop_file import read_shop
from tubing.plan import plan
from tubing.units import quantity, rounded

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
    bench = replace(SHOP.bench, fit_up=FitUp(distance=quantity(5, "mm")))
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


def demo(name):
    return read_job(JOBS / f"{name}.toml", SHOP)


def test_a_tube_that_no_layout_has_is_told_and_with_the_order_free_is_not():
    """Corners for the tube from the nose to the far box, between which the near one stands in every layout."""
    job = twin()
    said = replace(job, between=(*job.between, TubeBetween("nose", "far")))
    text = "[[tube_between]] nose and far: no layout has such a tube, so what it says is left alone"
    assert text in plan(said, SHOP).warnings
    assert text not in plan(replace(said, order="free"), SHOP).warnings


def test_an_end_left_plain_at_a_box_is_told():
    job = twin()
    loose = replace(job, between=(TubeBetween("near", "far", ends=Ends(end="plain")),))
    assert (
        "piece near-far: its end at far is left plain, and nothing holds it in the groove" in plan(loose, SHOP).warnings
    )


def test_a_wire_shorter_than_the_straight_way_is_refused():
    """Spindles 500 mm apart, a groove offset of 25 mm at each: 450 mm at least; wire and mouths make less."""
    job = twin()
    wire = replace(job, between=(TubeBetween("near", "far", measured=quantity(380, "mm"), bends=()),))
    with pytest.raises(GeometryError) as error:
        plan(wire, SHOP)
    assert str(error.value) == (
        "tube near-far, measured: the wire makes it 420.0 mm from groove to groove; no tube between these ports is "
        "shorter than 450.0 mm, the straight way; lay the wire again, or measure the positions again"
    )


@pytest.mark.long
def test_a_piece_too_long_for_its_bends_says_to_look_at_the_headings():
    """The nose looks across the vehicle: the tube has to turn by more than a right angle, and then fits no bar."""
    bars = (replace(SHOP.stock[0], length=quantity(400, "mm")),)
    with pytest.raises(StockError) as error:
        plan(free_vehicle(59, (2, 3, 4)), replace(SHOP, stock=bars))
    assert str(error.value).endswith(": look at the headings first")


def test_a_piece_from_a_ready_flared_bar_stays_right_when_that_bar_is_taken_out_of_stock():
    """The papers say to take the bar out of stock; then the piece is as long as it was cut, and the fitter is told."""
    job = demo("behind-the-heater")
    with_bar = plan(job, SHOP)
    blank = next(one for one in with_bar.sawn if one.ready[0])
    done = replace(job, cuts=(Cut(blank.piece.id, quantity(blank.length_mm, "mm"), ready=("nose",)),))
    without = replace(SHOP, stock=tuple(bar for bar in SHOP.stock if not bar.ready_ends))
    after = plan(done, without)
    assert after.sawn[0].length_mm == blank.length_mm
    assert after.sawn[0].ready == (True, False)
    assert {blank.piece.id: blank.length_mm}.items() <= {
        name: length for bar in after.nest.bars for name, length in zip(bar.items, bar.lengths_mm, strict=True)
    }.items()
    told = (
        "piece nose-near: the job says that its double flare with its nut came with the bar; no bar of the shop comes "
        "so now, which is right only if that bar was taken out of stock since"
    )
    assert told in after.warnings
    assert told not in plan(done, SHOP).warnings


def test_a_plain_end_cannot_have_come_flared():
    job = replace(twin(), cuts=(Cut("far-end", quantity(143, "mm"), ready=("end",)),))
    with pytest.raises(JobError) as error:
        plan(job, SHOP)
    assert str(error.value) == (
        "cut 'far-end', ready: at end the piece has no flare; it must be an end that came flared with its bar; take "
        "'end' out of ready"
    )


def test_what_was_chosen_is_still_told_when_a_cut_piece_moves_a_box():
    """Headings left free are held from then on, and were chosen all the same; the new hole is told for the driller."""
    job = demo("curved-scuttle")
    planned = plan(job, SHOP)
    assert planned.run.free
    first = planned.pieces[0]
    moved = plan(replace(job, cuts=(Cut(first.id, quantity(first.blank_mm + 8, "mm"), flared=first.tube.ports),)), SHOP)
    assert moved.run.free == planned.run.free
    [said] = [text for text in moved.warnings if "grooves cannot take that up" in text]
    near = moved.run.boxes[0].mounting
    assert near.hole_mm != job.mountings[near.name].hole_mm
    assert f"its hole to ({', '.join(rounded(c, 1) for c in near.hole_mm)}) mm" in said


@pytest.mark.parametrize(("name", "error"), [("near", ClearanceError), ("far", StockError)])
def test_a_wheelbox_the_wrong_way_round_is_named_with_what_it_costs(name, error):
    """Its tubes turn back and run into themselves or fit no bar; turned round, the run is what the error promises."""
    job = replace(read_job(JOBS / "curved-scuttle.toml", SHOP), measuring_error=None, layout="twin")
    run = plan(job, SHOP).run
    box = next(box for box in run.boxes if box.name == name)
    turned = replace(box.mounting, heading=scale(box.heading, -1.0))
    with pytest.raises(error) as caught:
        plan(replace(job, mountings={**job.mountings, name: turned}), SHOP)
    assert (
        f"turn the heading of wheelbox {name} the other way round (that is almost always the mistake): the run then "
        f"has {run.cost.bends} bends and turns {rounded(math.degrees(run.cost.turn_rad), 1)} deg"
    ) in str(caught.value)


def test_a_nose_that_looks_back_is_told_to_be_turned():
    """The nose looks straight back along the vehicle: no tube joins it to the first box; turned round, one does."""
    job = twin()
    away = replace(job, nose=replace(job.nose, heading=scale(job.nose.heading, -1.0)), measuring_error=None)
    with pytest.raises(GeometryError) as caught:
        plan(away, SHOP)
    assert str(caught.value).endswith(
        "turn the heading of nose the other way round: the run then has 0 bends and turns 0.0 deg"
    )


@pytest.mark.long
@pytest.mark.parametrize(("seed", "spared"), [(18, True), (54, False)])
def test_a_hairpin_is_told_with_what_would_spare_it(seed, spared):
    """Free headings, and a nose that looks away from the first box; turned round, the run is what is promised."""
    job = replace(free_vehicle(seed, (2, 3, 4)), measuring_error=None)
    planned = plan(job, SHOP)
    worst_deg = math.degrees(max(bend.angle_rad for bend in planned.pieces[0].bends))
    assert worst_deg > 135
    [said] = [text for text in planned.warnings if "greatest_bend" in text]
    assert f"turns {rounded(worst_deg, 1)} deg, and [bench] greatest_bend is 135.0 deg; " in said
    if not spared:
        assert said.endswith("; no other heading spares it: measure nose and b0 again")
        return
    other = plan(replace(job, nose=replace(job.nose, heading=scale(job.nose.heading, -1.0))), SHOP).run.cost
    assert said.endswith(
        f"; turn the heading of nose the other way round: the run then has {other.bends} bends and turns "
        f"{rounded(math.degrees(other.turn_rad), 1)} deg, not {planned.run.cost.bends} and "
        f"{rounded(math.degrees(planned.run.cost.turn_rad), 1)} deg"
    )


def test_no_bend_is_over_the_greatest_where_another_tube_joins():
    """Where a tube of gentler bends joins the same two ports it is taken, however much longer."""
    start = PortAt("a", (0.0, 0.0, 0.0), (1.0, 0.0, 0.0), 20.0)
    end = PortAt("b", (140.0, 230.0, 20.0), unit((-1.0, -0.1, 0.8)), 20.0)
    loose, tight = Bending(60.0, 10.0, 0.0, 0.0), Bending(60.0, 10.0, 0.0, 0.0, math.radians(110))
    free = tube_between(start, end, loose).line
    held = tube_between(start, end, tight).line
    assert max(b.angle_rad for b in free.bends) > math.radians(110)
    assert max(b.angle_rad for b in held.bends) <= math.radians(110) + 1e-9
    assert held.length_mm > free.length_mm
