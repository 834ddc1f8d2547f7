"""The figures of a method check, on faces whose answers are plain to see."""

from __future__ import annotations

import pytest
from scipy import stats

from lapwright.measure.errors import MethodCheckRefused, StudyTooSmall
from lapwright.measure.methodcheck import CheckedFace, check_method, verdict

FACES = [
    CheckedFace("1", (0.10,), (0.12,), ((0.09, 0.15),)),
    CheckedFace("2", (0.18, 0.20), (0.21,), ((0.20, 0.22),)),
    CheckedFace("3", (0.25,), (0.19,), ((0.18, 0.20),)),
    CheckedFace("4", (0.30,), (0.33,), ((0.29, 0.37),)),
    CheckedFace("5", (0.30,), (), (), refused=1),
    CheckedFace("6", (0.30,), ()),
    CheckedFace("7", (), (0.30,)),
]


def test_the_figures_of_a_small_check() -> None:
    figures = check_method(FACES, limit=0.20)
    assert figures.faces == 4
    assert figures.names == ("1", "2", "3", "4")
    assert figures.agreement.bias == pytest.approx((0.02 + 0.02 - 0.06 + 0.03) / 4)
    assert (figures.refused.hits, figures.refused.of) == (1, 5)
    assert figures.covered is not None
    assert (figures.covered.hits, figures.covered.of) == (2, 4)
    assert figures.falsely_met == ("3",)
    assert figures.falsely_not_met == ("2",)
    assert figures.verdicts is not None
    assert figures.verdicts.agreed == 2


def test_shares_of_counts_have_the_exact_interval() -> None:
    exact = stats.binomtest(1, 5).proportion_ci(method="exact")
    assert check_method(FACES).refused.interval == pytest.approx((exact.low, exact.high))


def test_without_a_limit_no_verdicts_and_without_intervals_no_coverage() -> None:
    bare = [CheckedFace(f.face, f.loupe, f.program) for f in FACES]
    figures = check_method(bare)
    assert (figures.verdicts, figures.covered, figures.falsely_met) == (None, None, ())


def test_the_limit_itself_is_met() -> None:
    assert (verdict(0.2, 0.2), verdict(0.2000001, 0.2)) == ("met", "not-met")
    assert verdict((0.1 + 0.2) / 1.5, 0.2) == "met"  # 0.2 and a rounding of binary numbers


def test_method_check_refused() -> None:
    with pytest.raises(MethodCheckRefused, match="MEAS-044"):
        check_method([CheckedFace("6", (0.3,), ()), CheckedFace("7", (), (0.3,))])


def test_refusals_alone_are_too_few() -> None:
    with pytest.raises(StudyTooSmall):
        check_method([CheckedFace(str(n), (0.3,), (), (), 1) for n in range(30)])
