"""Throw all named parts of a budget together: the Monte Carlo check of the closed form.

JCGM 101:2008 (clause numbers from memory): 7.9 adaptive procedure with a
numerical tolerance, 7.7 coverage intervals, 8 validation of the closed form of
JCGM 100:2008. Nothing here knows a picture: a *sampler* throws the quantity a
number of times, and `FaceModel` is the sampler of an unbrazed share.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from .budget import Positions

Sampler = Callable[[np.random.Generator, int], np.ndarray]
Interval = tuple[float, float]

BLOCK = 10_000  # throws of one sequence, JCGM 101:2008, 7.9.4: at least 10 000
COVERAGE = 0.95
REACH = 1.959963984540054  # 97.5 % point of the standard normal distribution
_SEED = 101


@dataclass(frozen=True)
class Tolerance:
    """When to stop: ``digits`` of the standard uncertainty that count, and the most throws.

    ``part`` of the numerical tolerance is to be reached; a fifth is asked for
    where a closed form is judged by the result (JCGM 101:2008, 8.2).
    """

    digits: int = 2
    part: float = 1.0
    most: int = 1_000_000


@dataclass(frozen=True)
class Thrown:
    """What the throws say of a quantity, in its own unit.

    ``symmetric`` is the probabilistically symmetric 95 % interval, ``shortest``
    the shortest one. ``errors`` are the standard errors of mean, ``u`` and the
    two ends of ``symmetric``; ``stable`` is ``yes`` where twice the largest of
    them lies within the tolerance asked for, else ``no``. ``drawn_in_u`` is ``u`` with the throws
    beyond ``symmetric`` drawn in to its ends, as the class doubt of a budget is.
    """

    mean: float
    u: float
    symmetric: Interval
    shortest: Interval
    throws: int
    errors: tuple[float, float, float, float]
    stable: str
    drawn_in_u: float


@dataclass(frozen=True)
class Verdict:
    """Closed form against throws, JCGM 101:2008, 8.1.

    ``delta`` is the numerical tolerance, ``low`` and ``high`` how far the ends of
    the two intervals lie apart; ``agrees`` is ``yes``, ``no``, or ``open`` where
    a difference is nearer to the tolerance than twice its own standard error.
    """

    delta: float
    low: float
    high: float
    agrees: str


def numerical_tolerance(u: float, *, digits: int = 2) -> float:
    """Return half a unit in the last of the ``digits`` of ``u`` that count, in its unit.

    Parameters
    ----------
    u : float
        Standard uncertainty, above 0.
    digits : int, optional
        How many of its digits count, 1 or more.

    Raises
    ------
    ValueError
        For a spread that is not above 0, or no digits.

    Notes
    -----
    ``u = c * 10**l`` with a whole ``c`` of that many digits; ``10**l / 2`` (JCGM 101:2008, 7.9.2).

    Examples
    --------
    >>> numerical_tolerance(0.00035), round(numerical_tolerance(2.0), 3)
    (5e-06, 0.05)
    """
    if not (0 < u < math.inf and digits >= 1):
        raise ValueError(f"no spread to take digits of: u {u}, digits {digits}")
    last = int(f"{u:.{digits - 1}e}".partition("e")[2]) - digits + 1
    return float(f"5e{last - 1}")


def throw(sampler: Sampler, tolerance: Tolerance = Tolerance(), *, seed: int = _SEED) -> Thrown:
    """Throw a quantity until its figures stand still, or ``tolerance.most`` is reached.

    Parameters
    ----------
    sampler : callable
        Takes a generator and a number n; returns n throws, shape (n,).
    tolerance : Tolerance, optional
        When to stop.
    seed : int, optional
        Of the generator; the same seed gives the same figures.

    Raises
    ------
    ValueError
        If fewer than two sequences of 10 000 throws are allowed.

    Notes
    -----
    Sequences of 10 000 throws; the spread of their means, deviations and interval
    ends gives the standard errors (JCGM 101:2008, 7.9.4). The figures returned
    are those of all throws together.
    """
    if tolerance.most < 2 * BLOCK:
        raise ValueError(f"{tolerance.most} throws: at least {2 * BLOCK} tell their own error")
    dice = np.random.default_rng(seed)
    blocks: list[np.ndarray] = []
    figures: list[tuple[float, ...]] = []
    while True:
        blocks.append(np.asarray(sampler(dice, BLOCK), float))
        low, high = _symmetric(blocks[-1])
        figures.append((float(blocks[-1].mean()), float(blocks[-1].std(ddof=1)), low, high))
        if len(blocks) < 2:
            continue
        errors = np.std(figures, axis=0, ddof=1) / math.sqrt(len(blocks))
        stable = _stable(float(np.mean(figures, axis=0)[1]), float(errors.max()), tolerance)
        if stable == "yes" or (len(blocks) + 1) * BLOCK > tolerance.most:
            return _summed(np.concatenate(blocks), errors, stable)


def _stable(u: float, error: float, tolerance: Tolerance) -> str:
    if u == 0:
        return "yes"
    allowed = tolerance.part * numerical_tolerance(u, digits=tolerance.digits)
    return "yes" if 2 * error <= allowed else "no"


def _summed(values: np.ndarray, errors: np.ndarray, stable: str) -> Thrown:
    spread, symmetric = float(values.std(ddof=1)), _symmetric(values)
    one, two, three, four = (float(e) for e in errors)
    return Thrown(
        float(values.mean()),
        spread,
        symmetric,
        shortest_interval(values),
        values.size,
        (one, two, three, four),
        stable,
        float(np.clip(values, *symmetric).std(ddof=1)),
    )


def _symmetric(values: np.ndarray) -> Interval:
    low, high = np.quantile(values, [(1 - COVERAGE) / 2, (1 + COVERAGE) / 2])
    return float(low), float(high)


def shortest_interval(values: np.ndarray) -> Interval:
    """Return the shortest interval that holds 95 % of the throws (JCGM 101:2008, 7.7.4).

    Parameters
    ----------
    values : ndarray of float, shape (n,)
        Throws in any order; not modified.
    """
    ordered = np.sort(values)
    inside = min(ordered.size - 1, max(1, round(COVERAGE * ordered.size)))
    widths = ordered[inside:] - ordered[:-inside]
    first = int(widths.argmin())
    return float(ordered[first]), float(ordered[first + inside])


def validated(value: float, u: float, thrown: Thrown, *, digits: int = 2) -> Verdict:
    """Judge a closed form by where the throws put the ends of ``value +/- 1.96 u``.

    Parameters
    ----------
    value, u : float
        Closed form, JCGM 100:2008: estimate and combined standard uncertainty.
    thrown : Thrown
        Of the same quantity.
    digits : int, optional
        Digits of ``u`` that count.

    Raises
    ------
    ValueError
        For a ``u`` that is not above 0.
    """
    delta = numerical_tolerance(u, digits=digits)
    low = abs(value - REACH * u - thrown.symmetric[0])
    high = abs(value + REACH * u - thrown.symmetric[1])
    near = [abs(d - delta) <= 2 * e for d, e in zip((low, high), thrown.errors[2:], strict=True)]
    sure = [d > delta and not n for d, n in zip((low, high), near, strict=True)]
    return Verdict(delta, low, high, "no" if any(sure) else "open" if any(near) else "yes")


@dataclass(frozen=True)
class FaceModel:
    """The unbrazed share of one face as a sum over its runs, every part thrown.

    Parameters
    ----------
    places_px : ndarray of float, shape (k + 1,)
        Where runs meet, from the tube end (0) to the cup face, [px] of arc length.
    weight : ndarray of float, shape (h,)
        Weight of every supposition about the filler; sums to one.
    under : ndarray of float, shape (h, k)
        Probability of each run being unbrazed under each supposition.
    positions : Positions
        Spreads along the line, as in the closed form.
    line_u : float
        Change of the share when the line is shifted across the gap, [-].
    relative_scale_u : float
        Standard uncertainty of the scale, [-] of it.
    classes : str
        ``thrown``: each run is unbrazed or not; ``held``: it counts with its probability.

    Notes
    -----
    ``share = sum(state * length) / overlap``, in mm both, so that the scale is
    thrown too and cancels. Normal: ends, each boundary, all boundaries alike,
    line, scale. Rectangular: a pixel at each boundary, the unseen stub at each
    end; zero in the middle, as the closed form takes it. Yes or no: states.
    """

    places_px: np.ndarray
    weight: np.ndarray
    under: np.ndarray
    positions: Positions
    line_u: float = 0.0
    relative_scale_u: float = 0.0
    classes: str = "thrown"

    @property
    def share(self) -> float:
        """Expected share with every place where it was read, [-]."""
        sizes = np.diff(self.places_px)
        return float(self.weight @ self.under @ sizes / sizes.sum())

    def __call__(self, dice: np.random.Generator, count: int) -> np.ndarray:
        """Throw the share ``count`` times, [-], shape (count,)."""
        states = self.throw_states(dice, count)
        places = self._places(dice, states)
        scale = 1 + self.relative_scale_u * dice.standard_normal((count, 1))
        lengths_mm = np.diff(places, axis=1) / scale
        unbrazed_mm = (states * lengths_mm).sum(axis=1) + self._stubs(dice, count) / scale[:, 0]
        share = unbrazed_mm / lengths_mm.sum(axis=1)
        return np.asarray(share + self.line_u * dice.standard_normal(count))

    def throw_states(self, dice: np.random.Generator, count: int) -> np.ndarray:
        """Throw a supposition, and under it every run as unbrazed (1) or brazed (0)."""
        if self.classes == "held":
            return np.tile(self.weight @ self.under, (count, 1))
        which = dice.choice(self.weight.size, count, p=self.weight)
        chance = self.under[which]
        return np.asarray((dice.random(chance.shape) < chance).astype(float))

    def _places(self, dice: np.random.Generator, states: np.ndarray) -> np.ndarray:
        """Move ends and boundaries; all voids grow or shrink alike by the common part."""
        count, runs = states.shape
        moved = np.tile(np.asarray(self.places_px, float), (count, 1))
        moved[:, [0, -1]] += dice.standard_normal((count, 2)) * np.array(self.positions.ends_u)
        if runs == 1:
            return moved
        own = self.positions.boundary_u * dice.standard_normal((count, runs - 1))
        pixel = dice.uniform(-0.5, 0.5, (count, runs - 1))
        alike = self.positions.common_u * dice.standard_normal((count, 1))
        moved[:, 1:-1] += own + pixel - alike * np.diff(states, axis=1)
        return moved

    def _stubs(self, dice: np.random.Generator, count: int) -> np.ndarray:
        half = self.positions.stub / 2
        return np.asarray(dice.uniform(-half, half, (count, 2)).sum(axis=1))
