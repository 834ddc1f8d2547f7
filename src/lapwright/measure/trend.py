"""Proportional bias: whether the difference of two ways of reading grows with the level.

Bland and Altman 1999, section 3.2 (from memory): the differences are regressed on
the means, and the absolute residuals on the means again. Where a slope is seen,
one pair of limits does not hold for every level: the bias is then read off the
line, and, where the spread grows too, the limits are ``line +/- 1.96 sqrt(pi/2)``
times the fitted absolute residual. Nothing is taken from a line that is not seen.

A slope on the mean can also come from two ways of unequal spread on a narrow range
of levels; `lapwright.measure.deming` is the check on that.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from .agreement import Z95, Agreement, Interval
from .errors import NoLineRefused
from .quantiles import f_tail, t_quantile

_t = cache(t_quantile)
OF_ABSOLUTE = math.sqrt(math.pi / 2)  # s over the mean absolute residual, of a normal law
NO_SPREAD = 1e-9  # levels nearer than this are one level
ROUNDING = 1e-12  # a slope of less over all levels is the rounding of binary numbers


@dataclass(frozen=True)
class Line:
    """A straight line by least squares, with what its intervals need.

    ``s`` is the standard deviation of the residuals, ``df`` their degrees of
    freedom; ``level`` and ``spread`` are mean and sum of squares of the abscissae.
    """

    level: float
    spread: float
    middle: float
    slope: float
    s: float
    df: int

    @property
    def slope_interval(self) -> Interval:
        """The 95 % interval of the slope (Student's t)."""
        reach = _t(0.975, self.df) * self.s / math.sqrt(self.spread)
        return self.slope - reach, self.slope + reach

    @property
    def p(self) -> float:
        """Two-sided probability of a slope as large where there is none."""
        if self.s <= 0:
            return 0.0 if abs(self.slope) * math.sqrt(self.spread) > ROUNDING else 1.0
        return f_tail(self.slope**2 * self.spread / self.s**2, 1, self.df)

    @property
    def seen(self) -> str:
        """``yes`` when the interval of the slope leaves zero out, else ``no``."""
        low, high = self.slope_interval
        plain = abs(self.slope) * math.sqrt(self.spread) > ROUNDING
        return "yes" if plain and (low > 0 or high < 0) else "no"

    def at(self, level: float) -> float:
        """Return the line at a level."""
        return self.middle + self.slope * (level - self.level)

    def interval_at(self, level: float) -> Interval:
        """Return the 95 % interval of the line at a level."""
        share = 1 / (self.df + 2) + (level - self.level) ** 2 / self.spread
        reach = _t(0.975, self.df) * self.s * math.sqrt(share)
        return self.at(level) - reach, self.at(level) + reach


@dataclass(frozen=True)
class Trend:
    """Bias and limits of agreement as functions of the level, shares of the overlap.

    ``line`` is that of the differences, ``spread`` that of the absolute residuals
    from what is used as the bias; ``plain`` are bias and limits without a trend.
    """

    plain: Agreement
    line: Line
    spread: Line

    @property
    def seen(self) -> str:
        """``yes`` when bias or spread depends on the level, else ``no``."""
        return "yes" if "yes" in (self.line.seen, self.spread.seen) else "no"

    def bias_at(self, level: float) -> float:
        """Return the bias at a level; the mean difference where no slope is seen."""
        return self.line.at(level) if self.line.seen == "yes" else self.plain.bias

    def bias_interval_at(self, level: float) -> Interval:
        """Return the 95 % interval of the bias at a level."""
        if self.line.seen == "yes":
            return self.line.interval_at(level)
        return self.plain.bias_interval

    def half_width_at(self, level: float) -> float:
        """Return half the distance between the limits at a level, of single readings."""
        if self.spread.seen == "yes":
            s = OF_ABSOLUTE * max(0.0, self.spread.at(level))
        elif self.line.seen == "yes":
            s = self.line.s
        else:
            return self.plain.half_width
        return Z95 * math.sqrt(s * s + self.plain.averaged_away)

    def limits_at(self, level: float) -> Interval:
        """Return the 95 % limits of agreement at a level."""
        bias, half = self.bias_at(level), self.half_width_at(level)
        return bias - half, bias + half


def fit_trend(plain: Agreement) -> Trend:
    """Regress differences and their absolute residuals on the means.

    Parameters
    ----------
    plain : Agreement
        Bias and limits without a trend, with means and differences of each face.

    Raises
    ------
    NoLineRefused
        If all faces lie at one level.

    Examples
    --------
    >>> from lapwright.measure.agreement import limits_of_agreement
    >>> levels = [0.05, 0.10, 0.15, 0.20, 0.25, 0.30]
    >>> read = [0.0551, 0.1099, 0.1652, 0.2198, 0.2751, 0.3300]
    >>> trend = fit_trend(limits_of_agreement([[v] for v in read], [[v] for v in levels]))
    >>> trend.line.seen, round(trend.line.slope, 3), round(trend.bias_at(0.20), 4)
    ('yes', 0.095, 0.0191)
    """
    line = fit_line(plain.means, plain.differences)
    pairs = list(zip(plain.means, plain.differences, strict=True))
    if line.seen == "yes":
        left = [abs(d - line.at(m)) for m, d in pairs]
    else:
        left = [abs(d - plain.bias) for _, d in pairs]
    return Trend(plain, line, fit_line(plain.means, left))


def fit_line(levels: Sequence[float], values: Sequence[float]) -> Line:
    """Fit a straight line by ordinary least squares.

    Parameters
    ----------
    levels, values : sequence of float
        Abscissae and ordinates, three or more, [-].

    Raises
    ------
    NoLineRefused
        With fewer than three points, or all at one level.
    """
    n = len(levels)
    level = math.fsum(levels) / max(1, n)
    spread = math.fsum((v - level) ** 2 for v in levels)
    if n < 3 or spread <= n * NO_SPREAD**2:
        raise NoLineRefused(
            "no line can be laid through these readings",
            got=f"{n} face(s) on {len({round(v, 9) for v in levels})} level(s)",
            expected="at least 3 faces of different shares",
            do="Have faces read from nearly sound to over the limit.",
        )
    middle = math.fsum(values) / n
    slope = (
        math.fsum((a - level) * (v - middle) for a, v in zip(levels, values, strict=True)) / spread
    )
    left = math.fsum(
        (v - middle - slope * (a - level)) ** 2 for a, v in zip(levels, values, strict=True)
    )
    return Line(level, spread, middle, slope, math.sqrt(left / (n - 2)), n - 2)
