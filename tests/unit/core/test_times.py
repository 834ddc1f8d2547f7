"""Dates, instants and six-month arithmetic, checked against dateutil."""

from __future__ import annotations

from datetime import date

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from lapwright.core.errors import DateRefused
from lapwright.core.times import add_months, parse_date, parse_instant

DAYS = st.dates(date(1990, 1, 1), date(2090, 12, 31))


@given(DAYS, st.integers(0, 60))
def test_months_are_added_as_dateutil_adds_them(day: date, months: int) -> None:
    assert add_months(day, months) == day + relativedelta(months=months)


def test_a_day_that_does_not_exist_becomes_the_last_of_the_month() -> None:
    assert add_months(date(2024, 8, 31), 6) == date(2025, 2, 28)
    assert add_months(date(2023, 8, 31), 6) == date(2024, 2, 29)


@pytest.mark.parametrize("text", ["2026-2-3", "20260203", "03.02.2026", "2026-02-30", ""])
def test_another_form_of_a_date_is_refused(text: str) -> None:
    with pytest.raises(DateRefused, match="CORE-002"):
        parse_date(text)


@pytest.mark.parametrize(
    "text", ["2026-03-04T07:00", "2026-03-04 07:00-06:00", "2026-03-04T25:00-06:00"]
)
def test_an_instant_without_its_offset_is_refused(text: str) -> None:
    with pytest.raises(DateRefused):
        parse_instant(text)


def test_an_instant_keeps_its_offset() -> None:
    assert parse_instant("2026-03-04T07:00-06:00").isoformat() == "2026-03-04T07:00:00-06:00"
