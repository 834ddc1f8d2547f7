"""A reader's cumulative sums: small, lasting departures from the others, and since when.

The tabular CUSUM (Page 1954; NIST/SEMATECH e-Handbook of Statistical Methods,
6.3.2.3; both from memory) adds up what each difference exceeds the target by more
than a slack, upwards and downwards, and never falls below zero. A sum over the
decision interval is a signal; it began where the sum last left zero.

Slack 0.5 s and decision interval 5 s are usual figures: about 465 differences
between false signals and about 10 until a shift of one s is signalled (Montgomery,
Introduction to Statistical Quality Control, from memory; the tests reckon both
again). They hold for independent, normal differences and a known s.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from .errors import ChartRefused, StudyTooSmall

SLACK = 0.5  # of s
DECISION = 5.0  # of s
RANGE_OF_TWO = 1.128  # mean range of two normal values over s: e-Handbook 6.3.2.2, from memory
LEAST = 10  # differences; common practice, no source


@dataclass(frozen=True)
class Signal:
    """A sum over the decision interval: where, since which place, ``high`` or ``low``."""

    at: int
    began: int
    side: str


@dataclass(frozen=True)
class Cusum:
    """Upper and lower sums, never negative, in the unit of the values.

    ``signals`` holds the first signal of each departure, in order.
    """

    target: float
    slack: float
    decision: float
    high: tuple[float, ...]
    low: tuple[float, ...]

    @property
    def signals(self) -> tuple[Signal, ...]:
        """The first place over the decision interval of each departure from zero."""
        first: dict[tuple[str, int], Signal] = {}
        for side, sums in (("high", self.high), ("low", self.low)):
            for at in (i for i, v in enumerate(sums) if v > self.decision):
                began = _began(sums, at)
                first.setdefault((side, began), Signal(at, began, side))
        return tuple(sorted(first.values(), key=lambda s: s.at))


@dataclass(frozen=True)
class ReaderChart:
    """One reader's sums against time; sums in units of ``s``, ``s`` as a share.

    ``days`` are in order, each once; ``differences`` are the means of each day's,
    ``readings`` the number of differences behind them.
    """

    days: tuple[int, ...]
    differences: tuple[float, ...]
    s: float
    cusum: Cusum
    readings: int

    @property
    def seen(self) -> str:
        """``yes`` when a sum passed the decision interval, else ``no``."""
        return "yes" if self.cusum.signals else "no"


def tabular_cusum(
    values: Sequence[float], *, target: float, slack: float, decision: float
) -> Cusum:
    """Add up departures from a target.

    Parameters
    ----------
    values : sequence of float
        In order of time.
    target : float
        What the values should be, in their unit.
    slack : float
        Departure that is not counted, in the same unit, 0 or more.
    decision : float
        Decision interval, in the same unit, above 0.

    Raises
    ------
    ChartRefused
        For a slack or an interval that is none.

    Notes
    -----
    ``S+ = max(0, S+ + x - target - slack)``, ``S- = max(0, S- + target - slack - x)``.

    Examples
    --------
    >>> tabular_cusum([1.0, 2.0, 3.0], target=0.0, slack=0.5, decision=2.5).high
    (0.5, 2.0, 4.5)
    """
    if not (0 <= slack < math.inf and 0 < decision < math.inf):
        raise ChartRefused(
            "a chart without slack and decision interval",
            got=f"slack {slack:g}, decision interval {decision:g}",
            expected="slack 0 or more, decision interval above 0",
            do="Give readings whose differences vary.",
        )
    high, low = [0.0], [0.0]
    for x in values:
        high.append(max(0.0, high[-1] + x - target - slack))
        low.append(max(0.0, low[-1] + target - slack - x))
    return Cusum(target, slack, decision, tuple(high[1:]), tuple(low[1:]))


def chart_reader(days: Sequence[int], differences: Sequence[float]) -> ReaderChart:
    """Chart a reader's differences from the others against no difference.

    Parameters
    ----------
    days : sequence of int
        Day number of each difference, [d]; those of one day count as their mean.
    differences : sequence of float
        The reader's reading less the median of the others on that face, [-].

    Raises
    ------
    StudyTooSmall
        With differences on fewer than ten days.
    ChartRefused
        If the differences do not vary, so that there is no s.

    Notes
    -----
    Nothing says which reading of a day came first, so a day is one point and the order
    of the rows changes nothing. ``s`` is the mean range of neighbours over 1.128, so
    that a slow drift does not widen the scale that it is held against. The target is
    zero: a lasting habit raises the sum as a drift does; the slope tells them apart.
    """
    by_day = _by_day(days, differences)
    if len(by_day) < LEAST:
        raise StudyTooSmall(
            "too few days with readings for a chart of sums",
            got=f"differences: {len(days)}, days: {len(by_day)}",
            expected=f"at least {LEAST} days, each with a face that others have read",
            do="Read faces on more days and give each reading its date.",
        )
    values = list(by_day.values())
    s = math.fsum(abs(b - a) for a, b in pairwise(values)) / (len(values) - 1) / RANGE_OF_TWO
    if s <= 1e-12:
        raise ChartRefused(
            "differences that do not vary",
            got=f"{len(days)} differences of {values[0]:.4f}",
            expected="differences with a spread of their own",
            do="Look whether the readings were copied from one another.",
        )
    sums = tabular_cusum([v / s for v in values], target=0.0, slack=SLACK, decision=DECISION)
    return ReaderChart(tuple(by_day), tuple(values), s, sums, len(days))


def _by_day(days: Sequence[int], differences: Sequence[float]) -> dict[int, float]:
    """Return the mean difference of each day, in order of the days."""
    grouped: dict[int, list[float]] = {}
    for day, value in zip(days, differences, strict=True):
        grouped.setdefault(day, []).append(value)
    return {day: math.fsum(v) / len(v) for day, v in sorted(grouped.items())}


def _began(sums: Sequence[float], at: int) -> int:
    """Return the first place after the sum was last zero."""
    return next((i + 1 for i in range(at, -1, -1) if sums[i] <= 0), 0)
