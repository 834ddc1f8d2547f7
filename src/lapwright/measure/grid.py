"""Draw a labelled pixel grid over a photograph, so that a person can name the ends."""

from __future__ import annotations

import cv2
import numpy as np

from .image import Photo
from .pen import PAPER, png, stroke, words

LONGEST_PX = 2000
_STEPS = (10, 20, 50, 100, 200, 500, 1000, 2000, 5000)


def grid_step(size_px: int) -> int:
    """Return the step of the grid for a picture side, [px]: ten to twenty-five lines.

    Examples
    --------
    >>> grid_step(4000), grid_step(1200), grid_step(300)
    (200, 100, 20)
    """
    return next((s for s in _STEPS if size_px / s <= 25), _STEPS[-1])


def draw_grid(photo: Photo) -> bytes:
    """Draw the picture with a pixel grid; labels count pixels of the original.

    Parameters
    ----------
    photo : Photo
        The photograph; not modified.

    Returns
    -------
    bytes
        PNG, its longer side at most 2000 px.
    """
    longest = max(photo.width, photo.height)
    scale = min(1.0, LONGEST_PX / longest) if longest > 900 else min(3.0, 900 / longest)
    size = (round(photo.width * scale), round(photo.height * scale))
    method = cv2.INTER_AREA if scale < 1 else cv2.INTER_NEAREST
    canvas = np.ascontiguousarray(cv2.resize(photo.pixels, size, interpolation=method))
    step = grid_step(longest)
    for value in range(0, photo.width, step):
        _line(canvas, value, (value + 0.5) * scale - 0.5, axis=0)
    for value in range(0, photo.height, step):
        _line(canvas, value, (value + 0.5) * scale - 0.5, axis=1)
    for x in range(0, photo.width, step):
        words(canvas, str(x), ((x + 0.5) * scale, 12), size=18, plate=2)
    for y in range(step, photo.height, step):
        words(canvas, str(y), (24, (y + 0.5) * scale), size=18, plate=2)
    return png(canvas)


def _line(canvas: np.ndarray, value: int, at: float, *, axis: int) -> None:
    """Blend a thin pale line; it must not hide the joint."""
    high, wide = canvas.shape[:2]
    ends = np.array([[at, 0.0], [at, high]]) if axis == 0 else np.array([[0.0, at], [wide, at]])
    low, top = max(0, int(at) - 3), int(at) + 5
    box = (slice(None), slice(low, top)) if axis == 0 else (slice(low, top), slice(None))
    before = canvas[box].copy()
    stroke(canvas, ends, PAPER, width=1, halo=1)
    canvas[box] = cv2.addWeighted(canvas[box], 0.4, before, 0.6, 0)
