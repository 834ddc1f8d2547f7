"""The fillet beyond the cup face: is it there, and how long are its legs.

Tube and cup face are taken where they stand free of it, as straight lines; what
stands in the corner between them and is not of the surroundings is the fillet.
"""

from __future__ import annotations

import cv2
import numpy as np

from .frame import Frame, room_beyond, stands_out, surroundings
from .values import NOTHING, SEEN, UNMEASURED, MouthFillet

APART = 0.25  # of the way from surroundings to copper: beyond it something stands there
TOES = 0.1  # of a leg: its thin toe is not seen
STEP = 0.4  # of what stands there: the least jump at its outline
SIZE = 0.2  # of the overlap: the corner looked at
LEAST_PX, LEAST = 4.0, 0.014  # shortest leg: in pixels, and as a share of the overlap
LOWEST = 0.4  # part of a leg over which the outline is drawn on to the corner


def measure_fillet(frame: Frame, filler: np.ndarray | None) -> MouthFillet:
    """Measure the fillet at the mouth.

    Parameters
    ----------
    frame : Frame
        The face laid straight.
    filler : ndarray of float, shape (3,), or None
        Tone of the filler in the gap, to know whether it would show.

    Returns
    -------
    MouthFillet
        Legs in px; ``not-measured`` with its reason where nothing can be said.
    """
    if frame.sides != "told":
        return MouthFillet(UNMEASURED, "sides-not-told-apart")
    size = min(round(SIZE * frame.cells), room_beyond(frame.seen, frame.last))
    high = slice(frame.middle + round(0.05 * frame.cells), frame.middle + round(0.28 * frame.cells))
    near = slice(frame.last, frame.last + size)
    if size < 0.08 * frame.cells or frame.is_seen(high, near) < 0.75:
        return MouthFillet(UNMEASURED, "mouth-outside-picture")
    free = slice(frame.last + size // 2, frame.last + size)
    ground = surroundings(frame, high, free)
    if ground is None:
        return MouthFillet(UNMEASURED, "no-contrast")
    corner, step, u = _corner(frame, ground, size)
    along, up = _leg(corner), _leg(corner.T)
    least = max(LEAST_PX / frame.step_px, 3.0 * u, frame.gap, LEAST * frame.cells)
    if min(along, up) < least:
        if filler is not None and not stands_out(filler, ground, APART):
            return MouthFillet(UNMEASURED, "filler-as-surroundings")
        return MouthFillet(NOTHING)
    if step < STEP or max(along, up) > 0.95 * size or corner[-1].any() or corner[:, -1].any():
        return MouthFillet(UNMEASURED, "no-outline")
    along, up, u = (
        v * frame.step_px for v in (along, up, float(np.hypot(u, TOES * max(along, up))))
    )
    return MouthFillet(SEEN, "", along, up, u_px=u)


def _corner(frame: Frame, ground: np.ndarray, size: int) -> tuple[np.ndarray, float, float]:
    """Return what stands in the corner, rows up from the tube, columns out from the cup face.

    The second value is the jump at its free outline, [-], the third the standard
    uncertainty of its two sides, in cells.
    """
    surface, u_tube = _tube_surface(frame, size)
    face, u_face = _cup_face(frame, size)
    rows, columns = np.mgrid[0:size, 0:size].astype(np.float32)
    x = (face[0] + face[1] * rows + columns + 0.5).astype(np.float32)
    far = x - frame.last
    y = (np.polyval(surface, far) + rows + 0.5).astype(np.float32)
    tone = cv2.GaussianBlur(cv2.remap(frame.tone, x, y, cv2.INTER_LINEAR), (3, 3), 0)
    away = np.linalg.norm(tone - _even_ground(tone), axis=-1)
    free = (rows + columns > size) & (rows > 4) & (columns > 4)
    noise = 1.48 * float(np.percentile(away[free], 35))
    found = _at_corner(away > max(APART * float(np.linalg.norm(ground)), 3 * noise))
    if found.sum() >= 12:  # now that it is known what stands there, its outline lies half-way
        found = _at_corner(away > max(0.5 * float(np.median(away[found])), 3 * noise))
    return found, _step(found, away), float(np.hypot(u_tube, u_face))


def _step(found: np.ndarray, away: np.ndarray) -> float:
    """Return the jump at the free outline, as a share of what stands there: a stain has none."""
    mask = found.astype(np.uint8)
    five, nine = np.ones((5, 5), np.uint8), np.ones((9, 9), np.uint8)
    free = np.zeros(found.shape, bool)
    free[5:, 5:] = True  # away from both walls
    outside = (cv2.dilate(mask, nine) - cv2.dilate(mask, five)).astype(bool) & free
    inside = found & free & (cv2.erode(mask, nine, borderValue=1) == 0)
    if outside.sum() < 4 or inside.sum() < 4:
        return 1.0  # too small to tell; its legs decide
    jump = np.median(away[inside]) - np.median(away[outside])
    return float(jump / np.median(away[found]))


def _even_ground(tone: np.ndarray) -> np.ndarray:
    """Return the surroundings as a plane through the far half of the corner: light may slope."""
    size = tone.shape[0]
    rows, columns = np.mgrid[0:size, 0:size]
    base = np.stack([np.ones_like(rows), rows, columns], axis=-1) / [1.0, size, size]
    far = (rows + columns > 1.05 * size) & (rows % 3 == 0) & (columns % 3 == 0)
    levels, places = tone[far], base[far]
    for _ in range(2):  # the second time without what is no part of it: glare, a scratch
        plane, *_rest = np.linalg.lstsq(places, levels, rcond=None)
        miss = np.linalg.norm(levels - places @ plane, axis=-1)
        kept = miss <= 2.5 * np.median(miss) + 1e-6
        levels, places = levels[kept], places[kept]
    return np.asarray(base @ plane)


def _at_corner(found: np.ndarray) -> np.ndarray:
    """Keep what hangs together with the corner."""
    # the rims of copper are blurred: what is two cells thin along them is no filler
    firm = cv2.morphologyEx(found.astype(np.uint8), cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
    _, names = cv2.connectedComponents(firm, connectivity=4)
    start = names[1:5, 1:5]
    return np.asarray(np.isin(names, np.unique(start[start > 0])))


def _tube_surface(frame: Frame, size: int) -> tuple[np.ndarray, float]:
    """Return the tube's surface beyond the mouth as a parabola, and its spread in cells.

    At the mouth it is known from the joint's line; places farther out give its slope.
    """
    anchor = frame.middle - 0.5 * frame.gap
    columns = np.arange(frame.last + round(0.5 * size), frame.last + size)
    start = frame.middle - round(0.5 * frame.gap + 0.03 * frame.cells)
    rows = start + last_copper(frame.copper[start : frame.middle + size, columns])
    far = (columns - frame.last).astype(float)
    away = (rows - anchor) / far
    if float(np.ptp(np.percentile(away, [10, 90]))) > 0.1:
        return np.array([0.0, float(np.clip(np.median(away), -0.2, 0.2)), anchor]), 1.5
    bent, slope = np.polyfit(far, away, 1)
    return np.array([bent, slope, anchor]), 0.7


def _cup_face(frame: Frame, size: int) -> tuple[tuple[float, float], float]:
    """Return column at the tube's surface and slope of the cup face, and the column's spread."""
    inside = frame.last - round(0.04 * frame.cells)
    base = frame.middle - 0.5 * frame.gap
    rows = np.arange(frame.middle + round(0.5 * frame.gap) + 3, frame.middle + size)
    rows = rows[rows < frame.tone.shape[0]]
    copper = frame.copper[rows, inside]
    ends = np.flatnonzero(copper < 0.5)
    wall = int(ends[0]) if ends.size else len(rows)
    rows = rows[int(0.5 * wall) : int(0.92 * wall)]
    if len(rows) < 4:
        return (float(frame.last), 0.0), 1.5
    edge = inside + last_copper(frame.copper[rows, inside : frame.last + size].T)
    slope, column = np.polyfit(rows - base, edge, 1)
    if abs(column - frame.last) > 0.025 * frame.cells or abs(slope) > 0.3:
        slope, column = 0.0, float(np.median(edge))
    if abs(column - frame.last) > 0.025 * frame.cells:
        return (float(frame.last), 0.0), 1.5
    rough = float(np.std(edge - np.polyval([slope, column], rows - base)))
    return (float(column), float(slope)), max(0.7, rough)


def last_copper(likeness: np.ndarray) -> np.ndarray:
    """Return per column how far copper goes on from the first row, between samples.

    Parameters
    ----------
    likeness : ndarray of float, shape (m, n)
        Copper likeness, 0 to 1; m where copper does not end.
    """
    gone = likeness < 0.5
    first = np.where(gone.any(axis=0), gone.argmax(axis=0), likeness.shape[0])
    before = np.clip(first - 1, 0, likeness.shape[0] - 1)
    after = np.clip(first, 0, likeness.shape[0] - 1)
    at = np.arange(likeness.shape[1])
    high, low = likeness[before, at], likeness[after, at]
    part = np.clip((high - 0.5) / np.maximum(high - low, 1e-3), 0, 1)
    return np.asarray(before + part + 0.5)


def _leg(corner: np.ndarray) -> float:
    """Return how far the outline reaches along the first row, drawn on from the rows above.

    The rows right at the wall are blurred into it, so the outline is taken a little away.
    """
    whole = np.asarray(corner.any(axis=1))
    high = int(np.argmin(whole)) if not whole.all() else len(whole)
    if high < 2:
        return float(corner[:1].sum())
    run = np.array([np.argmin(row) if not row.all() else row.size for row in corner[:high]], float)
    low, top = min(2, high - 1), max(3, int(np.ceil(LOWEST * high)) + 1)
    rows = np.arange(len(run))[low:top]
    if len(rows) < 3:
        return float(run.max())
    _, at_wall = np.polyfit(rows + 0.5, run[low:top], 1)
    return float(np.clip(at_wall, run[low:top].max(), 1.4 * run.max() + 1))
