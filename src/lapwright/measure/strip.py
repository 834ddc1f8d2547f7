"""Straighten a band of the picture along a line.

Only the crop around the ends is touched. Columns of a strip run along the line
from the tube end to the cup face, rows across it; the middle row is the line.
"""

from __future__ import annotations

from collections.abc import Iterator

import cv2
import numpy as np

ROWS_AT_ONCE = 64  # so many rows of a wide strip and their places stay in the processor's cache


def chord_points(
    start: tuple[float, float], end: tuple[float, float], *, columns: int, pad_share: float = 0.0
) -> np.ndarray:
    """Return points on the straight line between two ends, float, shape (columns, 2), [px]."""
    u = np.linspace(-pad_share, 1 + pad_share, columns)[:, None]
    first, last = np.array(start, float), np.array(end, float)
    return np.asarray(first + u * (last - first))


def normals(points: np.ndarray) -> np.ndarray:
    """Return unit normals of a polyline, shape (n, 2): the direction turned by +90 degrees."""
    along = np.gradient(points, axis=0)
    length = np.hypot(along[:, 0], along[:, 1])
    along = along / np.maximum(length, 1e-12)[:, None]
    return np.stack([-along[:, 1], along[:, 0]], axis=1)


def cut_strip(
    pixels: np.ndarray, points: np.ndarray, offsets_px: np.ndarray, *, shrink: int = 1
) -> np.ndarray:
    """Sample the picture on a grid along a line.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (height, width, 3)
        The picture; not modified.
    points : ndarray of float, shape (n, 2)
        Points of the line, (x, y), [px].
    offsets_px : ndarray of float, shape (m,)
        Distances from the line along its normal, [px].
    shrink : int, optional
        Whole factor by which the crop is averaged down first.

    Returns
    -------
    ndarray of float32, shape (m, n, 3)
        Grey levels; points outside the picture repeat its border.
    """
    return np.concatenate(list(strip_parts(pixels, points, offsets_px, shrink=shrink)))


def strip_parts(
    pixels: np.ndarray, points: np.ndarray, offsets_px: np.ndarray, *, shrink: int = 1
) -> Iterator[np.ndarray]:
    """Yield what `cut_strip` returns in parts of `ROWS_AT_ONCE` rows, the first row first.

    Parameters
    ----------
    pixels, points, offsets_px, shrink
        As `cut_strip` takes them.
    """
    turn = normals(points)
    rim = np.concatenate([points + offset * turn for offset in (offsets_px[0], offsets_px[-1])])
    crop, left, top = _crop(pixels, rim[:, 0], rim[:, 1])
    if shrink > 1:
        size = (max(1, crop.shape[1] // shrink), max(1, crop.shape[0] // shrink))
        kept = crop[: size[1] * shrink, : size[0] * shrink]
        crop = cv2.resize(kept, size, interpolation=cv2.INTER_AREA)
    # single precision holds a thousandth of a pixel here, and takes half the time
    start = ((points - (left, top) + 0.5) / shrink - 0.5).astype(np.float32)
    turn, away = (turn / shrink).astype(np.float32), offsets_px.astype(np.float32)[:, None]
    for first in range(0, len(away), ROWS_AT_ONCE):
        part = away[first : first + ROWS_AT_ONCE]
        x, y = (part * turn[None, :, k] + start[None, :, k] for k in (0, 1))
        strip = cv2.remap(crop, x, y, cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
        yield np.asarray(strip, np.float32)


def _crop(pixels: np.ndarray, x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, int, int]:
    high, wide = pixels.shape[:2]
    left = int(np.clip(np.floor(x.min()) - 4, 0, wide - 1))
    top = int(np.clip(np.floor(y.min()) - 4, 0, high - 1))
    right = int(np.clip(np.ceil(x.max()) + 5, left + 1, wide))
    bottom = int(np.clip(np.ceil(y.max()) + 5, top + 1, high))
    return pixels[top:bottom, left:right], left, top


def inside_share(pixels: np.ndarray, points: np.ndarray) -> float:
    """Return the share of points that lie in the picture."""
    high, wide = pixels.shape[:2]
    x, y = points[..., 0], points[..., 1]
    return float(np.mean((x >= 0) & (x <= wide - 1) & (y >= 0) & (y <= high - 1)))


def arc_length(points: np.ndarray) -> np.ndarray:
    """Return the length along a polyline at each of its points, [px]; the first is 0."""
    steps = np.hypot(*np.diff(points, axis=0).T)
    return np.concatenate([[0.0], np.cumsum(steps)])


def resample(points: np.ndarray, count: int) -> np.ndarray:
    """Return ``count`` points equally spaced along a polyline, shape (count, 2)."""
    length = arc_length(points)
    at = np.linspace(0, length[-1], count)
    return np.stack([np.interp(at, length, points[:, k]) for k in (0, 1)], axis=1)


def carried_on(points: np.ndarray, before: int, beyond: int, *, tail: int) -> np.ndarray:
    """Return an evenly spaced line carried straight on beyond both its ends.

    Parameters
    ----------
    points : ndarray of float, shape (n, 2)
        The line, as from `resample`, [px].
    before, beyond : int
        Points to add at its first and its last end.
    tail : int
        Steps at each end that give the direction.

    Returns
    -------
    ndarray of float, shape (before + n + beyond, 2)
    """
    step = float(arc_length(points)[-1]) / (len(points) - 1)
    ends = ((points[0], points[tail], before), (points[-1], points[-1 - tail], beyond))
    head, last = (
        end + np.arange(1, count + 1)[:, None] * step * (way := end - inner) / np.hypot(*way)
        for end, inner, count in ends
    )
    return np.concatenate([head[::-1], points, last])
