"""Bring ends given roughly onto the joint: the cup face at the mouth, the tube end inside.

The line is looked for in a wide band as the arc between two copper sides.
Along it, the cup face is where the copper of one side stops for good and the
other side goes on; the tube end is where the copper of that other side is
first broken, by the gap behind the tube. An end moves only where its mark is
plain; otherwise it stays where it was given, with the spread of a given end.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import cv2
import numpy as np

from .copper import copper_hue, copper_likeness, hues
from .errors import EndsSwapped
from .settings import FaceSettings
from .strip import chord_points, cut_strip, normals
from .trace import best_arc, colour_planes, line_evidence
from .values import Point

COLUMNS = 480  # steps of the overlap in the wide band
PAD = 0.12  # of the overlap, beyond each end
REACH = 0.2  # of the overlap, to each side: walls are up to about that thick
SEARCH = 0.085  # of the overlap: how far off the chord the line is looked for


@dataclass(frozen=True)
class Ends:
    """The two ends, (x, y) in [px], and the standard uncertainty of each along the line, [px].

    ``tube_mark`` and ``cup_mark`` say how plainly each end is marked in the
    picture, 0 to 1; 0 for an end that was left where it was given. ``cup_side``
    is +1 or -1: the side of the line, seen from the tube end, where the cup lies.
    """

    tube_end: Point
    cup_face: Point
    tube_u_px: float
    cup_u_px: float
    tube_mark: float
    cup_mark: float
    cup_side: int

    @property
    def found(self) -> str:
        """Which ends the picture marks: ``both``, ``tube_end``, ``cup_face`` or ``given``."""
        names = [
            name
            for name, mark in (("tube_end", self.tube_mark), ("cup_face", self.cup_mark))
            if mark > 0
        ]
        return "both" if len(names) == 2 else "".join(names) or "given"


def given_ends(tube_end: Point, cup_face: Point, *, u_px: float) -> Ends:
    """Return ends as given, left alone.

    Parameters
    ----------
    tube_end, cup_face : tuple of float
        The ends, [px].
    u_px : float
        Standard uncertainty of each, [px].
    """
    return Ends(tube_end, cup_face, u_px, u_px, 0.0, 0.0, 0)


def snap_ends(
    pixels: np.ndarray,
    tube_end: Point,
    cup_face: Point,
    *,
    slack_px: float,
    given_u_px: float,
    settings: FaceSettings,
) -> Ends:
    """Move ends onto the joint where the picture marks them plainly.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (height, width, 3)
        The picture; not modified.
    tube_end, cup_face : tuple of float
        Ends as given, [px].
    slack_px : float
        How far an end may move, [px].
    given_u_px : float
        Standard uncertainty of an end that stays as given, [px].
    settings : FaceSettings
        Numbers of the method.
    """
    given = given_ends(tube_end, cup_face, u_px=given_u_px)
    band = _wide_band(pixels, tube_end, cup_face)
    if band is None:
        return given
    slack = max(2.0, slack_px / band.step_px)
    middle = band.copper.shape[0] // 2
    arc = _line(band, (middle, middle), slack, settings)
    best = _best_marks(band, arc, slack)
    anchors = _anchors(band, arc, best)
    if anchors != (None, None):
        at = [float(middle) if a is None else a for a in anchors]
        arc = _line(band, (at[0], at[1]), 0.01 * COLUMNS, settings)
        best = _best_marks(band, arc, slack)
    _must_not_be_swapped(band, arc, best, slack)
    return _moved(given, band, arc, best)


def _must_not_be_swapped(band: _Band, arc: np.ndarray, marks: _Marks, slack: float) -> None:
    """Refuse ends of which each lies on the plain mark of the other."""
    if marks.cup_mark >= PLAIN:
        return
    turned = replace(band, levels=band.levels[:, ::-1], copper=band.copper[:, ::-1])
    other = _best_marks(turned, arc[::-1], slack)
    if min(other.tube_mark, other.cup_mark) >= 0.8:
        raise EndsSwapped(
            "tube end and cup face look swapped",
            got="the mouth of the cup at the tube end",
            expected="the tube end inside the fitting, the cup face at its mouth",
            do="Give the two ends the other way round.",
        )


def _best_marks(band: _Band, arc: np.ndarray, slack: float) -> _Marks:
    sides = _sides(band, arc)
    return max((_marks(sides, side, slack, band) for side in (-1, 1)), key=lambda m: m.score)


@dataclass(frozen=True)
class _Band:
    """A straightened band: grey levels, copper likeness (m, n), and where it lies.

    ``first`` and ``last`` are the columns of the given ends, ``step_px`` the
    length of a step, [px]; ``points`` (n, 2) the chord, ``across`` (2,) its normal.
    """

    levels: np.ndarray
    copper: np.ndarray
    first: int
    last: int
    step_px: float
    points: np.ndarray
    across: np.ndarray


def _wide_band(pixels: np.ndarray, start: Point, end: Point) -> _Band | None:
    chord = math.dist(start, end)
    columns = int(min(COLUMNS, chord))
    step = chord / columns
    pad = round(PAD * columns)
    at = np.arange(-pad, columns + pad + 1)
    line = chord_points(start, end, columns=columns + 1)
    points = line[0] + at[:, None] * (line[-1] - line[0]) / columns
    reach = math.ceil(REACH * columns)
    offsets = np.arange(-reach, reach + 1) * step
    levels = cut_strip(pixels, points, offsets, shrink=max(1, int(step)))
    found = hues(levels)
    near = round(0.05 * COLUMNS)
    beside = (slice(reach - near, reach + near + 1), slice(pad, -pad))
    own = copper_hue(levels[beside], found[beside])
    if own is None:
        return None
    across = normals(points)[0]
    return _Band(levels, copper_likeness(found, own), pad, pad + columns, step, points, across)


def _line(
    band: _Band, near: tuple[float, float], slack: float, settings: FaceSettings
) -> np.ndarray:
    """Return the row of the line in every column of the band, float, shape (n,).

    ``near`` are the rows where it is looked for at both ends, within ``slack``.
    """
    inside = slice(band.first, band.last + 1)
    rows = band.copper.shape[0]
    margin = max(0, rows // 2 - round(SEARCH * COLUMNS))
    kept = slice(margin, rows - margin)
    chord = np.linspace(near[0], near[1], band.last + 1 - band.first)
    u = np.linspace(0, 1, chord.size)
    wide = slack + 0.012 * COLUMNS * (1 + 4 * u * (1 - u))
    place = 0.12 * ((np.arange(rows)[kept, None] - chord) / wide) ** 2
    planes = colour_planes(band.levels[:, inside])
    evidence, scale = line_evidence(planes, np.exp(-3 * place))
    far = max(3, round(2.5 * scale))
    smooth = cv2.blur(band.copper[:, inside], (9, 3))
    both = np.minimum(np.roll(smooth, far, axis=0), np.roll(smooth, -far, axis=0))[kept]
    arc = best_arc(evidence * both, place, settings) + margin
    columns = np.arange(band.copper.shape[1])
    fit = np.polyfit(np.arange(band.first, band.last + 1), arc, 2)
    return np.asarray(np.polyval(fit, columns))


def _anchors(band: _Band, arc: np.ndarray, marks: _Marks) -> tuple[float | None, float | None]:
    """Return the rows of the line at tube end and cup face as the copper's outline tells them.

    Beyond the mouth the outer face of the tube carries the line on; behind the
    tube end the gap stops at the cup, one clearance beyond the line.
    """
    tube = _slot_row(band, arc, marks) if marks.tube_mark >= PLAIN else None
    cup = _tube_row(band, arc, marks) if marks.cup_mark >= PLAIN else None
    return tube, cup


def _slot_row(band: _Band, arc: np.ndarray, marks: _Marks) -> float | None:
    found = []
    for column in range(max(0, round(marks.tube) - 8), max(1, round(marks.tube))):
        start = round(float(arc[column])) - marks.side * round(0.03 * COLUMNS)
        row = _walk(band.copper[:, column], start, marks.side, low=True)
        if row is not None:
            found.append(row)
    return float(np.median(found)) if len(found) >= 2 else None


def _tube_row(band: _Band, arc: np.ndarray, marks: _Marks) -> float | None:
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


@dataclass(frozen=True)
class _Side:
    """One side of the line in groups of rows, nearest first.

    ``copper`` (k, n) is the copper likeness, ``planes`` (k, n, 3) the colour in logarithms.
    """

    copper: np.ndarray
    planes: np.ndarray


def _sides(band: _Band, arc: np.ndarray) -> dict[int, _Side]:
    """Return both sides of the line, straightened along it."""
    rows = np.arange(3, band.copper.shape[0] // 2 - 2)
    columns = np.broadcast_to(np.arange(arc.size, dtype=np.float32), (rows.size, arc.size))
    found = {}
    for side in (-1, 1):
        at = (arc[None, :] + side * rows[:, None]).astype(np.float32)
        copper, planes = (
            cv2.remap(picture, np.ascontiguousarray(columns), at, cv2.INTER_LINEAR,
                      borderMode=cv2.BORDER_REPLICATE)
            for picture in (band.copper, colour_planes(band.levels))
        )  # fmt: skip
        groups = np.array_split(np.arange(_wall(copper, band)), 10)
        found[side] = _Side(
            np.stack([copper[g].mean(axis=0) for g in groups]),
            np.stack([planes[g].mean(axis=0) for g in groups]),
        )
    return found


def _wall(copper: np.ndarray, band: _Band) -> int:
    """Return how many rows of a side lie in its wall, at least ten."""
    long = band.last - band.first
    inside = copper[:, band.first + long // 2 : band.last - long // 10]
    gone = np.flatnonzero(np.median(inside, axis=1) < 0.5)
    deep = int(0.92 * gone[0]) if gone.size else copper.shape[0]
    return int(max(10, min(deep, copper.shape[0])))


@dataclass(frozen=True)
class _Marks:
    """Where the ends stand, in columns, how plainly, and on which side the cup lies."""

    tube: float
    cup: float
    tube_mark: float
    cup_mark: float
    side: int

    @property
    def score(self) -> float:
        return self.cup_mark + 0.5 * self.tube_mark


def _marks(sides: dict[int, _Side], side: int, slack: float, band: _Band) -> _Marks:
    cup, tube = sides[side], sides[-side]
    mouth, mouth_mark = _stop(cup, band.last, slack)
    after = slice(int(mouth) + 3, int(mouth) + 3 + max(6, band.first // 2))
    mouth_mark *= float(np.median(tube.copper[:, after]))
    inner, inner_mark = _break(tube.copper, band.first, slack)
    before = slice(max(0, int(inner) - 12), max(1, int(inner) + 4))
    inner_mark *= float(np.median(cup.copper[:, before]))
    return _Marks(inner, mouth, inner_mark, mouth_mark, side)


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
    return at_last, mark * (1 - float(rest.mean()))  # behind a tube end copper comes back


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


PLAIN = 0.5  # of the contrast of copper: less than that marks no end


def _moved(given: Ends, band: _Band, arc: np.ndarray, marks: _Marks) -> Ends:
    """Return the ends on the line, each moved along it where its mark is plain."""
    if marks.cup_mark < PLAIN:
        return given
    u = max(0.5, 0.0015 * COLUMNS) * band.step_px
    inner = marks.tube_mark >= PLAIN
    return Ends(
        _point(band, arc, marks.tube if inner else float(band.first)),
        _point(band, arc, marks.cup),
        u if inner else given.tube_u_px,
        u,
        marks.tube_mark if inner else 0.0,
        marks.cup_mark,
        marks.side,
    )


def _point(band: _Band, arc: np.ndarray, column: float) -> Point:
    columns = np.arange(arc.size)
    x, y = (float(np.interp(column, columns, band.points[:, k])) for k in (0, 1))
    off = (float(np.interp(column, columns, arc)) - band.copper.shape[0] // 2) * band.step_px
    return x + off * float(band.across[0]), y + off * float(band.across[1])
