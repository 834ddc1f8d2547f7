"""Limits of agreement against a published comparison, scipy and simulation."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from lapwright.measure.agreement import limits_of_agreement
from lapwright.measure.errors import StudyTooSmall

# Peak expiratory flow, first readings by two meters of 17 people: Bland and Altman, Lancet 1986.
# Data and printed results (l/min) from memory; the paper takes 2 s where this tool takes 1.96 s,
# and sqrt(3 s^2 / n) for the error of a limit.
LARGE = [494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427]
MINI = [512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451]


def _single(values: list[int]) -> list[list[float]]:
    return [[float(v)] for v in values]


def test_the_published_comparison_gives_its_printed_figures() -> None:
    result = limits_of_agreement(_single(LARGE), _single(MINI))
    assert round(result.bias, 1) == -2.1
    assert round(result.s, 1) == 38.8
    assert [round(v, 1) for v in result.bias_interval] == [-22.0, 17.8]
    # printed from rounded figures: -2.1 - 2 x 38.8 and -2.1 + 2 x 38.8
    assert result.bias - 2 * result.s == pytest.approx(-79.7, abs=0.06)
    assert result.bias + 2 * result.s == pytest.approx(75.5, abs=0.1)
    half = (result.lower_interval[1] - result.lower_interval[0]) / 2
    assert half == pytest.approx((114.3 - 45.1) / 2, rel=0.02)


def test_bias_and_its_interval_are_those_of_scipy() -> None:
    rng = np.random.default_rng(4)
    one, two = rng.normal(0.2, 0.05, 25), rng.normal(0.19, 0.05, 25)
    result = limits_of_agreement([[v] for v in one], [[v] for v in two])
    exact = stats.ttest_rel(one, two).confidence_interval()
    assert result.bias_interval == pytest.approx((exact.low, exact.high), rel=1e-9)
    assert result.s == pytest.approx(np.std(one - two, ddof=1), rel=1e-12)
    assert result.half_width == pytest.approx(1.96 * result.s)
    assert (result.lower, result.upper) == pytest.approx(
        (result.bias - 1.96 * result.s, result.bias + 1.96 * result.s)
    )


def test_repeats_are_brought_back_to_single_readings() -> None:
    rng = np.random.default_rng(11)
    n, spreads = 4000, (0.010, 0.006)
    truth = rng.uniform(0, 0.4, n)
    rows = [
        [list(t + rng.normal(0, s, m)) for t, m in zip(truth, counts, strict=True)]
        for s, counts in zip(spreads, ([3, 2] * (n // 2), [1, 2] * (n // 2)), strict=True)
    ]
    result = limits_of_agreement(rows[0], rows[1])
    assert result.s == pytest.approx(np.hypot(*spreads), rel=0.03)


def test_limits_hold_their_intervals() -> None:
    rng = np.random.default_rng(2)
    runs, hits = 1500, [0, 0, 0]
    for _ in range(runs):
        r = limits_of_agreement([[v] for v in rng.normal(0.01, 0.02, 30)], [[0.0]] * 30)
        told = (r.bias_interval, r.lower_interval, r.upper_interval)
        for k, (span, true) in enumerate(zip(told, (0.01, -0.0292, 0.0492), strict=True)):
            hits[k] += span[0] <= true <= span[1]
    assert all(0.925 <= h / runs <= 0.975 for h in hits), hits


def test_swapping_the_two_turns_the_signs() -> None:
    one, two = _single(LARGE), _single(MINI)
    a, b = limits_of_agreement(one, two), limits_of_agreement(two, one)
    assert (b.bias, b.lower, b.upper) == pytest.approx((-a.bias, -a.upper, -a.lower))


def test_two_faces_are_too_few() -> None:
    with pytest.raises(StudyTooSmall, match="faces read by both: 2,"):
        limits_of_agreement([[0.1], [0.2]], [[0.1], [0.2]])
