"""The outside width of a half-section: both walls of the tube in one picture.

Beyond the mouth the tube stands alone. From its wall beside the joint the way
goes on across the bore to the wall on the other side, where there is one in the
picture. Beside the tube's diameter this width tells how far off the axis the cut is.
"""

from __future__ import annotations

import math

import numpy as np

from .copper import copper_hue, copper_likeness, hues
from .members import EDGE_U_PX, LEAST_COLUMNS, Length
from .outline import SIDES, Outlines, refine_far
from .strip import cut_strip

LIKE_THE_FIRST = (0.6, 1.6)  # thickness of the other wall beside the first; our own choice


def outside_width(pixels: np.ndarray, edges: Outlines) -> Length | None:
    """Return the distance between the outsides of both tube walls, [px], or None.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (height, width, 3)
        The picture; not modified.
    edges : Outlines
        From `lapwright.measure.outline.find_outlines`.
    """
    row = edges.tube_row
    if row is None:
        return None
    wall = edges.outer[row] - edges.bare[row]
    columns = np.flatnonzero(np.isfinite(wall) & (edges.axis.at > 1.03))
    if columns.size < LEAST_COLUMNS:
        return None
    far = _far_edge(pixels, edges, columns, float(np.median(wall[columns])))
    if far is None:
        return None
    rough = np.full(edges.axis.at.size, np.nan)
    rough[columns] = far
    width = (refine_far(pixels, edges, rough, row) - edges.bare[row])[columns]
    known = width[np.isfinite(width)]
    if known.size < LEAST_COLUMNS:
        return None
    middle = float(np.median(known))
    scatter = 1.4826 * float(np.median(np.abs(known - middle)))
    return Length(middle, math.hypot(scatter, math.sqrt(2) * EDGE_U_PX))


def _far_edge(
    pixels: np.ndarray, edges: Outlines, columns: np.ndarray, wall_px: float
) -> float | None:
    """Return how far from the line the other wall ends, [px], or None without one."""
    row = edges.tube_row
    assert row is not None
    step = edges.axis.step_px
    start = float(np.median(edges.outer[row][columns]))
    room = float(edges.room(row)[columns].min())
    offsets = np.arange(start - 0.8 * wall_px, room, step)
    if offsets.size < 8:
        return None
    levels = cut_strip(
        pixels, edges.axis.points[columns], SIDES[row] * offsets, shrink=max(1, int(step))
    )
    found = hues(levels)
    first = slice(0, max(3, int(0.7 * wall_px / step)))
    own = copper_hue(levels[first], found[first])
    if own is None:
        return None
    copper = np.median(copper_likeness(found, own), axis=1) > 0.5
    turns = np.flatnonzero(np.diff(copper.astype(int))) + 1
    if turns.size < 3 or not copper[0]:  # out of the first wall, into the other, out of it
        return None
    thick = (turns[2] - turns[1]) * step / wall_px
    if not LIKE_THE_FIRST[0] < thick < LIKE_THE_FIRST[1]:
        return None
    return float(offsets[turns[2]] - step / 2)
