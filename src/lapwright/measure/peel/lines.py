"""The worst line in the lap direction, exactly.

Pixels are unit squares. Along a line in the lap direction the length inside a
set of pixels is a sum of chords. Moved sideways, one pixel's chord grows,
stays and shrinks linearly, so the sum over all is piecewise linear with bends
at pixel corners only, and where squares share a corner in the flat their bends
cancel. Between bends the share of two such lengths is monotone; its largest
value lies at a bend. All of it is integer arithmetic.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from .direction import LapDirection
from .outline import GRID, Outline

NEARLY = 1e-9  # how far below the best, in floating point, the exact best is looked for


Span = tuple[Fraction, Fraction]
Wanted = tuple[Fraction, Span | None]
Choice = tuple[Fraction, Fraction, Fraction]


@dataclass(frozen=True)
class WorstLine:
    """The line with the largest marked share, the limit of lines close to it included.

    ``offset`` is ``dx * y - dy * x`` of the line, with (0, 0) the corner of the
    first pixel; ``lap_px`` is the length of surface along it; ``lap_share`` is
    that length beside the longest one.
    """

    share: Fraction
    offset: Fraction
    lap_px: float
    lap_share: float


@dataclass(frozen=True)
class _Lengths:
    """Marked and surface lengths at places; both in one unit, ``unit_px`` each."""

    places: np.ndarray
    marked: np.ndarray
    surface: np.ndarray
    unit_px: float
    offset_step: Fraction


def worst_line(
    marked: np.ndarray,
    surface: np.ndarray,
    *,
    lap: LapDirection,
    shortest_lap: Fraction = Fraction(0),
    span: Span | None = None,
) -> WorstLine:
    """Return the line in the lap direction with the largest share of marked length.

    Parameters
    ----------
    marked : ndarray of bool, shape (height, width)
        The pixels counted; those off the surface are not.
    surface : ndarray of bool, shape (height, width)
        The pixels of the lap surface; at least one.
    lap : LapDirection
        The direction of the lines.
    shortest_lap : Fraction, optional
        Only lines whose lap is at least this share of the longest one.
    span : pair of Fraction, optional
        Only lines whose offset lies between these, both included.

    Returns
    -------
    WorstLine
        Exact; of several worst lines one with the longest lap. If no line is
        left, every line counts.
    """
    return worst_lines(marked, surface, lap=lap, wanted=((shortest_lap, span),))[0]


def worst_lines(
    marked: np.ndarray, surface: np.ndarray, *, lap: LapDirection, wanted: Sequence[Wanted]
) -> tuple[WorstLine, ...]:
    """Return the worst line for each of several choices of lines; see `worst_line`.

    Parameters
    ----------
    marked, surface : ndarray of bool, shape (height, width)
        The pixels counted, and those of the lap surface.
    lap : LapDirection
        The direction of the lines.
    wanted : sequence of (Fraction, pair of Fraction or None)
        Shortest lap and span of each choice.
    """
    straight = lap.dx == 0 or lap.dy == 0
    measured = (_straight if straight else _slanted)(marked & surface, surface, lap)
    return tuple(_worst(measured, least, straight, span) for least, span in wanted)


def _worst(
    measured: _Lengths, shortest_lap: Fraction, straight: bool, span: Span | None
) -> WorstLine:
    longest = int(measured.surface.max())
    least = shortest_lap * longest
    choices = _at_places(measured, least, span)
    if not straight and least > 0:
        choices += _at_threshold(measured, least, span)
    if not straight and span is not None:
        choices += _at_span(measured, least, span)
    if not choices:
        return _worst(measured, Fraction(0), straight, None)
    share, length, offset = max(choices, key=lambda c: (c[0], c[1], -c[2]))
    return WorstLine(share, offset, float(length) * measured.unit_px, float(length / longest))


def _straight(marked: np.ndarray, surface: np.ndarray, lap: LapDirection) -> _Lengths:
    """Count along columns or rows; a line is worth what its column or row is."""
    axis = 0 if lap.dx == 0 else 1
    counts = [np.count_nonzero(a, axis=axis).astype(np.int64) for a in (marked, surface)]
    places = 2 * np.arange(len(counts[0]), dtype=np.int64) + 1  # middles, in halves of a pixel
    step = Fraction(-lap.dy, 2) if axis == 0 else Fraction(lap.dx, 2)
    return _Lengths(places, counts[0], counts[1], 1.0, step)


def _slanted(marked: np.ndarray, surface: np.ndarray, lap: LapDirection) -> _Lengths:
    bends_of_marked, bends_of_surface = _bends(marked), _bends(surface)
    rows, columns = np.nonzero((bends_of_marked != 0) | (bends_of_surface != 0))
    sign = -1 if lap.dx * lap.dy > 0 else 1
    offsets = lap.dx * rows.astype(np.int64) - lap.dy * columns.astype(np.int64)
    places, which = np.unique(offsets, return_inverse=True)
    values = []
    for bends in (bends_of_marked, bends_of_surface):
        weights = np.bincount(which, bends[rows, columns], len(places)).astype(np.int64)
        slopes = np.cumsum(sign * weights)[:-1]
        steps = np.concatenate([[0], slopes * np.diff(places)])
        values.append(np.cumsum(steps))
    unit = math.hypot(lap.dx, lap.dy) / abs(lap.dx * lap.dy)
    return _Lengths(places, values[0], values[1], unit, Fraction(1))


def _bends(pixels: np.ndarray) -> np.ndarray:
    """Return the second mixed difference on pixel corners, shape (height + 1, width + 1)."""
    padded = np.zeros((pixels.shape[0] + 2, pixels.shape[1] + 2), np.int8)
    padded[1:-1, 1:-1] = pixels
    down = np.diff(padded, axis=0)
    return np.diff(down, axis=1)


def _at_places(measured: _Lengths, least: Fraction, span: Span | None) -> list[Choice]:
    """Return the best choices at bends, compared exactly."""
    kept = (measured.surface > 0) & (measured.surface >= -(-least.numerator // least.denominator))
    if span is not None:
        low, high = sorted(end / measured.offset_step for end in span)
        kept &= (measured.places >= math.ceil(low)) & (measured.places <= math.floor(high))
    if not kept.any():
        return []
    marked, surface = measured.marked[kept], measured.surface[kept]
    ratio = marked / surface
    close = ratio >= ratio.max() - NEARLY
    best: dict[Fraction, tuple[int, int]] = {}
    pairs = zip(marked[close], surface[close], measured.places[kept][close], strict=True)
    for over, under, place in pairs:
        share = Fraction(int(over), int(under))
        if share not in best or int(under) > best[share][0]:
            best[share] = (int(under), int(place))
    return [
        (share, Fraction(length), place * measured.offset_step)
        for share, (length, place) in best.items()
    ]


def _at_threshold(measured: _Lengths, least: Fraction, span: Span | None) -> list[Choice]:
    """Return the choices between bends where the lap just reaches the least length."""
    above = measured.surface >= float(least)
    changes = np.flatnonzero(above[1:] != above[:-1])
    if span is not None:
        reached = (measured.places[changes + 1] >= math.floor(span[0])) & (
            measured.places[changes] <= math.ceil(span[1])
        )
        changes = changes[reached]
    found = [_threshold(measured, int(k), least) for k in changes]
    return [c for c in found if span is None or span[0] <= c[2] <= span[1]]


def _at_span(measured: _Lengths, least: Fraction, span: Span) -> list[Choice]:
    """Return the choices at the two ends of the span, between bends."""
    found = []
    for offset in span:
        k = int(np.searchsorted(measured.places, math.floor(offset), side="right")) - 1
        if not 0 <= k < len(measured.places) - 1:
            continue
        start, end = int(measured.places[k]), int(measured.places[k + 1])
        part = (offset - start) / (end - start)
        over, under = (
            int(values[k]) + part * (int(values[k + 1]) - int(values[k]))
            for values in (measured.marked, measured.surface)
        )
        if under > 0 and under >= least:
            found.append((over / under, under, offset))
    return found


def _threshold(measured: _Lengths, k: int, least: Fraction) -> Choice:
    d0, d1 = int(measured.marked[k]), int(measured.marked[k + 1])
    s0, s1 = int(measured.surface[k]), int(measured.surface[k + 1])
    t0, t1 = int(measured.places[k]), int(measured.places[k + 1])
    part = (least - s0) / (s1 - s0) if s1 != s0 else Fraction(0)
    return (d0 + part * (d1 - d0)) / least, least, t0 + part * (t1 - t0)


def span_of_edges(outline: Outline, lap: LapDirection) -> Span | None:
    """Return the offsets of the lines that cross both mouth and stop edge of four corners.

    Parameters
    ----------
    outline : Outline
        Other outlines than four corners have no edges: None.
    lap : LapDirection
        The direction of the lines.

    Returns
    -------
    pair of Fraction or None
        None also where no line crosses both.
    """
    if len(outline.points) != 4:
        return None
    # offsets count from the corner of the first pixel, points from its centre
    shift = Fraction(lap.dx - lap.dy, 2)
    at = [Fraction(lap.dx * y - lap.dy * x, GRID) + shift for x, y in outline.points]
    low = max(min(at[:2]), min(at[2:]))
    high = min(max(at[:2]), max(at[2:]))
    return (low, high) if low <= high else None


def line_ends(
    surface: np.ndarray, lap: LapDirection, offset: Fraction
) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return where a line enters and leaves the surface, for drawing, [px].

    Parameters
    ----------
    surface : ndarray of bool, shape (height, width)
        The pixels of the lap surface.
    lap : LapDirection
        The direction of the line.
    offset : Fraction
        Which line, as in `WorstLine`.
    """
    height, width = surface.shape
    norm = math.hypot(lap.dx, lap.dy)
    along = np.array([lap.dx, lap.dy]) / norm
    foot = float(offset) / norm * np.array([-along[1], along[0]])
    reach = float(np.hypot(height, width))
    middle = np.array([width, height]) / 2
    centre = foot + along * float((middle - foot) @ along)
    steps = np.arange(-reach, reach, 0.25)
    points = centre + steps[:, None] * along
    cells = np.floor(points).astype(int)
    inside = (cells >= 0).all(axis=1) & (cells[:, 0] < width) & (cells[:, 1] < height)
    on = np.zeros(len(points), bool)
    on[inside] = surface[cells[inside, 1], cells[inside, 0]]
    hit = np.flatnonzero(on)
    first, last = (points[hit[0]], points[hit[-1]]) if len(hit) else (centre, centre)
    return (
        (float(first[0]) - 0.5, float(first[1]) - 0.5),
        (float(last[0]) - 0.5, float(last[1]) - 0.5),
    )
