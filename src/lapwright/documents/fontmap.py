"""Which characters the shipped font shows, read from its own table.

The table is ``cmap``, format 4 (OpenType specification, "cmap, character to
glyph index mapping table"): segments of code points, each with a shift. Only
the Basic Multilingual Plane is asked; what lies beyond is not shown.
"""

from __future__ import annotations

import struct
from functools import cache
from pathlib import Path

_FONT = Path(__file__).parent / "fonts" / "SourceSans3-Regular.ttf"


@cache
def shown_codes() -> frozenset[int]:
    """Return the code points that have a glyph in the text font."""
    data = _FONT.read_bytes()
    found: set[int] = set()
    for place in _format4(data):
        found |= _codes(data, place)
    return frozenset(found)


def _format4(data: bytes) -> list[int]:
    """Return the places of the format 4 subtables."""
    (tables,) = struct.unpack_from(">H", data, 4)
    rows = (struct.unpack_from(">4sIII", data, 12 + 16 * i) for i in range(tables))
    start = next(offset for tag, _, offset, _ in rows if tag == b"cmap")
    (count,) = struct.unpack_from(">H", data, start + 2)
    places = {start + struct.unpack_from(">HHI", data, start + 4 + 8 * i)[2] for i in range(count)}
    return [p for p in sorted(places) if struct.unpack_from(">H", data, p)[0] == 4]


def _codes(data: bytes, place: int) -> set[int]:
    (double,) = struct.unpack_from(">H", data, place + 6)
    ends, starts = place + 14, place + 16 + double
    shifts, ranges = starts + double, starts + 2 * double
    found = set()
    for i in range(0, double, 2):
        first, last = _at(data, starts + i), _at(data, ends + i)
        shift, offset = _at(data, shifts + i), _at(data, ranges + i)
        for code in range(first, min(last, 0xFFFE) + 1):
            glyph = code + shift
            if offset:
                inner = _at(data, ranges + i + offset + 2 * (code - first))
                glyph = inner + shift if inner else 0
            if glyph & 0xFFFF:
                found.add(code)
    return found


def _at(data: bytes, place: int) -> int:
    found: int = struct.unpack_from(">H", data, place)[0]
    return found
