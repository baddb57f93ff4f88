"""Laws of reading: exact, strict, and never a wrong number without a word."""

from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from tubing.errors import UnitError
from tubing.units import Kind, exact_mm, inches_text, quantity, read

MM = {"mm": Fraction(1), "cm": Fraction(10), "m": Fraction(1000), "in": Fraction(254, 10), "ft": Fraction(3048, 10)}
UNITS = st.sampled_from(sorted(MM))
SIGNS = st.sampled_from(["", "-", "+"])


@given(sign=SIGNS, whole=st.integers(0, 99), over=st.integers(0, 127), under=st.integers(1, 128), unit=UNITS)
def test_a_mixed_number_is_its_sum(sign: str, whole: int, over: int, under: int, unit: str) -> None:
    """n a/b and n-a/b mean n + a/b under one sign, in every unit, exactly."""
    value = (whole + Fraction(over, under)) * MM[unit] * (-1 if sign == "-" else 1)
    for between in " -":
        assert exact_mm(read(f"{sign}{whole}{between}{over}/{under} {unit}", Kind.LENGTH)) == value


@given(sign=SIGNS, number=st.decimals(0, 99_999, places=3), unit=UNITS)
def test_a_decimal_is_read_exactly(sign: str, number: object, unit: str) -> None:
    """As the decimal fraction that it is, not as the nearest binary one."""
    value = Fraction(str(number)) * MM[unit] * (-1 if sign == "-" else 1)
    assert exact_mm(read(f"{sign}{number} {unit}", Kind.LENGTH)) == value


@given(length_mm=st.floats(-50_000, 50_000))
def test_inches_shown_can_be_read_again_within_half_a_mark(length_mm: float) -> None:
    """Half of 1/64 in either way, and no more."""
    back_mm = exact_mm(read(inches_text(length_mm), Kind.LENGTH))
    assert abs(back_mm - Fraction(length_mm)) <= Fraction(254, 10) / 128 + Fraction(1, 10**9)


@given(text=st.one_of(st.text(max_size=12), st.text("0123456789./- ,einmfft", max_size=12)), kind=st.sampled_from(Kind))
def test_any_text_is_a_quantity_of_its_kind_or_a_unit_error(text: str, kind: Kind) -> None:
    """Nothing else comes out; what comes out has a finite exact number and a unit of the kind."""
    try:
        value = read(text, kind)
    except UnitError:
        return
    assert isinstance(value.magnitude, Fraction)
    assert value.is_compatible_with(quantity(1, kind.units[0]))
    assert any(character.isdigit() for character in text)
