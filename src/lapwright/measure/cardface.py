"""The dark parts of a scale card, as rectangles in millimetres, for whoever prints it."""

from __future__ import annotations

import numpy as np

from lapwright.reference.cards import ScaleCard

from .scalecard import board_of, dictionary

Part = tuple[float, float, float, float]
MODULES = 6  # a marker of 4 x 4 bits in its dark border


def dark_parts(card: ScaleCard) -> tuple[Part, ...]:
    """Return what is dark on a card: squares of the board and runs of marker bits.

    Parameters
    ----------
    card : ScaleCard
        A card of the table.

    Returns
    -------
    tuple of (x, y, width, height)
        Rectangles that do not overlap, [mm], from the board's top left corner.
    """
    side = float(card.square_mm)
    squares = [
        (column * side, row * side, side, side)
        for row in range(card.rows)
        for column in range(card.columns)
        if (row + column) % 2 == 0
    ]
    board = board_of(card)
    markers = [
        part
        for number, corners in zip(np.ravel(board.getIds()), board.getObjPoints(), strict=True)
        for part in _marker(int(number), np.asarray(corners)[0, :2], float(card.marker_mm))
    ]
    return tuple(squares + markers)


def _marker(number: int, corner: np.ndarray, side: float) -> list[Part]:
    """Return the dark runs of one marker, row by row."""
    dark = dictionary().generateImageMarker(number, MODULES, borderBits=1) == 0
    cell = side / MODULES
    runs = []
    for row, line in enumerate(dark):
        edges = np.flatnonzero(np.diff(np.concatenate([[0], line.astype(int), [0]])))
        for first, last in zip(edges[::2], edges[1::2], strict=True):
            x, y = corner[0] + first * cell, corner[1] + row * cell
            runs.append((float(x), float(y), float((last - first) * cell), cell))
    return runs
