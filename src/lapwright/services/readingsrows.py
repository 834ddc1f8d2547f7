"""Refuse a method check in which one face stands for several.

Thirty copies of one face are one face. Faces are told apart by the digest of their
picture where the file names it; where it does not, no two may agree in every figure.
House rule, common practice, no source.
"""

from __future__ import annotations

from collections.abc import Hashable

from lapwright.measure.errors import FaceRepeatedRefused

from .readingsfile import PROGRAM, Readings, Row


def refuse_repeats(readings: Readings) -> None:
    """Refuse two faces of one picture, or of the same rows throughout.

    Parameters
    ----------
    readings : Readings
        The rows of a method check.

    Raises
    ------
    FaceRepeatedRefused
        Naming the two faces.
    """
    by_face: dict[str, list[Row]] = {}
    for r in readings.rows:
        by_face.setdefault(r.face, []).append(r)
    pictures: dict[str, str] = {}
    for r in readings.rows:
        if r.image_sha256 and pictures.setdefault(r.image_sha256, r.face) != r.face:
            told = f"{pictures[r.image_sha256]} and {r.face}"
            raise _refused("two faces of one picture", told, readings.name)
    seen: dict[Hashable, str] = {}
    for face, rows in by_face.items():
        if not any(r.way == PROGRAM for r in rows):
            continue
        key = frozenset(_content(r) for r in rows)
        if key in seen:
            raise _refused(
                "two faces whose rows are the same", f"{seen[key]} and {face}", readings.name
            )
        seen[key] = face


def _content(r: Row) -> Hashable:
    """Return everything of a row but where it stands, its day and which face it names."""
    read = r.reader, r.reading, r.way, r.share, r.low, r.high
    return (*read, r.method, r.refused, r.image_sha256)


def _refused(what: str, got: str, name: str) -> FaceRepeatedRefused:
    return FaceRepeatedRefused(
        what,
        got=got,
        where=name,
        expected="every face once, with a picture of its own",
        do="Leave the copy out; tell faces of the same figures apart by the column image_sha256.",
    )
