"""Clearance along the line: how far apart the two members lie at every stretch.

Blur and the coarser colour of JPEG files widen a thin gap. By how much is not
known from the picture, so the width counts as anything between the apparent one
and the one that the largest widening would leave; what is reported is the middle
of these, and a gap of which less than half may be real is *limited by the
picture*. The numbers are our own choice on the tuning stream of drawn faces, no
source.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import Any

import numpy as np

STRETCHES = 32
MARGIN = 0.04  # of the overlap at both ends: rounded tube ends and chamfered mouths
WIDENING_PX = 4.6  # of a thin gap, by lens and file: apparent^2 = true^2 + widening^2 at most
HALF_HEIGHT_U_PX = 0.5
LEAST_SEEN = 0.5  # of the columns of a stretch


def stretch_edges() -> np.ndarray:
    """Return the ends of the stretches, shares of the overlap, shape (STRETCHES + 1,)."""
    return np.linspace(MARGIN, 1 - MARGIN, STRETCHES + 1)


def stretch_places() -> np.ndarray:
    """Return the middles of the stretches, shares of the overlap."""
    edges = stretch_edges()
    return np.asarray((edges[1:] + edges[:-1]) / 2)


def by_stretch(at: np.ndarray, series: np.ndarray) -> np.ndarray:
    """Return the median of a series in every stretch, NaN where too little of it is known.

    Parameters
    ----------
    at : ndarray of float, shape (n,)
        Places, shares of the overlap.
    series : ndarray of float, shape (n,)
        Values, NaN where unknown.
    """
    found = []
    for low, high in itertools.pairwise(stretch_edges()):
        part = series[(at >= low) & (at < high)]
        known = part[np.isfinite(part)]
        plain = known.size >= max(3, LEAST_SEEN * part.size)
        found.append(float(np.median(known)) if plain else math.nan)
    return np.array(found)


@dataclass(frozen=True)
class Width:
    """A width of the gap, [px], its standard uncertainty, and its place as a share."""

    width_px: float
    u_px: float
    at: float

    def as_dict(self, px_per_mm: float | None) -> dict[str, Any]:
        """Return the parts for JSON; mm only with a scale."""
        mm = None if px_per_mm is None else self.width_px / px_per_mm
        u_mm = None if px_per_mm is None else self.u_px / px_per_mm
        return {"px": self.width_px, "u_px": self.u_px, "mm": mm, "u_mm": u_mm, "at": self.at}


@dataclass(frozen=True)
class Clearance:
    """Clearance along the line.

    ``state`` is ``measured``, ``limited-by-the-picture`` or ``not-measured``.
    ``profile_px`` (STRETCHES) holds NaN where no gap shows between the members.
    """

    state: str
    profile_px: tuple[float, ...] = ()
    median: Width | None = None
    least: Width | None = None
    most: Width | None = None

    def as_dict(self, px_per_mm: float | None) -> dict[str, Any]:
        """Return the parts for JSON; mm only with a scale."""
        named = {"median": self.median, "min": self.least, "max": self.most}
        parts = {k: None if w is None else w.as_dict(px_per_mm) for k, w in named.items()}
        profile = [None if math.isnan(v) else v for v in self.profile_px]
        return {"state": self.state, **parts, "profile_px": profile}


def corrected(apparent_px: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return widths without the likely widening, and their standard uncertainty, [px].

    Parameters
    ----------
    apparent_px : ndarray of float
        Widths at half height.

    Examples
    --------
    >>> width, u = corrected(np.array([4.6, 20.0]))
    >>> [f"{v:.2f}" for v in (*width, *u)]
    ['2.30', '19.73', '1.42', '0.52']
    """
    least = np.sqrt(np.maximum(apparent_px**2 - WIDENING_PX**2, 0))
    doubt = (apparent_px - least) / math.sqrt(12)  # anywhere between both, JCGM 100:2008, 4.3.7
    return (apparent_px + least) / 2, np.hypot(doubt, HALF_HEIGHT_U_PX)


def measure_clearance(apparent_px: np.ndarray) -> Clearance:
    """Return the clearance from the apparent width of the gap in every stretch.

    Parameters
    ----------
    apparent_px : ndarray of float, shape (STRETCHES,)
        Widths at half height, NaN where no gap shows.
    """
    known = np.flatnonzero(np.isfinite(apparent_px))
    if known.size < STRETCHES // 4:
        return Clearance("not-measured", tuple(float(v) for v in apparent_px))
    width, u = corrected(apparent_px)
    middle = float(np.median(apparent_px[known]))
    usual, usual_u = corrected(np.array([middle]))
    limited = math.sqrt(max(middle**2 - WIDENING_PX**2, 0)) < middle / 2
    places = stretch_places()
    low, high = (int(known[f(width[known])]) for f in (np.argmin, np.argmax))
    nearest = int(known[np.abs(apparent_px[known] - middle).argmin()])
    return Clearance(
        "limited-by-the-picture" if limited else "measured",
        tuple(float(v) for v in width),
        Width(float(usual[0]), float(usual_u[0]), float(places[nearest])),
        Width(float(width[low]), float(u[low]), float(places[low])),
        Width(float(width[high]), float(u[high]), float(places[high])),
    )
