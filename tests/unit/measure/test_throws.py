"""The spread that class doubt gives. Witnesses: sums by hand and `statistics.NormalDist`."""

from __future__ import annotations

import itertools
import math
from statistics import NormalDist

import numpy as np
import pytest

from lapwright.measure.classes import Classed
from lapwright.measure.runs import Run
from lapwright.measure.settings import DEFAULT
from lapwright.measure.throws import throw_runs

STEPS = 100


def runs_of(*lengths: int) -> list[Run]:
    ends = np.cumsum([0, *lengths])
    return [
        Run(int(a), int(b), np.zeros(3), np.eye(3), 0.0, 1.0) for a, b in itertools.pairwise(ends)
    ]


def spread_of(lengths, weight, under):
    classed = Classed(np.array(weight), np.array(under), int(np.argmax(lengths)))
    return throw_runs(runs_of(*lengths), classed, STEPS, DEFAULT)


def test_one_unsure_stretch_has_the_deviation_of_a_yes_or_no() -> None:
    spread = spread_of([90, 10], [1.0], [[0.0, 0.4]])
    assert spread.class_doubt() == pytest.approx(0.1 * math.sqrt(0.4 * 0.6), rel=0.02)
    assert spread.interval(0.0, (0.0, 0.1)) == pytest.approx((0.0, 0.1))


def test_runs_that_fall_together_spread_wider_than_runs_on_their_own() -> None:
    together = spread_of([40, 20, 40], [0.5, 0.5], [[0.0, 1.0, 0.0], [1.0, 0.0, 1.0]])
    alone = spread_of([40, 20, 40], [1.0], [[0.5, 0.5, 0.5]])
    assert together.class_doubt() == pytest.approx((0.8 - 0.2) / 2, rel=0.02)
    assert alone.class_doubt() == pytest.approx(math.sqrt(0.4**2 * 2 + 0.2**2) / 2, rel=0.03)


def test_a_remote_supposition_does_not_state_a_spread_wider_than_the_interval() -> None:
    spread = spread_of([100], [0.99, 0.01], [[0.0], [1.0]])
    low, high = spread.interval(0.002, (0.01, 0.01))
    assert spread.every.std() > 0.08  # as thrown, before the ends of the interval hold it
    assert spread.class_doubt() <= (high - low) / 2
    assert high < 0.02


def test_a_supposition_of_one_in_ten_reaches_the_interval_and_the_deviation() -> None:
    spread = spread_of([100], [0.9, 0.1], [[0.0], [1.0]])
    assert spread.interval(0.0, (0.1, 0.1)) == pytest.approx((0.0, 1.0))
    assert spread.class_doubt() == pytest.approx(0.3, rel=0.06)


def test_without_class_doubt_the_interval_is_that_of_a_normal() -> None:
    spread = spread_of([50, 50], [1.0], [[0.0, 1.0]])
    low, high = spread.interval(0.01, (0.5, 0.5))
    reach = NormalDist(0, 0.01).inv_cdf(0.975)
    assert (low, high) == (
        pytest.approx(0.5 - reach, abs=0.001),
        pytest.approx(0.5 + reach, abs=0.001),
    )


def test_throws_are_the_same_each_time() -> None:
    one, two = (spread_of([60, 40], [0.7, 0.3], [[0.0, 0.9], [0.5, 0.2]]) for _ in range(2))
    np.testing.assert_array_equal(one.every, two.every)
