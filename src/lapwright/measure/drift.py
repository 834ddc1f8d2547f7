"""A reader's drift: the slope of differences from the other readers against time.

Ordinary least squares with Student's t; differences of one reader from the mean
of the others on the same face. A drift that all readers share cannot be seen.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from .errors import StudyTooSmall
from .quantiles import t_quantile

DAYS = 30.0  # the slope is told for this many days


@dataclass(frozen=True)
class Drift:
    """Slope of a reader's differences, in shares of the overlap for 30 days.

    ``faces`` counts the differences, ``days`` the days between first and last;
    ``seen`` is ``yes`` when the 95 % interval leaves zero out, else ``no``.
    """

    faces: int
    days: int
    mean: float
    slope: float
    interval: tuple[float, float]

    @property
    def seen(self) -> str:
        """``yes`` when the interval leaves zero out, else ``no``."""
        low, high = self.interval
        return "yes" if low > 0 or high < 0 else "no"


def fit_drift(days: Sequence[int], differences: Sequence[float]) -> Drift:
    """Fit a straight line to a reader's differences.

    Parameters
    ----------
    days : sequence of int
        Day number of each difference, [d].
    differences : sequence of float
        The reader's reading less the mean of the others on that face, [-].

    Raises
    ------
    StudyTooSmall
        With fewer than three differences, or all on one day.

    Examples
    --------
    >>> drift = fit_drift([0, 30, 60, 90], [0.000, 0.010, 0.021, 0.030])
    >>> round(drift.slope, 4), drift.seen
    (0.0101, 'yes')
    """
    n = len(days)
    if n < 3 or len(set(days)) < 2:
        raise StudyTooSmall(
            "too few dated readings for a drift",
            got=f"{n} on {len(set(days))} day(s)",
            expected="at least 3 on 2 days or more, of faces that others have read",
            do="Read faces over some weeks and give each reading its date.",
        )
    day, mean = math.fsum(days) / n, math.fsum(differences) / n
    spread = math.fsum((d - day) ** 2 for d in days)
    pairs = list(zip(days, differences, strict=True))
    slope = math.fsum((d - day) * (v - mean) for d, v in pairs) / spread
    left = math.fsum((v - mean - slope * (d - day)) ** 2 for d, v in pairs)
    reach = t_quantile(0.975, n - 2) * math.sqrt(left / (n - 2) / spread)
    return Drift(
        n,
        max(days) - min(days),
        mean,
        slope * DAYS,
        ((slope - reach) * DAYS, (slope + reach) * DAYS),
    )
