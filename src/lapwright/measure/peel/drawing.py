"""Drawn peeled surfaces with known truth, for tests and teaching; not tuned to anything real."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from lapwright.measure.drawing.looks import mottle

from .mask import DISCONTINUITY, OUTSIDE, SOUND

Point = tuple[float, float]
PALE, COPPER, OXIDE, BENCH = (158, 176, 188), (92, 128, 198), (38, 44, 52), (70, 66, 62)


@dataclass(frozen=True)
class DrawnPeel:
    """A picture in blue, green, red order, the true states, and the corners in order."""

    pixels: np.ndarray
    states: np.ndarray
    corners: tuple[Point, ...]


def draw_peel(
    seed: int,
    *,
    size: tuple[int, int] = (900, 700),
    copper: Sequence[tuple[Point, Point]] = (),
    oxide: Sequence[tuple[Point, Point]] = (),
) -> DrawnPeel:
    """Draw a peeled lap with elliptic discontinuities.

    Parameters
    ----------
    seed : int
        Seed of the textures.
    size : tuple of int, optional
        Width and height, [px].
    copper, oxide : sequence of pair of pair of float, optional
        Centre and half axes of ellipses, as shares of the lap surface: copper
        that was never wetted, and dark oxide.

    Returns
    -------
    DrawnPeel
        The surface lies square in the picture with a margin of a tenth.
    """
    width, height = size
    left, top = width // 10, height // 10
    states = np.full((height, width), OUTSIDE, np.uint8)
    states[top : height - top, left : width - left] = SOUND
    rng = np.random.default_rng(seed)
    picture = np.full((height, width, 3), BENCH, np.float32)
    _fill(picture, states == SOUND, PALE, 0.10 * mottle(rng, (height, width), 2.5))
    y, x = np.mgrid[0:height, 0:width]
    u, v = (x - left) / (width - 2 * left), (y - top) / (height - 2 * top)
    for spots, colour, contrast in ((copper, COPPER, 0.008), (oxide, OXIDE, 0.15)):
        for (cu, cv), (au, av) in spots:
            where = ((u - cu) / au) ** 2 + ((v - cv) / av) ** 2 <= 1
            where &= states != OUTSIDE
            states[where] = DISCONTINUITY
            _fill(picture, where, colour, contrast * mottle(rng, (height, width), 5.0))
    seen = cv2.GaussianBlur(picture, (0, 0), 0.8) + rng.normal(0, 2, picture.shape)
    corners = (
        (left, top),
        (width - left - 1, top),
        (width - left - 1, height - top - 1),
        (left, height - top - 1),
    )
    return DrawnPeel(np.clip(seen, 0, 255).astype(np.uint8), states, corners)


def _fill(
    picture: np.ndarray, where: np.ndarray, colour: tuple[int, int, int], texture: np.ndarray
) -> None:
    picture[where] = np.array(colour, np.float32) * (1 + texture[where])[:, None]
