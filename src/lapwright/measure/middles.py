"""Medians and grey levels of large arrays, quicker than numpy's general ones and equal to them.

The processor sorts a whole short column at once; numpy's median picks its middle value by value.
"""

from __future__ import annotations

import numpy as np


def medians(values: np.ndarray) -> np.ndarray:
    """Return ``np.median(values, axis=0)`` of values that hold no NaN.

    Parameters
    ----------
    values : ndarray of float, shape (n, ...)
        At least one row; not modified.
    """
    ranked = np.sort(values, axis=0)
    half = len(ranked) // 2
    if len(ranked) % 2:
        return np.asarray(ranked[half])
    return np.asarray((ranked[half - 1] + ranked[half]) / 2)


def lower_quartile(values: np.ndarray) -> float:
    """Return ``np.percentile(values, 25)`` of values that hold no NaN.

    Parameters
    ----------
    values : ndarray of float
        Of any shape, at least two values; not modified.
    """
    place, part = divmod((values.size - 1) * 0.25, 1)
    k = int(place)
    ranked = np.partition(values.ravel(), k)
    low, high = ranked[k], ranked[k + 1 :].min()
    gone = high - low
    return float(high - gone * (1 - part) if part >= 0.5 else low + gone * part)


def grey(levels: np.ndarray) -> np.ndarray:
    """Return the mean of blue, green and red, ndarray of float, shape (...) for (..., 3)."""
    return np.asarray((levels[..., 0] + levels[..., 1] + levels[..., 2]) / 3)


def darkest(levels: np.ndarray) -> np.ndarray:
    """Return the least of blue, green and red, ndarray, shape (...) for (..., 3)."""
    return np.asarray(np.minimum(np.minimum(levels[..., 0], levels[..., 1]), levels[..., 2]))
