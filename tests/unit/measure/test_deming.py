"""Deming's line against the singular value decomposition, a likelihood and simulation."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import optimize

from lapwright.measure.agreement import limits_of_agreement
from lapwright.measure.deming import fit_deming
from lapwright.measure.errors import NoLineRefused
from lapwright.measure.trend import fit_trend

Rows = list[list[float]]


def _drawn(
    seed: int, *, slope: float = 1.0, spreads: tuple[float, float] = (0.006, 0.006), counts: int = 1
) -> tuple[Rows, Rows]:
    rng = np.random.default_rng(seed)
    level = rng.uniform(0.02, 0.40, 40)
    first = [list(slope * t + rng.normal(0, spreads[0], counts)) for t in level]
    return first, [list(t + rng.normal(0, spreads[1], counts)) for t in level]


def test_equal_errors_give_the_main_axis_of_the_points() -> None:
    first, second = _drawn(1, slope=1.1)
    line = fit_deming(first, second)
    points = np.column_stack([np.ravel(second), np.ravel(first)])
    axis = np.linalg.svd(points - points.mean(axis=0))[2][0]
    assert (line.ratio, line.ratio_from) == (1.0, "assumed")
    assert line.slope == pytest.approx(axis[1] / axis[0], rel=1e-9)
    middle = points.mean(axis=0)
    assert line.intercept == pytest.approx(middle[1] - line.slope * middle[0], rel=1e-9)


def test_unequal_errors_give_the_most_likely_line() -> None:
    first, second = _drawn(2, slope=0.9, spreads=(0.012, 0.004), counts=3)
    line = fit_deming(first, second)
    assert line.ratio_from == "repeats"
    assert line.ratio == pytest.approx(9.0, rel=0.5)
    y, x = np.mean(first, axis=1), np.mean(second, axis=1)

    def unlikely(p: np.ndarray) -> float:
        return float(np.sum((y - p[0] - p[1] * x) ** 2 / (line.ratio + p[1] ** 2)))

    best = optimize.minimize(unlikely, [0.0, 1.0], method="Nelder-Mead", tol=1e-14)
    assert [line.intercept, line.slope] == pytest.approx(list(best.x), abs=1e-5)


def test_the_jackknifed_interval_holds_the_slope_about_as_often_as_it_says() -> None:
    runs, hits = 400, 0
    for seed in range(runs):
        low, high = fit_deming(*_drawn(seed, slope=1.05)).slope_interval
        hits += low <= 1.05 <= high
    assert 0.90 <= hits / runs <= 0.985, hits


def test_unequal_spread_alone_tilts_the_differences_and_not_this_line() -> None:
    tilted = honest = 0
    for seed in range(60):
        rng = np.random.default_rng(seed)
        level = rng.uniform(0.18, 0.22, 60)
        first = [list(t + rng.normal(0, 0.02, 2)) for t in level]
        second = [list(t + rng.normal(0, 0.004, 2)) for t in level]
        tilted += fit_trend(limits_of_agreement(first, second)).line.seen == "yes"
        honest += fit_deming(first, second).seen == "yes"
    assert tilted > 50
    assert honest < 20


def test_swapping_the_two_turns_the_line_over() -> None:
    first, second = _drawn(4, slope=1.2, counts=2)
    one, two = fit_deming(first, second), fit_deming(second, first)
    assert two.slope == pytest.approx(1 / one.slope, rel=1e-9)


def test_no_line_refused() -> None:
    with pytest.raises(NoLineRefused, match="MEAS-090"):
        fit_deming([[0.1], [0.2], [0.3]], [[0.1], [0.2], [0.3]])
    with pytest.raises(NoLineRefused, match="do not rise together"):
        fit_deming([[0.4], [0.3], [0.2], [0.1]], [[0.1], [0.2], [0.3], [0.4]])
