"""Find the joint line between the two ends.

The line may be lighter or darker than copper and change between both, so the
*size* of the curvature across the strip is followed, never its sign. A path of
least cost through the strip is bent only where the picture asks for it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import cv2
import numpy as np

from .middles import lower_quartile
from .settings import FaceSettings
from .strip import chord_points, normals, resample, strip_parts
from .values import Point


@dataclass(frozen=True)
class Trace:
    """The traced line: points (n, 2) one pixel apart, and how it was found.

    ``scale_px`` is the width (sigma) at which the line stood out most,
    ``roughness_px`` the spread of the raw path about the smooth one.
    """

    points: np.ndarray
    scale_px: float
    roughness_px: float


def trace_line(
    pixels: np.ndarray, tube_end: Point, cup_face: Point, settings: FaceSettings
) -> Trace:
    """Trace the joint line from the tube end to the cup face.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (height, width, 3)
        The picture; not modified.
    tube_end, cup_face : tuple of float
        The ends (x, y), [px].
    settings : FaceSettings
        Numbers of the method.
    """
    chord = float(np.hypot(cup_face[0] - tube_end[0], cup_face[1] - tube_end[1]))
    band = max(10.0, settings.band_share * chord)
    margin = round(settings.margin_share * chord)
    offsets = np.arange(-np.ceil(band) - margin, np.ceil(band) + margin + 1)
    native = chord_points(tube_end, cup_face, columns=max(2, round(chord) + 1))
    columns = min(settings.trace_columns, len(native))
    small = np.concatenate(
        [
            cv2.resize(part, (columns, part.shape[0]), interpolation=cv2.INTER_AREA)
            for part in strip_parts(pixels, native, offsets)
        ]
    )
    offsets = offsets[margin : offsets.size - margin]
    place = _position_cost(offsets, columns, chord, settings)
    bends = bends_of(colour_planes(small), offsets.size)
    evidence, scale = line_evidence(bends, np.exp(-6 * place))
    arc = best_arc(evidence, place, settings)
    near = 2.0 + 0.6 * scale + settings.arc_slack_share * chord
    off_arc = (np.arange(evidence.shape[0])[:, None] - arc) / near
    path = least_cost_path(evidence, place + 0.25 * off_arc**2, settings)
    raw = _refine(evidence, path, scale) + offsets[0]
    weight = evidence[path, np.arange(columns)]
    smooth = whittaker(raw, weight + 0.02, stiffness=2.0 * (columns / 40) ** 3)
    base = chord_points(tube_end, cup_face, columns=columns)
    points = base + smooth[:, None] * normals(base)
    rough = float(np.sqrt(np.average((raw - smooth) ** 2, weights=weight + 1e-6)))
    return Trace(resample(points, max(2, round(chord) + 1)), scale, rough)


def colour_planes(strip: np.ndarray) -> np.ndarray:
    """Return lightness, blueness and greenness of a strip in logarithms, shape (m, n, 3).

    In logarithms uneven light only adds a slope, which curvature does not see.
    """
    logs = np.log(np.maximum(strip, 0) + 6.0)
    blue, green, red = logs[..., 0], logs[..., 1], logs[..., 2]
    planes = [(blue + green + red) / 3, (blue - red) / 2, green - (red + blue) / 2]
    return np.stack(planes, axis=-1).astype(np.float32)


@dataclass(frozen=True)
class Bend:
    """The second derivative across a strip at one scale.

    ``bent`` holds it plane by plane, shape (m, n) each, and ``noise`` that of each plane;
    ``lift`` (k, n) is the contrast in the rows looked at: what is left of the size above the
    noise. It is largest where the scale fits the gap: a mere edge of a wide gap gives half of it.
    """

    scale: float
    bent: tuple[np.ndarray, ...]
    noise: tuple[float, ...]
    lift: np.ndarray

    def strength(self) -> np.ndarray:
        """Return the size weighed against the noise, which saturates, float32, shape (k, n)."""
        total: np.ndarray = np.zeros(self.bent[0].shape, np.float32)
        for bent, noise in zip(self.bent, self.noise, strict=True):
            total += np.square(bent / np.float32(noise))
        size = total / 3
        # a line has weaker lines of other sign beside it
        top = size.max(axis=0, keepdims=True) + 1e-6
        size = size[_middle_rows(size.shape[0], self.lift.shape[0])]
        return np.asarray(size / (size + 9.0) * np.sqrt(size / top))


def _middle_rows(of: int, count: int) -> slice:
    margin = (of - count) // 2
    return slice(margin, margin + count)


def bends_of(planes: np.ndarray, rows: int) -> Iterator[Bend]:
    """Yield the second derivative across a strip at one scale after the other, the finest first.

    Parameters
    ----------
    planes : ndarray of float32, shape (m, n, 3)
        Colour planes of a strip whose columns run along the expected line.
    rows : int
        Rows in the middle that are looked at; the others only serve the filters.

    Raises
    ------
    ValueError
        If there are too few rows for any scale.
    """
    scale = 0.9
    if scale >= rows / 7:
        raise ValueError(f"strip of {rows} rows is too narrow to trace")
    along = cv2.getGaussianKernel(9, 1.5)
    even = [_filtered(plane, along, np.ones(1)) for plane in cv2.split(planes)]
    while scale < rows / 7:
        yield _bend(even, scale, rows)
        scale *= 1.4


def _filtered(plane: np.ndarray, along: np.ndarray, across: np.ndarray) -> np.ndarray:
    return cv2.sepFilter2D(plane, cv2.CV_32F, along, across, borderType=cv2.BORDER_REPLICATE)


def _bend(even: list[np.ndarray], scale: float, rows: int) -> Bend:
    reach = int(np.ceil(3.5 * scale))
    t = np.arange(-reach, reach + 1, dtype=np.float64)
    bell = np.exp(-0.5 * (t / scale) ** 2)
    kernel = (t * t / scale**2 - 1) * bell
    kernel = kernel - kernel.mean()
    kernel = kernel / np.abs(kernel).sum()
    bends = tuple(_filtered(plane, np.ones(1), kernel) for plane in even)
    # every fourth column is enough for the noise and quicker by as much
    noises = tuple(3.14 * lower_quartile(np.abs(bent[:, ::4])) + 0.0015 for bent in bends)
    kept = _middle_rows(bends[0].shape[0], rows)
    lift: np.ndarray = np.zeros((rows, bends[0].shape[1]), np.float32)
    for bent, noise in zip(bends, noises, strict=True):
        above = np.abs(bent[kept])
        above -= np.float32(4 * noise)
        np.maximum(above, 0, out=above)
        above *= above
        lift += above
    return Bend(scale, bends, noises, np.sqrt(lift, out=lift))


def line_evidence(bends: Iterable[Bend], likely: np.ndarray) -> tuple[np.ndarray, float]:
    """Return evidence for a line at each place, 0 to 1, and the scale that shows it best.

    Parameters
    ----------
    bends : iterable of Bend
        From `bends_of`; an iterator is used up, and only the best of it kept.
    likely : ndarray of float, shape (k, n)
        How likely each place is before looking, 0 to 1.
    """

    def mark(bend: Bend) -> float:
        return float(np.mean((np.minimum(bend.lift, 0.35) * likely).max(axis=0)))

    best = max(bends, key=mark)
    return best.strength(), best.scale


def _position_cost(
    offsets: np.ndarray, columns: int, chord: float, settings: FaceSettings
) -> np.ndarray:
    u = np.linspace(0, 1, columns)
    slack = settings.end_slack_share * chord + settings.bow_share * chord * 4 * u * (1 - u) + 2
    return np.asarray(0.25 * (offsets[:, None] / slack[None, :]) ** 2)


def best_arc(evidence: np.ndarray, position_cost: np.ndarray, settings: FaceSettings) -> np.ndarray:
    """Return the rows of the even arc that gathers most evidence, float, shape (n,).

    A scratch may outshine a pale line over part of its length, but not along a
    whole arc from one end to the other: the arc keeps the path on its line.

    Parameters
    ----------
    evidence, position_cost : ndarray of float, shape (m, n)
        Evidence for a line and cost of straying from the chord.
    settings : FaceSettings
        Numbers of the method.
    """
    rows, columns = evidence.shape
    step = max(1, columns // 160)
    spread = cv2.blur(evidence.astype(np.float32), (step, max(1, rows // 40) | 1))
    gain = (spread - position_cost)[:, ::step]
    u = np.linspace(0, 1, gain.shape[1])
    middle, reach = (rows - 1) / 2, (rows - 1) / 2
    ends = np.linspace(-0.25, 0.25, 9) * reach
    bows = np.linspace(-0.8, 0.8, max(17, rows // 2 | 1)) * reach
    first, last = (g.ravel()[:, None] for g in np.meshgrid(ends, ends))
    chords = middle + first * (1 - u) + last * u
    flat, at = gain.ravel(), np.arange(gain.shape[1])

    def arcs(bow: float) -> np.ndarray:
        return np.asarray(chords + bow * 4 * u * (1 - u))

    found = np.empty((chords.shape[0], bows.size))
    for k, bow in enumerate(bows):  # one bow at a time stays in the processor's cache
        index = np.clip(np.rint(arcs(bow)), 0, rows - 1)
        index = (index * gain.shape[1] + at).astype(np.intp)
        found[:, k] = flat.take(index).sum(axis=1)
    chord, best = np.unravel_index(int(found.argmax()), found.shape)
    return np.asarray(np.interp(np.linspace(0, 1, columns), u, arcs(bows[best])[chord]))


def least_cost_path(
    evidence: np.ndarray, position_cost: np.ndarray, settings: FaceSettings
) -> np.ndarray:
    """Return the row of the best line in every column, int, shape (n,).

    A path steps at most one row from column to column; each step costs.
    """
    cost = (1.0 - evidence + position_cost).astype(np.float64)
    rows, columns = cost.shape
    came_up, came_down = np.zeros((2, columns, rows), bool)
    total = cost[:, 0].copy()
    above, below = np.full((2, rows), np.inf)
    for column, price in enumerate(np.ascontiguousarray(cost.T[1:]), start=1):
        np.add(total[:-1], settings.step_cost, out=above[1:])
        np.add(total[1:], settings.step_cost, out=below[:-1])
        np.less_equal(above, total, out=came_up[column])
        np.minimum(above, total, out=total)
        np.less(below, total, out=came_down[column])
        np.minimum(below, total, out=total)
        total += price
    came = came_down.astype(np.int8) - (came_up & ~came_down)
    path = np.empty(columns, np.int64)
    path[-1] = int(total.argmin())
    for column in range(columns - 1, 0, -1):
        path[column - 1] = path[column] + came[column, path[column]]
    return path


def _refine(evidence: np.ndarray, path: np.ndarray, scale: float) -> np.ndarray:
    """Move each path point to the centre of the evidence around it, within one scale."""
    reach = max(1, round(scale))
    rows = path[None, :] + np.arange(-reach, reach + 1)[:, None]
    rows = np.clip(rows, 0, evidence.shape[0] - 1)
    weight = evidence[rows, np.arange(path.size)[None, :]] ** 2 + 1e-6
    return np.asarray((rows * weight).sum(axis=0) / weight.sum(axis=0))


def whittaker(values: np.ndarray, weights: np.ndarray, *, stiffness: float) -> np.ndarray:
    """Smooth a series by weighted least squares with a penalty on its bending.

    Parameters
    ----------
    values, weights : ndarray of float, shape (n,)
        Series and weights; points far off are weighted down twice.
    stiffness : float
        Weight of the squared second differences.
    """
    n = values.size
    if n < 4:
        return values.astype(float)
    main, near, far = np.zeros(n), np.zeros(n - 1), np.full(n - 2, stiffness)
    for shift, weight in ((0, 1.0), (1, 4.0), (2, 1.0)):  # rows 1, -2, 1 of the second difference
        main[shift : n - 2 + shift] += stiffness * weight
    near[:-1] -= 2 * stiffness
    near[1:] -= 2 * stiffness
    kept = weights.astype(float)
    smooth = values.astype(float)
    for _ in range(3):
        smooth = _solve_banded(main + kept + 1e-9, near, far, right=kept * values)
        miss = np.abs(values - smooth)
        kept = weights.astype(float) / (1 + (miss / (2 * np.median(miss) + 0.3)) ** 2)
    return np.asarray(smooth)


def _solve_banded(
    main: np.ndarray, near: np.ndarray, far: np.ndarray, *, right: np.ndarray
) -> np.ndarray:
    """Solve a symmetric system with two bands beside the diagonal, by L D L^T.

    Plain numbers: a dense solve of the same system takes a hundred times longer.
    """
    n = main.size
    d, e, f, b = main.tolist(), [*near.tolist(), 0.0], [*far.tolist(), 0.0, 0.0], right.tolist()
    for i in range(n - 1):
        one, two = e[i] / d[i], f[i] / d[i]
        d[i + 1] -= one * e[i]
        e[i + 1] -= one * f[i]
        b[i + 1] -= one * b[i]
        if i + 2 < n:
            d[i + 2] -= two * f[i]
            b[i + 2] -= two * b[i]
        e[i], f[i] = one, two
    x = [value / pivot for value, pivot in zip(b, d, strict=True)]
    for i in range(n - 2, -1, -1):
        x[i] -= e[i] * x[i + 1] + (f[i] * x[i + 2] if i + 2 < n else 0.0)
    return np.array(x)
