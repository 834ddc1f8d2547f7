"""Find the joints in a picture by their outline, without ends given.

Copper is told by its hue, and by its light where that leaves doubt. Along the
axis a joint shows as a band that is thick where tube and cup lie upon each other
and thin beyond the mouth, where the tube goes on alone: that step is the cup
face. Followed inwards, the tube ends where its wall is broken by the gap behind
it, where the line stops, or where the outline jumps. Every such pair is a
candidate; its ends are then brought onto the joint at full size, and it counts
only where a line is seen between them. The numbers are our own, no source. One
module, just over the house's size, because outline, mouths and stops share one view.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import islice

import cv2
import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from .copper import copper_hues, copper_likeness, hues, lightness, not_darker
from .ends import Ends, given_ends, snap_and_look
from .errors import EndsSwapped
from .lineend import line_ends, line_seen
from .settings import FaceSettings
from .strip import cut_strip
from .trace import bends_of, best_arc, colour_planes, line_evidence
from .values import Point

NEARLY_AS_PLAIN = 0.8
LEAST_SEEN, PLAINLY_SEEN = 0.05, 0.2  # mean evidence for a line along the joint
NEAR_HIT_RATE = 0.75  # brings the product of the marks near the share that proves right
STILL = 0.015  # of the overlap: ends looked at again move less
THICKEST_WALL = 0.3  # of the copper inwards of a mouth
VERY_PLAIN = 0.85  # our own choice
MOST_STOPS = 6  # places looked at where a tube may end, a mouth
LEAST_COPPER = 0.02  # of the picture
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
    found: list[Candidate] = []
    for view in _views(pixels):
        for band in _bands(view):
            for mouth in _of_band(view, band):
                found += _of_mouth(pixels, view, mouth, settings)
        if any(c.confidence >= settings.plain_joint for c in found):
            break
    kept: list[Candidate] = []
    for candidate in sorted(found, key=lambda c: -c.confidence):
        if all(_apart(candidate, other) for other in kept):
            kept.append(candidate)
    return kept


@dataclass(frozen=True)
class _View:
    """Copper likeness with the axis of the band level, and the map back to the picture.

    ``inside`` is 1 where the picture reaches.
    """

    copper: np.ndarray
    inside: np.ndarray
    back: np.ndarray


def _views(pixels: np.ndarray) -> Iterator[_View]:
    """Yield level views of what may be the copper of the picture, the most likely first."""
    high, wide = pixels.shape[:2]
    shrink = max(1.0, max(high, wide) / SMALL_PX)
    size = (max(1, round(wide / shrink)), max(1, round(high / shrink)))
    small = cv2.resize(pixels, size, interpolation=cv2.INTER_AREA)
    found = cv2.GaussianBlur(hues(small), (0, 0), 0.8)
    light = lightness(small)
    seen: list[np.ndarray] = []
    for own in copper_hues(small, found, least_share=0.03):
        like = copper_likeness(found, own)
        for mask in (like, like * not_darker(light, own.light)):
            if mask.mean() > LEAST_COPPER and all(np.abs(mask - m).mean() > 0.01 for m in seen):
                seen.append(mask)
                yield _level(mask, (high, wide))


def _level(like: np.ndarray, picture: tuple[int, int]) -> _View:
    """Return copper likeness turned until the edges of the copper run level."""
    size = like.shape[::-1]
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
    inside = cv2.warpAffine(np.ones(like.shape, np.uint8), matrix, shape, flags=cv2.INTER_NEAREST)
    scale = np.array([[picture[1] / size[0], 0, 0], [0, picture[0] / size[1], 0], [0, 0, 1.0]])
    full = np.vstack([matrix, [0, 0, 1]])
    return _View(level, inside, scale @ np.linalg.inv(full))


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


def _of_mouth(
    pixels: np.ndarray, view: _View, mouth: _Mouth, settings: FaceSettings
) -> list[Candidate]:
    """Return the joints that may lead inwards from a mouth, one for every place it may end."""
    found, cup = list[Candidate](), _to_picture(view, mouth.cup)
    for k in islice(_stops(pixels, view, mouth, settings), MOST_STOPS):
        tube = _to_picture(view, (float(mouth.columns[k]), float(mouth.line[k])))
        candidate = _at_full_size(pixels, tube, cup, settings)
        if candidate is not None:
            found.append(_again(pixels, candidate, settings))
        if found and found[-1].confidence >= VERY_PLAIN:
            break
        if len(found) >= 2 and max(c.ends.cup_mark for c in found) <= 0:
            break
    return found


def _again(pixels: np.ndarray, found: Candidate, settings: FaceSettings) -> Candidate:
    """Return a likely candidate as plain as it is when looked at again from its own ends."""
    if not settings.likely_joint <= found.confidence < VERY_PLAIN:
        return found
    ends = found.ends
    again = _at_full_size(pixels, ends.tube_end, ends.cup_face, settings)
    if again is None:
        return replace(found, confidence=0.0)
    moved = max(
        math.dist(ends.tube_end, again.ends.tube_end), math.dist(ends.cup_face, again.ends.cup_face)
    )
    still = moved < STILL * math.dist(ends.tube_end, ends.cup_face)
    return replace(
        again, confidence=min(found.confidence, again.confidence) * (1 if still else 0.5)
    )


def _bands(view: _View) -> Iterator[np.ndarray]:
    """Yield every large piece of copper with its gaps closed, bool, shape of the view."""
    rows, columns = view.copper.shape
    close = max(5, round(0.035 * max(rows, columns)))
    mask = (view.copper > 0.5).astype(np.uint8)
    padded = cv2.copyMakeBorder(mask, close, close, 0, 0, cv2.BORDER_CONSTANT, value=0)
    closed = cv2.morphologyEx(padded, cv2.MORPH_CLOSE, np.ones((close, 1), np.uint8))
    count, names, stats, _ = cv2.connectedComponentsWithStats(closed[close:-close], connectivity=8)
    for name in range(1, count):
        if stats[name, cv2.CC_STAT_AREA] >= 0.015 * rows * columns:
            yield names == name


@dataclass(frozen=True)
class _Mouth:
    """A mouth in a level view and the joint that must lead inwards from it.

    ``columns`` and ``line`` (n,) say where the line of the joint is expected,
    from the mouth inwards; ``cup`` is the mouth on the line; the tube's wall
    is ``wall`` thick, from the line (negative: upwards). ``jumps`` are columns
    in which an outline of the copper jumps.
    """

    columns: np.ndarray
    line: np.ndarray
    cup: Point
    wall: float
    jumps: tuple[int, ...]


def _of_band(view: _View, band: np.ndarray) -> Iterator[_Mouth]:
    columns = np.flatnonzero(band.any(axis=0))
    first, last = int(columns[0]), int(columns[-1]) + 1
    part = band[:, first:last]
    top = part.argmax(axis=0).astype(float)
    bottom = part.shape[0] - 1 - part[::-1].argmax(axis=0).astype(float)
    first, top, bottom = _whole_columns(view, first, top, bottom)
    longest = max(band.shape)
    jumps = tuple(first + c for edge in (top, bottom) for c, _ in _jumps(edge, longest, 0.006))
    for edge, far, side in ((top, bottom, -1), (bottom, top, 1)):
        for at, way in _jumps(edge * side, longest, 0.012):
            if _lasting(np.abs(far - edge), at, way, max(6, round(0.03 * longest))):
                mouth = _mouth(edge, far, at=at, way=way, first=first)
                if mouth is not None:
                    yield replace(mouth, jumps=jumps)


def _whole_columns(
    view: _View, first: int, top: np.ndarray, bottom: np.ndarray
) -> tuple[int, np.ndarray, np.ndarray]:
    """Leave out columns at both ends in which the border of the picture cuts the copper."""
    seen = view.inside[:, first : first + top.size]
    above, below = seen.argmax(axis=0), seen.shape[0] - 1 - seen[::-1].argmax(axis=0)
    whole = np.flatnonzero((top > above + 1) & (bottom < below - 1))
    if whole.size < 0.3 * top.size:
        return first, top, bottom
    kept = slice(int(whole[0]), int(whole[-1]) + 1)
    return first + kept.start, top[kept], bottom[kept]


def _jumps(edge: np.ndarray, longest: int, least: float) -> list[tuple[int, int]]:
    """Return columns in which an outline jumps, and which side of it lies lower (+1 right)."""
    window = max(6, round(0.03 * longest))
    n = edge.size
    if n < 4 * window:
        return []
    at = np.arange(window, n - window - 1)
    near = max(2, window // 4)
    runs = sliding_window_view(edge, window - near + 1)
    middles = np.median(runs, axis=1)
    jump = middles[at - window] - middles[at + near]
    found = []
    for way in (1, -1):
        size = jump * way
        while True:
            best = int(size.argmax())
            if size[best] < least * longest:
                break
            found.append((int(at[best]), way))
            size[max(0, best - 2 * window) : best + 2 * window] = 0
    return found


def _lasting(thick: np.ndarray, column: int, mouth: int, window: int) -> object:
    """Whether the band is thin all the way beyond a step, and mostly thick before it."""
    beyond = thick[column + 3 :] if mouth > 0 else thick[: column - 3][::-1]
    before = thick[: column - 3][::-1] if mouth > 0 else thick[column + 3 :]
    thin = float(np.median(beyond[: 2 * window]))
    wide = float(np.median(before[: 4 * window]))
    if not 0.2 * wide < thin < 0.85 * wide:
        return False
    return float(np.median(beyond)) < 1.35 * thin and before.size > 4 * window


def _mouth(edge: np.ndarray, far: np.ndarray, *, at: int, way: int, first: int) -> _Mouth | None:
    """Return a mouth and where its line is expected: one tube wall off the outline."""
    window = max(6, round(0.03 * edge.size))
    beyond = np.arange(at + 3, min(edge.size, at + 3 + 3 * window))
    if way < 0:
        beyond = np.arange(max(0, at - 3 - 3 * window), at - 2)
    if beyond.size < 4:
        return None
    wall = float(np.median(far[beyond] - edge[beyond]))
    inside = np.arange(at - 2, -1, -1) if way > 0 else np.arange(at + 2, edge.size)
    if abs(wall) > THICKEST_WALL * inside.size:
        return None
    cup = (float(at + first), float(np.median(far[beyond]) - wall))
    return _Mouth(inside + first, _even(far[inside]) - wall, cup, wall, ())


def _stops(pixels: np.ndarray, view: _View, mouth: _Mouth, settings: FaceSettings) -> Iterator[int]:
    """Yield where the tube may end, as places along the line inwards, the plainest first.

    The gap behind a tube breaks its wall; against a stop the line ends in whole
    copper; often the outline of the copper jumps there.
    """
    least = 2 * max(6, round(0.03 * max(view.copper.shape)))
    kept = _breaks(view, mouth)
    yield from kept
    places = kept + _line_ends(pixels, view, mouth, settings)
    places += sorted(abs(c - int(mouth.columns[0])) for c in mouth.jumps if c in mouth.columns)
    # where several of these agree comes first
    for k in sorted(places, key=lambda k: -sum(abs(k - m) <= least // 4 for m in places)):
        if least <= k < mouth.columns.size and all(abs(k - m) > least // 3 for m in kept):
            kept.append(k)
            yield k


def _breaks(view: _View, mouth: _Mouth) -> list[int]:
    """Return where the wall of the tube, followed inwards, is broken."""
    window = max(6, round(0.03 * max(view.copper.shape)))
    rows = np.rint(mouth.line[:, None] + mouth.wall * np.linspace(0.2, 0.8, 9)).astype(int)
    inside = (rows >= 0) & (rows < view.copper.shape[0])
    values = view.copper[np.clip(rows, 0, view.copper.shape[0] - 1), mouth.columns[:, None]]
    wall = np.median(values * inside, axis=1)
    calm = float(np.median(wall[: 4 * window]))
    if calm < 0.5:
        return []
    gone = wall < 0.65 * calm
    starts = np.flatnonzero(gone[1:] & ~gone[:-1])
    return [int(k) for k in starts[starts >= 2 * window][:2]]


def _line_ends(pixels: np.ndarray, view: _View, mouth: _Mouth, settings: FaceSettings) -> list[int]:
    """Return where the line, followed inwards from the mouth, ends in whole copper."""
    step = float(np.hypot(*view.back[:2, 0]))
    length = mouth.columns.size
    count = round(min(1.4, step) * length)
    if count < 60:
        return []
    u = np.linspace(length - 1, 0, count)  # the mouth at the right
    ends = np.array([_to_picture(view, (float(mouth.columns[k]), 0.0)) for k in (0, -1)])
    down = np.array(_to_picture(view, (float(mouth.columns[0]), 1.0))) - ends[0]
    along = ends[0] + (u / max(1, length - 1))[:, None] * (ends[1] - ends[0])
    points = along + np.interp(u, np.arange(length), mouth.line)[:, None] * down
    fine = step * length / count
    reach = min(max(6.0, 0.45 * abs(mouth.wall)), 0.06 * length)
    rows = round(max(6.0, reach) * step / fine)
    offsets = np.arange(-2 * rows, 2 * rows + 1) * fine
    planes = colour_planes(cut_strip(pixels, points, offsets, shrink=max(1, int(fine))))
    place = 0.25 * (np.arange(-rows, rows + 1)[:, None] / (0.6 * rows)) ** 2 * np.ones(count)
    evidence, _ = line_evidence(bends_of(planes, place.shape[0]), np.exp(-place))
    arc = best_arc(evidence, place, settings) + rows
    seen = line_seen(planes, arc, rows)
    return [round(float(u[c])) for c in line_ends(seen, max(12, count // 40))]


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
    pixels: np.ndarray, tube_end: Point, cup_face: Point, settings: FaceSettings
) -> Candidate | None:
    high, wide = pixels.shape[:2]
    for x, y in (tube_end, cup_face):
        if not (0 <= x <= wide - 1 and 0 <= y <= high - 1):
            return None
    if math.dist(tube_end, cup_face) < settings.min_overlap_px:
        return None
    longer = max(high, wide)
    rough = given_ends(tube_end, cup_face, u_px=settings.default_ends_of_picture * longer)
    try:
        ends, seen = snap_and_look(
            pixels, rough, slack_px=settings.snap_of_picture * longer, settings=settings
        )
    except EndsSwapped:  # the mouth lies at the other end, where it is looked for on its own
        return None
    line = float(np.clip((seen - LEAST_SEEN) / (PLAINLY_SEEN - LEAST_SEEN), 0, 1))
    marks = float(np.clip(ends.tube_mark * ends.cup_mark, 0, 1))
    return Candidate(ends, (line * marks) ** NEAR_HIT_RATE)


def _apart(a: Candidate, b: Candidate) -> bool:
    """Whether two candidates are two joints and not one found twice, perhaps turned round.

    ``b`` is the plainer one; ends exchanged on the same stretch, or another tube
    end from the same mouth, are kept only where they are nearly as plain.
    """
    first, other = (a.ends.tube_end, a.ends.cup_face), (b.ends.tube_end, b.ends.cup_face)
    length = math.dist(*first)
    inner, mouths = (math.dist(p, q) for p, q in zip(first, other, strict=True))
    crossed = max(math.dist(p, q) for p, q in zip(first, other[::-1], strict=True))
    if max(mouths, inner) <= 0.1 * length:
        return False
    one_of_two = crossed < 0.15 * length or mouths < 0.05 * length
    return not one_of_two or a.confidence > NEARLY_AS_PLAIN * b.confidence
