"""The face laid straight: a band wider than the walls, from the stop to beyond the mouth.

Rows run across the joint, above 0 towards the cup; columns along it. Colours are
relative to the copper beside the joint. Reaches and thresholds of this package are
our own choice on the tuning stream of drawn faces, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lapwright.measure.copper import copper_hue, copper_likeness, hues
from lapwright.measure.image import Photo
from lapwright.measure.strip import arc_length, carried_on, cut_strip, normals, resample
from lapwright.measure.values import FaceMeasurement, Point
from lapwright.measure.walls import copper_beside, relative_colour

CELLS = 640  # along the overlap, at most
BEHIND, BEYOND, REACH = 0.24, 0.24, 0.3  # of the overlap
WEIGHTS = np.array([0.8, 1.0, 1.5], np.float32)  # of lightness, blueness, greenness
LEAST_APART = 0.25  # surroundings from copper, else nothing is told


@dataclass(frozen=True)
class Frame:
    """The straightened band.

    ``tone`` (m, n, 3) is the weighted colour beside copper, 0 for copper; ``copper``
    (m, n) copper likeness; ``seen`` (m, n) where the picture goes on. ``points`` (n, 2)
    and ``across`` (n, 2) give places in the picture; ``step_px`` is the size of a cell,
    ``first`` and ``last`` the columns of tube end and cup face, ``middle`` the row of
    the joint, ``gap`` its width in cells. ``sides`` is ``told`` or ``unknown``;
    ``cup_side`` is 1 or -1 for the side of the traced line on which the cup lies, else 0.
    """

    tone: np.ndarray
    copper: np.ndarray
    seen: np.ndarray
    points: np.ndarray
    across: np.ndarray
    step_px: float
    first: int
    last: int
    middle: int
    gap: float
    sides: str
    cup_side: int

    @property
    def cells(self) -> int:
        """Cells along the overlap."""
        return self.last - self.first

    def place(self, row: float, column: float) -> Point:
        """Return the picture's point (x, y), [px], of a row and column.

        Parameters
        ----------
        row, column : float
            Place in the frame.
        """
        at = int(np.clip(round(column), 0, len(self.points) - 1))
        x, y = self.points[at] + (row - self.middle) * self.step_px * self.across[at]
        return float(x), float(y)

    def is_seen(self, rows: slice, columns: slice) -> float:
        """Return the share of a part of the frame that lies in the picture, [-].

        Parameters
        ----------
        rows, columns : slice
            The part.
        """
        part = self.seen[rows, columns]
        return float(part.mean()) if part.size else 0.0


def lay_straight(photo: Photo, m: FaceMeasurement) -> Frame:
    """Lay the surroundings of a measured joint straight.

    Parameters
    ----------
    photo : Photo
        The picture; not modified.
    m : FaceMeasurement
        Its reading, for line and gap.
    """
    step = max(1.0, m.overlap_px / CELLS)
    points, first, last = _extended(np.array(m.line, float), step)
    reach = round(REACH * (last - first))
    offsets = np.arange(-reach, reach + 1) * step
    levels = cut_strip(photo.pixels, points, offsets, shrink=max(1, int(step)))
    gap = m.gap_px / step
    inner = 0.5 * gap + 2.5
    near = levels[:, first : last + 1]
    copper = copper_beside(near, inner, inner + max(6.0, 0.05 * (last - first)))
    tone = _tone(levels, copper, first)
    found = hues(levels)
    rows = slice(reach - round(0.06 * reach / REACH), reach + round(0.06 * reach / REACH) + 1)
    own = copper_hue(near[rows], found[rows, first : last + 1])
    likeness = np.zeros(tone.shape[:2], np.float32)
    if own is not None:
        likeness = copper_likeness(found, own)
    across = normals(points)
    seen = _inside(photo, points, across, offsets)
    cup = _cup_side(likeness, seen, last, gap, last - first)
    if cup < 0:
        tone, likeness, seen, across = tone[::-1], likeness[::-1], seen[::-1], -across
    sides = "told" if cup else "unknown"
    return Frame(tone, likeness, seen, points, across, step, first, last, reach, gap, sides, cup)


def _extended(line: np.ndarray, step_px: float) -> tuple[np.ndarray, int, int]:
    """Return points a step apart along the line and straight on beyond both its ends."""
    count = max(2, round(float(arc_length(line)[-1]) / step_px) + 1)
    before, beyond = round(BEHIND * count), round(BEYOND * count)
    tail = max(3, count // 6) - 1
    points = carried_on(resample(line, count), before, beyond, tail=tail)
    return points, before, before + count - 1


def _tone(levels: np.ndarray, copper: np.ndarray, first: int) -> np.ndarray:
    """Return weighted colours beside the copper of the same side, near the same place."""
    columns = np.clip(np.arange(levels.shape[1]) - first, 0, copper.shape[1] - 1)
    middle = levels.shape[0] // 2
    halves = (
        relative_colour(levels[:middle], copper[0][columns]),
        relative_colour(levels[middle:], copper[1][columns]),
    )
    return np.concatenate(halves).astype(np.float32) * WEIGHTS


def _inside(
    photo: Photo, points: np.ndarray, across: np.ndarray, offsets: np.ndarray
) -> np.ndarray:
    x = points[None, :, 0] + offsets[:, None] * across[None, :, 0]
    y = points[None, :, 1] + offsets[:, None] * across[None, :, 1]
    return np.asarray((x >= 0) & (x <= photo.width - 1) & (y >= 0) & (y <= photo.height - 1))


def _cup_side(likeness: np.ndarray, seen: np.ndarray, last: int, gap: float, cells: int) -> int:
    """Return 1 or -1 for the side where copper ends at the mouth, 0 where it is not plain."""
    middle = likeness.shape[0] // 2
    near, far = round(0.5 * gap + 3), round(0.5 * gap + 3 + 0.05 * cells)
    columns = slice(last + round(0.03 * cells), last + max(12, room_beyond(seen, last)))
    sides = (slice(middle - far, middle - near), slice(middle + near, middle + far))
    if min(_mean(seen[rows, columns]) for rows in sides) < 0.8:
        return 0
    low, high = (_mean(likeness[rows, columns]) for rows in sides)
    if abs(low - high) < 0.25 or max(low, high) < 0.6:
        return 0
    return 1 if low > high else -1


def _mean(part: np.ndarray) -> float:
    return float(part.mean()) if part.size else 0.0


def room_beyond(seen: np.ndarray, last: int) -> int:
    """Return how many columns beyond the mouth lie in the picture, near the joint.

    Parameters
    ----------
    seen : ndarray of bool, shape (m, n)
        Where the picture goes on.
    last : int
        Column of the cup face.
    """
    near = round(0.08 * seen.shape[0])
    middle = seen.shape[0] // 2
    whole = seen[middle - near : middle + near + 1, last:].all(axis=0)
    return int(whole.size if whole.all() else np.argmin(whole))


def surroundings(frame: Frame, rows: slice, columns: slice) -> np.ndarray | None:
    """Return the usual tone of a part that should show no metal, or None where it is as copper.

    Parameters
    ----------
    frame : Frame
        The band.
    rows, columns : slice
        The part.
    """
    part = frame.tone[rows, columns][frame.seen[rows, columns]]
    if len(part) < 50:
        return None
    usual = np.median(part[:: max(1, len(part) // 4000)], axis=0)
    return usual if float(np.linalg.norm(usual)) > LEAST_APART else None


def stands_out(tone: np.ndarray, ground: np.ndarray, least: float) -> bool:
    """Return whether a tone could be told from the surroundings.

    Parameters
    ----------
    tone, ground : ndarray of float, shape (3,)
        Weighted tones beside copper.
    least : float
        Share of the way from surroundings to copper that it must lie off them.
    """
    return float(np.linalg.norm(tone - ground)) > least * float(np.linalg.norm(ground))
