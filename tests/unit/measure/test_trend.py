"""Proportional bias against a published comparison, statsmodels, scipy and simulation."""

from __future__ import annotations

import math

import numpy as np
import pytest
import statsmodels.api as sm
from scipy import stats

from lapwright.measure.agreement import Agreement, limits_of_agreement
from lapwright.measure.errors import NoLineRefused
from lapwright.measure.trend import Line, Trend, fit_line, fit_trend

# Fat content of 45 samples of milk by two methods (g/100 ml): Bland and Altman 1999, table 3 and
# section 3.2. Data and the printed line, difference = 0.079 - 0.0283 x mean with residual standard
# deviation 0.08033, from memory; that they agree to all printed digits is the check on that memory.
TRIGLYCERIDE = """0.96 1.16 0.97 1.01 1.25 1.22 1.46 1.66 1.75 1.72 1.67 1.67 1.93 1.99 2.01
    2.28 2.15 2.29 2.45 2.40 2.79 2.77 2.64 2.73 2.67 2.61 3.01 2.93 3.18 3.18 3.19 3.12 3.33 3.51
    3.66 3.95 4.20 4.05 4.30 4.74 4.71 4.71 4.74 5.23 6.21"""
GERBER = """0.85 1.00 1.00 1.00 1.20 1.20 1.38 1.65 1.68 1.70 1.70 1.70 1.88 2.00 2.05
    2.17 2.20 2.28 2.43 2.55 2.60 2.65 2.67 2.70 2.70 2.70 3.00 3.02 3.03 3.11 3.15 3.15 3.40 3.42
    3.62 3.95 4.27 4.30 4.35 4.75 4.79 4.80 4.80 5.42 6.20"""


def _rows(text: str) -> list[list[float]]:
    return [[float(v)] for v in text.split()]


def _plain(first: np.ndarray, second: np.ndarray) -> Agreement:
    return limits_of_agreement([[float(v)] for v in first], [[float(v)] for v in second])


def _drawn(seed: int, *, slope: float = 0.0, growth: float = 0.0, n: int = 60) -> Trend:
    """Draw two ways whose difference has a slope and whose spread grows with the level."""
    rng = np.random.default_rng(seed)
    level = rng.uniform(0.02, 0.40, n)
    apart = slope * level + rng.normal(0, 0.004 + growth * level)
    return fit_trend(_plain(level + apart / 2, level - apart / 2))


def test_the_published_comparison_gives_its_printed_line() -> None:
    trend = fit_trend(limits_of_agreement(_rows(TRIGLYCERIDE), _rows(GERBER)))
    assert (round(trend.line.at(0.0), 3), round(trend.line.slope, 4)) == (0.079, -0.0283)
    assert round(trend.line.s, 5) == 0.08033
    assert (trend.line.seen, trend.spread.seen) == ("yes", "no")
    assert trend.limits_at(0.0)[1] == pytest.approx(0.079 + 1.96 * 0.08033, abs=5e-4)


@pytest.mark.parametrize("seed", range(4))
def test_lines_are_those_of_statsmodels(seed: int) -> None:
    rng = np.random.default_rng(seed)
    x, y = rng.uniform(0, 0.4, 25), rng.normal(0, 0.01, 25)
    line = fit_line(list(x), list(y))
    fitted = sm.OLS(y, sm.add_constant(x)).fit()
    assert [line.at(0.0), line.slope] == pytest.approx(list(fitted.params), rel=1e-8)
    assert list(line.slope_interval) == pytest.approx(list(fitted.conf_int()[1]), rel=1e-8)
    assert line.p == pytest.approx(fitted.pvalues[1], rel=1e-7)
    told = fitted.get_prediction([[1.0, 0.2]]).conf_int(alpha=0.05)[0]
    assert line.interval_at(0.2) == pytest.approx(tuple(told), rel=1e-8)


def test_the_test_of_the_slope_is_that_of_equal_spread() -> None:
    """Pitman 1939 and Morgan 1939: sum and difference correlate when the spreads differ."""
    rng = np.random.default_rng(6)
    one, two = rng.normal(0.2, 0.06, 30), rng.normal(0.2, 0.05, 30)
    assert fit_trend(_plain(one, two)).line.p == pytest.approx(
        stats.pearsonr(one + two, one - two).pvalue, rel=1e-7
    )


def test_absolute_residuals_bring_back_the_spread_at_each_level() -> None:
    trend = _drawn(1, slope=0.05, growth=0.05, n=6000)
    assert (trend.line.seen, trend.spread.seen) == ("yes", "yes")
    for level in (0.05, 0.20, 0.35):
        assert trend.bias_at(level) == pytest.approx(0.05 * level, abs=0.001)
        true = 1.96 * (0.004 + 0.05 * level)
        assert trend.half_width_at(level) == pytest.approx(true, rel=0.06)


def test_without_a_slope_the_plain_limits_stand() -> None:
    levels = np.repeat(np.linspace(0.05, 0.35, 20), 2)
    apart = np.tile([0.004, -0.002], 20)
    trend = fit_trend(_plain(levels + apart / 2, levels - apart / 2))
    assert trend.seen == "no"
    assert trend.limits_at(0.1) == pytest.approx((trend.plain.lower, trend.plain.upper))
    assert trend.bias_interval_at(0.3) == trend.plain.bias_interval


def test_repeats_are_brought_back_to_single_readings_along_the_line() -> None:
    rng = np.random.default_rng(8)
    level = rng.uniform(0.02, 0.40, 3000)
    first = [list(1.1 * t + rng.normal(0, 0.006, 2)) for t in level]
    second = [list(t + rng.normal(0, 0.004, 3)) for t in level]
    trend = fit_trend(limits_of_agreement(first, second))
    assert trend.line.seen == "yes"
    assert trend.half_width_at(0.2) == pytest.approx(1.96 * math.hypot(0.006, 0.004), rel=0.03)


def test_a_slope_that_is_not_there_is_seen_in_one_study_of_twenty() -> None:
    runs = 250
    share = sum(_drawn(seed, n=30).line.seen == "yes" for seed in range(runs)) / runs
    assert abs(share - 0.05) < 4 * math.sqrt(0.05 * 0.95 / runs)


def test_swapping_the_two_turns_the_signs() -> None:
    one, two = _rows(TRIGLYCERIDE), _rows(GERBER)
    a = fit_trend(limits_of_agreement(one, two))
    b = fit_trend(limits_of_agreement(two, one))
    assert b.line.slope == pytest.approx(-a.line.slope)
    assert b.limits_at(2.0) == pytest.approx((-a.limits_at(2.0)[1], -a.limits_at(2.0)[0]))


@pytest.mark.parametrize(("shift", "seen"), [(0.01, "no"), (0.0, "no")])
def test_rounding_of_binary_numbers_is_no_slope(shift: float, seen: str) -> None:
    levels = [0.01 * n for n in range(1, 31)]
    line = fit_trend(_plain(np.array(levels) + shift, np.array(levels))).line
    assert line.seen == seen


def test_a_line_without_any_scatter_is_seen() -> None:
    assert fit_line([0.1, 0.2, 0.3], [0.1, 0.2, 0.3]).seen == "yes"
    assert Line(0.2, 0.02, 0.0, 1.0, 0.0, 1).p == 0.0


@pytest.mark.parametrize("levels", [[0.1, 0.1, 0.1, 0.1], [0.1, 0.2]])
def test_no_line_refused(levels: list[float]) -> None:
    with pytest.raises(NoLineRefused, match="MEAS-090"):
        fit_line(levels, [0.01, 0.02, 0.03, 0.04][: len(levels)])
