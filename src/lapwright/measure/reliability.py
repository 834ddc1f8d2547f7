"""How well stated probabilities hold: bins, Brier score, expected calibration error.

Brier 1950 and the reliability diagram of weather forecasters (from memory). A
position of a face is one forecast; positions of one face stand and fall
together, so the bounds of a bin come from drawing whole faces again.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from .values import Segment

EDGES = (0.0, 0.01, 0.15, 0.3, 0.5, 0.7, 0.85, 0.99, 1.0)  # sure below 0.15 and above 0.85
POSITIONS = 1000
_RESAMPLES = 400
_SEED = 7


@dataclass(frozen=True)
class Bin:
    """Positions with a stated probability between two edges.

    ``stated`` and ``true`` are means, [-]; ``bounds`` hold 95 % of the means of ``true`` when
    whole faces are drawn again, and are 0 and 1 where one face alone has such positions;
    ``faces`` says how many have.
    """

    low: float
    high: float
    positions: int
    faces: int
    stated: float
    true: float
    bounds: tuple[float, float]


@dataclass(frozen=True)
class Reliability:
    """Filled bins in order, mean squared error and expected calibration error, [-]."""

    bins: tuple[Bin, ...]
    brier: float
    calibration_error: float
    positions: int
    faces: int


def probability_at(segments: Sequence[Segment], at: np.ndarray) -> np.ndarray:
    """Return the probability of being unbrazed at places along the line, [-].

    Parameters
    ----------
    segments : sequence of Segment
        Whole line, from the tube end.
    at : ndarray of float, shape (n,)
        Shares of the overlap from the tube end; beyond an end counts its segment.
    """
    starts = np.array([s.start for s in segments])
    chance = np.array([s.probability for s in segments])
    which = np.searchsorted(starts, at, side="right") - 1
    return np.asarray(chance[np.clip(which, 0, chance.size - 1)])


def reliability(
    stated: np.ndarray, true: np.ndarray, *, kept: np.ndarray | None = None
) -> Reliability:
    """Sort forecasts into bins and compare them with what was so.

    Parameters
    ----------
    stated : ndarray of float, shape (f, n)
        Probability at each position of each face.
    true : ndarray of float, shape (f, n)
        1 where the position is unbrazed, else 0.
    kept : ndarray of bool, shape (f, n), optional
        Positions that count; all when left out.

    Raises
    ------
    ValueError
        Where no position counts.

    Notes
    -----
    The calibration error is the mean of the bins' distances, weighted by their positions.
    """
    chosen = np.ones(stated.shape, bool) if kept is None else kept
    total = int(chosen.sum())
    if total == 0:
        raise ValueError("no position to compare")
    which = np.clip(np.searchsorted(EDGES, stated, side="right") - 1, 0, len(EDGES) - 2)
    bins = tuple(
        _bin(edges, stated, true, chosen & (which == k))
        for k, edges in enumerate(itertools.pairwise(EDGES))
        if (chosen & (which == k)).any()
    )
    misfit = float(((stated - true)[chosen] ** 2).mean())
    gone = sum(abs(b.stated - b.true) * b.positions for b in bins) / total
    return Reliability(bins, misfit, gone, total, stated.shape[0])


def _bin(
    edges: tuple[float, float], stated: np.ndarray, true: np.ndarray, inside: np.ndarray
) -> Bin:
    counts, hits = inside.sum(axis=1), (true * inside).sum(axis=1)
    faces = int((counts > 0).sum())
    return Bin(
        *edges,
        int(counts.sum()),
        faces,
        float(stated[inside].mean()),
        float(hits.sum() / counts.sum()),
        _drawn_again(counts, hits) if faces > 1 else (0.0, 1.0),
    )


def _drawn_again(counts: np.ndarray, hits: np.ndarray) -> tuple[float, float]:
    dice = np.random.default_rng(_SEED)
    drawn = dice.integers(0, counts.size, (_RESAMPLES, counts.size))
    sizes, sums = counts[drawn].sum(axis=1), hits[drawn].sum(axis=1)
    low, high = np.quantile(sums[sizes > 0] / sizes[sizes > 0], [0.025, 0.975])
    return float(low), float(high)
