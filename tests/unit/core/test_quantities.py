"""Quantities are exact, keep their unit, and refuse what has none."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapwright.core.errors import QuantityRefused
from lapwright.core.quantities import Quantity, inches, length


def test_an_inch_is_exactly_25_4_mm() -> None:
    assert length("1 in").base == Fraction("25.4")
    assert length("0.060 in") == length("1.524 mm")


def test_the_text_is_kept_as_written() -> None:
    assert length("0.060 in").text == "0.060 in"


def test_a_number_without_a_unit_is_refused() -> None:
    with pytest.raises(QuantityRefused, match=r"got 0\.060.*in.*\[CORE-001\]"):
        length("0.060")


@pytest.mark.parametrize("text", ["", "in", "1,5 mm", "0x10 mm", "1 psi", "nan mm", "1e3 mm"])
def test_another_form_is_refused(text: str) -> None:
    with pytest.raises(QuantityRefused):
        length(text)


def test_kinds_are_never_compared() -> None:
    with pytest.raises(TypeError):
        _ = length("1 mm") < Quantity.parse("1 deg", "angle")


def test_fahrenheit_and_celsius_meet_at_minus_forty() -> None:
    assert Quantity.parse("-40 F", "temperature") == Quantity.parse("-40 C", "temperature")


def test_one_atmosphere_is_14_696_psi() -> None:
    kpa = Quantity.parse("101.325 kPa", "pressure").base
    assert abs(kpa - Fraction("14.6959")) < Fraction(1, 10000)


def test_only_lengths_have_inches() -> None:
    with pytest.raises(TypeError):
        _ = Quantity.parse("1 deg", "angle").inches


@given(st.decimals(min_value=Decimal("0.0001"), max_value=Decimal(100), places=4))
def test_inches_round_trip(value: Decimal) -> None:
    assert inches(value).base == Fraction(value) * Fraction("25.4")


@given(st.decimals(0, 100, places=3), st.decimals(0, 100, places=3))
def test_order_is_that_of_the_exact_values(a: Decimal, b: Decimal) -> None:
    one, two = length(f"{a} in"), length(f"{b} in")
    assert (one < two) == (a < b)
    assert (one == two) == (a == b)


def test_times_is_exact() -> None:
    assert length("0.34 in").times("1.25").text == "0.425 in"
