"""Lengths on paper: the unit that was measured first, the converted one beside it."""

from __future__ import annotations

import re
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal

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


_LIMIT = re.compile(rf"(?P<sign>(?:[≤≥–]|\bto) )?{_LENGTH.pattern}(?P<low> (?=–|to ))?")


def limits_in_both_units(text: str) -> str:
    """Return ranges with their ends rounded to the places of the inch tables, inwards.

    For display only: a highest value is rounded down and a lowest up, so that what is printed
    never allows more than the exact value, which stands in the data.

    Examples
    --------
    >>> limits_in_both_units("C: ≤ 0.44875 in")
    'C: ≤ 0.448 in (11.4 mm)'
    >>> limits_in_both_units("0.03 in – 0.12 in")
    '0.030 in (0.76 mm) – 0.120 in (3.05 mm)'
    """
    return _LIMIT.sub(lambda found: _limit(found, f" ({_converted(_length_in(found))})"), text)


def limits_rounded(text: str) -> str:
    """Return ranges rounded as `limits_in_both_units` does, in their own units alone.

    Examples
    --------
    >>> limits_rounded("≤ 0.4475 in (coupon 0.358 in)")
    '≤ 0.447 in (coupon 0.358 in)'
    """
    return _LIMIT.sub(lambda found: _limit(found, ""), text)


def _length_in(found: re.Match[str]) -> Quantity:
    return length(f"{found[2]} {found[3]}")


def _limit(found: re.Match[str], converted: str) -> str:
    sign, low = found["sign"] or "", found["low"] or ""
    if not (sign or low):
        return f"{found[0]}{converted}"
    exact, rounding = _length_in(found), ROUND_CEILING if sign == "≥ " or low else ROUND_FLOOR
    shown = exact.value.quantize(Decimal(1).scaleb(-_PLACES[exact.unit]), rounding)
    return f"{sign}{shown} {exact.unit}{converted}{low}"


def measured_on_photo(text: str) -> str:
    """Return a computed length in mm with two decimals, such as ``9.14 mm``."""
    found = length(text)
    return f"{found.value:.{_PHOTO_PLACES}f} {found.unit}"


def _converted(found: Quantity) -> str:
    other = "in" if found.unit == "mm" else "mm"
    value = float(found.inches if other == "in" else found.base)
    places = _PLACES[other] - (1 if other == "mm" and value >= 10 else 0)
    return f"{value:.{places}f} {other}"
