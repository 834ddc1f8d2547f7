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
DARKER = 0.45  # in logarithms: what is darker than copper beside it by more is half no copper


@dataclass(frozen=True)
class Hue:
    """Logarithms of red to blue, of red to green and of light of the copper of one picture."""

    to_blue: float
    to_green: float
    light: float


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
    return next(iter(copper_hues(pixels, found, least_share=least_share)), None)


def copper_hues(pixels: np.ndarray, found: np.ndarray, *, least_share: float = 0.2) -> list[Hue]:
    """Return what may be the hue of the copper in a patch, the most likely first.

    Of what has such a hue, polished copper is most often the brightest and most
    coloured; a red resin may be more so.

    Parameters
    ----------
    pixels, found, least_share
        As `copper_hue` takes them.
    """
    flat = found.reshape(-1, 2)
    light = lightness(pixels).reshape(-1)
    low, high = RED_TO_GREEN
    likely = (flat[:, 0] > LEAST_RED_TO_BLUE) & (flat[:, 1] > low) & (flat[:, 1] < high)
    if likely.sum() < least_share * len(flat):
        return []
    groups = _groups(np.column_stack([flat, 0.5 * light])[likely][:: max(1, len(flat) // 20000)])
    large = [g for g in groups if len(g) >= 0.5 * least_share * sum(map(len, groups))]
    middles = sorted((np.median(g, axis=0) for g in large or groups), key=lambda m: -m[0] - m[2])
    return [Hue(float(blue), float(green), 2 * float(half)) for blue, green, half in middles]


def lightness(pixels: np.ndarray) -> np.ndarray:
    """Return the logarithm of the mean of the three colours, shape (...).

    Parameters
    ----------
    pixels : ndarray, shape (..., 3)
        Grey levels.
    """
    return np.asarray(np.log(pixels.mean(axis=-1) + 6))


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


def not_darker(light: np.ndarray, own: np.ndarray | float) -> np.ndarray:
    """Return how much each pixel is as light as copper beside it, 0 to 1, float32.

    The wall of a bore seen beyond the cut has the hue of copper, but lies in its shade.

    Parameters
    ----------
    light : ndarray of float, shape (...)
        From `lightness`.
    own : ndarray or float
        The same of the copper beside each pixel.
    """
    return np.asarray(np.clip((light - own + DARKER) / 0.3 + 0.5, 0, 1), np.float32)
