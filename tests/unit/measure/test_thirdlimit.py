"""The third-reading limit's interval against scipy, statsmodels and simulation."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest
from scipy import stats
from statsmodels.formula.api import ols
from statsmodels.stats.anova import anova_lm

from lapwright.measure.gauge import study_gauge
from lapwright.measure.thirdlimit import plan_study, third_limit, usual_plans

Cells = dict[tuple[str, str], list[float]]
SPREADS = (0.08, 0.004, 0.003, 0.005)  # faces, readers, interaction, repeats
TRUE = 2.8 * math.sqrt(sum(s * s for s in SPREADS[1:]))


def _drawn(seed: int, faces: int, readers: int, n: int) -> Cells:
    rng = np.random.default_rng(seed)
    s_f, s_r, s_i, s_e = SPREADS
    f, r = rng.normal(0, s_f, faces), rng.normal(0, s_r, readers)
    return {
        (str(i), str(j)): list(f[i] + r[j] + rng.normal(0, s_i) + rng.normal(0, s_e, n))
        for i in range(faces)
        for j in range(readers)
    }


@pytest.mark.parametrize(("faces", "readers", "n"), [(30, 3, 2), (12, 5, 2), (30, 4, 1)])
def test_limit_interval_and_degrees_of_freedom_are_those_of_the_table_of_statsmodels(
    faces: int, readers: int, n: int
) -> None:
    cells = _drawn(faces, faces, readers, n)
    frame = pd.DataFrame(
        [(f, r, v) for (f, r), values in cells.items() for v in values],
        columns=["face", "reader", "value"],
    )
    between = "C(face) * C(reader)" if n > 1 else "C(face) + C(reader)"
    table = anova_lm(ols(f"value ~ {between}", data=frame).fit(), typ=2)
    ms, df = table["sum_sq"] / table["df"], table["df"]
    rows = ["C(reader)", "C(face):C(reader)", "Residual"] if n > 1 else ["C(reader)", "Residual"]
    weights = [1 / (faces * n), (1 - 1 / faces) / n, 1 - 1 / n][: len(rows)]
    parts = np.array([w * ms[row] for w, row in zip(weights, rows, strict=True)])
    dfs = np.array([df[row] for row in rows])
    told = third_limit(study_gauge(cells))
    s2 = parts.sum()
    assert told.limit == pytest.approx(2.8 * math.sqrt(s2), rel=1e-6)
    assert told.df == pytest.approx(s2**2 / np.sum(parts**2 / dfs), rel=1e-6)
    g = 1 - dfs / stats.chi2.ppf(0.975, dfs)
    h = dfs / stats.chi2.ppf(0.025, dfs) - 1
    low = max(0.0, s2 - math.sqrt(np.sum((g * parts) ** 2)))
    high = s2 + math.sqrt(np.sum((h * parts) ** 2))
    assert told.interval == pytest.approx((2.8 * math.sqrt(low), 2.8 * math.sqrt(high)), rel=1e-6)
    assert told.mostly == {"C(reader)": "readers", "C(face):C(reader)": "interaction"}.get(
        rows[int(np.argmax(parts**2 / dfs))], "repeats" if n > 1 else "residual"
    )


def test_the_interval_holds_the_true_limit_about_as_often_as_it_says() -> None:
    runs = 500
    told = [third_limit(study_gauge(_drawn(seed, 15, 4, 2))) for seed in range(runs)]
    hits = sum(t.interval[0] <= TRUE <= t.interval[1] for t in told) / runs
    slack = 4 * math.sqrt(0.05 * 0.95 / runs)
    assert 0.95 - slack <= hits <= min(1.0, 0.95 + slack)


def test_a_plan_foretells_the_interval_of_a_larger_study() -> None:
    """What a small study foretells, from its true components, a larger one gives on the whole."""
    foretold = [plan_study(study_gauge(_drawn(s, 20, 8, 2)), 40, 6).interval for s in range(60)]
    given = [third_limit(study_gauge(_drawn(900 + s, 40, 6, 2))).interval for s in range(60)]
    for end in (0, 1):
        one = np.sqrt(np.mean([v[end] ** 2 for v in foretold]))
        two = np.sqrt(np.mean([v[end] ** 2 for v in given]))
        assert one == pytest.approx(two, rel=0.12)


def test_the_plan_of_the_study_itself_is_its_own_interval_where_nothing_was_set_to_zero() -> None:
    study = next(s for s in (study_gauge(_drawn(k, 30, 3, 2)) for k in range(20)) if not s.zeroed)
    assert plan_study(study, 30, 3).interval == pytest.approx(third_limit(study).interval)


def test_more_readers_help_where_readers_leave_the_doubt_and_more_faces_do_not() -> None:
    study = study_gauge(_drawn(2, 30, 3, 2))
    assert third_limit(study).mostly == "readers"
    assert third_limit(study).known == "no"
    by = {(p.faces, p.readers): p.interval[1] for p in usual_plans(study)}
    assert (30, 3) not in by
    assert by[30, 5] < 0.75 * by[60, 3]
    assert by[60, 5] == pytest.approx(by[30, 5], rel=0.05)


def test_one_reading_of_each_face_can_be_planned_too() -> None:
    study = study_gauge(_drawn(5, 30, 6, 1))
    assert plan_study(study, 30, 6).interval == pytest.approx(third_limit(study).interval)


def test_readers_who_do_not_differ_know_their_limit_well() -> None:
    rng = np.random.default_rng(3)
    cells = {
        (str(f), r): list(0.01 * f + rng.normal(0, 0.005, 2)) for f in range(30) for r in "abc"
    }
    told = third_limit(study_gauge(cells))
    assert told.known == "yes"
    assert told.interval[0] < 2.8 * 0.005 < told.interval[1]


def test_readers_who_always_agree_leave_no_doubt() -> None:
    cells = {(str(f), r): [0.25 * f] * 2 for f in range(4) for r in "ab"}
    told = third_limit(study_gauge(cells))
    assert (told.limit, told.df, told.mostly) == (0.0, 0.0, "")
