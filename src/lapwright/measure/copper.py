"""Where the picture shows copper, told by hue: redder than anything it is mounted in.

Hue is taken as the logarithm of red to blue, which light and shade leave alone,
as a share of the copper's own. A pixel is copper to a degree from 0 to 1.
"""

from __future__ import annotations

import numpy as np

LEAST_REDNESS = 0.18  # log red/blue of the palest copper under a cold light; our own choice


def redness(pixels: np.ndarray) -> np.ndarray:
    """Return the logarithm of red to blue, ndarray of float32, leading shape of ``pixels``.

    Parameters
    ----------
    pixels : ndarray, shape (..., 3)
        Blue, green, red; grey levels.
    """
    levels = np.asarray(pixels, np.float32)
    return np.asarray(np.log(levels[..., 2] + 6) - np.log(levels[..., 0] + 6))


def copper_redness(values: np.ndarray) -> float:
    """Return the redness of the copper in a patch that holds much of it, or 0 where there is none.

    Parameters
    ----------
    values : ndarray of float
        Redness, of any shape.
    """
    red = values[values > LEAST_REDNESS]
    if red.size < 0.2 * values.size:
        return 0.0
    return float(np.median(red[red >= np.median(red) * 0.8]))


def copper_likeness(values: np.ndarray, own: float) -> np.ndarray:
    """Return how much each pixel is copper, 0 to 1, float32, from its redness beside copper's."""
    return np.asarray(np.clip((values / max(own, LEAST_REDNESS) - 0.35) / 0.35, 0, 1), np.float32)
