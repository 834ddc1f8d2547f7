"""Quantiles of t, chi-square, F and beta, by bisection of their distribution functions.

Standard library only: a statistics package would add about 100 MB to what is
installed, for four functions. The incomplete beta function is summed as its
continued fraction (DLMF 8.17.22, modified Lentz), the incomplete gamma function
as series and continued fraction (DLMF 8.11.4 and 8.9.2). The tests compare every
function with an independent implementation to a relative 1e-9.
"""

from __future__ import annotations

import math
from collections.abc import Callable

from .errors import QuantileRefused

_TINY = 1e-300
_STEPS = 20000


def beta_cdf(x: float, a: float, b: float) -> float:
    """Regularised incomplete beta function I_x(a, b), [-].

    Parameters
    ----------
    x : float
        Between 0 and 1, [-].
    a, b : float
        Positive parameters, [-].
    """
    _positive(a, b)
    if not 0.0 <= x <= 1.0:
        raise _refused("a share outside 0 to 1", x, "0 to 1")
    return _beta_cdf(x, 1.0 - x, a, b)


def gamma_cdf(x: float, a: float) -> float:
    """Regularised lower incomplete gamma function P(a, x), [-].

    Parameters
    ----------
    x : float
        At least 0, [-].
    a : float
        Positive shape, [-].
    """
    _positive(a)
    if not 0.0 <= x < math.inf:
        raise _refused("a negative or infinite value", x, "0 or more")
    if x == 0.0:
        return 0.0
    front = math.exp(a * math.log(x) - x - math.lgamma(a))
    if x < a + 1.0:
        return min(1.0, front * _gamma_series(x, a))
    return max(0.0, 1.0 - front * _gamma_fraction(x, a))


def beta_quantile(p: float, a: float, b: float) -> float:
    """Quantile of the beta distribution, [-].

    Parameters
    ----------
    p : float
        Probability strictly between 0 and 1, [-].
    a, b : float
        Positive parameters, [-].

    Raises
    ------
    QuantileRefused
        For a probability or parameter out of range.
    """
    _probability(p)
    _positive(a, b)
    return _bisect(lambda x: _beta_cdf(x, 1.0 - x, a, b), p, 0.0, 1.0)


def chi2_quantile(p: float, df: float) -> float:
    """Quantile of the chi-square distribution, [-].

    Parameters
    ----------
    p : float
        Probability strictly between 0 and 1, [-].
    df : float
        Degrees of freedom, above 0, [-].

    Raises
    ------
    QuantileRefused
        For a probability or degrees of freedom out of range.

    Examples
    --------
    >>> round(chi2_quantile(0.95, 10), 3)
    18.307
    """
    _probability(p)
    _positive(df)
    high = max(1.0, df)
    while gamma_cdf(high / 2, df / 2) < p:
        high *= 2.0
    return _bisect(lambda x: gamma_cdf(x / 2, df / 2), p, 0.0, high)


def f_quantile(p: float, df1: float, df2: float) -> float:
    """Quantile of the F distribution, [-].

    Parameters
    ----------
    p : float
        Probability strictly between 0 and 1, [-].
    df1, df2 : float
        Degrees of freedom of numerator and denominator, above 0, [-].

    Raises
    ------
    QuantileRefused
        For a probability or degrees of freedom out of range.

    Examples
    --------
    >>> round(f_quantile(0.95, 3, 10), 3)
    3.708
    """
    x, rest = _both_sides(p, df1 / 2, df2 / 2)
    return df2 * x / (df1 * rest)


def f_tail(value: float, df1: float, df2: float) -> float:
    """Probability that an F variable is larger than ``value``, [-].

    Parameters
    ----------
    value : float
        At least 0, [-].
    df1, df2 : float
        Degrees of freedom of numerator and denominator, above 0, [-].
    """
    _positive(df1, df2)
    if not 0.0 <= value < math.inf:
        raise _refused("a negative or infinite value", value, "0 or more")
    whole = df1 * value + df2
    return _beta_cdf(df2 / whole, df1 * value / whole, df2 / 2, df1 / 2)


def t_quantile(p: float, df: float) -> float:
    """Quantile of Student's t distribution, [-].

    Parameters
    ----------
    p : float
        Probability strictly between 0 and 1, [-].
    df : float
        Degrees of freedom, above 0, [-].

    Raises
    ------
    QuantileRefused
        For a probability or degrees of freedom out of range.

    Examples
    --------
    >>> round(t_quantile(0.975, 16), 3)
    2.12
    """
    _probability(p)
    _positive(df)
    tail = 2.0 * min(p, 1.0 - p)
    if tail >= 1.0:
        return 0.0
    rest, x = _both_sides(1.0 - tail, 0.5, df / 2)
    return math.copysign(math.sqrt(df * rest / x), p - 0.5)


def clopper_pearson(hits: int, trials: int, *, level: float = 0.95) -> tuple[float, float]:
    """Exact two-sided interval for a share of counts (Clopper and Pearson 1934), [-].

    Parameters
    ----------
    hits : int
        How often it happened.
    trials : int
        Out of how many, at least 1.
    level : float, optional
        Confidence, [-].

    Raises
    ------
    QuantileRefused
        Unless 0 <= ``hits`` <= ``trials`` and ``trials`` is above 0.

    Examples
    --------
    >>> [round(v, 4) for v in clopper_pearson(0, 30)]
    [0.0, 0.1157]
    """
    if not 0 <= hits <= trials or trials < 1:
        raise _refused("counts that do not fit", f"{hits} of {trials}", "0 to all, of at least 1")
    half = (1.0 - level) / 2
    low = 0.0 if hits == 0 else beta_quantile(half, hits, trials - hits + 1)
    high = 1.0 if hits == trials else beta_quantile(1.0 - half, hits + 1, trials - hits)
    return low, high


def _both_sides(p: float, a: float, b: float) -> tuple[float, float]:
    """Return the beta quantile and its distance from 1, both to full relative precision."""
    _probability(p)
    _positive(a, b)
    if _beta_cdf(0.5, 0.5, a, b) >= p:
        x = _bisect(lambda v: _beta_cdf(v, 1.0 - v, a, b), p, 0.0, 0.5)
        return x, 1.0 - x
    rest = _bisect(lambda v: _beta_cdf(v, 1.0 - v, b, a), 1.0 - p, 0.0, 0.5)
    return 1.0 - rest, rest


def _beta_cdf(x: float, rest: float, a: float, b: float) -> float:
    if x <= 0.0:
        return 0.0
    if rest <= 0.0:
        return 1.0
    front = math.exp(
        math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b) + a * math.log(x) + b * math.log(rest)
    )
    if x < (a + 1.0) / (a + b + 2.0):
        return min(1.0, front * _beta_fraction(x, a, b) / a)
    return max(0.0, 1.0 - front * _beta_fraction(rest, b, a) / b)


def _beta_fraction(x: float, a: float, b: float) -> float:
    c, d = 1.0, 1.0 / _away(1.0 - (a + b) * x / (a + 1.0))
    value = d
    for m in range(1, _STEPS):
        for term in (
            m * (b - m) * x / ((a + 2 * m - 1.0) * (a + 2 * m)),
            -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1.0)),
        ):
            d = 1.0 / _away(1.0 + term * d)
            c = _away(1.0 + term / c)
            value *= c * d
        if abs(c * d - 1.0) < 1e-15:
            break
    return value


def _gamma_series(x: float, a: float) -> float:
    term = total = 1.0 / a
    for n in range(1, _STEPS):
        term *= x / (a + n)
        total += term
        if term < total * 1e-16:
            break
    return total


def _gamma_fraction(x: float, a: float) -> float:
    b = x + 1.0 - a
    c, d = 1.0 / _TINY, 1.0 / _away(b)
    value = d
    for n in range(1, _STEPS):
        term = -n * (n - a)
        b += 2.0
        d = 1.0 / _away(term * d + b)
        c = _away(b + term / c)
        value *= c * d
        if abs(c * d - 1.0) < 1e-15:
            break
    return value


def _bisect(function: Callable[[float], float], p: float, low: float, high: float) -> float:
    for _ in range(2000):
        middle = (low + high) / 2
        if middle in (low, high):
            break
        if function(middle) < p:
            low = middle
        else:
            high = middle
    return high


def _away(value: float) -> float:
    return value if abs(value) > _TINY else _TINY


def _positive(*values: float) -> None:
    for value in values:
        if not 0.0 < value < math.inf:
            raise _refused("degrees of freedom or a parameter out of range", value, "above 0")


def _probability(p: float) -> None:
    if not 0.0 < p < 1.0:
        raise _refused("not a probability to invert", p, "strictly between 0 and 1")


def _refused(what: str, got: object, expected: str) -> QuantileRefused:
    return QuantileRefused(
        what, got=str(got), expected=expected, do="Give the study more faces or readings."
    )
