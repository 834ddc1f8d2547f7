"""How sure one reading is: lopsided intervals, and readers that differ; against scipy."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from scipy.stats import norm

from lapwright.core.evidence import Reading
from lapwright.core.outcomes import Outcome
from lapwright.rules.faces import conformance_probability
from unit.rules.test_faces import CHECK, SHARES, SPREADS
from unit.rules.test_faces import _judge as judge
from unit.rules.test_faces import _reading as reading


def _lopsided(percent: str, low: str, high: str, u: str = "1.3") -> Reading:
    ends = {"low": Decimal(low) / 100, "high": Decimal(high) / 100}
    photo = replace(reading(percent, u), way="photo", accepted_by="one")
    return replace(photo, **ends)


def test_a_remote_chance_towards_the_limit_counts_in_the_probability() -> None:
    """15.0 % whose interval reaches 20.01 %: the limit is its 97.5 % point, not 4.5 u away."""
    result = judge(_lopsided("15.0", "14.0", "20.01", "1.1"), s_r=None)
    assert result.conformance == pytest.approx(norm.cdf(5 / (5.01 / 1.96)), abs=1e-12)
    assert result.due == "second"
    over = judge(_lopsided("25.0", "19.99", "26.0", "1.1"), s_r=None)
    assert over.conformance == pytest.approx(norm.cdf(-5 / (5.01 / 1.96)), abs=1e-12)


@pytest.mark.parametrize("k", ["1.96", "2"])
@given(SHARES, SPREADS)
def test_a_symmetric_interval_leaves_the_probability_as_it_was(
    k: str, share: Decimal, u: Decimal
) -> None:
    filed = replace(reading("5"), share=share, u=u, way="photo", accepted_by="one")
    filed = replace(filed, low=share - Decimal(k) * u, high=share + Decimal(k) * u)
    expected = conformance_probability(share, u, Decimal("0.2"))
    assert judge(filed, s_r=None).conformance == expected


def test_an_interval_that_reaches_away_from_the_limit_changes_nothing() -> None:
    wide, plain = _lopsided("15.0", "1.0", "17.2", "1.1"), _lopsided("15.0", "12.8", "17.2", "1.1")
    assert judge(wide, s_r=None).conformance == judge(plain, s_r=None).conformance


@pytest.mark.parametrize("more", [{}, {"way": "photo", "accepted_by": "one"}])
def test_one_reading_is_no_surer_than_the_readers_agree(more: dict[str, str]) -> None:
    """19.9 % read to 0.01 mm, with readers that differ by 1 point (rules of double reading)."""
    fine = replace(reading("19.9", "0.03"), **more)
    result = judge(fine, s_r="0.01")
    assert (result.due, result.u) == ("second", Decimal("0.0003"))
    assert result.conformance == pytest.approx(norm.cdf(0.1), abs=1e-12)
    assert (result.low, result.high) == (Decimal("0.1794"), Decimal("0.2186"))
    assert judge(replace(fine, share=Decimal("0.18")), s_r="0.01").finding.outcome is Outcome.MET


def test_a_checked_method_is_not_one_of_the_readers() -> None:
    """Its upper end is that of the check's limits of agreement, whatever the readers' spread."""
    fine = replace(reading("15.0", "0.03"), way="photo", method="m/1")
    close, apart = (judge(fine, s_r=s, checks=(CHECK,)) for s in ("0.001", "0.05"))
    assert close.finding.outcome is apart.finding.outcome is Outcome.MET
    assert close.high == apart.high


@pytest.mark.parametrize(
    ("percent", "rule", "told"),
    [
        ("15", "second-reading", "face.met_step"),
        ("25", "simple", "face.not_met_step"),
        ("19.9", "second-reading", "face.due_second_step"),
    ],
)
def test_without_s_r_a_loupe_reading_says_that_its_step_is_all(
    percent: str, rule: str, told: str
) -> None:
    assert judge(reading(percent), rule=rule, s_r=None).finding.message.id == told
    assert judge(reading(percent), rule=rule).finding.message.id == told.removesuffix("_step")
    photo = replace(reading(percent), way="photo", accepted_by="one")
    found = judge(photo, rule=rule, s_r=None).finding.message.id
    assert found == told.removesuffix("_step")


def test_without_s_r_a_guarded_failure_says_it_too() -> None:
    pair = (reading("19.5"), reading("19.4", reader="two"))
    told = judge(*pair, rule="guarded", s_r=None).finding.message.id
    assert told == "face.guarded_not_met_step"
