"""A straight line between two ways of reading that both err (Deming regression).

Ordinary regression of one way on the other flattens the line, because it takes
the abscissae as exact; regression of the difference on the mean tilts it where
the two ways differ in spread. Deming's line (Deming 1943; Linnet 1990 and 1993 for
the jackknifed interval; all from memory) weighs both errors by the ratio of their
variances. The ratio comes from repeated readings where both ways have them; else
it is taken as one, and that is said.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from .agreement import Interval
from .errors import NoLineRefused
from .quantiles import t_quantile

_t = cache(t_quantile)
Rows = Sequence[Sequence[float]]


@dataclass(frozen=True)
class Deming:
    """First against second: slope and intercept with jackknifed 95 % intervals.

    ``ratio`` is the variance of the first way's errors over that of the second's;
    ``ratio_from`` says whether it came from ``repeats`` or was ``assumed``.
    """

    faces: int
    slope: float
    slope_interval: Interval
    intercept: float
    intercept_interval: Interval
    ratio: float
    ratio_from: str

    @property
    def seen(self) -> str:
        """``yes`` when the interval of the slope leaves one out, else ``no``."""
        low, high = self.slope_interval
        return "yes" if low > 1 or high < 1 else "no"


def fit_deming(first: Rows, second: Rows) -> Deming:
    """Lay Deming's line through the faces' means.

    Parameters
    ----------
    first, second : sequence of sequence of float
        For each face the readings by the first and by the second, [-]; the same
        faces in the same order.

    Raises
    ------
    NoLineRefused
        With fewer than four faces, or where the two ways do not vary together.

    Notes
    -----
    ``b = (Syy - r Sxx + sqrt((Syy - r Sxx)^2 + 4 r Sxy^2)) / (2 Sxy)`` with ``r`` the
    ratio of error variances of y and x; Student's t with n - 2 degrees of freedom.

    Examples
    --------
    >>> line = fit_deming([[0.12], [0.23], [0.34], [0.45]], [[0.1], [0.2], [0.3], [0.4]])
    >>> round(line.slope, 6), line.ratio_from, line.seen
    (1.1, 'assumed', 'yes')
    """
    ys, xs = [_mean(row) for row in first], [_mean(row) for row in second]
    n = len(xs)
    ratio, source = _ratio(first, second)
    if n < 4:
        raise _refused(n)
    slope, intercept = _line(xs, ys, ratio)
    parts = [_line(xs[:i] + xs[i + 1 :], ys[:i] + ys[i + 1 :], ratio) for i in range(n)]
    return Deming(
        n,
        slope,
        _jackknifed(slope, [b for b, _ in parts]),
        intercept,
        _jackknifed(intercept, [a for _, a in parts]),
        ratio,
        source,
    )


def _line(xs: Sequence[float], ys: Sequence[float], ratio: float) -> tuple[float, float]:
    x, y = _mean(xs), _mean(ys)
    sxx = math.fsum((v - x) ** 2 for v in xs)
    syy = math.fsum((v - y) ** 2 for v in ys)
    sxy = math.fsum((a - x) * (b - y) for a, b in zip(xs, ys, strict=True))
    if sxy <= 1e-12 * math.sqrt(sxx * syy) or sxx <= len(xs) * 1e-18:
        raise _refused(len(xs))
    part = syy - ratio * sxx
    slope = (part + math.sqrt(part * part + 4 * ratio * sxy * sxy)) / (2 * sxy)
    return slope, y - slope * x


def _jackknifed(whole: float, left_out: Sequence[float]) -> Interval:
    n = len(left_out)
    pseudo = [n * whole - (n - 1) * v for v in left_out]
    middle = _mean(pseudo)
    s = math.sqrt(math.fsum((v - middle) ** 2 for v in pseudo) / (n - 1))
    reach = _t(0.975, n - 2) * s / math.sqrt(n)
    return whole - reach, whole + reach


def _ratio(first: Rows, second: Rows) -> tuple[float, str]:
    one, two = _error(first), _error(second)
    if one > 0 and two > 0:
        return one / two, "repeats"
    return 1.0, "assumed"


def _error(rows: Rows) -> float:
    """Return the variance of a face's mean from its repeats; 0 without any."""
    df = sum(len(row) - 1 for row in rows)
    if not df:
        return 0.0
    within = math.fsum((v - _mean(row)) ** 2 for row in rows for v in row) / df
    return within * math.fsum(1 / len(row) for row in rows) / len(rows)


def _refused(n: int) -> NoLineRefused:
    return NoLineRefused(
        "no line can be laid through these readings",
        got=f"{n} face(s) whose two readings do not rise together",
        expected="at least 4 faces of different shares, read alike by both",
        do="Have faces read from nearly sound to over the limit.",
    )


def _mean(values: Sequence[float]) -> float:
    return math.fsum(values) / len(values)
