"""From classed runs to the segments of a face and their sums."""

from __future__ import annotations

import numpy as np

from .runs import Run
from .settings import FaceSettings
from .values import Segment


def join_segments(
    runs: list[Run], unbrazed: np.ndarray, steps: int, settings: FaceSettings
) -> tuple[Segment, ...]:
    """Join neighbouring runs of the same state.

    Parameters
    ----------
    runs : list of Run
        In order from the tube end.
    unbrazed : ndarray of float, shape (k,)
        Probability that each run holds no filler.
    steps : int
        Steps of the whole line.
    settings : FaceSettings
        Gives the probabilities below and above which a run is sure.
    """
    joined: list[list[float | str]] = []
    for run, chance in zip(runs, unbrazed, strict=True):
        state = state_of(float(chance), settings)
        weight = float(chance) * (run.end - run.start)
        if joined and joined[-1][2] == state:
            joined[-1][1] = run.end
            joined[-1][3] = float(joined[-1][3]) + weight
        else:
            joined.append([run.start, run.end, state, weight])
    return tuple(
        Segment(
            float(a) / steps,
            float(b) / steps,
            str(state),
            min(1.0, float(w) / (float(b) - float(a))),
        )
        for a, b, state, w in joined
    )


def state_of(chance: float, settings: FaceSettings) -> str:
    """Name the state of a probability of being unbrazed."""
    if chance <= settings.sure_brazed:
        return "brazed"
    return "unbrazed" if chance >= settings.sure_unbrazed else "unsure"


def expected_share(segments: tuple[Segment, ...]) -> float:
    """Expected unbrazed share: probability summed along the arc length, [-]."""
    return float(sum((s.end - s.start) * s.probability for s in segments))


def both_countings(segments: tuple[Segment, ...]) -> tuple[float, float]:
    """Unbrazed share with every unsure stretch counted as brazed, then as unbrazed, [-]."""
    sure = sum((s.end - s.start) * s.probability for s in segments if s.state != "unsure")
    return float(sure), float(sure + unsure_share(segments))


def unsure_share(segments: tuple[Segment, ...]) -> float:
    """Share of the overlap whose state is unsure, [-]."""
    return float(sum(s.end - s.start for s in segments if s.state == "unsure"))
