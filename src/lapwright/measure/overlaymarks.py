"""Numbered arrows of an overlay: the places that a person must look at, told in its legend.

An arrow comes from outside and stops short of its place, so that it hides neither the
place nor the joint.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from .pen import INK, PAPER, stroke, text_width, words
from .strip import normals
from .values import Point

ROW_PX = 46  # height of a row of the legend
SHORT_PX, LONG_PX = 10.0, 64.0  # where an arrow ends and begins, from its place
EDGE_PX = 30.0  # free border of the picture
APART_PX = 46.0  # between two numbers
TEXT = 22


@dataclass(frozen=True)
class Mark:
    """A place to look at: where, [px] of the photograph, and what is there, in words."""

    place: Point
    label: str


def draw_marks(canvas: np.ndarray, line: np.ndarray, places: Sequence[np.ndarray]) -> None:
    """Draw one numbered arrow a place, from the side away from the joint.

    Parameters
    ----------
    canvas : ndarray of uint8, shape (h, w, 3)
        Drawn upon.
    line : ndarray of float, shape (n, 2)
        The joint, [px] of the canvas.
    places : sequence of ndarray of float, shape (2,)
        The places, [px] of the canvas.
    """
    taken: list[np.ndarray] = []
    for number, place in enumerate(places, start=1):
        away = _direction(canvas, line, place, taken)
        tail, tip = place + LONG_PX * away, place + SHORT_PX * away
        across = np.array([-away[1], away[0]])
        barbs = [tip + 14 * away + 8 * side * across for side in (-1, 1)]
        stroke(canvas, np.stack([tail, tip]), PAPER, width=3)
        stroke(canvas, np.stack([barbs[0], tip, barbs[1]]), PAPER, width=3)
        words(canvas, str(number), (float(tail[0]), float(tail[1])), size=TEXT, plate=7)
        taken.append(tail)


def _direction(
    canvas: np.ndarray, line: np.ndarray, place: np.ndarray, taken: Sequence[np.ndarray]
) -> np.ndarray:
    """Return the way out of the joint, or the nearest to it that has room for a number."""
    nearest = int(np.hypot(*(line - place).T).argmin())
    out = normals(line)[nearest]
    out = out if float((place - line[nearest]) @ out) >= 0 else -out
    along = np.array([-out[1], out[0]])
    ways = [out, out + along, out - along, 0.4 * out + along, 0.4 * out - along]
    units = [way / np.hypot(*way) for way in ways]
    for unit in units:
        tail = place + LONG_PX * unit
        inside = (tail > EDGE_PX).all() and (tail < np.array(canvas.shape[1::-1]) - EDGE_PX).all()
        if inside and all(np.hypot(*(tail - other)) > APART_PX for other in taken):
            return np.asarray(unit)
    return np.asarray(-units[0])


def legend_rows(width_px: int, labels: Sequence[str], outline: str) -> np.ndarray:
    """Return the rows of the legend that explain numbers and, if it has a name, the outline.

    Parameters
    ----------
    width_px : int
        Width of the picture.
    labels : sequence of str
        What stands at each number, in order.
    outline : str
        Name of the thin line along the outer walls; empty where none is drawn.
    """
    entries = list(_entries(labels, outline))
    rows: list[list[tuple[str, str, int]]] = [[]]
    left = 40
    for sign, text in entries:
        wide = 56 + text_width(text, TEXT) + 44
        if rows[-1] and left + wide > width_px:
            rows.append([])
            left = 40
        rows[-1].append((sign, text, left))
        left += wide
    band = np.full((ROW_PX * len(rows), width_px, 3), PAPER, np.uint8)
    for index, row in enumerate(rows):
        for sign, text, x in row:
            _entry(band, sign, text, (x, ROW_PX * index + ROW_PX / 2 - 6))
    return band


def _entries(labels: Sequence[str], outline: str) -> Iterator[tuple[str, str]]:
    if outline:
        yield "", outline
    yield from ((str(number), label) for number, label in enumerate(labels, start=1))


def _entry(band: np.ndarray, sign: str, text: str, place: tuple[float, float]) -> None:
    x, y = place
    if sign:
        ring = np.linspace(0, 2 * np.pi, 40)
        circle = np.stack([x + 28 + 16 * np.cos(ring), y + 16 * np.sin(ring)], axis=1)
        stroke(band, circle, INK, width=2, halo=0)
        words(band, sign, (x + 28, y), size=20)
    else:
        stroke(band, np.array([[x, y], [x + 48, y]]), PAPER, width=1)
    words(band, text, (x + 56 + text_width(text, TEXT) / 2, y), size=TEXT)
