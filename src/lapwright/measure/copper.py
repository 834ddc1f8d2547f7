"""Where the picture shows copper, told by hue: orange to salmon, unlike anything it is mounted in.

Hue is taken as two logarithms, of red to blue and of red to green, which light
and shade leave alone. Red or brown mounting resin is redder than copper beside
green, not only beside blue, so both count. A pixel is copper to a degree from
0 to 1, by its nearness to the copper of its own picture.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

# hues that polished copper may show under common light: our own choice, no source
LEAST_RED_TO_BLUE = 0.18
RED_TO_GREEN = (0.06, 0.75)


@dataclass(frozen=True)
class Hue:
    """Logarithms of red to blue and of red to green of the copper of one picture."""

    to_blue: float
    to_green: float


def hues(pixels: np.ndarray) -> np.ndarray:
    """Return the logarithms of red to blue and of red to green, float32, shape (..., 2).

    Parameters
    ----------
    pixels : ndarray, shape (..., 3)
        Blue, green, red; grey levels.
    """
    logs = np.log(np.asarray(pixels, np.float32) + 6)
    return np.stack([logs[..., 2] - logs[..., 0], logs[..., 2] - logs[..., 1]], axis=-1)


def copper_hue(pixels: np.ndarray, found: np.ndarray, *, least_share: float = 0.2) -> Hue | None:
    """Return the hue of the copper in a patch, or None where too little of it can be copper.

    Parameters
    ----------
    pixels : ndarray, shape (..., 3)
        Blue, green, red; grey levels.
    found : ndarray of float, shape (..., 2)
        Their `hues`.
    least_share : float, optional
        Share of the patch that must have the hue of some copper, [-].
    """
    flat = found.reshape(-1, 2)
    light = np.log(pixels.reshape(-1, 3).mean(axis=1) + 6)
    low, high = RED_TO_GREEN
    likely = (flat[:, 0] > LEAST_RED_TO_BLUE) & (flat[:, 1] > low) & (flat[:, 1] < high)
    if likely.sum() < least_share * len(flat):
        return None
    groups = _groups(np.column_stack([flat, 0.5 * light])[likely][:: max(1, len(flat) // 20000)])
    large = [g for g in groups if len(g) >= 0.5 * least_share * sum(map(len, groups))]
    # of what has such a hue, polished copper is the brightest and most coloured
    best = max(large or groups, key=lambda g: float(np.median(g[:, 0] + g[:, 2])))
    blue, green, _ = np.median(best, axis=0)
    return Hue(float(blue), float(green))


def _groups(points: np.ndarray) -> list[np.ndarray]:
    """Return the points in up to three groups of neighbours."""
    if len(points) < 30:
        return [points]
    stop = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_MAX_ITER, 20, 1e-3)
    # first centres evenly along the brightest-to-darkest order: the same picture, the same groups
    order = np.argsort(points[:, 0] + points[:, 2])
    first = np.zeros((len(points), 1), np.int32)
    first[order, 0] = np.arange(len(points)) * 3 // len(points)
    data = points.astype(np.float32)
    _, labels, _ = cv2.kmeans(data, 3, first, stop, 1, cv2.KMEANS_USE_INITIAL_LABELS)
    return [points[labels[:, 0] == k] for k in range(3) if (labels[:, 0] == k).any()]


def copper_likeness(found: np.ndarray, own: Hue) -> np.ndarray:
    """Return how much each pixel is copper, 0 to 1, float32.

    Parameters
    ----------
    found : ndarray of float, shape (..., 2)
        From `hues`.
    own : Hue
        The copper of this picture.
    """
    beside = found[..., 0] / max(own.to_blue, LEAST_RED_TO_BLUE)
    red = np.clip((beside - 0.35) / 0.35, 0, 1) * np.clip((1.9 - beside) / 0.3, 0, 1)
    green = np.clip((0.3 - np.abs(found[..., 1] - own.to_green)) / 0.12, 0, 1)
    return np.asarray(red * green, np.float32)
