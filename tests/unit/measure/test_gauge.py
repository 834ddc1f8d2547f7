"""The gauge study against statsmodels, a published study and its own model."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from statsmodels.formula.api import ols
from statsmodels.stats.anova import anova_lm

from lapwright.measure.errors import StudyHasGaps, StudyTooSmall
from lapwright.measure.gauge import GaugeStudy, study_gauge

Cells = dict[tuple[str, str], list[float]]

# Ten parts, three appraisers, three trials: AIAG Measurement Systems Analysis, 4th edition,
# chapter III, section B. Readings and sums of squares from memory; that they agree to all
# printed digits is the check on that memory.
PUBLISHED = {
    "A": """0.29 0.41 0.64 -0.56 -0.68 -0.58 1.34 1.17 1.27 0.47 0.50 0.64 -0.80 -0.92 -0.84
            0.02 -0.11 -0.21 0.59 0.75 0.66 -0.31 -0.20 -0.17 2.26 1.99 2.01 -1.36 -1.25 -1.31""",
    "B": """0.08 0.25 0.07 -0.47 -1.22 -0.68 1.19 0.94 1.34 0.01 1.03 0.20 -0.56 -1.20 -1.28
            -0.20 0.22 0.06 0.47 0.55 0.83 -0.63 0.08 -0.34 1.80 2.12 2.19 -1.68 -1.62 -1.50""",
    "C": """0.04 -0.11 -0.15 -1.38 -1.13 -0.96 0.88 1.09 0.67 0.14 0.20 0.11 -1.46 -1.07 -1.45
            -0.29 -0.67 -0.49 0.02 0.01 0.21 -0.46 -0.56 -0.49 1.77 1.45 1.87 -1.49 -1.77 -2.16""",
}


def _published() -> Cells:
    cells: Cells = {}
    for reader, text in PUBLISHED.items():
        values = [float(v) for v in text.split()]
        for part in range(10):
            cells[str(part), reader] = values[3 * part : 3 * part + 3]
    return cells


def _drawn(
    seed: int, faces: int, readers: int, counts: tuple[int, ...], spreads: tuple[float, ...]
) -> Cells:
    """Draw a study; spreads are those of faces, readers, interaction and repeats."""
    rng = np.random.default_rng(seed)
    s_f, s_r, s_i, s_e = spreads
    f, r = rng.normal(0, s_f, faces), rng.normal(0, s_r, readers)
    return {
        (str(i), str(j)): list(
            f[i] + r[j] + rng.normal(0, s_i) + rng.normal(0, s_e, counts[(i + j) % len(counts)])
        )
        for i in range(faces)
        for j in range(readers)
    }


def _frame(cells: Cells) -> pd.DataFrame:
    return pd.DataFrame(
        [(f, r, v) for (f, r), values in cells.items() for v in values],
        columns=["face", "reader", "value"],
    )


def _sums(study: GaugeStudy) -> list[float]:
    return [source.ss for source in study.table]


def test_the_published_study_gives_its_printed_sums_of_squares() -> None:
    study = study_gauge(_published())
    assert [round(ss, 4) for ss in _sums(study)] == [88.3619, 3.1673, 0.3590, 2.7589]
    assert [source.df for source in study.table] == [9, 2, 18, 60]
    assert study.table[2].f == pytest.approx(0.434, abs=5e-4)
    assert study.zeroed == ("interaction",)


@pytest.mark.parametrize(("faces", "readers", "n"), [(10, 3, 2), (4, 2, 3), (2, 2, 2), (15, 5, 2)])
def test_balanced_tables_are_those_of_statsmodels(faces: int, readers: int, n: int) -> None:
    cells = _drawn(faces, faces, readers, (n,), (0.1, 0.01, 0.005, 0.008))
    model = ols("value ~ C(face) * C(reader)", data=_frame(cells)).fit()
    table = anova_lm(model, typ=2)
    study = study_gauge(cells)
    assert _sums(study) == pytest.approx(list(table["sum_sq"]), rel=1e-8)
    assert [s.df for s in study.table] == list(table["df"])
    cross = study.table[2]
    assert (cross.f, cross.p) == pytest.approx(
        (table["F"]["C(face):C(reader)"], table["PR(>F)"]["C(face):C(reader)"]), rel=1e-7
    )


def test_one_reading_a_cell_is_the_additive_model_of_statsmodels() -> None:
    cells = _drawn(3, 12, 3, (1,), (0.1, 0.01, 0.005, 0.008))
    table = anova_lm(ols("value ~ C(face) + C(reader)", data=_frame(cells)).fit(), typ=2)
    study = study_gauge(cells)
    assert _sums(study) == pytest.approx(list(table["sum_sq"]), rel=1e-9)
    assert study.design == "single"
    assert study.repeatability is None
    assert [s.f for s in study.table[:2]] == pytest.approx(list(table["F"])[:2], rel=1e-8)
    assert [c.name for c in study.components] == ["faces", "readers", "residual"]


def test_unequal_numbers_are_the_analysis_of_unweighted_means_of_statsmodels() -> None:
    cells = _drawn(5, 9, 3, (1, 2, 4), (0.1, 0.01, 0.005, 0.008))
    means = _frame(cells).groupby(["face", "reader"], as_index=False)["value"].mean()
    table = anova_lm(ols("value ~ C(face) + C(reader)", data=means).fit(), typ=2)
    study = study_gauge(cells)
    n = stats.hmean([len(v) for v in cells.values()])
    assert study.design == "unweighted-means"
    assert study.repeats == pytest.approx(n)
    assert _sums(study)[:3] == pytest.approx([n * v for v in table["sum_sq"]], rel=1e-9)
    full = ols("value ~ C(face) * C(reader)", data=_frame(cells)).fit()
    assert study.table[-1].ss == pytest.approx(full.ssr, rel=1e-9)
    assert study.table[-1].df == full.df_resid


def test_components_add_up_to_reproducibility() -> None:
    study = study_gauge(_drawn(8, 12, 4, (2,), (0.1, 0.02, 0.01, 0.008)))
    assert not study.zeroed
    parts = [c.variance for c in study.components if c.name != "faces"]
    assert study.reproducibility.variance == pytest.approx(sum(parts), rel=1e-12)
    assert study.third_reading_limit == pytest.approx(2.8 * math.sqrt(sum(parts)))


def test_repeatability_has_the_interval_of_chi_square() -> None:
    study = study_gauge(_drawn(8, 12, 4, (2,), (0.1, 0.02, 0.01, 0.008)))
    last = study.table[-1]
    expected = [last.ss / stats.chi2.ppf(p, last.df) for p in (0.975, 0.025)]
    assert study.repeatability is not None
    assert [study.repeatability.low, study.repeatability.high] == pytest.approx(expected)


def test_a_negative_component_is_zero_and_said() -> None:
    cells = {
        ("1", "a"): [0.1, 0.3], ("1", "b"): [0.3, 0.1],
        ("2", "a"): [0.5, 0.7], ("2", "b"): [0.7, 0.5],
    }  # fmt: skip
    study = study_gauge(cells)
    assert set(study.zeroed) == {"interaction"}
    part = study.components[2]
    assert (part.variance, part.low) == (0.0, 0.0)
    assert part.raw < 0
    assert study.reproducibility.variance >= study.table[-1].ms


def test_intervals_hold_the_truth_about_as_often_as_they_say() -> None:
    spreads = (0.08, 0.01, 0.006, 0.009)
    truth = {n: s**2 for n, s in zip(("faces", "readers", "interaction"), spreads, strict=False)}
    truth["repeatability"] = spreads[3] ** 2
    truth["reproducibility"] = sum(s**2 for s in spreads[1:])
    hits = dict.fromkeys(truth, 0)
    runs = 800
    for seed in range(runs):
        counts = (2,) if seed % 2 else (2, 3)
        study = study_gauge(_drawn(seed, 10, 4, counts, spreads))
        for part in (*study.components, study.reproducibility):
            hits[part.name] += part.low <= truth[part.name] <= part.high
    assert all(0.925 <= n / runs <= 0.98 for n in hits.values()), hits


@given(st.integers(0, 10**6), st.integers(2, 8), st.integers(2, 4), st.integers(1, 3))
def test_order_shift_and_scale_change_nothing_but_scale(
    seed: int, faces: int, readers: int, n: int
) -> None:
    cells = _drawn(seed, faces, readers, (n,), (0.1, 0.02, 0.01, 0.008))
    one = study_gauge(cells)
    turned = {k: [2 * v + 0.3 for v in reversed(cells[k])] for k in reversed(list(cells))}
    two = study_gauge(turned)
    assert two.reproducibility.s == pytest.approx(2 * one.reproducibility.s, rel=1e-6)
    last = two.components[-1].high
    assert last == pytest.approx(4 * one.components[-1].high, rel=1e-6)


def test_readers_who_always_agree_have_no_spread() -> None:
    cells = {(str(f), r): [0.01 * f] * 2 for f in range(5) for r in "ab"}
    study = study_gauge(cells)
    assert study.reproducibility.s == pytest.approx(0.0, abs=1e-12)
    assert study.table[0].f is None or study.table[0].f > 1e9


def test_study_too_small() -> None:
    with pytest.raises(StudyTooSmall, match="MEAS-042"):
        study_gauge({("1", "a"): [0.1], ("2", "a"): [0.2]})
    with pytest.raises(StudyTooSmall):
        study_gauge({("1", "a"): [0.1], ("1", "b"): [0.2]})


def test_study_has_gaps() -> None:
    cells = _drawn(1, 4, 3, (2,), (0.1, 0.02, 0.01, 0.008))
    del cells["2", "1"]
    with pytest.raises(StudyHasGaps, match=r"2 by 1.*MEAS-043"):
        study_gauge(cells)
