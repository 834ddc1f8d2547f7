"""What the bytes of a PDF say before anything interprets them.

A signature names the ranges of bytes that it covers. Reading those ranges from
the raw bytes tells a cut file, trailing bytes and an appended revision apart
even when the rest of the file can no longer be read.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import Enum

_RANGE = re.compile(rb"/ByteRange\s*\[\s*0\s+(\d{1,12})\s+(\d{1,12})\s+(\d{1,12})\s*\]")
_DIGITS = re.compile(rb"[0-9A-F]+")


@dataclass(frozen=True)
class Span:
    """A signature's place: its hexadecimal digits at [first, last), coverage up to ``end``."""

    first: int
    last: int
    end: int


class Ending(Enum):
    """How the file ends, compared with what its last signature covers."""

    EXACT = "exact"
    CUT = "cut"
    TRAILING = "trailing"
    REVISION = "revision"
    UNSIGNED = "unsigned"


def spans_of(data: bytes) -> tuple[Span, ...]:
    """Return the places of all signatures whose ranges could be real, by end."""
    found = []
    for match in _RANGE.finditer(data):
        first, second, length = (int(group) for group in match.groups())
        apart = first < second and not first <= match.start() < second
        if apart and data[first : first + 1] == b"<":
            found.append(Span(first + 1, second - 1, second + length))
    return tuple(sorted(found, key=lambda span: span.end))


def ending_of(data: bytes) -> tuple[Ending, int]:
    """Return how the file ends and by how many bytes it is too long or too short."""
    spans = spans_of(data)
    if not spans:
        return Ending.UNSIGNED, 0
    if spans[-1].end > len(data):
        return Ending.CUT, spans[-1].end - len(data)
    rest = data[spans[-1].end :]
    if not rest:
        return Ending.EXACT, 0
    kind = Ending.REVISION if b"startxref" in rest and b"%%EOF" in rest else Ending.TRAILING
    return kind, len(rest)


def digits_fault(data: bytes, span: Span, der_length: int) -> str:
    """Return what is not canonical in the digits of a signature, or an empty text.

    Canonical is: upper-case hexadecimal digits from ``<`` to ``>``, the
    signature first, then zeros only.
    """
    digits = data[span.first : span.last]
    if data[span.last : span.last + 1] != b">" or len(digits) % 2:
        return "brackets"
    if not _DIGITS.fullmatch(digits):
        return "digits"
    if digits[2 * der_length :].strip(b"0"):
        return "padding"
    return ""
