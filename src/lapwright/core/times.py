"""Civil dates, instants and month arithmetic; nothing here reads the clock."""

from __future__ import annotations

import calendar
import re
from datetime import UTC, date, datetime, time, timedelta, tzinfo

from .errors import DateRefused, ZoneRefused

_DATE = re.compile(r"^\d{4}-\d{2}-\d{2}$")
_INSTANT = re.compile(r"^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}(:\d{2})?(Z|[+-]\d{2}:\d{2})$")


def parse_date(text: str, *, where: str = "") -> date:
    """Read a civil date ``YYYY-MM-DD``.

    Raises
    ------
    DateRefused
        For another form or a day that does not exist.
    """
    if not _DATE.match(text):
        raise DateRefused(
            "not a date",
            got=text,
            expected="YYYY-MM-DD",
            where=where,
            do="Write the civil date at the place, like 2026-03-04.",
        )
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise DateRefused(
            "no such day",
            got=text,
            expected="a day of the calendar",
            where=where,
            do="Correct the month or the day.",
        ) from None


def parse_instant(text: str, *, where: str = "") -> datetime:
    """Read an instant with its offset, ``2026-03-04T07:00-06:00``.

    Raises
    ------
    DateRefused
        For another form, a missing offset or a time that does not exist.
    """
    if not _INSTANT.match(text):
        raise DateRefused(
            "not a time with its offset",
            got=text,
            expected="YYYY-MM-DDTHH:MM with an offset",
            where=where,
            do="Write it like 2026-03-04T07:00-06:00.",
        )
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        raise DateRefused(
            "no such time",
            got=text,
            expected="a day and an hour that exist",
            where=where,
            do="Correct the date or the time.",
        ) from None


def add_months(day: date, months: int) -> date:
    """Add calendar months; a day that does not exist becomes the month's last day.

    The month-end reading is a policy of this tool, in no standard we have read.

    Examples
    --------
    >>> add_months(date(2024, 8, 31), 6)
    datetime.date(2025, 2, 28)
    """
    index = day.month - 1 + months
    year, month = day.year + index // 12, index % 12 + 1
    return date(year, month, min(day.day, calendar.monthrange(year, month)[1]))


def hours_between(start: datetime, end: datetime) -> timedelta:
    """Return the time from ``start`` to ``end``; both carry an offset."""
    return end - start


def end_of_day(day: date, zone: str = "") -> datetime:
    """Return the first moment, UTC, that lies after a civil day in a time zone.

    Parameters
    ----------
    day : date
        The civil day.
    zone : str, optional
        Name in the IANA time zone database, such as ``America/Chicago``; UTC when empty.

    Raises
    ------
    ZoneRefused
        If this machine knows no such zone.

    Examples
    --------
    >>> end_of_day(date(2026, 3, 13), "America/Chicago").isoformat()
    '2026-03-14T05:00:00+00:00'
    """
    if day == date.max:
        return datetime.max.replace(tzinfo=UTC)
    here = _zone(zone) if zone not in ("", "UTC") else UTC
    return datetime.combine(day + timedelta(days=1), time(0), tzinfo=here).astimezone(UTC)


def _zone(name: str) -> tzinfo:
    from zoneinfo import ZoneInfo  # only where a zone is named

    try:
        return ZoneInfo(name)
    except (ValueError, OSError, KeyError):  # a bad key, a folder, an unknown name
        raise ZoneRefused(
            "no such time zone on this machine",
            got=name,
            expected="a name of the IANA time zone database",
            do="Write it like America/Chicago, or install the package tzdata.",
        ) from None
