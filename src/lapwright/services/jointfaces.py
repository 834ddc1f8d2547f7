"""Gather what the map of a joint shows: its own faces, each from one filed reading.

Of several readings of a face that one is drawn that counts (by loupe, or accepted by an
examiner) and has the largest share; a proposal that nobody accepted is drawn only where
nothing else was filed, and says so. Nothing is judged here.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from lapwright.core.evidence import Face, Joint, Reading
from lapwright.core.quantities import Quantity
from lapwright.documents.jointlayout import Span, clock_text
from lapwright.documents.jointvalues import STATES, MapFace, Stretch

from .errors import ClockRefused
from .text import word

_CLOCK = re.compile(r"^(0?[1-9]|1[0-2])(?::([0-5]\d))?$")
_ANGLE = re.compile(r"^(\d{1,3}(?:\.\d+)?) ?deg$")


def clock_degrees(text: str, *, where: str = "") -> float:
    """Return a place round the tube as an angle, clockwise from 12 o'clock, [deg].

    Looking from the mouth into the cup; 12 is the top of the coupon as brazed, or as
    marked where the axis stood upright.

    Parameters
    ----------
    text : str
        ``3``, ``3:00``, ``10:30`` or ``95 deg``.
    where : str, optional
        Place for messages.

    Raises
    ------
    ClockRefused
        For anything else.

    Examples
    --------
    >>> clock_degrees("3"), clock_degrees("10:30"), clock_degrees("12")
    (90.0, 315.0, 0.0)
    """
    clock, angle = _CLOCK.match(text), _ANGLE.match(text)
    if clock:
        return int(clock[1]) % 12 * 30.0 + int(clock[2] or 0) / 2
    if angle and float(angle[1]) < 360:
        return float(angle[1])
    raise ClockRefused(
        "no position round the tube",
        got=text,
        expected="a clock position like 10:30, or an angle like 95 deg",
        where=where,
        do="Correct it, or leave it out.",
    )


def map_faces(joint: Joint) -> tuple[MapFace, ...]:
    """Return the faces of a joint as they are drawn; another joint's faces never come in.

    Parameters
    ----------
    joint : Joint
        The joint with its faces and their readings.

    Raises
    ------
    ClockRefused
        For a position that is none.
    """
    return tuple(_map_face(f) for f in joint.faces if f.joint == joint.id)


def drawn_reading(readings: Sequence[Reading]) -> Reading | None:
    """Return the one reading of a face that the map draws, or None where none was measured.

    Parameters
    ----------
    readings : sequence of Reading
        Every filed reading of one face.
    """
    measured = [r for r in readings if r.share is not None and not r.refused]
    counts = [r for r in measured if r.way == "loupe" or r.taken_by]
    return max(counts or measured, key=lambda r: r.share or 0, default=None)


def _map_face(face: Face) -> MapFace:
    angle = clock_degrees(face.clock, where=face.id) if face.clock else None
    place = (
        word("jointmap.face.at", clock=clock_text(angle))
        if angle is not None
        else word("jointmap.face.no_place")
    )
    reading = drawn_reading(face.readings)
    if reading is None or reading.share is None:
        refused = [r.refused for r in face.readings if r.refused]
        told = (
            word("jointmap.face.refused", code=refused[0])
            if refused
            else word("jointmap.face.unread")
        )
        return MapFace(face.id, angle, "unread", (), None, (place, told))
    bare = not reading.segments and reading.share > 0
    stretches = () if bare else _stretches(reading)
    lines = (place, *_lines(reading, len(face.readings)))
    if bare:
        lines = (*lines, word("jointmap.face.unplaced"))
    return MapFace(
        face.id, angle, "unplaced" if bare else "read", stretches, _share(reading), lines
    )


def _stretches(reading: Reading) -> tuple[Stretch, ...]:
    """Return what is not sound, by depth from the mouth; filed fractions run from the tube end."""
    found = []
    for segment in reading.segments:
        if segment["state"] in STATES:
            span = Span(1 - float(segment["end"]), 1 - float(segment["start"]))
            found.append(Stretch(span, segment["state"], _depths(span, reading.overlap)))
    return tuple(sorted(found, key=lambda s: s.span.start))


def _depths(span: Span, overlap: Quantity | None) -> str:
    if overlap is None:
        return f"{span.start * 100:.0f}–{span.end * 100:.0f} %"
    length = float(overlap.base)
    return f"{span.start * length:.1f}–{span.end * length:.1f} mm"


def _share(reading: Reading) -> tuple[float, float, float]:
    value = float(reading.share or 0)
    spread = 2 * float(reading.u or 0)
    low = float(reading.low) if reading.low is not None else value - spread
    high = float(reading.high) if reading.high is not None else value + spread
    return value, max(0.0, low), min(1.0, high)


def _lines(reading: Reading, filed: int) -> tuple[str, ...]:
    value, low, high = (f"{v * 100:.1f}" for v in _share(reading))
    lines = [
        word("jointmap.face.share", share=value),
        word("jointmap.face.interval", low=low, high=high),
    ]
    if reading.overlap is not None:
        lines.append(word("jointmap.face.overlap", overlap=f"{float(reading.overlap.base):.2f}"))
    if reading.way != "loupe":
        proposal = "" if reading.taken_by else ", " + word("jointmap.face.proposal")
        lines.append(word("jointmap.face.by_photo") + proposal)
    else:
        lines.append(word("jointmap.face.by_loupe"))
    if filed > 1:
        lines.append(word("jointmap.face.of_readings", count=str(filed)))
    return tuple(lines)
