"""Texts with units: what is read, what is refused and in which words, and the dimension check on formulas."""

from fractions import Fraction

import pytest

from tubing.errors import UnitError
from tubing.units import (
    RAD,
    Kind,
    Quantity,
    checked,
    deg,
    exact_mm,
    inches_text,
    mm,
    newton,
    number,
    quantity,
    rad,
    read,
)


@pytest.mark.parametrize(
    ("text", "length_mm"),
    [
        ("320 mm", Fraction(320)),
        ("320mm", Fraction(320)),
        ("+0.5 mm", Fraction(1, 2)),
        (".5 mm", Fraction(1, 2)),
        ("-35 mm", Fraction(-35)),
        ("41.25 cm", Fraction(825, 2)),
        ("1 m", Fraction(1000)),
        ("1 in", Fraction(127, 5)),
        ("1/4 in", Fraction(127, 20)),
        ("1 1/8 in", Fraction(1143, 40)),
        ("1-1/8 in", Fraction(1143, 40)),
        ("-1-1/8 in", Fraction(-1143, 40)),
        ("15/64 in", Fraction(381, 64)),
        ("2 ft", Fraction(3048, 5)),
        ("  7 mm  ", Fraction(7)),
    ],
)
def test_lengths_are_read_exactly(text: str, length_mm: Fraction) -> None:
    """An inch is 25.4 mm by definition; a fraction stays one."""
    assert exact_mm(read(text, Kind.LENGTH)) == length_mm


def test_the_sign_goes_before_the_whole_mixed_number() -> None:
    """-1 1/4 is -(1 + 1/4), not -1 + 1/4; general-purpose parsers trip here."""
    assert exact_mm(read("-1 1/4 in", Kind.LENGTH)) == Fraction(-127, 4)


@pytest.mark.parametrize(
    ("text", "kind", "unit", "value"),
    [
        ("110 deg", Kind.ANGLE, "deg", 110.0),
        ("3.14159265358979 rad", Kind.ANGLE, "deg", 180.0),
        ("450 N", Kind.FORCE, "N", 450.0),
        ("0.45 kN", Kind.FORCE, "N", 450.0),
        ("100 lbf", Kind.FORCE, "N", 444.82216152605),
        ("17 N/m", Kind.LINE_LOAD, "N/m", 17.0),
        ("2 min", Kind.TIME, "s", 120.0),
        ("1 h", Kind.TIME, "min", 60.0),
        ("45 cycle/min", Kind.RATE, "cycle/min", 45.0),
    ],
)
def test_other_kinds_are_read_in_each_of_their_units(text: str, kind: Kind, unit: str, value: float) -> None:
    """The pound-force is 4.4482216152605 N by definition."""
    assert float(read(text, kind).to(unit).magnitude) == pytest.approx(value, rel=1e-12)


REFUSED = [
    (320, "x: 320 has no unit; it must be a length; write it like '320 mm'"),
    (True, "x: True has no unit; it must be a length; write it like '12.5 mm'"),
    (None, "x: None has no unit; it must be a length; write it like '12.5 mm'"),
    ("320", "x: '320' has no unit; it must be a length; write it '320 mm'"),
    ("-.5", "x: '-.5' has no unit; it must be a length; write it '-.5 mm'"),
    ("412,5 mm", "x: '412,5 mm' has a decimal comma; it must be a length; write it '412.5 mm'"),
    ("412,5", "x: '412,5' has a decimal comma; it must be a length; write it '412.5 mm'"),
    ("1,234.5 mm", "x: '1,234.5 mm' is not one number and one unit; it must be a length; write it like '12.5 mm'"),
    ("nan mm", "x: 'nan mm' is not one number and one unit; it must be a length; write it like '12.5 mm'"),
    ("inf mm", "x: 'inf mm' is not one number and one unit; it must be a length; write it like '12.5 mm'"),
    ("1e3 mm", "x: '1e3 mm' is not one number and one unit; it must be a length; write it like '12.5 mm'"),
    ("2*3 mm", "x: '2*3 mm' is not one number and one unit; it must be a length; write it like '12.5 mm'"),
    ("3 mm 4 mm", "x: '3 mm 4 mm' is not one number and one unit; it must be a length; write it like '12.5 mm'"),
    ("mm", "x: 'mm' is not one number and one unit; it must be a length; write it like '12.5 mm'"),
    ("", "x: '' is not one number and one unit; it must be a length; write it like '12.5 mm'"),
    ("٣ mm", "x: '٣ mm' is not one number and one unit; it must be a length; write it like '12.5 mm'"),
    ("1/0 in", "x: '1/0 in' divides by zero; it must be a length; write a fraction such as '1/4'"),
    ("5 deg", "x: '5 deg' is an angle; it must be a length; use one of mm, cm, m, in, ft"),
    ("5 N", "x: '5 N' is a force; it must be a length; use one of mm, cm, m, in, ft"),
    ('5"', "x: '5\"' has the unknown unit '\"'; it must be a length; did you mean 'in'? use one of mm, cm, m, in, ft"),
    ("5 inches", "x: '5 inches' has the unknown unit 'inches'; it must be a length; did you mean 'in'? "
     "use one of mm, cm, m, in, ft"),
    ("5 MM", "x: '5 MM' has the unknown unit 'MM'; it must be a length; did you mean 'mm'? "
     "use one of mm, cm, m, in, ft"),
    ("5 furlong", "x: '5 furlong' has the unknown unit 'furlong'; it must be a length; use one of mm, cm, m, in, ft"),
    ("1" * 99 + " mm", f"x: '{'1' * 60}...' is not one number and one unit; it must be a length; "
     "write it like '12.5 mm'"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "sentence"), REFUSED)
def test_anything_else_is_refused_with_a_suggestion(text: object, sentence: str) -> None:
    """The whole sentence: what it is, what it had to be, what to write."""
    with pytest.raises(UnitError) as error:
        read(text, Kind.LENGTH, "x")
    assert str(error.value) == sentence


def test_an_error_can_be_said_of_the_key_it_stands_under() -> None:
    """The reader knows the key; the text does not."""
    with pytest.raises(UnitError) as error:
        read("5", Kind.ANGLE)
    assert str(error.value.said_of("drive, sweep")) == (
        "drive, sweep: '5' has no unit; it must be an angle; write it '5 deg'"
    )


def test_quantities_become_floats_in_the_unit_named() -> None:
    """mm, rad, deg, newton, number: one function per unit."""
    assert mm(quantity(2, "in")) == 50.8
    assert rad(quantity(180, "deg")) == pytest.approx(3.141592653589793, rel=1e-15)
    assert deg(quantity(1, "rad")) == pytest.approx(57.29577951308232, rel=1e-15)
    assert newton(quantity(2, "kN")) == 2000.0
    assert number(quantity(10, "mm") / quantity(1, "cm")) == 1.0


def test_an_angle_is_not_a_plain_number() -> None:
    """Radius times angle is no length until it is divided by a radian."""
    with pytest.raises(UnitError) as error:
        _arc_forgetting_the_radian(quantity(10, "mm"), quantity(2, "rad"))
    assert "_arc_forgetting_the_radian, result" in str(error.value)
    assert mm(_arc(quantity(10, "mm"), quantity(2, "rad"))) == 20.0


@checked("mm", radius="mm", turn="rad")
def _arc_forgetting_the_radian(radius: Quantity, turn: Quantity) -> Quantity:
    return radius * turn


@checked("mm", radius="mm", turn="rad")
def _arc(radius: Quantity, turn: Quantity) -> Quantity:
    return radius * turn / RAD


def test_a_wrong_dimension_cannot_pass_a_checked_formula() -> None:
    """By place or by name, and a plain number neither."""
    for wrong in (quantity(2, "mm"), 2.0, quantity(2, "N")):
        with pytest.raises(UnitError):
            _arc(quantity(10, "mm"), wrong)
        with pytest.raises(UnitError):
            _arc(radius=quantity(10, "mm"), turn=wrong)


def test_a_check_on_an_unknown_argument_is_a_slip_of_the_programmer() -> None:
    """It is told when the module is loaded."""
    with pytest.raises(TypeError, match="has no parameters"):
        checked("mm", width="mm")(lambda length: length)


@pytest.mark.parametrize(
    ("length_mm", "text"),
    [
        (0.0, "0 in"),
        (25.4, "1 in"),
        (12.7, "1/2 in"),
        (-3.2, "-1/8 in"),
        (0.1, "0 in"),
        (-0.1, "0 in"),
        (412.35, "16 15/64 in"),
        (25.4 * 2 - 0.05, "2 in"),
    ],
)
def test_inches_are_shown_to_a_sixty_fourth(length_mm: float, text: str) -> None:
    """Reduced fractions, as on a tape."""
    assert inches_text(length_mm) == text
