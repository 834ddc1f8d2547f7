"""Kappa against scikit-learn and statsmodels."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from sklearn.metrics import cohen_kappa_score
from statsmodels.stats import inter_rater

from lapwright.measure.errors import StudyTooSmall
from lapwright.measure.kappa import CATEGORIES, cohen_kappa, fleiss_kappa

VERDICT = st.sampled_from(CATEGORIES)
PAIRS = st.lists(st.tuples(VERDICT, VERDICT), min_size=2, max_size=60)


@given(PAIRS)
def test_two_readers_have_the_kappa_of_scikit_learn(pairs: list[tuple[str, str]]) -> None:
    one, two = [a for a, _ in pairs], [b for _, b in pairs]
    assume(len(set(one) | set(two)) == 2)
    result = cohen_kappa(one, two)
    assert result.kappa == pytest.approx(cohen_kappa_score(one, two), abs=1e-12)
    assert result.agreed == sum(a == b for a, b in pairs)


@given(PAIRS)
def test_the_interval_is_that_of_statsmodels(pairs: list[tuple[str, str]]) -> None:
    table = np.array([[pairs.count((a, b)) for b in CATEGORIES] for a in CATEGORIES])
    assume(0 < table[0, 1] + table[1, 0] < len(pairs))
    assume(table.sum(axis=0).min() > 0 and table.sum(axis=1).min() > 0)
    result = cohen_kappa([a for a, _ in pairs], [b for _, b in pairs])
    expected = inter_rater.cohens_kappa(table)
    assert result.interval is not None
    low, high = max(-1.0, expected.kappa_low), min(1.0, expected.kappa_upp)
    assert result.interval == pytest.approx((low, high), abs=1e-6)


@given(st.integers(3, 6), st.integers(2, 40), st.integers(0, 10**6))
def test_several_readers_have_the_kappa_of_statsmodels(readers: int, faces: int, seed: int) -> None:
    drawn = np.random.default_rng(seed).integers(0, 2, (faces, readers))
    assume(len(np.unique(drawn)) == 2)
    counts = np.stack([(drawn == k).sum(axis=1) for k in (0, 1)], axis=1)
    result = fleiss_kappa([[CATEGORIES[v] for v in row] for row in drawn])
    assert result.kappa == pytest.approx(inter_rater.fleiss_kappa(counts), abs=1e-12)
    assert result.interval is None


def test_one_verdict_throughout_has_no_kappa() -> None:
    same = ["met"] * 8
    assert (cohen_kappa(same, same).kappa, cohen_kappa(same, same).agreed) == (None, 8)
    assert fleiss_kappa([["met"] * 3] * 8).kappa is None


def test_an_interval_without_width_is_not_given() -> None:
    mixed = ["met", "not-met", "met"]
    result = cohen_kappa(mixed, mixed)
    assert (result.kappa, result.interval) == (1.0, None)
    single = cohen_kappa(mixed, ["met"] * 3)
    assert (single.kappa, single.interval) == (0.0, None)


def test_no_faces_and_one_reader_are_too_few() -> None:
    with pytest.raises(StudyTooSmall):
        cohen_kappa([], [])
    with pytest.raises(StudyTooSmall, match="1 reader"):
        fleiss_kappa([["met"]])
