"""Wall of one member along the overlap, and whether a piece is eaten out of it.

A dip is judged against the even course of its own surface, never against a
table. The decision is that of a detection limit (Currie 1968; ISO 11929; both
from memory): a dip counts beyond the critical level ``k_alpha u``, and the
smallest depth found in 95 of 100 cases is ``(k_alpha + k_beta) u``. Because the
deepest of many stretches is looked at, the error of 5 % is shared among them;
for one stretch alone the limit would be the well-known ``3.29 u``. A short dip
shows about four fifths of its depth as the median of a stretch, so the limit is
stated for the depth of the dip itself.

A dip may raise a matter for a person. That none is seen clears nothing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from .clearance import STRETCHES, stretch_places

ERROR = 0.05  # of either kind, for the face as a whole
SURFACES = 4  # two walls with two surfaces each
LEAST_U_PX = {"outer": 0.15, "joint": 0.25}  # our own choice on the tuning stream, no source
FILL_U_OF_GAP = 0.03  # edges of the gap move with what fills it; our own choice, no source
MOST_OF_LINE = 0.5  # longer than that it is no dip but another wall
LEAST_KNOWN = 0.7  # of the stretches
SHOWN = 0.8  # of the depth of a dip shaped like half a wave and two stretches long


@dataclass(frozen=True)
class Surface:
    """The deepest dip of one surface of a wall, [px].

    ``at`` is its place as a share from the tube end, ``length`` its length as a share;
    ``state`` is ``raise`` or ``nothing-seen``.
    """

    name: str
    state: str
    dip_px: float
    at: float
    length: float
    u_px: float
    detectable_px: float


def detection(u_px: float) -> tuple[float, float]:
    """Return critical level and smallest detectable depth for the deepest of all stretches.

    Parameters
    ----------
    u_px : float
        Standard uncertainty of the depth in one stretch, [px].

    Examples
    --------
    >>> [round(v, 2) for v in detection(1.0)]
    [3.36, 6.26]
    """
    alpha = NormalDist().inv_cdf(1 - ERROR / (SURFACES * STRETCHES))
    beta = NormalDist().inv_cdf(1 - ERROR)
    return alpha * u_px, (alpha + beta) * u_px / SHOWN


def even_course(values: np.ndarray) -> np.ndarray:
    """Return the straight course of a series over the stretches, dips weighted down.

    Parameters
    ----------
    values : ndarray of float, shape (STRETCHES,)
        Distances, NaN where unknown.
    """
    places = stretch_places()
    known = np.isfinite(values)
    x, y = places[known], values[known]
    weight = np.ones(x.size)
    fit = np.array([0.0, float(np.median(y))])
    for _ in range(6):
        fit = np.polyfit(x, y, 1, w=np.sqrt(weight))
        miss = np.abs(y - np.polyval(fit, x))
        weight = 1 / (1 + (miss / (1.5 * float(np.median(miss)) + 0.02)) ** 2)
    return np.asarray(np.polyval(fit, places))


def outer_dips(own: np.ndarray, other: np.ndarray) -> np.ndarray:
    """Return how far an outer outline lies within its even course, [px].

    A traced line that strays brings one outline nearer and the other farther
    away by as much; what the other one gains is therefore no dip.

    Parameters
    ----------
    own, other : ndarray of float, shape (STRETCHES,)
        Distance of the two outer outlines from the line, [px].
    """
    inwards = even_course(own) - own
    if np.isfinite(other).sum() < LEAST_KNOWN * STRETCHES:
        return np.asarray(inwards)
    gain = np.nan_to_num(other - even_course(other))
    return np.asarray(inwards - np.maximum(gain, 0))


def joint_dips(own: np.ndarray, other: np.ndarray) -> np.ndarray:
    """Return how far the edge of the gap lies within its wall, [px].

    Parameters
    ----------
    own, other : ndarray of float, shape (STRETCHES,)
        Distance of both edges of the gap from the line, [px].
    """
    outwards = own - even_course(own)
    loss = np.nan_to_num(even_course(other) - other)
    return np.asarray(outwards - np.maximum(loss, 0))


def judge_surface(name: str, dips: np.ndarray, *, gap_px: float) -> Surface | None:
    """Judge the deepest dip of a surface; None where too little of it is known.

    Parameters
    ----------
    name : str
        ``outer`` or ``joint``.
    dips : ndarray of float, shape (STRETCHES,)
        Depths below the even course, [px].
    gap_px : float
        Width of the gap, [px].
    """
    known = np.isfinite(dips)
    if known.sum() < LEAST_KNOWN * STRETCHES:
        return None
    found = dips[known]
    scatter = 1.4826 * float(np.median(np.abs(found - np.median(found))))
    floor = LEAST_U_PX[name] + (FILL_U_OF_GAP * gap_px if name == "joint" else 0.0)
    u = math.hypot(scatter, floor)
    critical, detectable = detection(u)
    deepest = int(np.nanargmax(dips))
    depth = float(dips[deepest])
    length = _length(dips, deepest)
    raised = depth > critical and length <= MOST_OF_LINE
    at = float(stretch_places()[deepest])
    state = "raise" if raised else "nothing-seen"
    return Surface(name, state, depth, at, length, u, detectable)


def _length(dips: np.ndarray, deepest: int) -> float:
    """Return the length of a dip at half its depth, share of the overlap."""
    deep = np.nan_to_num(dips) > dips[deepest] / 2
    first = last = deepest
    while first > 0 and deep[first - 1]:
        first -= 1
    while last < deep.size - 1 and deep[last + 1]:
        last += 1
    places = stretch_places()
    return float((last - first + 1) * (places[1] - places[0]))
