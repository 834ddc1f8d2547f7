"""A slow, plain second reckoning of the clocks: one calendar day after the other.

It shares nothing with `lapwright.rules`: months come from dateutil, and each day is
asked what happened on it, as a person with a calendar and a pencil would.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from dateutil.relativedelta import relativedelta


@dataclass(frozen=True)
class Day:
    """What happened: ``own`` coupon, ``again`` (all variables repeated) or ``use``."""

    on: date
    what: str
    process: str
    procedure: str


def over(last: date, today: date, operator: str) -> bool:
    """Say whether six months without use have ended it by the start of ``today``."""
    full = last + relativedelta(months=6)
    return today >= full if operator == ">=" else today > full


def good_days(
    days: list[Day], *, process: str, procedure: str, scope: str, operator: str, until: date
) -> Iterator[date]:
    """Yield every day on which the qualification is in force."""
    last: date | None = None
    begun = ""
    today = min((d.on for d in days), default=until)
    while today <= until:
        if last is not None and over(last, today, operator):
            last = None
        for day in (d for d in days if d.on == today):
            if day.process != process or (scope == "procedure" and day.procedure != procedure):
                continue
            if day.what == "own":
                begun = "yes"
                last = today
            elif (day.what == "again" and begun) or last is not None:
                last = today
        if last is not None:
            yield today
        today += timedelta(days=1)
