"""Loupe readings. Witnesses: exact fractions, and `uncertainties` for the propagation."""

from __future__ import annotations

import math
from decimal import Decimal
from fractions import Fraction

import pytest
from uncertainties import ufloat

from lapwright.measure.besides.sound import sound_from_mouth
from lapwright.measure.errors import LoupeReadingRefused
from lapwright.measure.loupe import read_loupe


def test_a_share_is_the_exact_quotient() -> None:
    reading = read_loupe("22.0", ["1.1", "0.9", "2.0"], resolution_mm="0.1")
    assert reading.unbrazed_share == pytest.approx(4 / 22)
    assert Fraction(*reading.share_exact) == Fraction(2, 11)


def test_a_share_at_the_limit_is_exactly_one_fifth() -> None:
    reading = read_loupe("22.0", ["4.4"], resolution_mm="0.1")
    assert reading.share_exact == (1, 5)


def test_placed_runs_give_segments_that_cover_the_overlap() -> None:
    reading = read_loupe("10", [("2", "3.5"), ("0", "0.5")], resolution_mm="0.05")
    assert [(s.start, s.end, s.state) for s in reading.segments] == [
        (0.0, 0.05, "unbrazed"),
        (0.05, 0.2, "brazed"),
        (0.2, 0.35, "unbrazed"),
        (0.35, 1.0, "brazed"),
    ]
    assert reading.unbrazed_mm == Decimal("2.0")


def test_no_run_is_one_sound_stretch_and_bare_lengths_have_no_place() -> None:
    whole = read_loupe(Decimal("9.1"), [], resolution_mm=Decimal("0.1"))
    assert [s.state for s in whole.segments] == ["brazed"]
    assert sound_from_mouth(whole.segments).from_mouth == (1.0, 1.0, 1.0)
    bare = read_loupe(Decimal("9.1"), [Decimal("0.5")], resolution_mm=Decimal("0.1"))
    assert bare.segments == ()


def test_no_run_is_a_share_of_zero_that_still_has_a_spread() -> None:
    reading = read_loupe("10", [], resolution_mm="0.1")
    assert reading.unbrazed_share == 0
    assert reading.u > 0
    assert reading.interval95[0] == 0


def test_the_spread_agrees_with_the_uncertainties_package() -> None:
    edge = 0.1 / 2 / math.sqrt(3)
    runs = [ufloat(b, edge) - ufloat(a, edge) for a, b in ((1.0, 2.2), (4.0, 4.9))]
    overlap = ufloat(12.0, edge) - ufloat(0.0, edge)
    share = sum(runs) / overlap
    reading = read_loupe("12.0", [("1.0", "2.2"), ("4.0", "4.9")], resolution_mm="0.1")
    without_unseen = math.hypot(*(u for name, u in reading.budget if name != "unseen"))
    assert reading.unbrazed_share == pytest.approx(share.nominal_value)
    assert without_unseen == pytest.approx(share.std_dev, rel=1e-9)


def test_a_loupe_reading_has_the_keys_of_a_photograph_reading(tidy_reading) -> None:
    loupe = read_loupe("10", ["1"], resolution_mm="0.1").as_dict()
    assert set(tidy_reading.as_dict()) <= set(loupe)


@pytest.mark.parametrize(
    ("overlap", "runs", "step"),
    [
        ("10", ["6", "5"], "0.1"),
        ("10", ["11"], "0.1"),
        ("10", ["-1"], "0.1"),
        ("10", [("1", "3"), ("2", "4")], "0.1"),
        ("10", [("3", "1")], "0.1"),
        ("10", [("8", "10.5")], "0.1"),
        ("10", [("1", "2"), "3"], "0.1"),
        ("0", [], "0.1"),
        ("10", [], "0"),
        ("ten", [], "0.1"),
        ("NaN", [], "0.1"),
        (10.5, [], "0.1"),
        ("10", [1.5], "0.1"),
    ],
)
def test_a_reading_that_contradicts_itself_is_refused(overlap, runs, step) -> None:
    with pytest.raises(LoupeReadingRefused, match="MEAS-018"):
        read_loupe(overlap, runs, resolution_mm=step)


def test_runs_that_touch_are_apart() -> None:
    assert read_loupe("10", [("1", "2"), ("2", "3")], resolution_mm="0.1").unbrazed_mm == 2


def test_a_refusal_speaks_in_words_of_the_case_folder() -> None:
    runs = [Decimal(1), (Decimal(2), Decimal(3))]
    with pytest.raises(LoupeReadingRefused) as refusal:
        read_loupe("10", runs, resolution_mm="0.1")
    said = str(refusal.value)
    assert said.startswith("unbrazed: ")
    assert "got 1 with places and 1 without" in said
    assert "Decimal" not in said
