"""A doubted instrument holds its figures: which days it reaches, and what ends it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapwright.core.evidence import Doubt
from lapwright.rules.doubted import reaches

SINCE, FOUND, AGAIN = date(2026, 1, 10), date(2026, 3, 1), date(2026, 3, 9)
DOUBT = Doubt("CAL-2-D1", "instrument:CAL-2", "lead", "0.004 in off", SINCE, FOUND)


@pytest.mark.parametrize(
    ("on", "reached"),
    [
        (date(2026, 1, 9), ""),
        (SINCE, "reached"),
        (date(2026, 2, 1), "reached"),
        (FOUND, "reached"),
        (date(2026, 3, 8), "reached"),
        (AGAIN, ""),
    ],
)
def test_it_reaches_from_the_last_good_day_to_the_next_calibration(on: date, reached: str) -> None:
    calibrated = (date(2025, 6, 1), SINCE, AGAIN)
    assert reaches(DOUBT, "CAL-2", on, calibrated=calibrated) == reached


def test_without_a_new_calibration_it_reaches_on() -> None:
    assert reaches(DOUBT, "CAL-2", date(2027, 1, 1)) == "reached"


def test_a_calibration_of_the_day_of_the_finding_ends_nothing() -> None:
    assert reaches(DOUBT, "CAL-2", date(2026, 3, 8), calibrated=(FOUND,)) == "reached"


def test_another_instrument_is_not_reached() -> None:
    assert reaches(DOUBT, "CAL-3", FOUND) == ""


def test_without_a_last_good_day_it_reaches_back_without_end() -> None:
    assert reaches(replace(DOUBT, since=None), "CAL-2", date(1999, 1, 1)) == "reached"


def test_after_it_is_cleared_nothing_new_is_reached() -> None:
    done = replace(DOUBT, cleared_on=date(2026, 3, 4))
    assert reaches(done, "CAL-2", date(2026, 3, 4)) == "reached"
    assert reaches(done, "CAL-2", date(2026, 3, 5)) == ""


@given(st.integers(0, 400), st.integers(0, 400))
def test_an_earlier_last_good_day_never_reaches_less(more: int, on: int) -> None:
    day = date(2025, 6, 1) + timedelta(days=on)
    wider = replace(DOUBT, since=SINCE - timedelta(days=more))
    assert not reaches(DOUBT, "CAL-2", day) or reaches(wider, "CAL-2", day)
