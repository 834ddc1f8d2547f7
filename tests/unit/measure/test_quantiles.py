"""Distribution functions and quantiles against scipy."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from lapwright.measure import quantiles as q
from lapwright.measure.errors import QuantileRefused

PROBABILITY = st.floats(1e-4, 1 - 1e-4)
DF = st.one_of(st.integers(1, 400), st.floats(0.8, 400))
SHAPE = st.floats(0.5, 300)


@given(PROBABILITY, DF)
def test_t_quantiles_are_those_of_scipy(p: float, df: float) -> None:
    assert q.t_quantile(p, df) == pytest.approx(stats.t.ppf(p, df), rel=1e-9, abs=1e-9)


@given(PROBABILITY, DF)
def test_chi_square_quantiles_are_those_of_scipy(p: float, df: float) -> None:
    assert q.chi2_quantile(p, df) == pytest.approx(stats.chi2.ppf(p, df), rel=1e-9)


@given(PROBABILITY, DF, DF)
def test_f_quantiles_are_those_of_scipy(p: float, one: float, two: float) -> None:
    assert q.f_quantile(p, one, two) == pytest.approx(stats.f.ppf(p, one, two), rel=1e-8)


@given(PROBABILITY, SHAPE, SHAPE)
def test_beta_quantiles_are_those_of_scipy(p: float, a: float, b: float) -> None:
    assert q.beta_quantile(p, a, b) == pytest.approx(stats.beta.ppf(p, a, b), rel=1e-9)


@given(st.floats(0, 50), DF, DF)
def test_f_tails_are_those_of_scipy(value: float, one: float, two: float) -> None:
    expected = stats.f.sf(value, one, two)
    assert q.f_tail(value, one, two) == pytest.approx(expected, rel=1e-7, abs=1e-13)


@given(st.floats(0, 500), SHAPE)
def test_gamma_functions_are_those_of_scipy(x: float, a: float) -> None:
    assert q.gamma_cdf(x, a) == pytest.approx(stats.gamma.cdf(x, a), rel=1e-9, abs=1e-13)


@given(st.floats(0, 1), SHAPE, SHAPE)
def test_beta_functions_are_those_of_scipy(x: float, a: float, b: float) -> None:
    assert q.beta_cdf(x, a, b) == pytest.approx(stats.beta.cdf(x, a, b), rel=1e-8, abs=1e-13)


@given(st.integers(1, 300), st.data())
def test_clopper_pearson_is_that_of_scipy(trials: int, data: st.DataObject) -> None:
    hits = data.draw(st.integers(0, trials))
    exact = stats.binomtest(hits, trials).proportion_ci(method="exact")
    assert q.clopper_pearson(hits, trials) == pytest.approx((exact.low, exact.high), abs=1e-9)


@pytest.mark.parametrize(
    "call",
    [
        lambda: q.t_quantile(0.0, 5),
        lambda: q.t_quantile(1.0, 5),
        lambda: q.chi2_quantile(0.5, 0),
        lambda: q.f_quantile(0.5, 3, -1),
        lambda: q.f_tail(-1.0, 3, 4),
        lambda: q.gamma_cdf(-1.0, 2),
        lambda: q.beta_cdf(1.5, 2, 2),
        lambda: q.beta_quantile(float("nan"), 2, 2),
        lambda: q.clopper_pearson(4, 3),
        lambda: q.clopper_pearson(0, 0),
    ],
)
def test_quantile_refused(call: object) -> None:
    with pytest.raises(QuantileRefused, match="MEAS-045"):
        call()  # type: ignore[operator]
