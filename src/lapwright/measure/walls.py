"""The two copper walls beside the line, the gap between them, and what lies outside.

Everything later is compared with the copper right beside it, so that light,
stain and colour cast drop out, and with the same reading taken along *sham
lines* inside the copper, which says how much of a difference is mere finish.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import cv2
import numpy as np

from .middles import darkest, grey, medians
from .settings import FaceSettings
from .strip import cut_strip
from .trace import Trace, whittaker


@dataclass(frozen=True)
class Gap:
    """Gap along the line: ``centre`` and ``width`` per column, [px], about the traced line."""

    centre: np.ndarray
    width: np.ndarray

    @property
    def width_px(self) -> float:
        """Middle width of the gap, [px], blur included."""
        return float(np.median(self.width))


@dataclass(frozen=True)
class Profile:
    """Colour of the gap along the line, relative to copper.

    ``colour`` (n, 3) holds lightness, blueness and greenness as shares of the
    brightness of copper; ``sham`` (k, n, 3) the same along lines in the copper;
    ``texture`` (n,) the spread within the gap; ``trust`` (n,) falls to 0 where
    light has burnt out or nothing was seen.
    """

    colour: np.ndarray
    sham: np.ndarray
    texture: np.ndarray
    trust: np.ndarray
    copper: np.ndarray


def strip_along(pixels: np.ndarray, trace: Trace, reach_px: float) -> np.ndarray:
    """Straighten the picture along the traced line, ``reach_px`` to both sides."""
    reach = int(np.ceil(reach_px))
    return cut_strip(pixels, trace.points, np.arange(-reach, reach + 1, dtype=float))


def relative_colour(strip: np.ndarray, copper: np.ndarray) -> np.ndarray:
    """Return lightness, blueness, greenness relative to copper, same leading shape, 3 planes."""
    ratio = strip / np.maximum(copper, 4.0) - 1
    blue, green, red = ratio[..., 0], ratio[..., 1], ratio[..., 2]
    return np.stack([(blue + green + red) / 3, blue - red, green - (red + blue) / 2], axis=-1)


def copper_beside(strip: np.ndarray, inner: float, outer: float) -> np.ndarray:
    """Return the copper colour of both walls along the line, float, shape (2, n, 3).

    Rows between ``inner`` and ``outer`` pixels from the middle count; the
    median over them and over a short window along the line leaves out scratches.
    """
    middle = strip.shape[0] // 2
    inner, outer = int(np.ceil(inner)), max(int(np.ceil(inner)) + 3, int(outer))
    sides = (
        strip[max(0, middle - outer) : middle - inner + 1],
        strip[middle + inner : middle + outer + 1],
    )
    # two dozen rows give the median of a wall as well as a hundred, and far quicker
    walls = np.stack([medians(s[:: max(1, s.shape[0] // 24)]) for s in sides])
    window = max(3, strip.shape[1] // 60)
    return np.stack([_smooth_columns(wall, window) for wall in walls])


def _smooth_columns(series: np.ndarray, window: int) -> np.ndarray:
    """Median over blocks, then straight between them: quick and blind to short scratches."""
    n = series.shape[0]
    blocks = max(2, n // window)
    edges = np.linspace(0, n, blocks + 1).astype(int)
    middles = (edges[:-1] + edges[1:] - 1) / 2
    level = np.stack([medians(series[a:b]) for a, b in itertools.pairwise(edges)])
    at = np.arange(n)
    return np.stack([np.interp(at, middles, level[:, k]) for k in range(series.shape[1])], axis=1)


def measure_gap(strip: np.ndarray, start_width: float) -> Gap:
    """Measure where the gap lies and how wide it is, block by block along the line.

    Parameters
    ----------
    strip : ndarray of float32, shape (m, n, 3)
        Straightened strip, line in the middle row.
    start_width : float
        First guess of the width, [px].
    """
    middle = strip.shape[0] // 2
    copper = copper_beside(strip, 1.6 * start_width + 2, 3.5 * start_width + 8)
    reach = int(min(middle, np.ceil(1.6 * start_width + 3)))  # no block looks farther
    blocks = int(np.clip(strip.shape[1] / (4 * start_width + 12), 6, 60))
    edges = np.linspace(0, strip.shape[1], blocks + 1).astype(int)
    found = np.array(
        [
            _block_gap(_block_strength(strip[:, a:b], copper[:, a:b], reach), reach, start_width)
            for a, b in itertools.pairwise(edges)
        ]
    )
    at = (edges[:-1] + edges[1:] - 1) / 2
    columns = np.arange(strip.shape[1])
    weight = found[:, 2]
    if weight.sum() <= 0:
        return Gap(np.zeros(columns.size), np.full(columns.size, start_width))
    centre = whittaker(found[:, 0], weight, stiffness=weight.mean() * 4)
    width = _robust_line(at, found[:, 1], weight)
    return Gap(np.interp(columns, at, centre), np.maximum(np.polyval(width, columns), 1.0))


def _block_strength(block: np.ndarray, copper: np.ndarray, reach: int) -> np.ndarray:
    """Return how far each of the middle rows of a block is from copper, shape (2 reach + 1,)."""
    middle = block.shape[0] // 2
    sides = (block[middle - reach : middle], block[middle : middle + reach + 1])
    tone = np.concatenate(
        [
            relative_colour(np.ascontiguousarray(s.transpose(1, 0, 2)), c[:, None])
            for s, c in zip(sides, copper, strict=True)
        ],
        axis=1,
    )  # columns first: their mean runs over whole rows of memory
    return np.asarray(np.sqrt((tone.mean(axis=0) ** 2 + tone.var(axis=0)).sum(axis=1)))


def _block_gap(strength: np.ndarray, reach: int, start_width: float) -> tuple[float, float, float]:
    """Return centre, full width at half height, and weight of the line in one block.

    ``strength`` holds ``reach`` rows to both sides of the line's row.
    """
    rows = np.arange(2 * reach + 1)
    middle = reach
    ground = float(
        np.median(np.concatenate([strength[: max(2, reach // 4)], strength[-max(2, reach // 4) :]]))
    )
    lift = strength - ground
    near = np.abs(rows - middle) <= max(2.0, 0.7 * start_width)
    top = float(np.percentile(lift[near], 85))
    if top <= 0.25 * ground + 0.01:
        return 0.0, start_width, 0.0
    seed = int(np.flatnonzero(near)[lift[near].argmax()])
    left, right = _half_height(lift, seed, top / 2)
    weight = (top / (top + ground + 0.03)) ** 2
    return (left + right) / 2 - reach, right - left, weight


def _half_height(lift: np.ndarray, seed: int, level: float) -> tuple[float, float]:
    """Walk from the top outwards to where the height falls below ``level``, between samples."""
    found = []
    for step in (-1, 1):
        at = seed
        while 0 < at < lift.size - 1 and (lift[at + step] > level or lift[at] <= level):
            at += step
            if not 0 < at < lift.size - 1:
                break
        after = int(np.clip(at + step, 0, lift.size - 1))
        drop = lift[at] - lift[after]
        part = np.clip((lift[at] - level) / drop, 0, 1) if drop > 0 else 0.5
        found.append(at + step * float(part))
    return found[0], found[1]


def _robust_line(x: np.ndarray, y: np.ndarray, weight: np.ndarray) -> np.ndarray:
    """Fit a straight line by weighted least squares, outliers weighted down."""
    kept = weight.copy()
    fit = np.array([0.0, float(np.average(y, weights=kept))])
    degree = 1 if np.count_nonzero(weight) > 6 else 0
    for _ in range(4):
        middle = float(np.average(y, weights=kept))
        fit = np.polyfit(x, y, degree, w=np.sqrt(kept)) if degree else np.array([middle])
        miss = np.abs(y - np.polyval(fit, x))
        kept = weight / (1 + (miss / (1.5 * np.median(miss) + 0.1)) ** 2)
    return np.asarray(fit)


def profile_gap(strip: np.ndarray, gap: Gap, settings: FaceSettings) -> Profile:
    """Read the colour of the gap along the line and along sham lines in the copper.

    Parameters
    ----------
    strip : ndarray of float32, shape (m, n, 3)
        Straightened strip.
    gap : Gap
        Centre and width per column.
    settings : FaceSettings
        Numbers of the method.
    """
    wide = gap.width_px
    copper = _walls_beside(strip, gap)
    mean = copper.mean(axis=0)
    reach = max(0.3, settings.core_of_gap / 2 * wide)
    core = _core(strip, gap.centre, reach)
    colour = relative_colour(core.mean(axis=0), mean)
    clipped = (darkest(core) > 251).mean(axis=0)
    middle = strip.shape[0] // 2
    far = wide + 2.0
    places = [k * far for k in (-3.0, -2.2, -1.5, 1.5, 2.2, 3.0) if abs(k) * far + reach < middle]
    read = [(at, _core(strip, gap.centre + at, reach)) for at in places or [-far, far]]
    sham = np.stack([relative_colour(c.mean(axis=0), copper[int(at > 0)]) for at, c in read])
    ground = medians(np.stack([_roughness(line, reach) for _, line in read]))
    level = np.maximum(mean.mean(axis=1), 4.0)
    texture = np.log((_roughness(core, reach) / level + 0.004) / (ground / level + 0.004))
    burnt = np.maximum(clipped, (copper.max(axis=(0, 2)) > 252).astype(float))
    return Profile(colour, sham, texture, 1 - burnt, copper)


def shifted_colour(
    strip: np.ndarray, gap: Gap, copper: np.ndarray, shift: float, settings: FaceSettings
) -> np.ndarray:
    """Colour of the gap with the core moved by ``shift`` gap widths, shape (n, 3).

    It tells how much the answer leans on the traced position. ``copper`` is
    that of the unmoved profile.
    """
    reach = max(0.3, settings.core_of_gap / 2 * gap.width_px)
    core = _core(strip, gap.centre + shift * gap.width, reach)
    return relative_colour(core.mean(axis=0), copper.mean(axis=0))


def _walls_beside(strip: np.ndarray, gap: Gap) -> np.ndarray:
    wide = gap.width_px
    return copper_beside(strip, 0.5 * wide + 2.5, 0.5 * wide + max(8.0, 2.5 * wide))


def _core(strip: np.ndarray, centre: np.ndarray, reach: float) -> np.ndarray:
    """Return the core of the gap, straightened, float32, shape (k, n, 3)."""
    middle = strip.shape[0] // 2
    steps = np.linspace(-reach, reach, max(3, 2 * int(np.ceil(reach)) + 1))
    rows = (middle + centre[None, :] + steps[:, None]).astype(np.float32)
    columns = np.broadcast_to(np.arange(strip.shape[1], dtype=np.float32), rows.shape)
    columns = np.ascontiguousarray(columns)
    core = cv2.remap(strip, columns, rows, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(core)


def _roughness(core: np.ndarray, reach: float) -> np.ndarray:
    """Return the spread within the core of a line per column, apart from slow changes."""
    levels = grey(core)
    rough = levels - cv2.blur(levels, (max(3, 2 * int(reach) + 1), 1))
    return np.asarray(rough.std(axis=0))


@dataclass(frozen=True)
class Outside:
    """Colours of what surrounds the copper, relative to it; may be empty."""

    colours: tuple[np.ndarray, ...]


def look_outside(pixels: np.ndarray, trace: Trace, gap_px: float) -> Outside:
    """Find the mounting resin (or air) beyond both walls, relative to the copper.

    An open void shows what fills the surroundings, so this is what an open
    void should look like.
    """
    length = len(trace.points)
    shrink = max(1, length // 350)
    points = trace.points[:: max(1, shrink)]
    reach = 0.32 * length
    offsets = np.arange(-reach, reach + 1, shrink)
    strip = cut_strip(pixels, points, offsets, shrink=shrink)
    near = max(2, int((0.8 * gap_px + 4) / shrink) + 1)
    copper = copper_beside(strip, near, near + max(3, int(0.035 * length / shrink)))
    middle = strip.shape[0] // 2
    found = []
    for side in (0, 1):
        half = strip[:middle][::-1] if side == 0 else strip[middle:]
        tone = relative_colour(half, copper[side])
        found += _beyond_wall(tone, near)
    return Outside(tuple(found))


def _beyond_wall(tone: np.ndarray, near: int) -> list[np.ndarray]:
    """Return the usual colour beyond the outer edge of one wall, or nothing."""
    profile = np.median(tone, axis=1)
    away = np.sqrt((profile**2).sum(axis=1))
    ground = float(np.median(away[near : near + 6])) + 0.12
    outside = np.flatnonzero(away > ground + 0.1)
    outside = outside[outside > near + 3]
    if outside.size < 6:
        return []
    first = outside[0] + 3
    beyond = tone[first : first + 30]
    if beyond.shape[0] < 3:
        return []
    return [np.median(beyond.reshape(-1, 3), axis=0)]
