"""The steps of reading a face once more, plainly, with scikit-image: what ours is timed beside.

Written the straightforward way a person would who has scikit-image and an afternoon: every step of
the reader that costs time has its counterpart here, at the same resolution and as wide, and none
is tuned. It classes by one threshold, gives no uncertainty and refuses nothing, so its answers
are no second opinion. For timing only; nothing of it is part of the program.
"""

from __future__ import annotations

import io

import numpy as np
from scipy.ndimage import map_coordinates
from skimage import color, feature, filters, graph, measure, morphology, transform
from skimage import io as files

COLUMNS = 640  # along the overlap, where the line is looked for
BAND = 0.08  # of the overlap to each side, there
SMALL_PX = 900  # longer side of the picture in which a joint is looked for
SIGMAS = tuple(0.9 * 1.4**k for k in range(9))

Ends = tuple[tuple[float, float], tuple[float, float]]


def read_plain(data: bytes, ends: Ends) -> float:
    """Return the unbrazed share between two ends given in (x, y)."""
    return _share(files.imread(io.BytesIO(data)), ends)


def read_plain_alone(data: bytes, ends: Ends) -> float:
    """Look for the joint, then read between ``ends``.

    What `look_for_joint` finds is too rough to read with, so that the reading after it
    takes the true ends: the time of both counts, not the answer of the first.
    """
    picture = files.imread(io.BytesIO(data))
    look_for_joint(picture)
    _wide_band(picture, ends)
    return _share(picture, ends)


# ------------------------------------------------------------------ between two ends
def _share(picture: np.ndarray, ends: Ends) -> float:
    line = _trace(picture, ends)
    reach = 60
    strip = _along(picture, line, reach)
    gap = max(3, round(_gap_px(strip)))
    walls = (strip[: reach - gap], strip[reach + gap + 1 :])
    copper = np.mean([np.median(wall, axis=0) for wall in walls], axis=0)
    core = strip[reach - gap // 4 : reach + gap // 4 + 1].mean(axis=0)
    tone = core / np.maximum(copper, 4) - 1
    darkness = filters.gaussian(-tone.mean(axis=1), 2)
    void = morphology.opening(darkness > filters.threshold_otsu(darkness), np.ones(5))
    runs = measure.regionprops(measure.label(void[:, None].astype(int)))
    return float(sum(run.area for run in runs) / void.size)


def _straight(picture: np.ndarray, ends: Ends, half: int, columns: int, pad: int = 0) -> np.ndarray:
    """Return a level strip about the chord, float, shape (2 half + 1, columns + 2 pad, 3)."""
    (x0, y0), (x1, y1) = ends
    chord = float(np.hypot(x1 - x0, y1 - y0))
    step = chord / columns
    turn = transform.SimilarityTransform(
        scale=step, rotation=np.arctan2(y1 - y0, x1 - x0), translation=(x0, y0)
    )
    shift = transform.SimilarityTransform(translation=(-pad, -half))
    shape = (2 * half + 1, columns + 2 * pad)
    return transform.warp(
        picture, shift + turn, output_shape=shape, order=3, mode="edge", preserve_range=True
    )


def _ridges(strip: np.ndarray) -> np.ndarray:
    """Return how much of a line, lighter or darker, lies at each place."""
    lab = color.rgb2lab(np.clip(strip, 0, 255) / 255)
    best = np.zeros(strip.shape[:2])
    for plane in np.moveaxis(lab, -1, 0):
        for sigma in SIGMAS:
            bent = feature.hessian_matrix(plane, sigma, use_gaussian_derivatives=False)
            curvature = feature.hessian_matrix_eigvals(bent)
            np.maximum(best, sigma**2 * np.abs(curvature).max(axis=0), out=best)
    return best


def _trace(picture: np.ndarray, ends: Ends) -> np.ndarray:
    """Return points one pixel apart along the line, (x, y)."""
    (x0, y0), (x1, y1) = ends
    chord = float(np.hypot(x1 - x0, y1 - y0))
    half = round(BAND * chord)
    native = _straight(picture, ends, half, round(chord))
    small = transform.resize(native, (native.shape[0], COLUMNS), anti_aliasing=True)
    ridge = _ridges(small)
    cost = 1 / (0.02 + ridge / np.percentile(ridge, 99))
    path, _ = graph.route_through_array(cost, (half, 0), (half, COLUMNS - 1), geometric=True)
    rows = np.array(path, float)
    along = np.linspace(0, 1, round(chord))
    off = filters.gaussian(np.interp(along, rows[:, 1] / (COLUMNS - 1), rows[:, 0] - half), 25)
    across = np.array([-(y1 - y0), x1 - x0]) / chord
    base = np.array(ends[0]) + along[:, None] * (np.array(ends[1]) - np.array(ends[0]))
    return base + off[:, None] * across


def _along(picture: np.ndarray, line: np.ndarray, reach: int) -> np.ndarray:
    """Straighten the picture along a line, ``reach`` pixels to both sides."""
    tangent = np.gradient(line, axis=0)
    tangent /= np.hypot(*tangent.T)[:, None]
    normal = np.stack([-tangent[:, 1], tangent[:, 0]], axis=1)
    offsets = np.arange(-reach, reach + 1)[:, None, None]
    x, y = np.moveaxis(line + offsets * normal, -1, 0)
    low = (int(max(0, y.min() - 4)), int(max(0, x.min() - 4)))
    crop = picture[low[0] : int(y.max()) + 5, low[1] : int(x.max()) + 5]
    places = [y - low[0], x - low[1]]
    planes = [
        map_coordinates(crop[..., k].astype(float), places, order=3, mode="nearest")
        for k in range(3)
    ]
    return np.stack(planes, axis=-1)


def _gap_px(strip: np.ndarray) -> float:
    """Return the middle width at half height of the line."""
    grey = filters.gaussian(strip.mean(axis=2), (1, 8))
    lift = np.abs(grey - np.median(grey, axis=0))
    middle = strip.shape[0] // 2
    high = lift[middle - 3 : middle + 4].max(axis=0)
    return float(np.median((lift > high / 2)[middle - 30 : middle + 31].sum(axis=0)))


# ------------------------------------------------------------------ without ends
def look_for_joint(picture: np.ndarray) -> tuple[int, int]:
    """Return the columns of mouth and tube end in the small, levelled picture."""
    shrink = SMALL_PX / max(picture.shape[:2])
    small = transform.rescale(
        picture, shrink, channel_axis=2, anti_aliasing=True, preserve_range=True
    )
    logs = np.log(filters.gaussian(small, 0.8, channel_axis=2) + 6)
    copper = (logs[..., 0] - logs[..., 2] > 0.18) & (logs[..., 0] - logs[..., 1] > 0.06)
    closed = morphology.closing(copper, np.ones((31, 1)))
    largest = max(measure.regionprops(measure.label(closed)), key=lambda r: r.area)
    turn = np.degrees(largest.orientation) - 90
    level = transform.rotate(copper.astype(float), turn, resize=True, order=1)
    band = transform.rotate((closed & copper).astype(float), turn, resize=True, order=1) > 0.5
    thick = filters.median(band.sum(axis=0).astype(float), np.ones(15))
    mouth = int(np.abs(thick[15:] - thick[:-15]).argmax()) + 7
    wall = measure.profile_line(
        level,
        (level.shape[0] / 2, mouth),
        (level.shape[0] / 2, 0),
        linewidth=9,
        reduce_func=np.median,
    )
    broken = np.flatnonzero(wall < 0.5)
    return mouth, mouth - int(broken[0]) if broken.size else 0


def _wide_band(picture: np.ndarray, ends: Ends) -> np.ndarray:
    """Look at a wide band about the ends, twice: once to bring them on, once to see them there."""
    band = _straight(picture, ends, 96, 480, pad=58)
    return np.max([_ridges(band) for _ in range(2)], axis=0)
