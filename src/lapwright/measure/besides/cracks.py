"""Dark thin lines at the joint that look like cracks: for a person to look at, never judged.

A crack is dark, long and narrow, kinked, and starts from the joint. Polishing scratches
are straight, mostly of one direction, often run on into the mounting and are seldom so
dark; what looks like them is left out and counted. A crack along the joint or within the
filler alone looks like a void and is not told from one here.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from lapwright.measure.image import Photo
from lapwright.measure.strip import arc_length, cut_strip, normals, resample
from lapwright.measure.values import FaceMeasurement

from .values import NOTHING, SEEN, UNMEASURED, CrackLine, CrackLines

STEPS = 1500  # along the overlap, at most
REACH = 0.07  # to either side, of the overlap
WIDEST = 0.012  # of the overlap
DARK, FAINT = 0.2, 0.1  # light that a crack takes at its darkest, and anywhere on it
LONGEST_GAP_OFF = 3.0  # px between the gap's edge and the line
LEAST_PX, LEAST_SHARE = 10.0, 0.012
ENDS = 0.03  # of the overlap, at tube end and cup face: their own edges are dark and thin
SLENDER = 4.0
SAME_WAY_DEG, COMMON = 10.0, 0.6
ALONG_DEG = 15.0
STRAIGHT = 0.012  # spread of a straight line's middle, of its length
TIMES_SCRATCHES = 1.5  # darker than the darkest other lines of the copper, by this factor


@dataclass(frozen=True)
class _Line:
    """A dark line in the copper, in rows and columns of the strip.

    ``ends`` are two (row, column), the one nearer the joint first; ``off`` is the spread of its
    middle about the straight line between them; ``touches`` is 1 where it starts from the joint.
    """

    at: float
    length: float
    angle: float
    darkness: float
    off: float
    ends: tuple[tuple[float, float], tuple[float, float]]
    touches: int


def find_crack_lines(photo: Photo, m: FaceMeasurement, *, cup_side: int) -> CrackLines:
    """Look for crack-like lines at the joint.

    Parameters
    ----------
    photo : Photo
        The picture; not modified.
    m : FaceMeasurement
        Its reading, for line and gap.
    cup_side : int
        1 or -1: the side of the line, along its normal, on which the cup lies; 0 unknown.
    """
    step = max(1.0, m.overlap_px / STEPS)
    line = np.array(m.line, float)
    points = resample(line, round(float(arc_length(line)[-1]) / step) + 1)
    cells = len(points)
    reach = round(REACH * cells)
    offsets = np.arange(-reach, reach + 1) * step
    strip = cut_strip(photo.pixels, points, offsets, shrink=max(1, int(step)))
    half = 0.5 * m.gap_px / step + LONGEST_GAP_OFF / step
    if reach - half < LEAST_PX / step:
        return CrackLines(UNMEASURED, "gap-too-wide")
    found = _lines(*_darkness(strip, half), half, step)
    kept = [line for line in found if line.touches and _dark_enough(line, found)]
    cracks = [line for line in kept if not _as_scratch(line, found)]
    turn = normals(points)
    lines = tuple(_told(line, (points, turn), step, cup_side) for line in cracks)
    return CrackLines(SEEN if lines else NOTHING, "", lines, len(kept) - len(lines))


def _darkness(strip: np.ndarray, half: float) -> tuple[np.ndarray, np.ndarray]:
    """Return how much light narrow dark places take, [-], and where there is copper to see."""
    cells, middle = strip.shape[1], strip.shape[0] // 2
    # each side alone, so that the gap between them is no dark line of its own
    hat = np.zeros(strip.shape[:2], np.float32)
    copper = np.zeros(strip.shape[:2], bool)
    size = max(7, round(WIDEST * cells)) | 1
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    red = strip[..., 2]  # copper is lightest in red: voids and cracks stand out most
    cut = int(np.ceil(half))
    for rows in (slice(0, middle - cut + 1), slice(middle + cut, strip.shape[0])):
        part = np.ascontiguousarray(red[rows])
        level = np.maximum(np.median(part, axis=0), 8.0)
        level = cv2.blur(level[None], (max(3, cells // 40) | 1, 1))[0]
        closed = cv2.morphologyEx(part, cv2.MORPH_CLOSE, disc, borderType=cv2.BORDER_REPLICATE)
        hat[rows] = (closed - part) / level
        copper[rows] = np.abs(closed / level - 1) < 0.3
    return hat, copper


def _lines(hat: np.ndarray, copper: np.ndarray, half: float, step: float) -> list[_Line]:
    """Gather dark places to lines, with the shape of each."""
    dark = ((hat > FAINT) & copper).astype(np.uint8)
    count, names, stats, _ = cv2.connectedComponentsWithStats(dark, connectivity=8)
    least = max(LEAST_PX / step, LEAST_SHARE * hat.shape[1])
    found = []
    for k in range(1, count):
        x, y, wide, high, area = (int(v) for v in stats[k])
        if np.hypot(wide, high) < least or area < least:
            continue
        box = (slice(y, y + high), slice(x, x + wide))
        rows, columns = np.nonzero(names[box] == k)
        darkness = float(np.percentile(hat[box][rows, columns], 75))
        line = _line(rows + y, columns + x, darkness, hat.shape, half)
        if line.length >= least and line.length**2 >= SLENDER * area:
            found.append(line)
    return found


def _line(
    rows: np.ndarray, columns: np.ndarray, darkness: float, shape: tuple[int, ...], half: float
) -> _Line:
    places = np.stack([rows - shape[0] // 2, columns], axis=1).astype(float)
    centre = places.mean(axis=0)
    _, axes = np.linalg.eigh(np.cov(places.T) + 1e-6 * np.eye(2))
    way = axes[:, 1]
    along, aside = (places - centre) @ way, (places - centre) @ axes[:, 0]
    ends = sorted((tuple(places[k]) for k in (along.argmin(), along.argmax())), key=_from_joint)
    bins = np.round(along).astype(int) - round(float(along.min()))
    middle = np.bincount(bins, aside) / np.maximum(np.bincount(bins), 1)
    inside = ENDS * shape[1] < ends[0][1] < (1 - ENDS) * shape[1]
    return _Line(
        at=float(ends[0][1]) / (shape[1] - 1),
        length=float(np.ptp(along)) + 1,
        angle=float(np.degrees(np.arctan2(way[0], way[1])) % 180),
        darkness=darkness,
        off=float(np.std(middle)),
        ends=(ends[0], ends[1]),
        touches=int(bool(inside and _from_joint(ends[0]) <= half + 2)),
    )


def _from_joint(place: tuple[float, ...]) -> float:
    return abs(place[0])


def _apart(one: float, other: float) -> float:
    """Return the angle between two directions, 0 to 90 degrees."""
    return abs((one - other + 90) % 180 - 90)


def _dark_enough(line: _Line, found: list[_Line]) -> bool:
    """Return whether a line is dark beside copper and beside the other lines of the face."""
    others = [o.darkness for o in found if not o.touches]
    usual = float(np.percentile(others, 80)) if len(others) >= 3 else 0.0
    steep = _apart(line.angle, 0.0) > ALONG_DEG  # a line along the joint is its own rim
    return steep and line.darkness >= max(DARK, TIMES_SCRATCHES * usual)


def _as_scratch(line: _Line, found: list[_Line]) -> bool:
    """Return whether a line runs with most others, or straight on across the joint."""
    others = [o for o in found if o is not line]
    same = sum(o.length for o in others if _apart(o.angle, line.angle) < SAME_WAY_DEG)
    if len(others) >= 4 and same > COMMON * sum(o.length for o in others):
        return True
    straight = line.off < max(0.6, STRAIGHT * line.length)
    return straight and any(_runs_on(line, o) for o in others)


def _runs_on(line: _Line, other: _Line) -> bool:
    """Return whether two lines are pieces of one straight line on the two sides of the joint."""
    (row, column), (row2, column2) = line.ends[0], other.ends[0]
    if row * row2 >= 0 or _apart(line.angle, other.angle) > SAME_WAY_DEG:
        return False
    between = float(np.degrees(np.arctan2(row2 - row, column2 - column)) % 180)
    return _apart(between, line.angle) < 2 * SAME_WAY_DEG


def _told(
    line: _Line, frame: tuple[np.ndarray, np.ndarray], step: float, cup_side: int
) -> CrackLine:
    points, turn = frame
    places = []
    for row, column in line.ends:
        x, y = points[int(column)] + row * step * turn[int(column)]
        places.append((float(x), float(y)))
    side = "unknown"
    if cup_side:
        side = "cup" if line.ends[1][0] * cup_side > 0 else "tube"
    return CrackLine(places[0], places[1], line.length * step, line.at, side, line.darkness)
