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


def _spread(shares: list[float], *, reach: float = 0.01) -> list[CheckedFace]:
    read = [v + 0.001 * (-1) ** n for n, v in enumerate(shares)]
    return [
        CheckedFace(f"{n}", (v,), (p,), ((p - reach, p + reach),))
        for n, (v, p) in enumerate(zip(shares, read, strict=True))
    ]


def test_faces_are_counted_on_either_side_of_the_worse_limit() -> None:
    faces = _spread([0.05, 0.0501, 0.12, 0.20, 0.2001, 0.25, 0.31])
    plain = check_method(faces)
    assert (plain.over_limit, plain.below_limit, plain.levels) == (3, 4, 5)
    low = check_method(faces, limit=0.10)  # fewer below it
    assert (low.over_limit, low.below_limit) == (3, 2)
    high = check_method(faces, limit=0.30)  # fewer over it
    assert (high.over_limit, high.below_limit) == (1, 4)


def test_one_level_is_one_level() -> None:
    assert check_method(_spread([0.15] * 30)).levels == 1


def test_a_face_is_held_where_every_reading_has_an_interval_that_holds_the_loupe() -> None:
    figures = check_method(FACES)
    assert (figures.held.hits, figures.held.of) == (2, 4)
    bare = [CheckedFace(f.face, f.loupe, f.program) for f in FACES]
    assert check_method(bare).held.hits == 0
    half = CheckedFace("1", (0.10,), (0.10, 0.11), ((0.09, 0.12),))
    assert not half.covered


def test_the_loupes_own_interval_widens_in_quadrature() -> None:
    """Half-widths of 3 and 4 points make 5: the sides of a right-angled triangle."""
    for gap, held in ((0.0499, True), (0.0501, False)):
        face = CheckedFace("1", (0.20,), (0.20 - gap,), ((0.17 - gap, 0.23 - gap),), 0, (0.04,))
        assert face.covered is held
    twice = CheckedFace("1", (0.2, 0.2), (0.15,), ((0.12, 0.18),), 0, (0.056, 0.056))
    assert not twice.covered  # the mean of two is known better: 5.6 / sqrt(2) is under 4


@pytest.mark.parametrize(
    ("hits", "high_enough"), [(24, False), (25, False), (26, True), (1, False)]
)
def test_the_upper_bound_of_the_share_held_is_the_exact_one(hits: int, high_enough: bool) -> None:
    shares = [0.01 * n for n in range(2, 32)]
    faces = _spread(shares[:hits]) + _spread(shares[hits:], reach=0.0001)
    held = check_method(faces).held
    exact = stats.binomtest(hits, 30).proportion_ci(method="exact").high
    assert held.interval[1] == pytest.approx(exact)
    assert (held.interval[1] >= 0.95) is high_enough
