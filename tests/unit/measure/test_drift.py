"""A reader's drift against scipy."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from lapwright.measure.drift import fit_drift
from lapwright.measure.errors import StudyTooSmall


@pytest.mark.parametrize("seed", range(5))
def test_the_slope_and_its_interval_are_those_of_scipy(seed: int) -> None:
    rng = np.random.default_rng(seed)
    days = sorted(int(d) for d in rng.integers(738000, 738400, 20))
    values = [float(v) for v in 2e-5 * np.array(days) + rng.normal(0, 0.01, 20)]
    result = fit_drift(days, values)
    line = stats.linregress(np.array(days) - days[0], values)
    reach = stats.t.ppf(0.975, 18) * line.stderr
    expected = [30 * (line.slope - reach), 30 * (line.slope + reach)]
    assert result.slope == pytest.approx(30 * line.slope, rel=1e-6)
    assert list(result.interval) == pytest.approx(expected, rel=1e-6)
    assert result.seen == ("yes" if expected[0] > 0 or expected[1] < 0 else "no")
    assert result.days == days[-1] - days[0]


def test_a_steady_reader_shows_no_drift() -> None:
    result = fit_drift([0, 10, 20, 30], [0.01, 0.011, 0.0095, 0.0101])
    assert result.seen == "no"


@pytest.mark.parametrize("days", [[1, 2], [5, 5, 5, 5]])
def test_too_few_days_or_differences_have_no_drift(days: list[int]) -> None:
    with pytest.raises(StudyTooSmall, match="MEAS-042"):
        fit_drift(days, [0.1] * len(days))
