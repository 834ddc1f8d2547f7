"""Spans of days as people write them: ``60d``, ``8w``, ``2 weeks``."""

from __future__ import annotations

import re

from .errors import SpanRefused

_SPAN = re.compile(r"(\d{1,4}) ?(d|days?|w|weeks?)?")


def days_of(text: str) -> int:
    """Return a span in days; a bare number is days.

    Raises
    ------
    SpanRefused
        For anything else.

    Examples
    --------
    >>> days_of("60d"), days_of("2 weeks")
    (60, 14)
    """
    found = _SPAN.fullmatch(text.strip())
    if found is None:
        raise SpanRefused(
            "not a span of days",
            got=text,
            expected="days or weeks, like 60d or 8w",
            do="Write a number with d or w.",
        )
    return int(found.group(1)) * (7 if (found.group(2) or "d").startswith("w") else 1)
