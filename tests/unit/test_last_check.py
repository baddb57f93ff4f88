"""The check at the end of a plan refuses what is wrong: for every line of it a plan that only this line refuses."""

import itertools
import math
from fractions import Fraction
from pathlib import Path
from types import SimpleNamespace

import pytest
from msgspec.structs import replace

from tubing.check import check_run
from tubing.errors import CheckError
from tubing.geometry.vectors import add, turned
from tubing.inputs.job_file import read_job
from tubing.inputs.shop_file import data_folder, read_shop
from tubing.nesting import Cutting, End, Item, Nest, OffcutRule, Proof, SavedEnd, Stock, check_nest, nest
from tubing.plan import plan
from tubing.units import mm, quantity

SHOP = read_shop(None)
CORNER = plan(read_job(Path(data_folder()) / "jobs" / "round-the-corner.toml", SHOP), SHOP)
STRAIGHT = plan(read_job(Path(data_folder()) / "jobs" / "lined-up-twin.toml", SHOP), SHOP)
FAULT = "; the plan's own check failed: please report this job; do not cut by it"


def said_of(run, pieces, job, names=None):
    """What the check says of a plan that was spoilt."""
    with pytest.raises(CheckError) as error:
        check_run(run, pieces, names or [box.name for box in run.boxes], job, SHOP)
    text = str(error.value)
    assert text.endswith(FAULT)
    return text.removesuffix(FAULT)


def with_piece(planned, k, **changed):
    """The pieces of a plan, one of them changed."""
    return tuple(replace(piece, **changed) if at == k else piece for at, piece in enumerate(planned.pieces))


def with_bend(k, **changed):
    """The pieces round the corner, one bend of the first one changed."""
    bends = CORNER.pieces[0].bends
    return with_piece(
        CORNER, 0, bends=tuple(replace(bend, **changed) if at == k else bend for at, bend in enumerate(bends))
    )


def test_the_plans_as_they_are_pass():
    """Else the refusals below would tell nothing."""
    for planned in (CORNER, STRAIGHT):
        check_run(planned.run, planned.pieces, ["near", "far"], planned.job, SHOP)


def test_a_wheelbox_left_out():
    told = said_of(CORNER.run, CORNER.pieces, CORNER.job, ["near", "middle", "far"])
    assert told == "run: it visits near, far; it had to visit near, middle, far"


def test_pieces_out_of_order():
    first, second, last = STRAIGHT.pieces
    told = said_of(STRAIGHT.run, (second, first, last), STRAIGHT.job)
    assert told == "piece near-far: it is out of order; here the run goes from nose to near"


def with_rack(k, **changed):
    """The run round the corner, where one box's rack is said to lie elsewhere."""
    box = CORNER.run.boxes[k]
    facts = {name: getattr(box, name) for name in ("name", "mounting", "heading", "side", "pitch_point_mm")}
    boxes = tuple(SimpleNamespace(**(facts | changed)) if at == k else b for at, b in enumerate(CORNER.run.boxes))
    return SimpleNamespace(boxes=boxes)


def test_a_rack_that_passes_at_another_distance():
    """The pitch point 2 mm further from the spindle than the pitch radius."""
    box = CORNER.run.boxes[0]
    further = add(box.pitch_point_mm, unit_from_axis(box), 2.0)
    told = said_of(with_rack(0, pitch_point_mm=further), CORNER.pieces, CORNER.job)
    radius = mm(box.mounting.model.pitch_radius)
    assert told == f"wheelbox near: its rack passes {radius + 2:.4f} mm off; it must be {radius:g} mm"


def unit_from_axis(box):
    """From a box's axis square to its rack."""
    way = [p - h for p, h in zip(box.pitch_point_mm, box.mounting.hole_mm, strict=True)]
    along = sum(w * s for w, s in zip(way, box.mounting.spindle, strict=True))
    aside = [w - along * s for w, s in zip(way, box.mounting.spindle, strict=True)]
    return tuple(a / math.hypot(*aside) for a in aside)


def test_a_rack_that_is_not_square_to_the_spindle():
    """The heading leans by a degree towards the spindle: the distance is right, the direction is not."""
    box = CORNER.run.boxes[0]
    leaning = turned(box.heading, unit_from_axis(box), math.radians(1))
    told = said_of(with_rack(0, heading=leaning), CORNER.pieces, CORNER.job)
    assert told.startswith("wheelbox near: its rack passes ")


def test_a_rack_on_the_other_side():
    box = CORNER.run.boxes[0]
    told = said_of(with_rack(0, side=-box.side), CORNER.pieces, CORNER.job)
    assert told == "wheelbox near: its rack passes on the other side; it must pass on the side stated"


def test_a_blank_without_what_a_flare_consumes():
    """Cut and blank shorter by the flare: the cut still holds the blank, but the blank does not hold the flares."""
    piece = STRAIGHT.pieces[0]
    lost = piece.ends[0].consumed_mm
    told = said_of(STRAIGHT.run, with_piece(STRAIGHT, 0, blank_mm=piece.blank_mm - lost), STRAIGHT.job)
    assert told == f"piece nose-near: its cut is {float(piece.cut_mm):g} mm; it must hold the blank"


def test_a_cut_shorter_than_its_blank():
    piece = STRAIGHT.pieces[0]
    told = said_of(STRAIGHT.run, with_piece(STRAIGHT, 0, cut_mm=piece.cut_mm - 1), STRAIGHT.job)
    assert told == f"piece nose-near: its cut is {float(piece.cut_mm) - 1:g} mm; it must hold the blank"


@pytest.mark.parametrize(
    "changed", [{"angle_rad": 0.8}, {"rotation_rad": 0.3}, {"from_rim_mm": 767.6}, {"radius_mm": 245.0}], ids=str
)
def test_a_schedule_that_does_not_arrive(changed):
    """The second bend by another angle, to another side, somewhere else, or on another former."""
    told = said_of(CORNER.run, with_bend(1, **changed), CORNER.job)
    assert told.startswith("piece nose-near: bent by its schedule it ends ")
    assert told.endswith("; it must arrive at near")


def test_a_blank_that_is_too_long_for_its_way():
    """All lengths 1 mm longer: the tube arrives 1 mm beyond the groove."""
    piece = STRAIGHT.pieces[1]
    longer = {"finished_mm": piece.finished_mm + 1, "blank_mm": piece.blank_mm + 1, "cut_mm": piece.cut_mm + 1}
    told = said_of(STRAIGHT.run, with_piece(STRAIGHT, 1, **longer), STRAIGHT.job)
    assert told == "piece near-far: bent by its schedule it ends 1.0000 mm and 0.0000 deg off; it must arrive at far"


def test_a_heading_at_the_end_that_is_not_the_boxes():
    """The port looks half a degree away: the place is right, the direction is not."""
    piece = STRAIGHT.pieces[1]
    end = replace(piece.tube.end, heading=turned(piece.tube.end.heading, (0.0, 0.0, 1.0), math.radians(0.5)))
    told = said_of(STRAIGHT.run, with_piece(STRAIGHT, 1, tube=replace(piece.tube, end=end)), STRAIGHT.job)
    assert told == "piece near-far: bent by its schedule it ends 0.0000 mm and 0.5000 deg off; it must arrive at far"


@pytest.mark.parametrize(
    ("changed", "number", "straight_mm", "needed_mm"),
    [
        ({"flare_grip": quantity(900, "mm")}, 1, None, None),
        ({}, 2, None, None),
    ],
    ids=["what the flare wants", "what the former wants"],
)
def test_a_straight_too_short_to_hold(changed, number, straight_mm, needed_mm):
    """§6 Straights: the former wants 250 mm between bends, or the tool 900 mm: no straight here has so much."""
    shop = replace(SHOP, bench=replace(SHOP.bench, **changed))
    former = CORNER.job.former if changed else replace(CORNER.job.former, grip=quantity(250, "mm"))
    job = replace(CORNER.job, former=former)
    with pytest.raises(CheckError) as error:
        check_run(CORNER.run, CORNER.pieces, ["near", "far"], job, shop)
    straight = CORNER.pieces[0].tube.shape.line.straights_mm[number - 1]
    needed = 900 + mm(CORNER.job.nose.model.nut_length) if changed else 250
    assert str(error.value) == (
        f"piece nose-near: straight {number} of its 3 is {straight:.3f} mm; it must be {needed:g} mm{FAULT}"
    )


def test_a_straight_tube_too_short_for_both_its_ends():
    """Without a bend the one straight must hold both flares: 250 + 250 mm of 450."""
    shop = replace(SHOP, bench=replace(SHOP.bench, flare_grip=quantity(250, "mm")))
    with pytest.raises(CheckError) as error:
        check_run(STRAIGHT.run, STRAIGHT.pieces, ["near", "far"], STRAIGHT.job, shop)
    assert ": straight 1 of its 1 is " in str(error.value)


# Bars

DOUBLE, SINGLE = End("double", True), End("single", False)
READY = Stock("ready", "tube", Fraction(1000), 50, limit=1, ready_ends=(DOUBLE,))
RAW = Stock("raw", "tube", Fraction(1500), 700, limit=2)
PIECES = [
    Item("a", "tube", Fraction(400), ends=(End("double", True, Fraction(2)), SINGLE)),
    Item("b", "tube", Fraction(300), ends=(End("double", True, Fraction(2)),)),
    Item("c", "tube", Fraction(900), 2),
]
RULES = Cutting(Fraction(2), Fraction(5), OffcutRule(Fraction(100), Fraction(200)))
GOOD = nest(PIECES, [READY, RAW], cutting=RULES)
DEFECT = "; this is a defect of the program; please report the job"


def refused(found: Nest, stocks=(READY, RAW)):
    """What nesting's check says of a spoilt answer."""
    with pytest.raises(CheckError) as error:
        check_nest(PIECES, found, stocks=list(stocks), cutting=RULES)
    assert str(error.value).endswith(DEFECT)
    return str(error.value).removesuffix(DEFECT)


def spoilt(name, **changed):
    """The good answer with the bar that holds a piece changed."""
    bars = tuple(replace(bar, **changed) if name in bar.items else bar for bar in GOOD.bars)
    return replace(GOOD, bars=bars)


def bar_with(name):
    return next(bar for bar in GOOD.bars if name in bar.items)


def called(bar):
    return f"bar {bar.stock.name!r} with {', '.join(bar.items)}"


def test_the_good_answer_passes_and_uses_a_ready_end():
    check_nest(PIECES, GOOD, stocks=[READY, RAW], cutting=RULES)
    assert any(bar.saved_ends for bar in GOOD.bars)
    assert GOOD.proof is Proof.OPTIMAL


def test_a_piece_that_is_missing_or_cut_twice():
    without = replace(GOOD, bars=tuple(bar for bar in GOOD.bars if "c" not in bar.items))
    assert refused(without).endswith(
        ("it is cut 0 times; it is wanted 1 times", "it is cut 0 times; it is wanted 2 times")
    )
    twice = replace(GOOD, bars=(*GOOD.bars, bar_with("a")))
    assert "it is cut 2 times; it is wanted 1 times" in refused(twice)


def test_a_piece_of_another_size_is_not_the_piece():
    bar = bar_with("b")
    other = replace(
        GOOD, bars=tuple(replace(b, stock=replace(b.stock, size="pipe")) if b == bar else b for b in GOOD.bars)
    )
    assert refused(other).startswith("piece ")


def test_a_cost_that_is_not_the_sum_of_the_bars():
    assert refused(replace(GOOD, cost_cents=GOOD.cost_cents + 1)) == (
        f"cost of the bars: {GOOD.cost_cents + 1} cents; the bars add up to {GOOD.cost_cents} cents"
    )


@pytest.mark.parametrize(("proof", "by"), [(Proof.OPTIMAL, -1), (Proof.OPTIMAL, 1), (Proof.FEASIBLE, 1)])
def test_a_bound_that_contradicts_the_cost(proof, by):
    """Above the cost it is no bound; below it nothing is proved."""
    told = refused(replace(GOOD, bound_cents=GOOD.cost_cents + by, proof=proof))
    assert told == f"cost of the bars: {GOOD.cost_cents} cents, {proof}; its bound is {GOOD.cost_cents + by} cents"


def test_a_piece_on_a_ready_end_that_does_not_match():
    bar = next(bar for bar in GOOD.bars if bar.saved_ends)
    [saved] = bar.saved_ends
    name = bar.items[saved.piece]
    other = replace(bar.stock, ready_ends=(End("single", True),))
    told = refused(spoilt(name, stock=other), (other, READY, RAW))
    assert told.endswith(f"{name!r} lies on a ready end; its own end must match it")


def test_a_ready_end_that_serves_two_pieces():
    bar = next(bar for bar in GOOD.bars if bar.saved_ends)
    [saved] = bar.saved_ends
    name = bar.items[saved.piece]
    told = refused(spoilt(name, saved_ends=(saved, saved)))
    assert told == f"{called(bar)}: a ready end is used twice; each serves one piece"


def test_a_piece_that_uses_two_ready_ends():
    """Two ready ends of one bar, and both said to serve the same piece."""
    both = replace(READY, ready_ends=(DOUBLE, SINGLE))
    bar = bar_with("a")
    used = (SavedEnd(0, bar.items.index("a"), 0), SavedEnd(1, bar.items.index("a"), 1))
    told = refused(spoilt("a", stock=both, saved_ends=used), (both, READY, RAW))
    assert told.endswith(": a ready end is used twice; each serves one piece")


def test_a_piece_cut_to_another_length():
    bar = bar_with("c")
    at = bar.items.index("c")
    lengths = tuple(x - (k == at) for k, x in enumerate(bar.lengths_mm))
    assert refused(spoilt("c", lengths_mm=lengths)).endswith("'c' is cut to 899 mm; that is not its length")


def test_a_bar_that_is_overfilled():
    """The same bar, said to be cut from stock 600 mm shorter."""
    bar = bar_with("c")
    short = replace(bar.stock, length_mm=bar.stock.length_mm - 600)
    assert "mm too much is planned on it; pieces and cuts must fit" in refused(
        spoilt("c", stock=short), (short, READY, RAW)
    )


def test_a_bar_without_pieces():
    empty = replace(bar_with("c"), items=(), lengths_mm=(), saved_ends=())
    assert "mm too much is planned on it; pieces and cuts must fit" in refused(replace(GOOD, bars=(*GOOD.bars, empty)))


def test_what_is_left_of_a_bar_is_told_wrong():
    bar = bar_with("c")
    told = refused(spoilt("c", left_mm=bar.left_mm + 1))
    assert told == f"{called(bar)}: {float(bar.left_mm) + 1:g} mm are said to be left; {float(bar.left_mm):g} mm are"
    assert " mm are said to be left; " in refused(spoilt("c", kept=not bar.kept))


def test_stock_that_is_not_there_or_not_so_often():
    told = refused(GOOD, [replace(bar.stock, price_cents=1) for bar in GOOD.bars])
    assert told.endswith("it is cut from; there is no such stock")
    used = next(iter({bar.stock for bar in GOOD.bars if bar.stock.name == "raw"}), None)
    assert used is not None, "the lists above are made so that raw bars are used"
    count = sum(bar.count for bar in GOOD.bars if bar.stock == used)
    few = replace(used, limit=count - 1)
    bars = tuple(replace(bar, stock=few) if bar.stock == used else bar for bar in GOOD.bars)
    assert refused(replace(GOOD, bars=bars), [READY, few]) == (
        f"stock 'raw': {count} bars are used; there are {count - 1}"
    )


def test_an_offcut_on_the_shelf_is_there_once():
    """On the shelf a stock without a number is one bar."""
    shelf = Stock("shelf", "tube", Fraction(910), 100, on_shelf=True)
    bar = replace(bar_with("c"), stock=shelf)
    items = [Item("c", "tube", Fraction(900), 2)]
    answer = nest(
        items,
        [replace(shelf, limit=2)],
        cutting=Cutting(Fraction(2), Fraction(0), OffcutRule(Fraction(0), Fraction(0))),
    )
    once = replace(answer, bars=tuple(replace(each, stock=shelf) for each in answer.bars))
    with pytest.raises(CheckError) as error:
        check_nest(
            items,
            once,
            stocks=[shelf],
            cutting=Cutting(Fraction(2), Fraction(0), OffcutRule(Fraction(0), Fraction(0))),
        )
    assert str(error.value) == f"stock 'shelf': 2 bars are used; there are 1{DEFECT}"
    assert bar.stock.on_shelf
    assert list(itertools.chain(*(each.items for each in answer.bars))) == ["c"] * len(answer.bars)
