"""Monte Carlo of a budget. Witnesses: closed sums, `uncertainties`, `scipy.stats`, JCGM 101."""

from __future__ import annotations

import math
from decimal import Decimal

import numpy as np
import pytest
from scipy import stats
from uncertainties import correlated_values, covariance_matrix, ufloat

from lapwright.measure.budget import Positions, combined, share_budget
from lapwright.measure.loupe import read_loupe
from lapwright.measure.montecarlo import (
    FaceModel,
    Thrown,
    Tolerance,
    numerical_tolerance,
    shortest_interval,
    throw,
    validated,
)
from lapwright.measure.values import Segment

QUICK = Tolerance(most=200_000)
NO_PLACES = Positions((0.0, 0.0), 0.0)


def normals(*spreads: float):
    return lambda dice, n: (dice.standard_normal((n, len(spreads))) * spreads).sum(axis=1)


def rectangles(*spreads: float):
    half = np.array(spreads) * math.sqrt(3)
    return lambda dice, n: (dice.uniform(-1, 1, (n, half.size)) * half).sum(axis=1)


def model_of(edges, states, positions=NO_PLACES, **more) -> FaceModel:
    return FaceModel(np.array(edges, float), np.ones(1), np.array([states]), positions, **more)


@pytest.mark.parametrize(
    ("u", "digits", "expected"),
    [  # the first two are the worked notes of JCGM 101:2008, 7.9.2 (from memory)
        (0.00035, 2, 0.000005),
        (2.0, 1, 0.5),
        (0.0965, 2, 0.0005),
        (0.0996, 2, 0.005),
        (9.96, 1, 5.0),
    ],
)
def test_the_numerical_tolerance_is_half_a_unit_of_the_last_digit(
    u: float, digits: int, expected: float
) -> None:
    assert numerical_tolerance(u, digits=digits) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(("u", "digits"), [(0.0, 2), (-1.0, 2), (math.inf, 2), (0.1, 0)])
def test_no_tolerance_without_a_spread(u: float, digits: int) -> None:
    with pytest.raises(ValueError, match="no spread"):
        numerical_tolerance(u, digits=digits)


def test_too_few_throws_are_refused() -> None:
    with pytest.raises(ValueError, match="19999 throws"):
        throw(normals(1.0), Tolerance(most=19_999))


# JCGM 101:2008, 9.2: the sum of four quantities, from memory: four standard normals (9.2.2), four
# rectangles of unit spread (9.2.3), and three with a fourth ten times as wide (9.2.4).


def test_four_normals_agree_with_the_closed_form() -> None:
    thrown = throw(normals(1, 1, 1, 1), Tolerance(digits=1, part=0.2))
    assert thrown.stable == "yes"
    assert thrown.u == pytest.approx(2.0, abs=2 * thrown.errors[1] + 0.005)
    assert thrown.symmetric == pytest.approx((-3.92, 3.92), abs=0.05)
    assert validated(0.0, 2.0, thrown, digits=1).agrees == "yes"


def test_four_equal_rectangles_are_slightly_narrower_than_the_closed_form() -> None:
    thrown = throw(rectangles(1, 1, 1, 1), Tolerance(part=0.2))
    # the sum of four uniforms on (0, 1) has the distribution of Irwin and Hall
    reach = 2 * math.sqrt(3) * (float(stats.irwinhall(4).ppf(0.975)) - 2)
    assert thrown.symmetric == pytest.approx((-reach, reach), abs=0.02)
    assert reach == pytest.approx(3.88, abs=0.005)  # as printed in 9.2.3.3, from memory
    assert validated(0.0, 2.0, thrown, digits=1).agrees == "yes"


def test_one_wide_rectangle_does_not_agree_with_the_closed_form() -> None:
    thrown = throw(rectangles(1, 1, 1, 10), Tolerance(part=0.2))
    u = math.sqrt(103)
    assert thrown.u == pytest.approx(u, rel=0.005)
    assert thrown.symmetric == pytest.approx((-17.0, 17.0), abs=0.1)  # 9.2.4, from memory
    verdict = validated(0.0, u, thrown)
    assert verdict.agrees == "no"
    assert verdict.high == pytest.approx(19.9 - 17.0, abs=0.15)


def test_the_standard_errors_are_those_of_repeating_the_whole_run() -> None:
    runs = [throw(normals(1.0), Tolerance(digits=6, most=50_000), seed=s) for s in range(50)]
    for got, told in (
        ([r.mean for r in runs], [r.errors[0] for r in runs]),
        ([r.symmetric[1] for r in runs], [r.errors[3] for r in runs]),
    ):
        assert np.std(got) == pytest.approx(float(np.median(told)), rel=0.4)
    assert np.median([r.errors[0] for r in runs]) == pytest.approx(1 / math.sqrt(5e4), rel=0.2)


def test_throws_stop_once_they_stand_still_and_never_pass_their_limit() -> None:
    easy = throw(normals(1.0), Tolerance(digits=1, most=2_000_000))
    hard = throw(normals(1.0), Tolerance(digits=4, most=60_000))
    assert easy.stable == "yes"
    assert easy.throws < 200_000
    assert hard.stable == "no"
    assert hard.throws == 60_000


def test_a_quantity_without_spread_stands_still_at_once() -> None:
    thrown = throw(lambda _, n: np.full(n, 0.25))
    assert (thrown.mean, thrown.u, thrown.throws) == (0.25, 0.0, 20_000)


def test_the_shortest_interval_of_a_lopsided_quantity_starts_at_its_edge() -> None:
    values = np.random.default_rng(3).exponential(size=400_000)
    low, high = shortest_interval(values)
    assert low == pytest.approx(0.0, abs=0.001)
    assert high == pytest.approx(-math.log(0.05), rel=0.01)  # exponential: 0 to ln 20
    symmetric = throw(lambda dice, n: dice.exponential(size=n), QUICK).symmetric
    assert symmetric == pytest.approx(stats.expon.ppf([0.025, 0.975]), rel=0.03)


def test_a_remote_chance_does_not_widen_the_drawn_in_deviation() -> None:
    thrown = throw(model_of([0, 1000], [0.01]), QUICK)
    assert thrown.u == pytest.approx(math.sqrt(0.01 * 0.99), rel=0.03)
    assert thrown.drawn_in_u == 0.0
    # censored normal: E[min(z^2, k^2)] = 1 - 2 k pdf(k) - 2 tail + 2 k^2 tail, with tail 0.025
    k = float(stats.norm.ppf(0.975))
    var = 0.95 - 2 * k * float(stats.norm.pdf(k)) + 0.05 * k * k
    many = throw(normals(1.0), Tolerance(digits=4, most=200_000))
    assert many.drawn_in_u == pytest.approx(math.sqrt(var), rel=0.006)


def test_a_verdict_near_the_tolerance_stays_open() -> None:
    thrown = Thrown(
        0.0, 1.0, (-1.96, 2.009), (-1.96, 2.009), 10**6, (0.0, 0.0, 0.001, 0.001), "no", 1.0
    )
    verdict = validated(0.0, 1.0, thrown)
    assert (verdict.delta, verdict.agrees) == (0.05, "open")
    assert verdict.high == pytest.approx(0.049, abs=1e-4)


# The face.

SEGMENTS = (
    Segment(0.0, 0.1, "unbrazed", 1.0),
    Segment(0.1, 0.5, "brazed", 0.0),
    Segment(0.5, 0.6, "unbrazed", 0.9),
    Segment(0.6, 1.0, "brazed", 0.0),
)
PLACES = Positions((1.3, 2.1), 1.2, common_u=0.4, stub=7.0)


def test_the_closed_form_of_a_face_agrees_with_throwing_its_places() -> None:
    budget = share_budget(
        SEGMENTS, overlap_px=900.0, positions=PLACES, line_u=0.001, class_doubt=0.0
    )
    model = model_of([0, 90, 450, 540, 900], [s.probability for s in SEGMENTS], PLACES,
                     line_u=0.001, classes="held")  # fmt: skip
    thrown = throw(model, Tolerance(digits=2, part=0.2, most=400_000))
    assert model.share == pytest.approx(0.19)
    assert thrown.mean == pytest.approx(0.19, abs=4 * thrown.errors[0])
    assert thrown.u == pytest.approx(combined(budget), rel=0.01)
    assert validated(0.19, combined(budget), thrown, digits=1).agrees == "yes"


def test_correlated_ends_agree_with_the_uncertainties_package() -> None:
    """One camera shake moves both ends: a shared part beside one of each end's own."""
    cov = np.array([[9.0, 6.0], [6.0, 8.0]])
    tube, cup = correlated_values([0.0, 1000.0], cov)
    void = ufloat(300.0, 2.0), ufloat(520.0, 2.0)
    share = (void[1] - void[0] + 0.5 * (void[0] - tube)) / (cup - tube)
    root = np.linalg.cholesky(cov)

    def sampler(dice: np.random.Generator, n: int) -> np.ndarray:
        a, b = root @ dice.standard_normal((2, n))
        v, w = 300 + 2 * dice.standard_normal(n), 520 + 2 * dice.standard_normal(n)
        return (w - v + 0.5 * (v - a)) / (1000 + b - a)

    thrown = throw(sampler, Tolerance(part=0.2, most=400_000))
    assert np.allclose(covariance_matrix([tube, cup]), cov)
    assert thrown.u == pytest.approx(share.std_dev, rel=0.01)
    assert validated(share.nominal_value, share.std_dev, thrown, digits=1).agrees == "yes"


def test_the_scale_cancels_in_a_share() -> None:
    plain = model_of([0, 300, 1000], [1.0, 0.0], PLACES)
    scaled = model_of([0, 300, 1000], [1.0, 0.0], PLACES, relative_scale_u=0.05)
    shares = [model(np.random.default_rng(4), 2000) for model in (plain, scaled)]
    np.testing.assert_allclose(shares[0], shares[1], rtol=1e-9)
    assert np.ptp(shares[0]) > 0.01


def test_thrown_states_have_the_deviation_of_a_yes_or_no() -> None:
    thrown = throw(model_of([0, 900, 1000], [0.0, 0.4]), QUICK)
    assert thrown.u == pytest.approx(0.1 * math.sqrt(0.4 * 0.6), rel=0.01)
    assert thrown.symmetric == pytest.approx((0.0, 0.1), abs=0.0005)  # half a pixel


def test_suppositions_move_their_runs_together() -> None:
    model = FaceModel(
        np.array([0.0, 400.0, 600.0, 1000.0]),
        np.array([0.5, 0.5]),
        np.array([[0.0, 1.0, 0.0], [1.0, 0.0, 1.0]]),
        NO_PLACES,
    )
    assert throw(model, QUICK).u == pytest.approx(0.3, rel=0.01)


def test_void_ends_alike_add_up_and_void_ends_alone_add_in_squares() -> None:
    edges, states = [0, 100, 200, 300, 400, 1000], [0.0, 1.0, 0.0, 1.0, 0.0]
    alike = throw(model_of(edges, states, Positions((0, 0), 0.0, common_u=2.0)), QUICK)
    alone = throw(model_of(edges, states, Positions((0, 0), 2.0)), QUICK)
    pixel = 4 / 12  # each of the four boundaries is also known to a pixel only
    assert alike.u == pytest.approx(math.hypot(4 * 2, math.sqrt(pixel)) / 1000, rel=0.01)
    assert alone.u == pytest.approx(math.sqrt(4 * 4 + pixel) / 1000, rel=0.01)


# A loupe reading.


def test_a_loupe_reading_agrees_with_the_uncertainties_package() -> None:
    reading = read_loupe("22.0", ["1.1", "0.9", "2.0"], resolution_mm="0.1")
    edge = 0.05 / math.sqrt(3)
    runs = [ufloat(a, edge) - ufloat(0, edge) for a in (1.1, 0.9, 2.0)]
    overlap = ufloat(22.0, edge) - ufloat(0, edge)
    share = (sum(runs) + ufloat(0, edge)) / overlap  # one run too small to be seen
    assert reading.unbrazed_share == pytest.approx(share.nominal_value)
    assert reading.u == pytest.approx(share.std_dev, rel=1e-9)


def test_a_loupe_reading_agrees_with_throwing_its_edges() -> None:
    reading = read_loupe(Decimal("12.0"), ["1.5", "1.0"], resolution_mm="0.1")

    def sampler(dice: np.random.Generator, n: int) -> np.ndarray:
        edges = dice.uniform(-0.05, 0.05, (7, n))
        unbrazed = 2.5 + edges[0] - edges[1] + edges[2] - edges[3] + edges[4]
        return unbrazed / (12.0 + edges[5] - edges[6])

    thrown = throw(sampler, Tolerance(part=0.2, most=400_000))
    assert thrown.u == pytest.approx(reading.u, rel=0.01)
    assert validated(reading.unbrazed_share, reading.u, thrown, digits=1).agrees == "yes"
