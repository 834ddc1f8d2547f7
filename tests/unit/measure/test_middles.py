"""Quick medians and grey levels. Witness: numpy's own general functions, to the last bit."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import array_shapes, arrays

from lapwright.measure.middles import darkest, grey, lower_quartile, medians

SINGLE = st.floats(-1e4, 1e4, width=32)


@given(arrays(np.float32, array_shapes(min_dims=1, max_dims=3, max_side=9), elements=SINGLE))
def test_medians_are_those_of_numpy(values: np.ndarray) -> None:
    before = values.copy()
    np.testing.assert_array_equal(medians(values), np.median(values, axis=0))
    np.testing.assert_array_equal(values, before)


@given(arrays(np.float32, st.integers(2, 60), elements=SINGLE))
def test_the_lower_quartile_is_that_of_numpy(values: np.ndarray) -> None:
    before = values.copy()
    assert lower_quartile(values) == float(np.percentile(values, 25))
    np.testing.assert_array_equal(values, before)


@given(arrays(np.float32, (3, 4, 3), elements=SINGLE))
def test_grey_is_the_mean_and_darkest_the_least_of_the_colours(levels: np.ndarray) -> None:
    np.testing.assert_array_equal(grey(levels), levels.mean(axis=2))
    np.testing.assert_array_equal(darkest(levels), levels.min(axis=2))
