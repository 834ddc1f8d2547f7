"""Where the copper beside the joint's row stops: the marks of cup face and tube end.

The cup face is where the copper of one side stops for good while the other
side goes on; the tube end is where the copper of that other side is first
broken. The outline also tells the row of the joint at both places. The numbers
are our own choice on the tuning stream, no source.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np

from .band import COLUMNS, PAD, Band
from .lineend import line_end, line_seen

SURE_WALL = 0.045  # of the overlap: walls are at least about that thick
WIDEST_GAP = 0.065  # of the overlap, behind the tube end
LINE_AND_WALL = 0.8  # weight of a tube end told by the line where the wall changes as well
LINE_ALONE = 0.6  # and by the line alone
PLAIN = 0.5  # of the contrast of copper: less than that marks no end


@dataclass(frozen=True)
class _Side:
    """One side of the line in groups of rows, nearest first.

    ``copper`` (k, n) is the copper likeness, ``planes`` (k, n, 3) the colour in logarithms.
    """

    copper: np.ndarray
    planes: np.ndarray


def _sides(band: Band, arc: np.ndarray) -> dict[int, _Side]:
    """Return both sides of the line, straightened along it."""
    rows = np.arange(3, band.copper.shape[0] // 2 - 2)
    columns = np.broadcast_to(np.arange(arc.size, dtype=np.float32), (rows.size, arc.size))
    found = {}
    for side in (-1, 1):
        at = (arc[None, :] + side * rows[:, None]).astype(np.float32)
        copper, planes = (
            cv2.remap(picture, np.ascontiguousarray(columns), at, cv2.INTER_LINEAR,
                      borderMode=cv2.BORDER_REPLICATE)
            for picture in (band.copper, band.planes)
        )  # fmt: skip
        groups = np.array_split(np.arange(_wall(copper, band)), 10)
        found[side] = _Side(
            np.stack([copper[g].mean(axis=0) for g in groups]),
            np.stack([planes[g].mean(axis=0) for g in groups]),
        )
    return found


def _wall(copper: np.ndarray, band: Band) -> int:
    """Return how many rows of a side lie in its wall, at least ten."""
    long = band.last - band.first
    inside = copper[:, band.first + long // 2 : band.last - long // 10]
    gone = np.flatnonzero(np.median(inside, axis=1) < 0.5)
    deep = int(0.92 * gone[0]) if gone.size else copper.shape[0]
    return int(max(10, min(deep, copper.shape[0])))


@dataclass(frozen=True)
class Marks:
    """Where the ends stand, in columns, how plainly, and on which side the cup lies."""

    tube: float
    cup: float
    tube_mark: float
    cup_mark: float
    side: int

    @property
    def score(self) -> float:
        """How plain both marks are; the mouth counts twice."""
        return self.cup_mark + 0.5 * self.tube_mark


def _marks(band: Band, arc: np.ndarray, sides: dict[int, _Side], side: int, slack: float) -> Marks:
    cup, tube = sides[side], sides[-side]
    mouth, mouth_mark = _stop(cup, band.last, slack)
    after = slice(int(mouth) + 3, int(mouth) + 3 + max(6, band.first // 2))
    mouth_mark *= float(np.median(tube.copper[:, after]))
    inner, inner_mark = _break(tube.copper, band.first, slack)
    if inner_mark < PLAIN and mouth_mark >= PLAIN:
        stop, stop_mark = _stands(band, arc, tube, slack)
        if stop_mark >= PLAIN:
            inner, inner_mark = stop, stop_mark
    before = slice(max(0, int(inner) - 12), max(1, int(inner) + 4))
    inner_mark *= float(np.median(cup.copper[:, before]))
    return Marks(inner, mouth, inner_mark, mouth_mark, side)


def _stop(cup: _Side, near: int, slack: float) -> tuple[float, float]:
    """Return the column near ``near`` where the cup ends, and how plainly copper stops there.

    Copper stopping for good says where about; a fillet as red as copper would
    put it too far out, so every group of rows then says where it first leaves
    the colour of the wall, and the quarter that leaves earliest counts.
    """
    profile = cup.copper[cup.copper.shape[0] // 2 :].mean(axis=0)
    reach = max(6, round(0.03 * COLUMNS))
    low = max(reach, math.floor(near - slack))
    high = min(profile.size - reach - 1, math.ceil(near + slack))
    at = np.arange(low, high + 1)
    if at.size == 0:
        return float(near), 0.0
    sums = np.concatenate([[0.0], np.cumsum(profile)])
    inside = (sums[at] - sums[at - reach]) / reach
    outside = (sums[at + reach] - sums[at]) / reach
    best = int((inside - outside).argmax())
    mark = float(np.clip(inside[best] - outside[best], 0, 1))
    edges = [_leaves(row, int(at[best]), reach) for row in cup.planes]
    known = sorted(e for e in edges if e is not None)
    if not known:
        return float(near), 0.0
    at_last = float(np.quantile(known, 0.25))
    rest = profile[min(profile.size - 1, round(at_last) + 4) :]
    # behind a tube end copper comes back, next to the line as well: the stop of the fitting
    far = max(round(at_last) + round(0.04 * COLUMNS), profile.size - round(0.04 * COLUMNS))
    stop = cup.copper[1:3, min(profile.size - 4, far) :]
    return at_last, mark * (1 - float(rest.mean())) * (1 - float(np.median(stop)))


def _leaves(row: np.ndarray, near: int, reach: int) -> float | None:
    """Return where a row first leaves the colour it has inside, for good, between samples."""
    start = max(0, near - 3 * reach)
    stop = min(row.shape[0] - 1, near + reach // 2)
    calm = row[start : max(start + 8, near - reach)]
    if calm.shape[0] < 8 or stop - start < 10:
        return None
    middle = np.median(calm, axis=0)
    spread = 1.4826 * np.median(np.abs(calm - middle), axis=0) + 0.01
    away = np.sqrt((((row[start : stop + reach] - middle) / spread) ** 2).sum(axis=1))
    far = float(np.median(away[stop - start :]))
    level = max(7.0, 0.2 * far)
    lasting = 4
    out = away > level
    run = np.convolve(out, np.ones(lasting), "full")[lasting - 1 :] >= lasting
    first = np.flatnonzero(run[max(1, near - start - 2 * reach) :])
    if first.size == 0:
        return None
    k = int(first[0]) + max(1, near - start - 2 * reach)
    half = 0.5 * float(np.median(away[k + 1 : k + 1 + lasting]))
    while k > 0 and away[k - 1] > half:
        k -= 1
    before, after = float(away[k - 1]), float(away[k])
    part = np.clip((half - before) / max(1e-6, after - before), 0, 1)
    return start + k - 1 + float(part)


def _break(copper: np.ndarray, near: int, slack: float) -> tuple[float, float]:
    """Return the column near ``near`` where copper, followed outwards, is first broken."""
    reach = max(6, round(0.03 * COLUMNS))
    found, marks = [], []
    start = min(copper.shape[1] - 1, math.ceil(near + slack) + 1)
    stop = max(1, math.floor(near - slack) - 1)
    for row in copper:
        part = row[stop : start + 1][::-1]  # from inside the joint outwards
        calm = float(np.median(row[start : start + 3 * reach])) if start < row.size else 0.0
        down = np.flatnonzero(part < 0.5 * calm)
        if calm < 0.5 or down.size == 0 or down[0] == 0:
            continue
        k = int(down[0])
        over = (part[k - 1] - 0.5 * calm) / max(1e-6, part[k - 1] - part[k])
        found.append(start - (k - 1 + float(over)))
        marks.append(float(calm - part[k : k + 4].min()))
    if len(found) < max(2, copper.shape[0] // 2):
        return float(near), 0.0
    middle = float(np.median(found))
    scatter = float(np.median(np.abs(np.array(found) - middle)))
    share = len(found) / copper.shape[0]
    return middle, float(np.median(marks)) * share / (1 + (scatter / 3) ** 2)


def _stands(band: Band, arc: np.ndarray, tube: _Side, slack: float) -> tuple[float, float]:
    """Return where a tube that stands against its stop ends, and how plainly.

    Its copper is not broken, but the line ends there. Where the wall of the
    tube changes its colour a little before that, a filled gap lies between.
    """
    seen = line_seen(band.planes, arc, SURE_WALL * COLUMNS)
    low, high = (round(band.first + d) for d in (-slack, slack))
    at, mark = line_end(seen, low, high, round(0.05 * COLUMNS))
    if mark < PLAIN:
        return at, mark
    copper = cv2.blur(tube.copper[:, : max(2, round(at) - 4)], (3, 1))
    gap = (copper[:, 1:] < 0.35) & np.maximum.accumulate(copper > 0.65, axis=1)[:, :-1]
    if gap.any(axis=0).sum() >= 3:
        return at, 0.0  # copper is broken further in: the gap behind the tube lies there
    # without a change of the wall there, the line may only be lost from sight
    mark *= LINE_AND_WALL if _differs(tube, round(at)) else LINE_ALONE
    reach = max(6, round(0.03 * COLUMNS))
    near = tube.planes.shape[1] - 1 - round(at)
    edges = [_leaves(row[::-1], near, reach) for row in tube.planes]
    columns = [tube.planes.shape[1] - 1 - e for e in edges if e is not None]
    before = [c for c in columns if at - 1 <= c <= at + WIDEST_GAP * COLUMNS]
    if len(before) >= 0.6 * len(edges) and np.ptp(np.quantile(before, (0.25, 0.75))) < 3:
        return float(np.median(before)), mark
    if len(before) >= 0.3 * len(edges):  # something lies there, but not plainly a gap
        return at, min(mark, LINE_ALONE)
    return at, mark


def _differs(tube: _Side, at: int) -> bool:
    """Whether the wall looks another behind a column, or shows a seam there, in any depth of it."""
    apart, width = 8, 6  # columns
    planes = np.concatenate([tube.planes, tube.copper[..., None]], axis=-1)
    even = cv2.blur(planes, (width, 1))
    inner = slice(apart, -apart)
    step = np.abs(even[:, inner] - np.roll(even, 2 * apart, axis=1)[:, inner])
    seam = np.abs(even[:, inner] - cv2.blur(planes, (3 * width, 1))[:, inner])
    for found in (step, seam):
        size = found.max(axis=-1)
        calm = np.quantile(size[:, at + 3 * apart : at + 25 * apart], 0.9, axis=1)
        here = size[:, max(0, at - 2 * apart) : at + apart].max(axis=1)
        if (here > 2.5 * calm + 0.02).any():
            return True
    return False


def best_marks(band: Band, arc: np.ndarray, slack: float) -> Marks:
    """Return the marks for the side on which the cup lies more plainly.

    Parameters
    ----------
    band : Band
        From `lapwright.measure.band.wide_band`.
    arc : ndarray of float, shape (n,)
        Row of the joint in every column.
    slack : float
        How far a mark may lie from its given end, in columns.
    """
    sides = _sides(band, arc)
    return max((_marks(band, arc, sides, side, slack) for side in (-1, 1)), key=lambda m: m.score)


def outline_rows(band: Band, arc: np.ndarray, marks: Marks) -> tuple[float | None, float | None]:
    """Return the rows of the joint at tube end and cup face as the copper's outline tells them.

    Parameters
    ----------
    band : Band
        From `lapwright.measure.band.wide_band`.
    arc : ndarray of float, shape (n,)
        Row of the joint in every column, as first seen.
    marks : Marks
        From `best_marks`.

    Notes
    -----
    Beyond the mouth the outer face of the tube carries the line on; behind the
    tube end the gap stops at the cup, one clearance beyond the line.
    """
    tube = _slot_row(band, arc, marks) if marks.tube_mark >= PLAIN else None
    cup = _tube_row(band, arc, marks) if marks.cup_mark >= PLAIN else None
    return tube, cup


def _slot_row(band: Band, arc: np.ndarray, marks: Marks) -> float | None:
    found = []
    for column in range(max(0, round(marks.tube) - 8), max(1, round(marks.tube))):
        start = round(float(arc[column])) - marks.side * round(0.03 * COLUMNS)
        row = _walk(band.copper[:, column], start, marks.side, low=True)
        if row is not None:
            found.append(row)
    return float(np.median(found)) if len(found) >= 2 else None


def _tube_row(band: Band, arc: np.ndarray, marks: Marks) -> float | None:
    first = math.ceil(marks.cup) + 3
    columns = np.arange(first, min(band.copper.shape[1], first + round(PAD * COLUMNS)))
    found = []
    for column in columns:
        start = _on_copper(band.copper[:, column], round(float(arc[column])), -marks.side)
        found.append(_walk(band.copper[:, column], start, marks.side, low=False))
    known = np.array([(c, r) for c, r in zip(columns, found, strict=True) if r is not None])
    if len(known) < 8:
        return None
    # a fillet as red as copper raises the rows next to the mouth: the outer part tells
    far = known[int(0.4 * len(known)) :]
    slopes = np.subtract.outer(far[:, 1], far[:, 1]) / (
        np.subtract.outer(far[:, 0], far[:, 0]) + 1e-9
    )
    slope = float(np.median(slopes[~np.eye(len(far), dtype=bool)]))
    if abs(slope) > 0.15:
        return None
    return float(np.median(far[:, 1] - slope * (far[:, 0] - marks.cup)))


def _on_copper(column: np.ndarray, start: int, step: int) -> int:
    """Return the first row from ``start`` on that lies four rows deep in copper, or -1."""
    for k in range(round(0.12 * COLUMNS)):
        rows = start + step * np.arange(k, k + 5)
        if rows.min() < 0 or rows.max() >= column.size:
            return -1
        if (column[rows] >= 0.5).all():
            return int(rows[-1])
    return -1


def _walk(column: np.ndarray, start: int, step: int, *, low: bool) -> float | None:
    """Walk from ``start`` while copper is low (or high); return where it changes, or None."""
    rows = column.size
    if not 0 <= start < rows or (column[start] < 0.5) != low:
        return None
    for k in range(1, round(0.12 * COLUMNS)):
        at = start + step * k
        if not 0 <= at < rows:
            return None
        if (column[at] < 0.5) != low:
            before, after = float(column[at - step]), float(column[at])
            return at - step + step * (0.5 - before) / (after - before)
    return None
