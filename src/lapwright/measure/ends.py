"""Bring ends given roughly onto the joint: the cup face at the mouth, the tube end inside.

The line is looked for in a wide band as the arc between two copper sides.
Along it, the cup face is where the copper of one side stops for good and the
other side goes on; the tube end is where the copper of that other side is
first broken, by the gap behind the tube, or where the line ends in whole
copper. An end moves only where its mark is plain; otherwise it stays where it
was given, with the spread of a given end.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from .band import COLUMNS, Band, joint_row, wide_band
from .errors import EndsSwapped
from .lineend import line_seen
from .marks import PLAIN, SURE_WALL, Marks, best_marks, outline_rows
from .settings import FaceSettings
from .values import Point


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
    return _snap(pixels, given, slack_px, settings)[0]


def snap_and_look(
    pixels: np.ndarray, given: Ends, *, slack_px: float, settings: FaceSettings
) -> tuple[Ends, float]:
    """Move ends as `snap_ends` does; return them and how plainly a line lies between, 0 to 1.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (height, width, 3)
        The picture; not modified.
    given : Ends
        Rough ends, from `given_ends`.
    slack_px : float
        How far an end may move, [px].
    settings : FaceSettings
        Numbers of the method.
    """
    ends, band, arc = _snap(pixels, given, slack_px, settings)
    if band is None or ends.found != "both":
        return ends, 0.0
    seen = line_seen(band.planes, arc, SURE_WALL * COLUMNS)
    return ends, float(seen[band.first : band.last].mean())


def _snap(
    pixels: np.ndarray, given: Ends, slack_px: float, settings: FaceSettings
) -> tuple[Ends, Band | None, np.ndarray]:
    """Return the moved ends, and the band and the rows of the joint in which they were seen."""
    band = wide_band(pixels, given.tube_end, given.cup_face)
    if band is None:
        return given, None, np.zeros(0)
    slack = max(2.0, slack_px / band.step_px)
    middle = band.copper.shape[0] // 2
    arc = joint_row(band, (middle, middle), slack, settings)
    best = best_marks(band, arc, slack)
    rows = outline_rows(band, arc, best)
    if rows != (None, None):
        at = [float(middle) if a is None else a for a in rows]
        told = joint_row(band, (at[0], at[1]), 0.01 * COLUMNS, settings)
        if _shows_line(band, told, arc):
            arc = told
            best = best_marks(band, arc, slack)
    _must_not_be_swapped(band, arc, best, slack)
    return _moved(given, band, arc, best), band, arc


def _shows_line(band: Band, told: np.ndarray, arc: np.ndarray) -> bool:
    """Whether the rows that the outline told show the line about as well as those first seen.

    At a stop of the fitting the outline turns off the line; there its rows show none.
    """
    inside = slice(band.first, band.last)
    if np.abs(told - arc)[inside].max() < 0.01 * COLUMNS:
        return True
    planes = band.planes
    share = [line_seen(planes, a, SURE_WALL * COLUMNS)[inside].mean() for a in (told, arc)]
    return bool(share[0] >= 0.8 * share[1])


def _must_not_be_swapped(band: Band, arc: np.ndarray, marks: Marks, slack: float) -> None:
    """Refuse ends of which each lies on the plain mark of the other."""
    if marks.cup_mark >= PLAIN:
        return
    turned = replace(band, levels=band.levels[:, ::-1], copper=band.copper[:, ::-1])
    other = best_marks(turned, arc[::-1], slack)
    if min(other.tube_mark, other.cup_mark) >= 0.8:
        raise EndsSwapped(
            "tube end and cup face look swapped",
            got="the mouth of the cup at the tube end",
            expected="the tube end inside the fitting, the cup face at its mouth",
            do="Give the two ends the other way round.",
        )


def _moved(given: Ends, band: Band, arc: np.ndarray, marks: Marks) -> Ends:
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


def _point(band: Band, arc: np.ndarray, column: float) -> Point:
    columns = np.arange(arc.size)
    x, y = (float(np.interp(column, columns, band.points[:, k])) for k in (0, 1))
    off = (float(np.interp(column, columns, arc)) - band.copper.shape[0] // 2) * band.step_px
    return x + off * float(band.across[0]), y + off * float(band.across[1])
