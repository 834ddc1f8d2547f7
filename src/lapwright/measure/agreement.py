"""Limits of agreement of two ways of reading the same faces.

Bland and Altman 1986 and 1999 (from memory): the mean of the differences is the
bias, and about 95 % of the differences of two single readings lie within
bias +/- 1.96 s. Where a face was read several times the means are compared and
the spread is brought back to that of single readings (1999, section 5). The
confidence limits of a limit rest on ``s^2/n + 1.96^2 s^2 / (2 nu)`` (1999,
section 2) and Student's t.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from .errors import StudyTooSmall
from .quantiles import t_quantile

Z95 = 1.96
Interval = tuple[float, float]


@dataclass(frozen=True)
class Agreement:
    """Bias and limits of agreement, first minus second, as shares of the overlap.

    ``s`` is the standard deviation of differences of single readings and ``df``
    its degrees of freedom; intervals are of 95 % confidence; ``means`` and
    ``differences`` are those of each face, in the given order; ``averaged_away`` is
    the variance that averaging repeated readings took out of the differences.
    """

    faces: int
    bias: float
    bias_interval: Interval
    s: float
    df: float
    lower: float
    lower_interval: Interval
    upper: float
    upper_interval: Interval
    means: tuple[float, ...]
    differences: tuple[float, ...]
    averaged_away: float = 0.0

    @property
    def half_width(self) -> float:
        """Half the distance between the limits: 1.96 s."""
        return Z95 * self.s


def limits_of_agreement(
    first: Sequence[Sequence[float]], second: Sequence[Sequence[float]]
) -> Agreement:
    """Bias and 95 % limits of agreement of two readers or two ways of reading.

    Parameters
    ----------
    first, second : sequence of sequence of float
        For each face the readings by the first and by the second, [-]; the same
        faces in the same order, at least one reading each.

    Raises
    ------
    StudyTooSmall
        With fewer than three faces.

    Notes
    -----
    ``s^2 = var(mean differences) + (1 - mean(1/m)) s_w^2`` for either side, with
    ``m`` readings a face and ``s_w`` the spread within faces; degrees of freedom
    by Welch and Satterthwaite (JCGM 100:2008, G.4.1).

    Examples
    --------
    >>> result = limits_of_agreement([[0.10], [0.21], [0.29]], [[0.11], [0.20], [0.31]])
    >>> round(result.bias, 4), round(result.half_width, 4)
    (-0.0067, 0.0299)
    """
    n = len(first)
    if n < 3:
        raise StudyTooSmall(
            "too few faces for limits of agreement",
            got=f"faces read by both: {n}",
            expected="at least 3",
            do="Have more faces read by both.",
        )
    pairs = [(_mean(a), _mean(b)) for a, b in zip(first, second, strict=True)]
    differences = tuple(a - b for a, b in pairs)
    bias = _mean(differences)
    between = math.fsum((d - bias) ** 2 for d in differences) / (n - 1)
    parts = [(between, n - 1), _repeats(first), _repeats(second)]
    variance = math.fsum(v for v, _ in parts)
    df = variance**2 / math.fsum(v**2 / nu for v, nu in parts if nu) if variance > 0 else n - 1.0
    return _result(pairs, differences, between, variance, df)


def _result(
    pairs: list[tuple[float, float]],
    differences: tuple[float, ...],
    between: float,
    variance: float,
    df: float,
) -> Agreement:
    n, bias, s = len(differences), _mean(differences), math.sqrt(variance)
    reach = t_quantile(0.975, n - 1) * math.sqrt(between / n)
    edge = t_quantile(0.975, df) * math.sqrt(between / n + Z95**2 * variance / (2 * df))
    lower, upper = bias - Z95 * s, bias + Z95 * s
    return Agreement(
        faces=n,
        bias=bias,
        bias_interval=(bias - reach, bias + reach),
        s=s,
        df=df,
        lower=lower,
        lower_interval=(lower - edge, lower + edge),
        upper=upper,
        upper_interval=(upper - edge, upper + edge),
        means=tuple((a + b) / 2 for a, b in pairs),
        differences=differences,
        averaged_away=max(0.0, variance - between),
    )


def _repeats(rows: Sequence[Sequence[float]]) -> tuple[float, int]:
    """Return what averaging took away from the variance, and its degrees of freedom."""
    df = sum(len(row) - 1 for row in rows)
    if not df:
        return 0.0, 0
    within = math.fsum((v - _mean(row)) ** 2 for row in rows for v in row) / df
    return (1 - math.fsum(1 / len(row) for row in rows) / len(rows)) * within, df


def _mean(values: Sequence[float]) -> float:
    return math.fsum(values) / len(values)
