"""The outline of a lap surface, on a grid of hundredths of a pixel, and its pixels.

Everything here is integer arithmetic. The pixel rule: a pixel belongs to the
surface when its centre lies inside the outline or on it; the centre of the
first pixel is (0, 0).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from lapwright.measure.errors import PeelOutlineRefused

GRID = 100  # steps to a pixel; finer than anyone can point
MOST_POINTS = 400
Point = tuple[float, float]
GridPoint = tuple[int, int]


@dataclass(frozen=True)
class Outline:
    """A closed polygon that does not cross itself; ``points`` in hundredths of a pixel."""

    points: tuple[GridPoint, ...]

    @property
    def points_px(self) -> tuple[Point, ...]:
        """The points in pixels."""
        return tuple((x / GRID, y / GRID) for x, y in self.points)

    @property
    def sides(self) -> tuple[tuple[GridPoint, GridPoint], ...]:
        """The sides in order, each as its two points in hundredths of a pixel."""
        return tuple(zip(self.points, self.points[1:] + self.points[:1], strict=True))


def make_outline(points: Sequence[Point], size: tuple[int, int]) -> Outline:
    """Check the points of an outline and put them on the grid.

    Parameters
    ----------
    points : sequence of pair of float
        Corners in order, either way round, [px].
    size : tuple of int
        Width and height of the picture, [px].

    Returns
    -------
    Outline
        The points rounded to hundredths of a pixel.

    Raises
    ------
    PeelOutlineRefused
        If there are fewer than 3 or too many, one is no number or lies outside
        the picture, or the outline crosses itself or bounds no area.
    """
    if not 3 <= len(points) <= MOST_POINTS:
        raise _refused(f"{len(points)} points", f"3 to {MOST_POINTS} points")
    for x, y in points:
        inside = math.isfinite(x) and math.isfinite(y)
        if not (inside and -0.5 <= x <= size[0] - 0.5 and -0.5 <= y <= size[1] - 0.5):
            raise _refused(f"{x:g},{y:g}", f"points inside the picture of {size[0]} x {size[1]} px")
    outline = Outline(tuple((round(x * GRID), round(y * GRID)) for x, y in points))
    crossing = _crossing(outline)
    if crossing:
        raise _refused(crossing, "an outline that neither crosses nor touches itself")
    return outline


def outline_pixels(outline: Outline, size: tuple[int, int]) -> np.ndarray:
    """Return the pixels whose centre lies inside the outline or on it.

    Parameters
    ----------
    outline : Outline
        A closed polygon.
    size : tuple of int
        Width and height of the picture, [px].

    Returns
    -------
    ndarray of bool, shape (height, width)
        Exact for the outline on its grid.
    """
    width, height = size
    flips = np.zeros((height, width + 1), bool)
    on_line = np.zeros((height, width), bool)
    for start, end in outline.sides:
        _mark_side(flips, on_line, *sorted((start, end), key=lambda p: (p[1], p[0])))
    return np.logical_xor.accumulate(flips, axis=1)[:, :width] | on_line


def _mark_side(flips: np.ndarray, on_line: np.ndarray, low: GridPoint, high: GridPoint) -> None:
    """Mark where rows cross a side: flips half open (lower end in), hits with both ends."""
    width, height = on_line.shape[1], on_line.shape[0]
    (x0, y0), (x1, y1) = low, high
    if y0 == y1:
        if y0 % GRID == 0 and 0 <= y0 // GRID < height:
            first, last = -(-min(x0, x1) // GRID), max(x0, x1) // GRID
            on_line[y0 // GRID, max(first, 0) : last + 1] = True
        return
    rows = np.arange(max(-(-y0 // GRID), 0), min(y1 // GRID, height - 1) + 1, dtype=np.int64)
    over = x0 * (y1 - y0) + (rows * GRID - y0) * (x1 - x0)  # crossing times GRID * (y1 - y0)
    under = GRID * (y1 - y0)
    column = over // under
    hit = (over % under == 0) & (column >= 0) & (column < width)
    on_line[rows[hit], column[hit]] = True
    crossed = rows * GRID < y1
    flips[rows[crossed], np.clip(column[crossed] + 1, 0, width)] ^= True


def _turns(a: np.ndarray, b: np.ndarray, c: np.ndarray) -> np.ndarray:
    """Return on which side of the line a-b the point c lies: -1, 0 or 1."""
    u, v = b - a, c - a
    return np.asarray(np.sign(u[..., 0] * v[..., 1] - u[..., 1] * v[..., 0]))


def _between(a: np.ndarray, b: np.ndarray, c: np.ndarray) -> np.ndarray:
    low, high = np.minimum(a, b), np.maximum(a, b)
    return np.asarray(((low <= c) & (c <= high)).all(axis=-1))


def _crossing(outline: Outline) -> str:
    """Return what is wrong with the run of the outline, or an empty text."""
    p = np.array(outline.points, np.int64)
    q = np.roll(p, -1, axis=0)
    if (p == q).all(axis=1).any():
        return "a point that stands twice"
    if not int((p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]).sum()):
        return "no area"
    after = np.roll(q, -1, axis=0)
    back = (_turns(p, q, after) == 0) & (((q - p) * (after - q)).sum(axis=1) < 0)
    if back.any():
        return "a side that runs back along the one before it"
    first, second = np.triu_indices(len(p), 2)
    apart = (first > 0) | (second < len(p) - 1)  # the last side is the first one's neighbour
    first, second = first[apart], second[apart]
    a, b, c, d = p[first], q[first], p[second], q[second]
    abc, abd, cda, cdb = _turns(a, b, c), _turns(a, b, d), _turns(c, d, a), _turns(c, d, b)
    meets = (abc * abd < 0) & (cda * cdb < 0)
    for turn, (start, end, point) in zip(
        (abc, abd, cda, cdb), ((a, b, c), (a, b, d), (c, d, a), (c, d, b)), strict=True
    ):
        meets |= (turn == 0) & _between(start, end, point)
    if not meets.any():
        return ""
    n = int(meets.argmax())
    return f"sides {int(first[n]) + 1} and {int(second[n]) + 1} that meet"


def _refused(got: str, expected: str) -> PeelOutlineRefused:
    return PeelOutlineRefused(
        "not an outline of a lap surface",
        got=got,
        expected=expected,
        do="Read the corners off a picture written with 'lapwright face PHOTO --grid'; "
        "four corners go in the order mouth left, mouth right, stop right, stop left.",
    )
