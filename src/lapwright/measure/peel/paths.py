"""Edges of a lap surface, and the discontinuities that join one to another.

Pixels are joined over sides and corners (8-connected). A border pixel has a
neighbour over a side that is not surface and can be reached from outside the
picture; holes have no edges. It belongs to every side whose distance from its
centre is under one pixel, and else to the nearest. The sides are those of an
outline with four corners, or of the box round the pixel centres that is
turned to the lap direction. All comparisons with one pixel are exact.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import cv2
import numpy as np

from .direction import LapDirection
from .outline import GRID, GridPoint, Outline

EDGES = ("mouth", "right", "stop", "left")  # the order of the sides of four corners
PAIRS = (
    ("mouth", "stop"),
    ("left", "right"),
    ("mouth", "left"),
    ("mouth", "right"),
    ("left", "stop"),
    ("right", "stop"),
)
OPPOSITE = PAIRS[:2]


@dataclass(frozen=True)
class EdgePath:
    """Whether a discontinuity joins two edges: ``yes``, ``possible`` or ``no``."""

    from_edge: str
    to_edge: str
    state: str


Edges = Mapping[str, tuple[np.ndarray, np.ndarray]]


def find_edges(surface: np.ndarray, lap: LapDirection, outline: Outline | None = None) -> Edges:
    """Return the border pixels of each edge.

    Parameters
    ----------
    surface : ndarray of bool, shape (height, width)
        The pixels of the lap surface.
    lap : LapDirection
        From the mouth edge to the stop edge.
    outline : Outline, optional
        Its four sides are the edges; any other outline leaves them to the box.

    Returns
    -------
    mapping of str to pair of ndarray of int
        Edge -> rows and columns. Without four corners, left and right are
        as seen with the mouth edge turned to the top.
    """
    rows, columns = np.nonzero(_border(surface))
    if outline is not None and len(outline.points) == 4:
        near, distance = _to_sides(rows, columns, outline)
    else:
        near, distance = _to_box(rows, columns, lap)
    nearest = distance <= distance.min(axis=0) + 1e-9
    belongs = np.where(near.any(axis=0), near, nearest)
    return {edge: (rows[belongs[n]], columns[belongs[n]]) for n, edge in enumerate(EDGES)}


def join_edges(sure: np.ndarray, possible: np.ndarray, edges: Edges) -> tuple[EdgePath, ...]:
    """Return for each pair of edges whether a discontinuity joins them.

    Parameters
    ----------
    sure : ndarray of bool, shape (height, width)
        The discontinuities.
    possible : ndarray of bool, shape (height, width)
        The same with the unsure pixels.
    edges : mapping
        As `find_edges` returns them.
    """
    certain, open_ = _joined(sure, edges), _joined(possible, edges)
    return tuple(
        EdgePath(*pair, "yes" if pair in certain else "possible" if pair in open_ else "no")
        for pair in PAIRS
    )


def holes(surface: np.ndarray) -> int:
    """Return how many pixels outside the surface are enclosed by it."""
    return int(np.count_nonzero(~surface) - np.count_nonzero(_open_ground(surface)))


def joining(marked: np.ndarray, edges: Edges, pair: tuple[str, str]) -> np.ndarray:
    """Return the pixels of the discontinuities that join two edges."""
    labels = _labels(marked)
    both = set(labels[edges[pair[0]]]) & set(labels[edges[pair[1]]]) - {0}
    return np.isin(labels, sorted(both))


def _labels(marked: np.ndarray) -> np.ndarray:
    _, labels = cv2.connectedComponents(marked.astype(np.uint8), connectivity=8)
    return np.asarray(labels)


def _joined(marked: np.ndarray, edges: Edges) -> set[tuple[str, str]]:
    labels = _labels(marked)
    touched = {edge: set(np.unique(labels[place])) - {0} for edge, place in edges.items()}
    return {pair for pair in PAIRS if touched[pair[0]] & touched[pair[1]]}


def _open_ground(surface: np.ndarray) -> np.ndarray:
    """Return what is not surface and can be reached from outside the picture over sides."""
    ground = np.ones((surface.shape[0] + 2, surface.shape[1] + 2), np.uint8)
    ground[1:-1, 1:-1] = ~surface
    cv2.floodFill(ground, None, (0, 0), 2, flags=4)
    return np.asarray(ground[1:-1, 1:-1] == 2)


def _border(surface: np.ndarray) -> np.ndarray:
    ground = np.pad(_open_ground(surface), 1, constant_values=True)
    beside = ground[:-2, 1:-1] | ground[2:, 1:-1] | ground[1:-1, :-2] | ground[1:-1, 2:]
    return np.asarray(surface & beside)


def _to_sides(
    rows: np.ndarray, columns: np.ndarray, outline: Outline
) -> tuple[np.ndarray, np.ndarray]:
    found = [_to_side(rows, columns, *side) for side in outline.sides]
    return np.array([f[0] for f in found]), np.array([f[1] for f in found])


def _to_side(
    rows: np.ndarray, columns: np.ndarray, a: GridPoint, b: GridPoint
) -> tuple[np.ndarray, np.ndarray]:
    """Return what is nearer than one pixel to a side (exact), and the distance, [px]."""
    px, py = columns.astype(np.int64) * GRID - a[0], rows.astype(np.int64) * GRID - a[1]
    ux, uy = b[0] - a[0], b[1] - a[1]
    square = ux * ux + uy * uy
    along = px * ux + py * uy
    across = np.minimum(np.abs(px * uy - py * ux), 3_000_000_000)  # its square stays in 64 bits
    from_start = px * px + py * py
    from_end = (px - ux) ** 2 + (py - uy) ** 2
    beside = (along >= 0) & (along <= square)
    near = np.where(
        beside,
        across * across < GRID * GRID * square,
        np.where(along < 0, from_start, from_end) < GRID * GRID,
    )
    outer = np.sqrt(np.where(along < 0, from_start, from_end))
    exact_across = np.abs(px * uy - py * ux) / math.sqrt(square)
    return near, np.where(beside, exact_across, outer) / GRID


def _to_box(
    rows: np.ndarray, columns: np.ndarray, lap: LapDirection
) -> tuple[np.ndarray, np.ndarray]:
    down = lap.dx * columns.astype(np.int64) + lap.dy * rows.astype(np.int64)
    side = lap.dy * columns.astype(np.int64) - lap.dx * rows.astype(np.int64)
    # in the order of EDGES; with the mouth turned to the top, the right is at (dy, -dx)
    steps = np.array([down - down.min(), side.max() - side, down.max() - down, side - side.min()])
    square = lap.dx * lap.dx + lap.dy * lap.dy
    return steps <= math.isqrt(square - 1), steps / math.sqrt(square)
