"""Which flare an end gets, from which row, and what is said when none fits. Tables here are invented."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import Literal

import pytest
from msgspec.structs import replace

from tubing.errors import FlareError
from tubing.flares import EndFlare, Learned, consumed_mm, end_flare, learned
from tubing.inputs.catalogue import FlareRow, Tube
from tubing.inputs.records import TrialFlare
from tubing.units import Quantity, quantity


def length(text: str) -> Quantity:
    return quantity(Fraction(text), "mm")


def row(kind: str, least: str, most: str, wall: str, at: str = "7.94", half_angle: int = 45) -> FlareRow:
    angle = quantity(half_angle, "deg")
    return FlareRow(length(at), kind, angle, length(least), length(most), length(wall), "invented table", "I")


ROWS = (row("single", "9.9", "10.3", "1.24"), row("double", "10.4", "10.8", "0.89"))
TUBE = Tube("steel-8", length("8"), length("0.8"), "steel", length("30"), None, None, "steel-8", "invented", "I")


def tried_flare(kind: Literal["single", "double"], took: str, tube: str = "steel-8") -> TrialFlare:
    """A blank of 200 mm that lost so much."""
    return TrialFlare(tube, kind, length("200"), length(str(200 - Fraction(took))))


FORMULA: tuple[TrialFlare, ...] = ()


def test_each_port_has_its_usual_flare():
    """Double with nut at the nose, single without at a groove, plain at the end stop."""
    usual = [end_flare(TUBE, ROWS, FORMULA, where) for where in ("nose", "groove", "end stop")]
    assert [(end.flare, end.nut) for end in usual] == [("double", True), ("single", False), ("plain", False)]


def test_what_forming_takes_by_hand():
    """Grown by 1 mm at 45 degrees: 1 high, root 2 along the face. A double flare has two layers, a plain end none."""
    taken = [consumed_mm(kind, 1.0, math.pi / 4) for kind in ("plain", "single", "double")]
    assert taken == pytest.approx([0.0, math.sqrt(2) - 1, 2 * math.sqrt(2) - 1])


def test_a_single_flare_in_a_groove_sits_centred():
    """Growth (10.1 - 8) / 2 at 45 degrees: as high as it grows, its rim half of that past the centre."""
    end = end_flare(TUBE, ROWS, FORMULA, "groove")
    assert (end.height_mm, end.seat_mm, end.diameter_mm) == (
        pytest.approx(1.05),
        pytest.approx(0.525),
        pytest.approx(10.1),
    )
    assert end.consumed_mm == pytest.approx(1.05 * (2**0.5 - 1))


def test_a_double_flare_lays_the_lip_twice():
    """Growth (10.6 - 8) / 2 = 1.3 mm at 45 degrees: slants 2 x 1.3 x root 2, less the height."""
    end = end_flare(TUBE, ROWS, FORMULA, "nose")
    assert end.consumed_mm == pytest.approx(2 * 1.3 * 2**0.5 - 1.3)
    assert end.seat_mm == 0.0


def test_a_steeper_flare_by_hand():
    """30 degrees half-angle, growth 1 mm: height root 3, slant 2."""
    end = end_flare(TUBE, (row("single", "9.8", "10.2", "2", half_angle=30),), FORMULA, "groove")
    assert (end.height_mm, end.seat_mm) == (pytest.approx(3**0.5), pytest.approx(3**0.5 / 2))
    assert end.consumed_mm == pytest.approx(2 - 3**0.5)


def test_a_plain_end_is_the_tube_itself():
    """Nothing is consumed and nothing seats, and no row is needed."""
    assert end_flare(TUBE, (), FORMULA, "groove", "plain") == EndFlare(
        "plain", False, 0.0, 8.0, 0.0, 0.0, "plain end: no row is needed"
    )


@pytest.mark.parametrize(
    ("where", "flare", "nut", "seats"),
    [("nose", "single", True, False), ("nose", "plain", False, False), ("groove", "double", False, True),
     ("end stop", "single", False, False)],
)  # fmt: skip
def test_any_end_can_be_overridden(where, flare, nut, seats):
    """The nut goes with a flare at the nose; only a groove gives a seat."""
    end = end_flare(TUBE, ROWS, FORMULA, where, flare)
    assert (end.flare, end.nut, end.seat_mm > 0) == (flare, nut, seats)


def test_the_shops_trials_win():
    """Consumed is the mean of the trials of each kind; height and seat stay the flare's."""
    tried = (tried_flare("single", "0.5"), tried_flare("single", "0.7"), tried_flare("double", "2.75"))
    single, double = end_flare(TUBE, ROWS, tried, "groove"), end_flare(TUBE, ROWS, tried, "nose")
    assert (single.consumed_mm, double.consumed_mm) == (0.6, 2.75)
    assert single.seat_mm == end_flare(TUBE, ROWS, FORMULA, "groove").seat_mm
    assert single.row == (
        "row 7.94 mm single (invented table), 0.06 mm from the tube's 8 mm; consumed as 2 trials showed"
    )


def test_the_row_taken_is_named():
    """An 8 mm tube takes the 7.94 mm row and says so; a tube of the row's own size needs no words."""
    same = replace(TUBE, diameter=length("7.94"))
    assert end_flare(TUBE, ROWS, FORMULA, "nose").row == (
        "row 7.94 mm double (invented table), 0.06 mm from the tube's 8 mm"
    )
    assert end_flare(same, ROWS, FORMULA, "nose").row == "row 7.94 mm double (invented table)"


@pytest.mark.parametrize(("diameter", "within"), [("8.04", True), ("8.041", False), ("7.84", True), ("7.839", False)])
def test_a_row_reaches_a_tenth_of_a_millimetre_and_no_further(diameter, within):
    """The limit itself still counts, exactly, at both sides."""
    tube = replace(TUBE, diameter=length(diameter))
    if within:
        assert end_flare(tube, ROWS, FORMULA, "groove").diameter_mm == pytest.approx(10.1)
    else:
        with pytest.raises(FlareError):
            end_flare(tube, ROWS, FORMULA, "groove")


def test_of_two_rows_in_reach_the_45_degree_one_is_taken():
    """A 37 degree row of the same tube belongs to another kind of joint."""
    rows = (row("single", "10.6", "10.8", "1.24", at="8", half_angle=37), *ROWS)
    assert end_flare(TUBE, rows, FORMULA, "groove").diameter_mm == pytest.approx(10.1)
    assert end_flare(TUBE, tuple(reversed(rows)), FORMULA, "groove").diameter_mm == pytest.approx(10.1)


def test_the_tubes_own_figure_wins_over_the_table():
    """The flare's diameter is the tube's own; the table still bounds the wall."""
    tube = replace(TUBE, single_flare=length("10.4"))
    end = end_flare(tube, ROWS, FORMULA, "groove")
    assert (end.diameter_mm, end.height_mm) == (pytest.approx(10.4), pytest.approx(1.2))
    assert end.row == (
        "the tube's own single flare, 10.4 mm; wall and half-angle from row 7.94 mm single (invented table), "
        "0.06 mm from the tube's 8 mm"
    )


def test_a_tube_without_a_row_needs_no_more_than_its_own_figure():
    """A 10 mm tube that no row reaches, with the flare its owner measured; the wall was not checked."""
    tube = replace(TUBE, diameter=length("10"), double_flare=length("13"))
    end = end_flare(tube, ROWS, FORMULA, "nose")
    assert (end.height_mm, end.diameter_mm) == (pytest.approx(1.5), 13.0)
    assert end.row == "the tube's own double flare, 13 mm; 45 deg taken; no row to check the wall against"


def refusal(tube: Tube, where: str, rows=ROWS) -> str:
    with pytest.raises(FlareError) as error:
        end_flare(tube, rows, FORMULA, where)
    assert error.value.exit_status == 3
    return str(error.value)


def test_a_wall_too_thick_for_a_double_flare():
    """Tube, wall, limit, and a single flare where that one may be formed."""
    tube = replace(TUBE, wall=length("0.9"))
    assert refusal(tube, "nose") == (
        "tube 'steel-8': the wall is 0.9 mm; a double flare on 7.94 mm tube takes a wall of at most 0.89 mm "
        "(invented table); make this end a single flare, or take a tube with a thinner wall"
    )


@pytest.mark.parametrize("where", ["groove", "nose"])
def test_a_wall_too_thick_for_any_flare(where):
    """No single flare is suggested where that would fail as well."""
    limit = "single flare on 7.94 mm tube takes a wall of at most 1.24"
    if where == "nose":
        limit = "double flare on 7.94 mm tube takes a wall of at most 0.89"
    assert refusal(replace(TUBE, wall=length("1.25")), where) == (
        f"tube 'steel-8': the wall is 1.25 mm; a {limit} mm (invented table); "
        "make this end plain, or take a tube with a thinner wall"
    )


def test_a_thick_wall_is_refused_even_with_an_own_figure():
    """The tube's own diameter says how large the flare is, not that the wall bears it."""
    tube = replace(TUBE, wall=length("1.3"), single_flare=length("10.4"))
    assert refusal(tube, "groove").startswith("tube 'steel-8': the wall is 1.3 mm; ")


def test_no_row_and_no_own_figure():
    """The fitter is told what to measure."""
    tube = replace(TUBE, diameter=length("10"))
    assert refusal(tube, "groove") == (
        "tube 'steel-8': no row of the flare table is within 0.1 mm of its diameter, 10 mm; "
        "a single flare needs the table's figures or the tube's own; "
        "give single_flare, the flare's diameter, with the tube, or make the end plain"
    )


def test_a_row_without_a_greatest_wall_says_so():
    """Some published rows give flare diameters only; any wall passes, and the sheet says that none was checked."""
    tube = replace(TUBE, diameter=length("7.94"), wall=length("2"))
    rows = (replace(ROWS[0], greatest_wall=None),)
    assert end_flare(tube, rows, FORMULA, "groove").row == (
        "row 7.94 mm single (invented table), which gives no greatest wall"
    )


def test_an_own_flare_must_be_larger_than_the_tube():
    """A flare of the tube's own size or less is a slip of the pen."""
    tube = replace(TUBE, double_flare=length("8"))
    assert refusal(tube, "nose") == (
        "tube 'steel-8': double_flare is 8 mm; a flare must be larger than the tube, 8 mm; "
        "measure a double flare over its rim and give that diameter"
    )


@pytest.mark.parametrize("half_angle_deg", [10, 30, 37, 45, 60, 80])
def test_slant_less_height_is_growth_times_the_half_angles_tangent(half_angle_deg):
    """Derived: (1 - cos a) / sin a = tan(a / 2) for every half-angle, not only 45 degrees."""
    alpha = math.radians(half_angle_deg)
    assert consumed_mm("single", 1.3, alpha) == pytest.approx(1.3 * math.tan(alpha / 2), rel=1e-12)


def test_mass_of_the_tube_that_bore_and_wall_give():
    """Derived: 7.94 x 0.71 mm steel is 0.1266 kg/m at 7.85 g/cm3, from outside and bore."""
    steel = replace(TUBE, diameter=length("7.94"), wall=length("0.71"))
    outside, bore = float(steel.diameter.to("mm").magnitude), float(steel.bore.to("mm").magnitude)
    assert math.pi / 4 * (outside**2 - bore**2) * 7.85e-3 == pytest.approx(0.1266, abs=0.00005)


def test_of_several_rows_the_one_at_45_degrees_then_the_nearest_is_taken():
    """8 mm tube within 0.1 mm of three rows: 37 degrees goes last, and of two at 45 the row 0.04 mm off."""
    rows = (
        row("single", "9.0", "9.2", "1.24", at="8", half_angle=37),
        row("single", "9.9", "10.3", "1.24", at="7.94"),
        row("single", "10.5", "10.7", "1.24", at="8.04"),
    )
    assert end_flare(TUBE, rows, FORMULA, "groove").diameter_mm == 10.6
    assert end_flare(TUBE, rows[:2], FORMULA, "groove").diameter_mm == 10.1
    assert end_flare(TUBE, rows[:1], FORMULA, "groove").diameter_mm == 9.1


def test_trials_say_how_sure_their_mean_is():
    """0.5, 0.7, 0.6 and 0.6 mm: mean 0.6, deviation 0.0816, t of three degrees of freedom 3.1824, over root four."""
    found = learned(TUBE, "single", [tried_flare("single", took) for took in ("0.5", "0.7", "0.6", "0.6")])
    assert found is not None
    assert (found.mean_mm, found.trials) == (0.6, 4)
    assert found.sd_mm == pytest.approx(math.sqrt(0.02 / 3))
    assert found.sure_mm == pytest.approx(3.1824 * math.sqrt(0.02 / 3) / 2, abs=1e-5)


def test_one_trial_shows_no_spread_and_another_tubes_trial_nothing():
    assert learned(TUBE, "single", [tried_flare("single", "0.5")]) == Learned(0.5, 1, None, None)
    assert learned(TUBE, "single", [tried_flare("double", "0.5"), tried_flare("single", "0.5", "copper-8")]) is None
