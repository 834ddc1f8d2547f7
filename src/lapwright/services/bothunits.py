"""Lengths on paper: the unit that was measured first, the converted one beside it."""

from __future__ import annotations

import re

from lapwright.core.quantities import Quantity, length

_LENGTH = re.compile(r"(?<![\w./-])(\d+(?:\.\d+)?|\.\d+) (mm|in)(?![\w/])")
_PLACES = {"mm": 2, "in": 3}
_PHOTO_PLACES = 2  # a photograph's overlap is computed; more decimals would claim too much


def in_both_units(text: str) -> str:
    """Return a text with every length in mm or in followed by the other unit in brackets.

    Examples
    --------
    >>> in_both_units("0.360 in; 9.1 mm")
    '0.360 in (9.14 mm); 9.1 mm (0.358 in)'
    >>> in_both_units("12 ft3/h")
    '12 ft3/h'
    """
    return _LENGTH.sub(lambda found: f"{found[0]} ({_converted(length(found[0]))})", text)


def measured_on_photo(text: str) -> str:
    """Return a computed length in mm with two decimals, such as ``9.14 mm``."""
    found = length(text)
    return f"{found.value:.{_PHOTO_PLACES}f} {found.unit}"


def _converted(found: Quantity) -> str:
    other = "in" if found.unit == "mm" else "mm"
    value = float(found.inches if other == "in" else found.base)
    places = _PLACES[other] - (1 if other == "mm" and value >= 10 else 0)
    return f"{value:.{places}f} {other}"
