"""A joint unrolled, with a void that the two planes of a section miss: one drawn map.

The shares printed on it are reckoned from the drawn outline, not typed.
"""

from __future__ import annotations

import cv2
import numpy as np
from faceplate import INK, LEFT, PAPER, RED, RIGHT, WIDTH

from lapwright.measure.pen import dashed, words

TOP, HIGH = 44, 250  # of the map on its picture, [px]
CLOCK = 12.0
PLANES = (3.0, 9.0)  # clock positions of the two cut faces
VOIDS = ((0.5, 0.55, 2.0, 0.36), (5.7, 0.3, 1.3, 0.2))  # clock, depth, half extents


def void_mask(rows: int = 600, columns: int = 1200) -> np.ndarray:
    """Return where the lap holds no filler: shape (rows, columns), clock by depth, [-]."""
    clock = (np.arange(rows) + 0.5)[:, None] / rows * CLOCK
    depth = (np.arange(columns) + 0.5)[None, :] / columns
    out = np.zeros((rows, columns), bool)
    for middle, deep, tall, wide in VOIDS:
        off = (clock - middle + CLOCK / 2) % CLOCK - CLOCK / 2
        out |= (off / tall) ** 2 + ((depth - deep) / wide) ** 2 < 1
    return out


def plane_share(clock: float) -> float:
    """Return the unbrazed share on the line that a plane cuts at a clock position, [-]."""
    mask = void_mask()
    return float(mask[int(clock / CLOCK * mask.shape[0])].mean())


def lap_map() -> np.ndarray:
    """Return the map: uint8, shape (height, 900, 3), BGR."""
    picture = np.full((TOP + HIGH + 52, WIDTH, 3), PAPER, np.uint8)
    area = float(void_mask().mean())
    words(
        picture,
        f"the lap unrolled: {100 * area:.0f} % of its area unbrazed",
        (WIDTH / 2, 20),
        size=25,
    )
    box = picture[TOP : TOP + HIGH, LEFT:RIGHT]
    box[:] = (222, 214, 178)
    mask = void_mask(*box.shape[:2])
    hatch = np.full_like(box, PAPER)
    for x in range(-HIGH, box.shape[1], 11):
        cv2.line(hatch, (x, HIGH), (x + HIGH, 0), RED, 3, cv2.LINE_AA)
    box[mask] = hatch[mask]
    edges, _ = cv2.findContours(mask.astype(np.uint8), cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE)
    cv2.drawContours(box, edges, -1, INK, 1, cv2.LINE_AA)
    cv2.rectangle(box, (0, 0), (box.shape[1] - 1, HIGH - 1), INK, 1)
    for clock in (0, 3, 6, 9, 12):
        y = TOP + HIGH * clock / CLOCK
        words(picture, str(clock or 12), (LEFT / 2, y), size=23)
    for clock in PLANES:
        y = TOP + HIGH * clock / CLOCK
        line = np.array([[LEFT - 14.0, y], [RIGHT + 14.0, y]])
        dashed(picture, line, INK, width=3, pattern=(18, 9))
        words(picture, f"cut: {100 * plane_share(clock):.0f} %", (834, y), size=23)
    foot = TOP + HIGH + 24
    words(picture, "tube end", (LEFT + 45, foot), size=23)
    words(picture, "mouth", (RIGHT - 32, foot), size=23)
    words(picture, "the face cut at 3:", ((LEFT + RIGHT) / 2, foot), size=23)
    return picture
