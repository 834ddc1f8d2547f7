"""A doubted instrument holds its figures: which days it reaches, and what ends it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapwright.core.evidence import Doubt
from lapwright.rules.doubted import next_calibration, reaches

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
        (AGAIN, "reached"),
        (AGAIN + timedelta(days=1), ""),
    ],
)
def test_it_reaches_from_the_last_good_day_to_the_next_calibration(on: date, reached: str) -> None:
    calibrated = (date(2025, 6, 1), SINCE, AGAIN)
    assert reaches(DOUBT, "CAL-2", on, calibrated=calibrated) == reached


def test_without_a_new_calibration_it_reaches_on() -> None:
    assert reaches(DOUBT, "CAL-2", date(2027, 1, 1)) == "reached"


def test_a_calibration_of_the_day_of_the_finding_ends_it_after_that_day() -> None:
    """An instrument is mostly found bad when it is calibrated, and leaves good."""
    assert reaches(DOUBT, "CAL-2", FOUND, calibrated=(FOUND,)) == "reached"
    assert reaches(DOUBT, "CAL-2", FOUND + timedelta(days=1), calibrated=(FOUND,)) == ""
    assert next_calibration(DOUBT, (AGAIN, FOUND, SINCE)) == FOUND


def test_a_calibration_of_the_last_good_day_is_not_taken_for_the_next_one() -> None:
    """Good in the morning and bad at night: that day's calibration came before the finding."""
    doubt = replace(DOUBT, since=FOUND)
    after = FOUND + timedelta(days=1)
    assert next_calibration(doubt, (FOUND,)) is None
    assert reaches(doubt, "CAL-2", after, calibrated=(FOUND,)) == "reached"
    assert reaches(doubt, "CAL-2", FOUND, calibrated=(FOUND,), after=FOUND) == "reached"
    assert reaches(doubt, "CAL-2", AGAIN, calibrated=(FOUND, AGAIN), after=AGAIN) == ""


@pytest.mark.parametrize("again", [FOUND, AGAIN])
def test_a_figure_of_the_day_of_the_calibration_is_free_where_it_says_it_came_after(
    again: date,
) -> None:
    assert reaches(DOUBT, "CAL-2", again, calibrated=(again,)) == "reached"
    assert reaches(DOUBT, "CAL-2", again, calibrated=(again,), after=again) == ""
    for other in (SINCE, again - timedelta(days=1), again + timedelta(days=1)):
        assert reaches(DOUBT, "CAL-2", again, calibrated=(again,), after=other) == "reached"


def test_saying_that_it_came_after_a_calibration_nobody_filed_frees_nothing() -> None:
    assert reaches(DOUBT, "CAL-2", FOUND, after=FOUND) == "reached"


@given(st.integers(-60, 60), st.lists(st.integers(-60, 60), max_size=4), st.integers(-60, 60))
def test_a_statement_frees_no_figure_of_another_day(
    on: int, calibrated: list[int], after: int
) -> None:
    day, stated = FOUND + timedelta(days=on), FOUND + timedelta(days=after)
    known = [FOUND + timedelta(days=n) for n in calibrated]
    plain = reaches(DOUBT, "CAL-2", day, calibrated=known)
    told = reaches(DOUBT, "CAL-2", day, calibrated=known, after=stated)
    assert plain == told or (plain and not told and day == stated and day in known)
    ends = [d for d in known if d >= FOUND]
    surely_after = any(day > d for d in ends)
    assert bool(plain) == (day >= SINCE and not surely_after)


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
