"""A wide band of the picture along rough ends, with its copper and the row of the joint."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import cv2
import numpy as np

from .copper import copper_hue, copper_likeness, hues, lightness, not_darker
from .settings import FaceSettings
from .strip import chord_points, cut_strip, normals
from .trace import Bend, bends_of, best_arc, colour_planes, line_evidence
from .values import Point

COLUMNS = 480  # steps of the overlap in the wide band
PAD = 0.12  # of the overlap, beyond each end
REACH = 0.2  # of the overlap, to each side: walls are up to about that thick
SEARCH = 0.085  # of the overlap: how far off the chord the line is looked for


@dataclass(frozen=True)
class Band:
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

    @property
    def inside(self) -> slice:
        """Columns between the given ends."""
        return slice(self.first, self.last + 1)

    @property
    def searched(self) -> slice:
        """Rows in which the line is looked for."""
        rows = self.copper.shape[0]
        margin = max(0, rows // 2 - round(SEARCH * COLUMNS))
        return slice(margin, rows - margin)

    @cached_property
    def planes(self) -> np.ndarray:
        """Colour in logarithms, float32, shape (m, n, 3)."""
        return colour_planes(self.levels)

    @cached_property
    def bends(self) -> list[Bend]:
        """Second derivatives across the band between the ends, in the rows searched."""
        rows = self.searched.stop - self.searched.start
        return list(bends_of(self.planes[:, self.inside], rows))


def wide_band(pixels: np.ndarray, start: Point, end: Point) -> Band | None:
    """Straighten a wide band along two rough ends; None where it shows no copper.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (height, width, 3)
        The picture; not modified.
    start, end : tuple of float
        Tube end and cup face, roughly, [px].
    """
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
    light = lightness(levels)
    # median over the rows next to the chord, so that a gap does not count; even along it
    beside_it = cv2.blur(np.median(light[beside], axis=0)[None, :], (columns // 8 * 2 + 1, 1))[0]
    shade = not_darker(light, np.pad(beside_it, (pad, pad), mode="edge"))
    return Band(
        levels, copper_likeness(found, own) * shade, pad, pad + columns, step, points, across
    )


def joint_row(
    band: Band, near: tuple[float, float], slack: float, settings: FaceSettings
) -> np.ndarray:
    """Return the row of the joint in every column of the band, float, shape (n,).

    Parameters
    ----------
    band : Band
        From `wide_band`.
    near : tuple of float
        Rows where it is looked for at both ends.
    slack : float
        How far off it may lie there, in rows.
    settings : FaceSettings
        Numbers of the method.
    """
    inside, kept = band.inside, band.searched
    rows = band.copper.shape[0]
    chord = np.linspace(near[0], near[1], band.last + 1 - band.first)
    u = np.linspace(0, 1, chord.size)
    wide = slack + 0.012 * COLUMNS * (1 + 4 * u * (1 - u))
    place = 0.12 * ((np.arange(rows)[kept, None] - chord) / wide) ** 2
    evidence, scale = line_evidence(band.bends, np.exp(-3 * place))
    far = max(3, round(2.5 * scale))
    smooth = cv2.blur(band.copper[:, inside], (9, 3))
    both = np.minimum(np.roll(smooth, far, axis=0), np.roll(smooth, -far, axis=0))[kept]
    arc = best_arc(evidence * both, place, settings) + kept.start
    columns = np.arange(band.copper.shape[1])
    fit = np.polyfit(np.arange(band.first, band.last + 1), arc, 2)
    return np.asarray(np.polyval(fit, columns))
