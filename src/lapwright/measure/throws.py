"""Throw the state of every run many times: the spread of the share that classes alone give.

Propagation of distributions (JCGM 101:2008, 5.9 and 7.7): a supposition about
the filler is thrown with its weight, then every run as yes or no under it, so
that runs which stand or fall together do so here too.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .classes import Classed
from .runs import Run
from .segments import state_of
from .settings import FaceSettings

THROWS = 4000
_SEED = 20  # a fixed sequence: the same picture gives the same interval


@dataclass(frozen=True)
class Spread:
    """Shares thrown, [-], shape (4000,): the sure runs thrown, and all runs; ``unsure`` share."""

    sure: np.ndarray
    every: np.ndarray
    unsure: float

    def interval(self, other_u: float, countings: tuple[float, float]) -> tuple[float, float]:
        """Return the 95 % interval, both ways of counting the unsure inside.

        Parameters
        ----------
        other_u : float
            Standard uncertainty of all but the classes, [-]; taken as normal.
        countings : tuple of float
            Share with every unsure stretch brazed, then unbrazed; always covered.
        """
        normal = np.random.default_rng(_SEED + 1).standard_normal(self.sure.size)
        low, high = np.quantile(self.sure + other_u * normal, [0.025, 0.975])
        # the mean holds remote throws that the interval leaves out: it keeps its own spread
        mean, half = float(self.every.mean()), 1.96 * other_u
        return (
            max(0.0, min(float(low), countings[0], mean - half)),
            min(1.0, max(float(high) + self.unsure, countings[1], mean + half)),
        )

    def class_doubt(self) -> float:
        """Return the standard deviation of the share from class doubt, [-].

        Throws beyond the 95 % interval of the classes are drawn in to its ends:
        a supposition of 1 % that turns the whole face over would otherwise
        state a spread many times wider than the interval beside it. So drawn
        in, the deviation is at most half the interval's width, as for any
        quantity that lies within two bounds.
        """
        low, high = np.quantile(self.sure, [0.025, 0.975])
        return float(np.clip(self.every, low, high + self.unsure).std())


def throw_runs(runs: list[Run], classed: Classed, steps: int, settings: FaceSettings) -> Spread:
    """Throw all runs of one face.

    Parameters
    ----------
    runs : list of Run
        In order from the tube end.
    classed : Classed
        Suppositions with their weights.
    steps : int
        Steps of the whole line.
    settings : FaceSettings
        Says below and above which probabilities a run is sure.
    """
    dice = np.random.default_rng(_SEED)
    length = np.array([(run.end - run.start) / steps for run in runs])
    doubtful = np.array([state_of(float(p), settings) == "unsure" for p in classed.unbrazed])
    which = dice.choice(classed.weight.size, THROWS, p=classed.weight)
    state = dice.random((THROWS, length.size)) < classed.under[which]
    return Spread(
        state @ np.where(doubtful, 0.0, length), state @ length, float(length[doubtful].sum())
    )
