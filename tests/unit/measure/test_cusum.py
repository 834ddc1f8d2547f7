"""Cumulative sums against a published chart, a Markov chain and simulation."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from lapwright.measure.cusum import (
    DECISION,
    SLACK,
    ReaderChart,
    Signal,
    chart_reader,
    tabular_cusum,
)
from lapwright.measure.errors import ChartRefused, StudyTooSmall

# NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.3: twenty values against a target of 325,
# k = 0.3175 and h = 4.1959, with both printed columns of sums. All from memory; that data and
# columns agree to all printed digits is the check on that memory.
VALUES = """324.925 324.675 324.725 324.350 325.350 325.225 324.125 324.525 325.225 324.600
    324.625 325.150 328.325 327.250 327.825 328.500 326.675 327.775 326.875 328.350"""
HIGH = """0.00 0.00 0.00 0.00 0.03 0.00 0.00 0.00 0.00 0.00
    0.00 0.00 3.01 4.94 7.45 10.63 11.99 14.44 16.00 19.04"""
LOW = """0.00 0.01 0.00 0.33 0.00 0.00 0.56 0.72 0.17 0.25
    0.31 0.00 0.00 0.00 0.00 0.00 0.00 0.00 0.00 0.00"""


def _floats(text: str) -> list[float]:
    return [float(v) for v in text.split()]


def test_the_published_chart_gives_its_printed_sums() -> None:
    chart = tabular_cusum(_floats(VALUES), target=325.0, slack=0.3175, decision=4.1959)
    assert list(chart.high) == pytest.approx(_floats(HIGH), abs=0.0051)
    assert list(chart.low) == pytest.approx(_floats(LOW), abs=0.0051)
    assert chart.signals == (Signal(at=13, began=12, side="high"),)


def _run_length(shift: float, cells: int = 200) -> float:
    """Mean run length of one side by a Markov chain (Brook and Evans 1972)."""
    width = 2 * DECISION / (2 * cells - 1)
    edges = (np.arange(cells) + 0.5) * width
    middles = np.arange(cells) * width
    steps = np.array([stats.norm.cdf(edges - m + SLACK - shift) for m in middles])
    chances = np.diff(steps, axis=1, prepend=0.0)
    return float(np.linalg.solve(np.eye(cells) - chances, np.ones(cells))[0])


def test_the_usual_figures_have_the_run_lengths_that_are_told() -> None:
    quiet = 1 / (2 / _run_length(0.0))
    assert quiet == pytest.approx(465, rel=0.01)
    loud = 1 / (1 / _run_length(1.0) + 1 / _run_length(-1.0))
    assert loud == pytest.approx(10.4, abs=0.1)


def _first_signal(seed: int, shift: float, n: int) -> int:
    values = np.random.default_rng(seed).normal(shift, 1.0, n)
    found = tabular_cusum(list(values), target=0.0, slack=SLACK, decision=DECISION).signals
    return found[0].at + 1 if found else n


def test_simulated_run_lengths_are_those_of_the_chain() -> None:
    runs = 600
    lengths = [_first_signal(seed, 1.0, 80) for seed in range(runs)]
    exact = 1 / (1 / _run_length(1.0) + 1 / _run_length(-1.0))
    assert abs(np.mean(lengths) - exact) < 4 * np.std(lengths) / math.sqrt(runs)


def test_a_shift_is_found_and_dated() -> None:
    rng = np.random.default_rng(5)
    values = np.concatenate([rng.normal(0, 0.005, 20), rng.normal(0.012, 0.005, 15)])
    chart = chart_reader(list(range(100, 135)), [float(v) for v in values])
    assert chart.seen == "yes"
    (signal,) = chart.cusum.signals
    assert signal.side == "high"
    assert 118 <= chart.days[signal.began] <= 121
    assert chart.s == pytest.approx(0.005, rel=0.35)


def test_each_departure_is_signalled_once() -> None:
    values = [0.0, 6.0, -0.9, 2.0, -9.0, 0.0, -9.0, 0.5]
    found = tabular_cusum(values, target=0.0, slack=0.0, decision=5.0).signals
    assert found == (Signal(1, 1, "high"), Signal(4, 4, "low"))


def _quiet(days: list[int], values: list[float]) -> ReaderChart:
    return chart_reader(days, values)


def test_readings_are_put_in_the_order_of_their_days() -> None:
    days = [9, 8, 7, 6, 5, 4, 3, 2, 1, 0]
    values = [0.01 * (-1) ** n * (n + 1) for n in range(10)]
    chart = _quiet(days, values)
    assert chart.days == tuple(range(10))
    assert chart.differences == tuple(reversed(values))


def test_scaling_the_differences_changes_no_sum() -> None:
    values = [float(v) for v in np.random.default_rng(2).normal(0, 0.01, 30)]
    one = _quiet(list(range(30)), values)
    two = _quiet(list(range(30)), [3 * v for v in values])
    assert two.cusum.high == pytest.approx(one.cusum.high)
    assert two.s == pytest.approx(3 * one.s)


def test_nine_days_are_too_few() -> None:
    with pytest.raises(StudyTooSmall, match="MEAS-042"):
        chart_reader(list(range(9)), [0.1, 0.2] * 4 + [0.1])
    with pytest.raises(StudyTooSmall, match="differences: 30, days: 1,"):
        chart_reader([7] * 30, [0.001 * n for n in range(30)])


def test_the_order_of_rows_within_a_day_changes_nothing() -> None:
    rng = np.random.default_rng(4)
    rows = [(n // 3, float(v)) for n, v in enumerate(rng.normal(0.004, 0.01, 36))]
    first = _quiet(*map(list, zip(*rows, strict=True)))
    assert len(first.days) == 12
    assert first.readings == 36
    for order in (sorted(rows, key=lambda r: r[1]), sorted(rows, key=lambda r: -r[1])):
        assert _quiet(*map(list, zip(*order, strict=True))) == first
    assert first.differences[0] == pytest.approx(np.mean([v for _, v in rows[:3]]))


def test_chart_refused() -> None:
    with pytest.raises(ChartRefused, match="MEAS-091"):
        chart_reader(list(range(10)), [0.01] * 10)
    with pytest.raises(ChartRefused):
        tabular_cusum([0.1], target=0.0, slack=-1.0, decision=1.0)
    with pytest.raises(ChartRefused):
        tabular_cusum([0.1], target=0.0, slack=0.0, decision=math.nan)
