"""Reliability of stated probabilities. Witnesses: scikit-learn, draws of known probability."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from sklearn.metrics import brier_score_loss

from lapwright.measure.reliability import EDGES, probability_at, reliability
from lapwright.measure.values import Segment

SEGMENTS = (
    Segment(0.0, 0.25, "brazed", 0.01),
    Segment(0.25, 0.5, "unsure", 0.4),
    Segment(0.5, 1.0, "unbrazed", 0.97),
)


def forecasts(bend: float = 1.0) -> tuple[np.ndarray, np.ndarray]:
    """Draw 200 faces of 500 places; a bend other than 1 makes the statement too sure or unsure."""
    dice = np.random.default_rng(11)
    stated = np.repeat(dice.uniform(size=(200, 25)), 20, axis=1)
    return stated, (dice.random(stated.shape) < stated**bend).astype(float)


def test_a_place_has_the_probability_of_its_segment() -> None:
    at = np.array([-0.1, 0.0, 0.2, 0.25, 0.4999, 0.5, 1.0, 1.3])
    expected = [0.01, 0.01, 0.01, 0.4, 0.4, 0.97, 0.97, 0.97]
    assert probability_at(SEGMENTS, at).tolist() == expected


def test_the_score_agrees_with_scikit_learn() -> None:
    stated, true = forecasts(2.0)
    witness = brier_score_loss(true.ravel(), stated.ravel())
    assert reliability(stated, true).brier == pytest.approx(witness, rel=1e-12)


def test_bins_agree_with_numpy_histograms_of_all_places() -> None:
    stated, true = forecasts()
    found = reliability(stated, true).bins
    counts = np.histogram(stated, EDGES)[0]
    hits = np.histogram(stated, EDGES, weights=true)[0]
    assert [b.positions for b in found] == counts.tolist()
    assert [b.true for b in found] == pytest.approx(hits / counts)
    assert [(b.low, b.high) for b in found] == list(itertools.pairwise(EDGES))


def test_forecasts_that_come_true_as_stated_lie_within_their_bounds() -> None:
    stated, true = forecasts()
    found = reliability(stated, true)
    assert found.calibration_error < 0.01
    inside = [b.bounds[0] <= b.stated <= b.bounds[1] for b in found.bins]
    assert sum(inside) >= len(inside) - 1


def test_forecasts_that_are_too_high_show_it() -> None:
    stated, true = forecasts(2.0)
    found = reliability(stated, true)
    # the mean of p - p^2 over p from 0 to 1 is 1/6
    assert found.calibration_error == pytest.approx(1 / 6, abs=0.01)
    middle = next(b for b in found.bins if b.low == 0.5)
    assert middle.bounds[1] < middle.stated


def test_places_left_out_do_not_count() -> None:
    stated, true = np.array([[0.2, 0.9], [0.2, 0.9]]), np.array([[0.0, 0.0], [1.0, 1.0]])
    kept = np.array([[True, False], [True, True]])
    found = reliability(stated, true, kept=kept)
    assert found.positions == 3
    assert [(b.positions, b.faces, b.true) for b in found.bins] == [(2, 2, 0.5), (1, 1, 1.0)]
    assert found.brier == pytest.approx((0.04 + 0.64 + 0.01) / 3)


def test_places_of_one_face_alone_have_no_bounds() -> None:
    found = reliability(np.full((1, 50), 0.6), np.ones((1, 50)))
    assert found.bins[0].bounds == (0.0, 1.0)


def test_nothing_to_compare_is_refused() -> None:
    with pytest.raises(ValueError, match="no position"):
        reliability(np.zeros((1, 3)), np.zeros((1, 3)), kept=np.zeros((1, 3), bool))
