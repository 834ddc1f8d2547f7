"""Find the joints in a picture by their outline, without ends given.

Copper is told by its hue. Along the axis a joint shows as a band that is thick
where tube and cup lie upon each other and thin beyond the mouth, where the tube
goes on alone: that step is the cup face. Followed inwards, the tube's wall is
first broken by the gap behind its end: that is the tube end. Every such pair is
a candidate; its ends are then brought onto the joint at full size. The numbers
are our own choice on the tuning stream, no source.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from .copper import copper_hue, copper_likeness, hues
from .ends import Ends, snap_ends
from .settings import FaceSettings
from .values import Point

NEARLY_AS_PLAIN = 0.8  # our own choice
SMALL_PX = 900  # longer side of the picture in which outlines are looked at


@dataclass(frozen=True)
class Candidate:
    """A joint that may lie in the picture: its ends and a confidence from 0 to 1."""

    ends: Ends
    confidence: float


def find_joints(pixels: np.ndarray, settings: FaceSettings) -> list[Candidate]:
    """Return the joints of a picture, the most plainly marked first.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (height, width, 3)
        The picture; not modified.
    settings : FaceSettings
        Numbers of the method.
    """
    view = _small_view(pixels)
    if view is None:
        return []
    found = [_at_full_size(pixels, view, rough, settings) for rough in _roughly(view)]
    kept: list[Candidate] = []
    for candidate in sorted((c for c in found if c is not None), key=lambda c: -c.confidence):
        if all(_apart(candidate, other) for other in kept):
            kept.append(candidate)
    return kept


@dataclass(frozen=True)
class _View:
    """Copper likeness with the axis of the band level, and the map back to the picture."""

    copper: np.ndarray
    back: np.ndarray


@dataclass(frozen=True)
class _Rough:
    tube_end: Point
    cup_face: Point


def _small_view(pixels: np.ndarray) -> _View | None:
    """Return the picture small and turned until the edges of its copper run level."""
    high, wide = pixels.shape[:2]
    shrink = max(1.0, max(high, wide) / SMALL_PX)
    size = (max(1, round(wide / shrink)), max(1, round(high / shrink)))
    small = cv2.resize(pixels, size, interpolation=cv2.INTER_AREA)
    found = cv2.GaussianBlur(hues(small), (0, 0), 0.8)
    own = copper_hue(small, found, least_share=0.03)
    if own is None:
        return None
    like = copper_likeness(found, own)
    turn = _edge_angle_deg(like)
    middle = (size[0] / 2 - 0.5, size[1] / 2 - 0.5)
    matrix = cv2.getRotationMatrix2D(middle, turn, 1.0)
    corners = np.array([[0, 0], [size[0], 0], [0, size[1]], [size[0], size[1]]], float)
    placed = corners @ matrix[:, :2].T + matrix[:, 2]
    low, top = placed.min(axis=0), placed.max(axis=0)
    matrix[:, 2] -= low
    shape = tuple(int(v) for v in np.ceil(top - low))
    level = cv2.warpAffine(
        like, matrix, shape, flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    scale = np.array([[wide / size[0], 0, 0], [0, high / size[1], 0], [0, 0, 1.0]])
    full = np.vstack([matrix, [0, 0, 1]])
    return _View(level, scale @ np.linalg.inv(full))


def _edge_angle_deg(like: np.ndarray) -> float:
    """Return the turn that makes the long edges of the copper level, [deg]."""
    smooth = cv2.GaussianBlur(like, (0, 0), 2.0)
    gx = cv2.Sobel(smooth, cv2.CV_32F, 1, 0)
    gy = cv2.Sobel(smooth, cv2.CV_32F, 0, 1)
    strong = np.hypot(gx, gy)
    sloping = strong > 0  # most of a picture is even
    # angles are doubled, so that both sides of a band count as one direction
    twice = 2 * np.arctan2(gy[sloping], gx[sloping])
    weight = strong[sloping] ** 2
    turned = np.mod(twice, 2 * np.pi)
    histogram, edges = np.histogram(turned, bins=180, range=(0, 2 * np.pi), weights=weight)
    ring = np.convolve(np.concatenate([histogram[-3:], histogram, histogram[:3]]), np.ones(7))
    best = int(ring[6:-6].argmax())
    centre = (edges[best] + edges[best + 1]) / 2
    off = np.abs(turned - centre)
    near = np.minimum(off, 2 * np.pi - off) < 0.25
    mean = np.angle((weight[near] * np.exp(1j * twice[near])).sum())
    across = float(np.degrees(mean / 2))
    turn = across - 90.0
    return float((turn + 90) % 180 - 90)


def _roughly(view: _View) -> Iterator[_Rough]:
    """Yield rough ends of every joint that the outlines of the bands show."""
    rows, columns = view.copper.shape
    close = max(5, round(0.035 * max(rows, columns)))
    mask = (view.copper > 0.5).astype(np.uint8)
    padded = cv2.copyMakeBorder(mask, close, close, 0, 0, cv2.BORDER_CONSTANT, value=0)
    closed = cv2.morphologyEx(padded, cv2.MORPH_CLOSE, np.ones((close, 1), np.uint8))
    count, names, stats, _ = cv2.connectedComponentsWithStats(closed[close:-close], connectivity=8)
    for name in range(1, count):
        if stats[name, cv2.CC_STAT_AREA] >= 0.015 * rows * columns:
            yield from _of_band(view, names == name)


def _of_band(view: _View, band: np.ndarray) -> Iterator[_Rough]:
    columns = np.flatnonzero(band.any(axis=0))
    first, last = int(columns[0]), int(columns[-1]) + 1
    part = band[:, first:last]
    top = part.argmax(axis=0).astype(float)
    bottom = part.shape[0] - 1 - part[::-1].argmax(axis=0).astype(float)
    for edge, far, side in ((top, bottom, -1), (bottom, top, 1)):
        for at, mouth in _steps(edge, far, side, max(band.shape)):
            rough = _follow(view, edge, far, at=at, mouth=mouth, first=first)
            if rough is not None:
                yield rough


def _steps(edge: np.ndarray, far: np.ndarray, side: int, longest: int) -> Iterator[tuple[int, int]]:
    """Yield columns where a band becomes thin for good, and on which side (+1 right, -1 left)."""
    window = max(6, round(0.03 * longest))
    n = edge.size
    if n < 4 * window:
        return
    at = np.arange(window, n - window)
    near = max(2, window // 4)
    # the windows as rows: column i looks back on as much as it looks ahead
    left = np.median(sliding_window_view(edge, window - near + 1)[at - window], axis=1)
    right = np.median(sliding_window_view(edge, window - near)[at + near], axis=1)
    jump = (right - left) * side  # positive: the band is thicker at the right
    for mouth in (1, -1):
        size = -jump * mouth
        while True:
            best = int(size.argmax())
            if size[best] < 0.012 * longest:
                break
            column = int(at[best])
            size[max(0, best - 2 * window) : best + 2 * window] = 0
            if _lasting(np.abs(far - edge), column, mouth, window):
                yield column, mouth


def _lasting(thick: np.ndarray, column: int, mouth: int, window: int) -> object:
    """Whether the band is thin all the way beyond a step, and mostly thick before it."""
    beyond = thick[column + 3 :] if mouth > 0 else thick[: column - 3][::-1]
    before = thick[: column - 3][::-1] if mouth > 0 else thick[column + 3 :]
    thin = float(np.median(beyond[: 2 * window]))
    wide = float(np.median(before[: 4 * window]))
    if not 0.2 * wide < thin < 0.85 * wide:
        return False
    return float(np.median(beyond)) < 1.35 * thin and before.size > 4 * window


def _follow(
    view: _View, edge: np.ndarray, far: np.ndarray, *, at: int, mouth: int, first: int
) -> _Rough | None:
    """Follow the tube's wall inwards from the mouth to where it is first broken."""
    window = max(6, round(0.03 * max(view.copper.shape)))
    n = edge.size
    beyond = np.arange(at + 3, min(n, at + 3 + 3 * window))
    if mouth < 0:
        beyond = np.arange(max(0, at - 3 - 3 * window), at - 2)
    if beyond.size < 4:
        return None
    thick = float(np.median(np.abs(far[beyond] - edge[beyond])))
    toward = 1.0 if float(np.median(far[beyond] - edge[beyond])) > 0 else -1.0
    inside = np.arange(at - 2, -1, -1) if mouth > 0 else np.arange(at + 2, n)
    outline = _even(far[inside])
    line = (outline - toward * thick)[:, None]
    rows = np.rint(line + toward * thick * np.linspace(0.2, 0.8, 9)).astype(int)
    wall = _wall(view.copper, rows, inside + first)
    calm = float(np.median(wall[: 4 * window]))
    broken = np.flatnonzero(wall[2 * window :] < 0.65 * calm)
    if calm < 0.5 or broken.size == 0:
        return None
    k = int(broken[0]) + 2 * window
    tube = (float(inside[k - 1] + first), float(outline[k - 1] - toward * thick))
    cup = (float(at + first), float(np.median(far[beyond]) - toward * thick))
    return _Rough(_to_picture(view, tube), _to_picture(view, cup))


def _wall(copper: np.ndarray, rows: np.ndarray, columns: np.ndarray) -> np.ndarray:
    """Return the middle likeness over rows (n, k) of each column; 0 where all lie outside."""
    seen = (rows >= 0) & (rows < copper.shape[0])
    values = copper[np.clip(rows, 0, copper.shape[0] - 1), columns[:, None]].astype(float)
    ranked = np.sort(np.where(seen, values, np.inf), axis=1)
    count = seen.sum(axis=1)
    at, last = np.arange(len(rows)), np.maximum(count - 1, 0)
    middle = (ranked[at, last // 2] + ranked[at, np.minimum(count // 2, last)]) / 2
    return np.asarray(np.where(count > 0, middle, 0.0))


def _even(edge: np.ndarray) -> np.ndarray:
    """Return the outline as a bowed line, notches left out."""
    at = np.arange(edge.size, dtype=float)
    kept = np.ones(edge.size, bool)
    fit = np.array([float(np.median(edge))])
    for _ in range(5):
        fit = np.polyfit(at[kept], edge[kept], 2)
        miss = np.abs(edge - np.polyval(fit, at))
        kept = miss <= max(1.5, 1.5 * float(np.median(miss)))
    return np.asarray(np.polyval(fit, at))


def _to_picture(view: _View, point: Point) -> Point:
    x, y, w = view.back @ np.array([point[0], point[1], 1.0])
    # the small picture's pixel centres lie half a step off
    half = (view.back[0, 0] ** 2 + view.back[1, 0] ** 2) ** 0.5 / 2 - 0.5
    return float(x / w + half), float(y / w + half)


def _at_full_size(
    pixels: np.ndarray, view: _View, rough: _Rough, settings: FaceSettings
) -> Candidate | None:
    high, wide = pixels.shape[:2]
    for x, y in (rough.tube_end, rough.cup_face):
        if not (0 <= x <= wide - 1 and 0 <= y <= high - 1):
            return None
    if math.dist(rough.tube_end, rough.cup_face) < settings.min_overlap_px:
        return None
    longer = max(high, wide)
    ends = snap_ends(
        pixels,
        rough.tube_end,
        rough.cup_face,
        slack_px=settings.snap_of_picture * longer,
        given_u_px=settings.default_ends_of_picture * longer,
        settings=settings,
    )
    return Candidate(ends, float(np.clip(ends.tube_mark * ends.cup_mark, 0, 1)))


def _apart(a: Candidate, b: Candidate) -> object:
    """Whether two candidates are two joints and not one found twice, perhaps turned round.

    ``b`` is the plainer one; ends exchanged on the same stretch are kept as a
    second candidate only where they are nearly as plain.
    """
    length = math.dist(a.ends.tube_end, a.ends.cup_face)
    mouths = math.dist(a.ends.cup_face, b.ends.cup_face)
    inner = math.dist(a.ends.tube_end, b.ends.tube_end)
    crossed = max(
        math.dist(a.ends.cup_face, b.ends.tube_end), math.dist(a.ends.tube_end, b.ends.cup_face)
    )
    if crossed < 0.15 * length:
        return a.confidence > NEARLY_AS_PLAIN * b.confidence
    return max(mouths, inner) > 0.1 * length
