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

NEARLY = 1e-9  # how far below the best, in floating point, the exact best is looked for


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

    Returns
    -------
    WorstLine
        Exact; of several worst lines one with the longest lap.
    """
    return worst_lines(marked, surface, lap=lap, shortest_laps=(shortest_lap,))[0]


def worst_lines(
    marked: np.ndarray,
    surface: np.ndarray,
    *,
    lap: LapDirection,
    shortest_laps: Sequence[Fraction],
) -> tuple[WorstLine, ...]:
    """Return the worst line for each of several shortest laps; see `worst_line`.

    Parameters
    ----------
    marked, surface : ndarray of bool, shape (height, width)
        The pixels counted, and those of the lap surface.
    lap : LapDirection
        The direction of the lines.
    shortest_laps : sequence of Fraction
        Shares of the longest lap.
    """
    straight = lap.dx == 0 or lap.dy == 0
    measured = (_straight if straight else _slanted)(marked & surface, surface, lap)
    return tuple(_worst(measured, least, straight) for least in shortest_laps)


def _worst(measured: _Lengths, shortest_lap: Fraction, straight: bool) -> WorstLine:
    longest = int(measured.surface.max())
    choices = _at_places(measured, shortest_lap * longest)
    if not straight and shortest_lap > 0:
        choices += _at_threshold(measured, shortest_lap * longest)
    share, length, offset = max(choices, key=lambda c: (c[0], c[1], -c[2]))
    return WorstLine(share, offset, float(length) * measured.unit_px, float(length / longest))


Choice = tuple[Fraction, Fraction, Fraction]


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


def _at_places(measured: _Lengths, least: Fraction) -> list[Choice]:
    """Return the best choices at bends, compared exactly."""
    kept = (measured.surface > 0) & (measured.surface >= -(-least.numerator // least.denominator))
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


def _at_threshold(measured: _Lengths, least: Fraction) -> list[Choice]:
    """Return the best choices between bends where the lap just reaches the least length."""
    above = measured.surface >= float(least)
    changes = np.flatnonzero(above[1:] != above[:-1])
    run = measured.surface[changes + 1] - measured.surface[changes]
    part = (float(least) - measured.surface[changes]) / np.where(run == 0, 1, run)
    rise = measured.marked[changes + 1] - measured.marked[changes]
    rough = measured.marked[changes] + part * rise
    if not len(rough):
        return []
    close = changes[rough >= rough.max() - NEARLY * float(least)]
    return [_threshold(measured, int(k), least) for k in close]


def _threshold(measured: _Lengths, k: int, least: Fraction) -> Choice:
    d0, d1 = int(measured.marked[k]), int(measured.marked[k + 1])
    s0, s1 = int(measured.surface[k]), int(measured.surface[k + 1])
    t0, t1 = int(measured.places[k]), int(measured.places[k + 1])
    part = (least - s0) / (s1 - s0) if s1 != s0 else Fraction(0)
    return (d0 + part * (d1 - d0)) / least, least, t0 + part * (t1 - t0)


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
