"""What the example job and shop files become: each figure where it belongs, in mm and radians."""

import math
from fractions import Fraction
from pathlib import Path

import pytest
from msgspec.structs import replace

import tubing
from tubing.errors import InputError
from tubing.inputs.job_file import read_job
from tubing.inputs.records import Box, Cylinder, Job, ReadyEnd, Sphere
from tubing.inputs.shop_file import data_folder, read_shop
from tubing.plan import plan
from tubing.units import deg, exact_mm, mm, newton, quantity

FILES = Path(__file__).parent / "job_files"
EXAMPLE = (FILES / "example.toml").read_text(encoding="utf-8")
SHOP = (FILES / "example_shop.toml").read_text(encoding="utf-8")


def example() -> Job:
    """The example job."""
    return read_job(FILES / "example.toml", read_shop(None))


def changed(folder: Path, *changes: tuple[str, str]) -> Job:
    """The example job with texts replaced."""
    text = EXAMPLE
    for stands, instead in changes:
        assert stands in text
        text = text.replace(stands, instead, 1)
    (folder / "job.toml").write_text(text, encoding="utf-8")
    return read_job(folder / "job.toml", read_shop(None))


def test_layouts_keep_their_order_from_the_motor() -> None:
    """The rack passes the boxes in the order written."""
    assert example().layouts == {"twin": ("near", "far"), "triple": ("near", "middle", "far")}


def test_points_may_mix_inches_and_millimetres(tmp_path: Path) -> None:
    """One point, three units; 25.4 mm to the inch, exactly."""
    job = changed(tmp_path, ('["-650 mm", "-50 mm", "-35 mm"]', '["-1 1/2 in", "-5.5 cm", "-35 mm"]'))
    assert job.nose.position_mm == (-38.1, -55.0, -35.0)


def test_directions_become_unit_vectors() -> None:
    """[0, 0.71, 0.71] is written by hand and means 45 degrees."""
    assert example().mountings["near"].spindle == pytest.approx((0, math.sqrt(0.5), math.sqrt(0.5)), abs=1e-15)


def test_a_direction_by_two_points_points_from_the_first_to_the_second() -> None:
    """From the origin to (0, 10, 10) mm."""
    assert example().mountings["middle"].spindle == pytest.approx((0, math.sqrt(0.5), math.sqrt(0.5)), abs=1e-15)


def test_a_lean_counts_from_the_panel_and_stays_in_its_plane_with_the_normal() -> None:
    """The angle to the normal is the lean; the spindle, the normal and `toward` lie in one plane."""
    far = example().mountings["far"]
    assert far.panel is not None
    cosine = sum(a * n for a, n in zip(far.spindle, far.panel, strict=True))
    assert math.degrees(math.acos(cosine)) == pytest.approx(40, abs=1e-9)
    assert far.spindle[0] == pytest.approx(0, abs=1e-15)
    assert far.spindle[1] > far.panel[1]  # it leans forward, as toward says


def test_no_lean_is_the_normal_itself(tmp_path: Path) -> None:
    """A spindle square to its panel."""
    far = changed(tmp_path, ('lean = "40 deg"', 'lean = "0 deg"')).mountings["far"]
    assert far.spindle == pytest.approx(far.panel, abs=1e-15)


def test_what_a_wheelbox_leaves_out_comes_from_model_then_shop() -> None:
    """bench-box has its own spacer; the inline box has none, so the shop's is taken; so with the panel."""
    shop = read_shop(None)
    near, middle = example().mountings["near"], example().mountings["middle"]
    assert (mm(near.spacer), mm(near.panel_thickness), near.side) == (6.0, 1.2, 1)
    assert (middle.spacer, middle.panel_thickness, middle.side) == (shop.bench.spacer, shop.bench.panel_thickness, None)
    assert middle.heading is None


def test_a_zero_spacer_is_not_a_missing_one(tmp_path: Path) -> None:
    """0 mm is a figure."""
    assert mm(changed(tmp_path, ('spacer  = "6 mm"', 'spacer  = "0 mm"')).mountings["near"].spacer) == 0.0


def test_an_inline_wheelbox_takes_the_stated_defaults() -> None:
    """Mouth 20 mm beyond the groove, groove 3 mm wide; no body; marked as the job's own figures."""
    model = example().mountings["middle"].model
    assert (mm(model.mouth_offset), mm(model.groove_width), model.body, model.sure) == (45.0, 3.0, None, "J")
    assert exact_mm(model.stem) == Fraction(127, 4)


def test_an_inline_wheelbox_takes_its_own_figures(tmp_path: Path) -> None:
    """Each optional key wins over its default."""
    own = 'mouth_offset = "50 mm", groove_width = "4 mm", spacer = "2 mm", body = ["100 mm", "60 mm", "40 mm"], '
    own += 'nut = "9 mm", washer = "0 mm", bush'
    mounting = changed(tmp_path, ("bush", own)).mountings["middle"]
    assert (mm(mounting.model.mouth_offset), mm(mounting.model.groove_width), mm(mounting.spacer)) == (50.0, 4.0, 2.0)
    assert mounting.model.body is not None
    assert [mm(side) for side in mounting.model.body] == [100.0, 60.0, 40.0]
    assert (mounting.model.nut, mounting.model.washer) == (quantity(9, "mm"), quantity(0, "mm"))


def test_an_inline_tube_finds_the_stock_of_its_diameter(tmp_path: Path) -> None:
    """8 mm is stocked in steel and copper; the material decides, steel where none is given."""
    figures = 'size   = {{ diameter = "8 mm", wall = "0.9 mm", least_radius = "30 mm"{} }}'
    plain = changed(tmp_path, ('size   = "steel-8"', figures.format("")))
    assert (plain.tube.stock, plain.tube.material, mm(plain.tube.bore)) == ("steel-8", "steel", 6.2)
    copper = changed(tmp_path, ('size   = "steel-8"', figures.format(', material = "copper", single_flare = "10 mm"')))
    assert copper.tube.stock == "copper-8"
    assert copper.tube.single_flare is not None
    assert mm(copper.tube.single_flare) == 10.0
    named = changed(tmp_path, ('size   = "steel-8"', figures.format(', stock = "copper-8"')))
    assert named.tube.stock == "copper-8"


def test_an_inline_tube_between_two_equal_stocks_must_choose(tmp_path: Path) -> None:
    """Neither material nor wall tells the 8 mm steel and copper stock apart from a brass tube."""
    figures = 'size   = { diameter = "8 mm", wall = "0.9 mm", least_radius = "30 mm", material = "brass" }'
    with pytest.raises(InputError) as error:
        changed(tmp_path, ('size   = "steel-8"', figures))
    assert str(error.value) == (
        "job.toml, tube, size: the shop has several stocks of 8 mm tube; it must be clear what it is cut from; "
        "give stock; choose one of steel-8, copper-8"
    )


def test_an_inline_former_grips_10_mm_unless_it_says(tmp_path: Path) -> None:
    """The default that the design states."""
    job = changed(tmp_path, ('former = "sheave-230"', 'former = { radius = "9 1/4 in" }'))
    assert (mm(job.former.radius), mm(job.former.grip)) == (234.95, 10.0)
    job = changed(tmp_path, ('former = "sheave-230"', 'former = { radius = "240 mm", grip = "15 mm" }'))
    assert mm(job.former.grip) == 15.0


def test_an_inline_motor(tmp_path: Path) -> None:
    """Its rating may be in pounds."""
    figures = 'model   = { fixed_end = "4 in", nut_length = "14 mm", pull = "100 lbf" }'
    job = changed(tmp_path, ('model   = "bench-motor"', figures))
    assert (mm(job.nose.model.fixed_end), newton(job.nose.model.pull)) == (101.6, pytest.approx(444.822, abs=5e-4))


def test_tubes_between_keep_corners_or_measure_and_ends() -> None:
    """Both kinds stand in the example."""
    first, second = example().between
    assert first.corners_mm == ((-600.0, -45.0, -35.0), (-400.0, -20.0, -20.0))
    assert (first.ends.start, first.ends.end, first.measured) == ("double", "single", None)
    assert second.measured is not None
    assert (mm(second.measured), [deg(bend) for bend in second.bends]) == (412.0, [7.0, 7.0])
    assert (second.ends.start, second.ends.end) == (None, None)


def test_things_in_the_way_by_corners_and_by_centre() -> None:
    """A box between corners is one about its middle; the clearance left out is the shop's."""
    heater, duct, column, horn = example().in_the_way
    assert heater.shape == Box((50.0, 50.0, -250.0), (100.0, 100.0, 100.0))
    assert duct.shape == Box((0.0, 0.0, -400.0), (80.0, 60.0, 40.0), (0.0, 0.0, pytest.approx(math.pi / 6)))
    assert column.shape == Cylinder((0.0, 0.0, -500.0), (0.0, 200.0, -500.0), 40.0)
    assert horn.shape == Sphere((0.0, 0.0, -700.0), 60.0)
    assert (mm(heater.clearance), horn.clearance) == (5.0, read_shop(None).bench.clearance)


def test_box_corners_may_come_in_any_order(tmp_path: Path) -> None:
    """From and to swapped is the same box."""
    swapped = changed(
        tmp_path,
        ('from = ["0 mm", "0 mm", "-300 mm"]', 'from = ["100 mm", "0 mm", "-200 mm"]'),
        ('to = ["100 mm", "100 mm", "-200 mm"]', 'to = ["0 mm", "100 mm", "-300 mm"]'),
    )
    assert swapped.in_the_way[0] == example().in_the_way[0]


def test_screen_by_pivots_or_by_a_plane(tmp_path: Path) -> None:
    """Pivots in the glass's own plane, or three points to project on."""
    screen = example().screen
    assert screen is not None
    assert screen.pivots_mm == {"near": (-300.0, 0.0), "far": (200.0, 0.0)}
    assert len(screen.outline_mm) == 3
    plane = 'plane = [["0 mm", "0 mm", "0 mm"], ["1 m", "0 mm", "0 mm"], ["0 mm", "300 mm", "300 mm"]]'
    by_plane = changed(tmp_path, ('pivots  = { near = ["-300 mm", "0 mm"], far = ["200 mm", "0 mm"] }', plane)).screen
    assert by_plane is not None
    assert by_plane.pivots_mm is None
    assert by_plane.plane_mm == ((0.0, 0.0, 0.0), (1000.0, 0.0, 0.0), (0.0, 300.0, 300.0))


def test_arm_lengths_may_be_left_free(tmp_path: Path) -> None:
    """None: they are searched."""
    arm = changed(tmp_path, ('length = "300 mm"\n', ""), ('blade  = "280 mm"\n', ""), ('parked = "2 deg"', "")).arms[0]
    assert (arm.length, arm.blade, arm.parked, deg(arm.crank)) == (None, None, None, 8.0)


def test_an_arm_needs_a_pivot_on_the_glass(tmp_path: Path) -> None:
    """A screen that gives pivots must give one for each arm."""
    with pytest.raises(InputError) as error:
        changed(tmp_path, ('on     = "near"', 'on     = "middle"'))
    assert str(error.value) == (
        "job.toml, arm 'middle': the screen gives no pivot for it; an arm must turn about a point of the glass; "
        "add middle to the screen's pivots"
    )


def test_boxes_of_different_layouts_may_share_a_spot(tmp_path: Path) -> None:
    """A twin may put another box where the triple has one; in one layout it may not (see wrong.txt)."""
    job = changed(
        tmp_path,
        ('triple = ["near", "middle", "far"]', 'other = ["middle"]'),
        ('["100 mm", "10 mm", "5 mm"]', '["-250 mm", "0 mm", "0 mm"]'),
    )
    assert job.mountings["middle"].hole_mm == job.mountings["near"].hole_mm


def test_two_tubes_of_one_name_are_refused(tmp_path: Path) -> None:
    """'a-b' to 'c' and 'a' to 'b-c' would both be called a-b-c on the sheet."""
    another = '[[wheelbox]]\nname = "far"\nmodel = "bench-box"\nhole = ["1 m", "0 m", "0 m"]\nspindle = [0, 0, 1]\n'
    with pytest.raises(InputError) as error:
        changed(
            tmp_path,
            ('[[wheelbox]]\nname    = "near"', '[[wheelbox]]\nname    = "near-middle"'),
            ('name    = "far"', 'name    = "middle-far"'),
            ('name    = "middle"', 'name    = "near"'),
            ("[tail]", another + "[tail]"),
        )
    assert str(error.value) == (
        "job.toml, wheelbox: two tubes would both be called 'near-middle-far'; each piece must have its own name; "
        "rename 'near' or 'middle-far'"
    )


def test_a_job_without_its_optional_sections(tmp_path: Path) -> None:
    """What is left out is empty or the written default."""
    text = EXAMPLE[: EXAMPLE.index("[[tube_between]]")].replace('order  = "written"\n', "")
    (tmp_path / "job.toml").write_text(text, encoding="utf-8")
    job = read_job(tmp_path / "job.toml", read_shop(None))
    assert (job.order, job.between, job.in_the_way, job.cuts, job.arms) == ("written", (), (), (), ())
    assert (job.screen, job.measuring_error, job.tail.toward, job.tail.corners_mm) == (None, None, None, ())


def test_a_shop_keeps_money_exact() -> None:
    """Cents are whole; a percentage is a fraction."""
    shop = read_shop(FILES / "example_shop.toml")
    assert shop.money.tax == Fraction(1, 5)
    assert shop.money.rate == Fraction(48)
    assert shop.money.prices["bench-motor"].amount == Fraction(96)
    assert shop.stock[0].price_cents == 640
    assert shop.offcuts.value_per_metre == 2


def test_a_shelf_offcut_costs_what_it_would_be_worth_whole() -> None:
    """640 mm at 2.00 a metre: 1.28; 455 mm: 0.91; 31 1/2 in: 1.6002, rounded down."""
    shelf = [bar for bar in read_shop(FILES / "example_shop.toml").stock if bar.on_shelf]
    assert [bar.price_cents for bar in shelf] == [128, 91, 160]
    assert [bar.bars for bar in shelf] == [1, 1, 1]
    assert shelf[1].ready_ends == (ReadyEnd("double", True),)


def test_a_shelf_offcut_too_short_to_keep_costs_nothing_and_a_price_wins(tmp_path: Path) -> None:
    """399 mm is below keep_from; the other gives its own price."""
    text = SHOP.replace('length = "640 mm"', 'length = "399 mm"').replace('"455 mm"', '"455 mm"\nprice = "0.50"')
    (tmp_path / "shop.toml").write_text(text, encoding="utf-8")
    shelf = [bar for bar in read_shop(tmp_path / "shop.toml").stock if bar.on_shelf]
    assert [bar.price_cents for bar in shelf] == [0, 50, 160]


def test_bench_defaults_are_those_of_the_design(tmp_path: Path) -> None:
    """25 mm, 0.5 mm, 229 mm, 3 mm and 2 degrees."""
    may_be_left_out = ("flare_grip", "cut_step", "rack_least", "fit_up", "blade_load", "rubber")
    kept = [line for line in SHOP.splitlines() if not line.startswith(may_be_left_out)]
    (tmp_path / "shop.toml").write_text("\n".join(kept), encoding="utf-8")
    shop = read_shop(tmp_path / "shop.toml")
    bench = shop.bench
    assert (mm(bench.flare_grip), mm(bench.cut_step), mm(bench.rack_least_radius)) == (25.0, 0.5, 229.0)
    assert (mm(bench.fit_up.distance), deg(bench.fit_up.angle)) == (3.0, 2.0)
    assert (shop.drive.rubber_wet, shop.drive.rubber_dry) == (0.35, 1.0)


def test_an_empty_stock_is_refused(tmp_path: Path) -> None:
    """There must be tube to cut from."""
    start, end = SHOP.index("[[stock]]"), SHOP.index("# An offcut without")
    text = "stock = []\n" + SHOP[:start] + SHOP[end:]
    (tmp_path / "shop.toml").write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as error:
        read_shop(tmp_path / "shop.toml")
    assert str(error.value) == (
        "shop.toml, stock: it is empty; there must be tube to cut from; add a [[stock]] section"
    )


def test_a_shop_takes_the_tables_beside_it_and_the_rest_from_the_data_folder(tmp_path: Path) -> None:
    """Table by table; and nothing is remembered from one reading to the next."""
    (tmp_path / "shop.toml").write_text(SHOP, encoding="utf-8")
    formers = tmp_path / "formers.csv"
    formers.write_text("name,radius_mm,grip_mm,source,sure\nsheave-230,231,10,invented,I\n", encoding="utf-8")
    shop = read_shop(tmp_path / "shop.toml")
    assert list(shop.catalogue.formers) == ["sheave-230"]
    assert mm(shop.catalogue.formers["sheave-230"].radius) == 231.0
    assert shop.catalogue.motors == read_shop(None).catalogue.motors
    formers.write_text(formers.read_text().replace("231", "232"))
    assert mm(read_shop(tmp_path / "shop.toml").catalogue.formers["sheave-230"].radius) == 232.0


def test_the_data_folder_holds_every_table_and_the_shop() -> None:
    """Beside the package in a checkout, inside it when installed."""
    names = {"shop.toml", "tubes.csv", "flares.csv", "formers.csv", "motors.csv", "wheelboxes.csv", "arms.csv"}
    assert names <= {path.name for path in data_folder().iterdir()}


def test_a_stock_named_twice_by_its_ready_ends_in_another_order_is_the_same(tmp_path: Path) -> None:
    """Which end comes first does not make another bar."""
    ends = '[{{ flare = "{}", nut = true }}, {{ flare = "{}", nut = true }}]'
    bar = '[[stock]]\ntube = "steel-8"\nlength = "900 mm"\nprice = "5.00"\nready_ends = '
    text = SHOP.replace(
        "[[stock]]", f"{bar}{ends.format('single', 'double')}\n{bar}{ends.format('double', 'single')}\n[[stock]]", 1
    )
    (tmp_path / "shop.toml").write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as error:
        read_shop(tmp_path / "shop.toml")
    assert str(error.value).startswith("shop.toml, stock 2: steel-8 of this length stands twice")


def test_a_record_is_frozen() -> None:
    """Change is by replace; the reader's record stays as read."""
    job = example()
    assert replace(job, title="other").title == "other"
    with pytest.raises(AttributeError):
        job.title = "other"  # type: ignore[misc]


def test_the_data_folder_of_an_installed_package_lies_inside_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The wheel puts data/ into the package; there it wins over a folder beside it."""
    (tmp_path / "tubing" / "data").mkdir(parents=True)
    (tmp_path / "data").mkdir()
    monkeypatch.setattr(tubing, "__file__", str(tmp_path / "tubing" / "__init__.py"))
    assert data_folder() == tmp_path / "data"
    (tmp_path / "tubing" / "data" / "shop.toml").touch()
    assert data_folder() == tmp_path / "tubing" / "data"


def test_a_motor_may_say_its_rod_and_its_speed(tmp_path):
    """Both may be left out; given, the drive works with them instead of a long rod at the rule book's speed."""
    text = (data_folder() / "jobs" / "lined-up-twin.toml").read_text(encoding="utf-8")
    own = (
        'model   = { fixed_end = "110 mm", nut_length = "14 mm", pull = "450 N", rod = "60 mm", rate = "52 cycle/min" }'
    )
    assert 'model   = "bench-motor"' in text
    path = tmp_path / "own.toml"
    path.write_text(text.replace('model   = "bench-motor"', own), encoding="utf-8")
    shop = read_shop(None)
    job = read_job(path, shop)
    assert mm(job.nose.model.rod) == 60.0
    assert job.nose.model.rate.to("cycle/min").magnitude == 52
    notes = plan(job, shop).drive.notes
    assert not any("rod" in note or "45 cycles" in note for note in notes)
