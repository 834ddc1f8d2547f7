"""The outlines of the two members of a face: where copper ends and its surroundings begin.

Copper is told by its hue, from within and from without: where both answers
differ (glare, a stain, resin like copper) nothing is said. Each place is then
refined at full size, where the colour lies halfway between the copper and what
surrounds it there. The numbers are our own choice on the tuning stream of drawn
faces, no source.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import cv2
import numpy as np

from .copper import copper_hue, copper_likeness, hues
from .strip import arc_length, carried_on, cut_strip, normals, resample

CELLS = 400  # steps of the overlap at which copper is told by its hue
PAD = 0.2  # of the overlap, beyond each end
REACH = 0.3  # of the overlap, to each side: walls are up to about 0.2 thick
NEAR = 0.05  # of the overlap, beside the line: surely copper
LEAST_CONTRAST = 18.0  # grey levels between copper and surroundings
BURNT = 250  # level of all colours beyond which light has burnt out
SHARP = 0.75  # of the height of an outline
GAP_SHARP = 0.6  # of that of an edge of the gap, which may be two pixels from the other one
DEEPEST = 0.035  # of the overlap: how far into a wall the edge of the gap is looked for
BEFORE = 20  # cells of the other side of the line in view of a side
SIDES = (-1, 1)


@dataclass(frozen=True)
class Axis:
    """Points (n, 2) along the line and straight on beyond its ends, [px].

    ``at`` (n,) are their places as shares of the overlap, 0 at the tube end;
    ``step_px`` is the way from one to the next.
    """

    points: np.ndarray
    at: np.ndarray
    step_px: float


@dataclass(frozen=True)
class Outlines:
    """Distance from the line to the edges of copper, [px], NaN where none is found.

    Row 0 is the side of the normals against their direction, row 1 along it.
    ``outer`` (2, n) is the outer outline, ``gap`` (2, n) the edge of the gap
    within the overlap, ``bare`` (2, n) the edge towards the line beyond both
    ends, where a member stands alone. ``tube_row`` is the side of the tube, None
    where the mouth does not tell. ``size`` is that of the picture, width and height.
    """

    axis: Axis
    outer: np.ndarray
    gap: np.ndarray
    bare: np.ndarray
    tube_row: int | None
    size: tuple[int, int]

    def room(self, row: int) -> np.ndarray:
        """Return how far each ray of a side goes before it leaves the picture, [px]."""
        return _room(self.axis, SIDES[row], self.size)

    def places(self, distance_px: np.ndarray, row: int) -> np.ndarray:
        """Return points of the picture at a distance from the line on a side, shape (n, 2)."""
        turn = normals(self.axis.points) * SIDES[row]
        return np.asarray(self.axis.points + distance_px[:, None] * turn)


def long_axis(line: np.ndarray, size: tuple[int, int]) -> Axis:
    """Return the line of a face, carried straight on beyond its ends within the picture.

    Parameters
    ----------
    line : ndarray of float, shape (n, 2)
        Centre of the joint from the tube end to the cup face, [px].
    size : tuple of int
        Width and height of the picture, [px].
    """
    step = float(arc_length(line)[-1]) / CELLS
    inner = resample(line, CELLS + 1)
    count = round(PAD * CELLS)
    points = carried_on(inner, count, count, tail=CELLS // 8)
    at = np.arange(-count, CELLS + 1 + count) / CELLS
    kept = ((points > 1) & (points < np.array(size) - 2)).all(axis=1)
    return Axis(points[kept], at[kept], step)


def find_outlines(pixels: np.ndarray, line: np.ndarray, *, gap_px: float) -> Outlines | None:
    """Find where the copper of both members begins and ends; None where there is none.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (height, width, 3)
        The picture; not modified.
    line : ndarray of float, shape (n, 2)
        Centre of the joint from the tube end to the cup face, [px].
    gap_px : float
        Width of the gap, [px], as the reading of the face gives it.
    """
    size = (pixels.shape[1], pixels.shape[0])
    axis = long_axis(line, size)
    like = _likeness(pixels, axis)
    if like is None:
        return None
    within = (axis.at >= 0) & (axis.at <= 1)
    alone, inside = np.where(within, np.nan, 1.0), np.where(within, 1.0, np.nan)
    wide = _Window.of_outline(axis.step_px)
    outer, gap, bare = [], [], []
    for side in SIDES:
        begins, ends = _edges(_from_line(like, side))
        ends = np.where(_room(axis, side, size) > (ends + 4) * axis.step_px, ends, np.nan)
        outer.append(_refined(pixels, axis, ends * axis.step_px, side, wide))
        bare.append(_refined(pixels, axis, alone * begins * axis.step_px, side, wide.turned()))
        rough = inside * np.full(axis.at.size, gap_px / 2)
        gap.append(_refined(pixels, axis, rough, side, _Window.of_gap(gap_px, axis.step_px)))
    edges = Outlines(axis, np.stack(outer), np.stack(gap), np.stack(bare), None, size)
    return replace(edges, tube_row=_tube_row(edges))


def refine_far(pixels: np.ndarray, edges: Outlines, rough_px: np.ndarray, row: int) -> np.ndarray:
    """Return where copper ends, [px] from the line, near rough places on one side.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (height, width, 3)
        The picture; not modified.
    edges : Outlines
        Gives the axis.
    rough_px : ndarray of float, shape (n,)
        Rough distances, NaN where there is none.
    row : int
        The side.
    """
    window = _Window.of_outline(edges.axis.step_px)
    return _refined(pixels, edges.axis, rough_px, SIDES[row], window)


def _from_line(like: np.ndarray, side: int) -> np.ndarray:
    """Return the band seen from the line to one side, a few cells of the other side first."""
    middle = like.shape[0] // 2
    return like[: middle + BEFORE + 1][::-1] if side < 0 else like[middle - BEFORE :]


def _tube_row(edges: Outlines) -> int | None:
    """Return the side that goes on beyond the mouth while the other stops, or None."""
    beyond = (edges.axis.at > 1.03) & (edges.axis.at < 1.2)
    if beyond.sum() < 8:
        return None
    share = np.isfinite(edges.outer[:, beyond]).mean(axis=1)
    first = int(share.argmax())
    return first if share[first] > 0.5 and share[1 - first] < 0.3 else None


def _likeness(pixels: np.ndarray, axis: Axis) -> np.ndarray | None:
    """Return the copper likeness of a band along the axis, one cell a step both ways."""
    reach = round(REACH * CELLS)
    offsets = np.arange(-reach, reach + 1) * axis.step_px
    levels = cut_strip(pixels, axis.points, offsets, shrink=max(1, int(axis.step_px)))
    found = hues(levels)
    near = round(NEAR * CELLS)
    beside = slice(reach - near, reach + near + 1)
    within = (axis.at >= 0) & (axis.at <= 1)
    own = copper_hue(levels[beside][:, within], found[beside][:, within])
    return None if own is None else copper_likeness(found, own)


def _edges(like: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return the cells where copper begins and ends on a side, NaN where that is not plain.

    Copper ends where it is first gone, seen from the middle of the wall; seen
    from outside it must end at the same place. The line is cell 0.
    """
    copper = cv2.blur(like, (5, 3)) > 0.5
    rows = copper.shape[0]
    usual = np.median(rows - 1 - copper[::-1].argmax(axis=0))
    inside = int(np.clip(BEFORE + 0.5 * (usual - BEFORE), 1, rows - 2))
    gone = ~copper[inside:]
    ends = inside + gone.argmax(axis=0)
    last = rows - copper[::-1].argmax(axis=0)
    plain = copper[inside] & gone.any(axis=0) & (np.abs(last - ends) <= 3)
    back = ~copper[: inside + 1][::-1]
    begins = inside - back.argmax(axis=0) + 1
    open_ = copper[inside] & back.any(axis=0)
    zero = BEFORE + 0.5
    return np.where(open_, begins - zero, np.nan), np.where(plain, ends - zero, np.nan)


def _room(axis: Axis, side: int, size: tuple[int, int]) -> np.ndarray:
    turn = normals(axis.points) * side
    room = np.full(len(turn), np.inf)
    for k in (0, 1):
        for edge in (1.0, size[k] - 2.0):
            way = (edge - axis.points[:, k]) / np.where(turn[:, k] == 0, 1e-12, turn[:, k])
            room = np.where((way > 0) & (way < room), way, room)
    return room


@dataclass(frozen=True)
class _Window:
    """Steps sampled across an edge, [px], copper first; ``way`` is -1 towards the line.

    ``copper`` and ``beyond`` are the steps whose colours are compared; ``sharp`` is the
    share of its height by which an edge must fall at once.
    """

    first: int
    last: int
    copper: tuple[float, float]
    beyond: tuple[float, float]
    way: int
    sharp: float

    @staticmethod
    def of_outline(step_px: float) -> _Window:
        """Return the window of an edge known to a few cells."""
        reach = math.ceil(3 * step_px + 4)
        return _Window(-reach, reach, (-reach, -0.5 * reach), (0.5 * reach, reach), 1, SHARP)

    @staticmethod
    def of_gap(gap_px: float, step_px: float) -> _Window:
        """Return the window of an edge of the gap: its own core is what lies beyond."""
        deep = -max(0.7 * gap_px + 6, DEEPEST * CELLS * step_px)
        copper = (deep, deep + 4 + 0.2 * gap_px)
        core = (0.3 * gap_px, 0.7 * gap_px)
        return _Window(math.floor(copper[0]), math.ceil(core[1]), copper, core, -1, GAP_SHARP)

    def turned(self) -> _Window:
        """Return the same window with copper on the far side."""
        return replace(self, way=-self.way)

    def colours(self, patch: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return the colours (n, 3) of copper and of what lies beyond."""
        steps = np.arange(self.first, self.last + 1)
        found = []
        for low, high in (self.copper, self.beyond):
            rows = (steps >= low - 0.5) & (steps <= high + 0.5)
            found.append(cv2.blur(np.median(patch[:, rows], axis=1), (1, 9)))
        return found[0], found[1]


def _refined(
    pixels: np.ndarray, axis: Axis, rough_px: np.ndarray, side: int, window: _Window
) -> np.ndarray:
    """Return edges at full size, [px] from the line; NaN where colours differ too little."""
    known = np.isfinite(rough_px)
    if known.sum() < 8:
        return np.full(rough_px.size, np.nan)
    columns = np.flatnonzero(known)
    rough = _median(rough_px[columns], 5)
    steps = np.arange(window.first, window.last + 1)
    patch = _along_normals(pixels, axis, columns, side * (rough[:, None] + window.way * steps))
    copper, beyond = window.colours(patch)
    apart = copper - beyond
    size = np.linalg.norm(apart, axis=1)
    share = ((patch - beyond[:, None]) * apart[:, None]).sum(axis=2)
    share = cv2.blur((share / np.maximum(size, 1.0)[:, None] ** 2).astype(np.float32), (1, 3))
    near = max(4, round(axis.step_px))
    crossing, drop = _crossing(share, -window.first, near)
    edge = rough + window.way * (crossing + window.first)
    found = np.full(rough_px.size, np.nan)
    plain = (size > LEAST_CONTRAST) & (beyond.min(axis=1) < BURNT) & (drop > window.sharp)
    found[columns] = np.where(plain, edge, np.nan)
    return found


def _along_normals(
    pixels: np.ndarray, axis: Axis, columns: np.ndarray, offsets: np.ndarray
) -> np.ndarray:
    """Sample the picture beside the axis, float32, shape (n, m, 3); ``offsets`` (n, m) in px."""
    turn = normals(axis.points)[columns]
    at = axis.points[columns][:, None, :] + offsets[..., None] * turn[:, None, :]
    low = np.maximum(np.floor(at.min(axis=(0, 1))) - 2, 0).astype(int)
    high = np.ceil(at.max(axis=(0, 1))).astype(int) + 3
    crop = pixels[low[1] : high[1], low[0] : high[0]]
    local = (at - low).astype(np.float32)
    found = cv2.remap(
        crop, local[..., 0], local[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    return np.asarray(found, np.float32)


def _crossing(share: np.ndarray, middle: int, near: int) -> tuple[np.ndarray, np.ndarray]:
    """Return where a share of copper falls through one half, nearest the middle, else NaN.

    Beside it, how far it falls within ``near`` steps to both sides: the slow fall
    of a glare or a shadow is no edge of a member.
    """
    falls = (share[:, :-1] >= 0.5) & (share[:, 1:] < 0.5)
    steps = np.arange(share.shape[1] - 1)
    far = np.where(falls, np.abs(steps + 0.5 - middle), np.inf)
    k = far.argmin(axis=1)
    row = np.arange(share.shape[0])
    before, after = share[row, k], share[row, k + 1]
    found = k + (before - 0.5) / np.maximum(before - after, 1e-6)
    last = share.shape[1] - 1
    drop = share[row, np.maximum(k - near, 0)] - share[row, np.minimum(k + 1 + near, last)]
    return np.where(falls.any(axis=1), found, np.nan), drop


def _median(series: np.ndarray, width: int) -> np.ndarray:
    """Return the running median of a series, ends repeated."""
    half = width // 2
    padded = np.pad(series, half, mode="edge")
    return np.asarray(np.median(np.lib.stride_tricks.sliding_window_view(padded, width), axis=1))
