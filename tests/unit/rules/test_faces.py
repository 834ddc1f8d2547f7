"""Conformance probability against scipy; the three decision rules at their edges."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.stats import norm

from lapwright.core.evidence import Reading
from lapwright.core.outcomes import Outcome, Why
from lapwright.rules.errors import ReadingUnknown
from lapwright.rules.faces import FaceResult, conformance_probability, judge_face
from lapwright.rules.rulebook import Adopted
from published.adopting import adopted

IN_FORCE = adopted(["asme-bpvc-ix 2023", "programme 1"])
BLANK = Reading(
    "",
    "one",
    date(2026, 1, 5),
    "loupe",
    None,
    None,
    None,
    None,
    None,
    None,
    "",
    "",
    "",
    "",
    "",
    "yes",
    (),
    "",
)
SHARES = st.decimals(Decimal("0"), Decimal("0.5"), places=4)
SPREADS = st.decimals(Decimal("0.0005"), Decimal("0.05"), places=4)


def _reading(percent: str, u: str = "0.6", reader: str = "one", **more: str) -> Reading:
    share, spread = Decimal(percent) / 100, Decimal(u) / 100
    return replace(
        BLANK,
        reader=reader,
        share=share,
        u=spread,
        low=share - 2 * spread,
        high=share + 2 * spread,
        **more,
    )  # type: ignore[arg-type]


def _judge(
    *readings: Reading,
    rule: str = "second-reading",
    s_r: str | None = "0.005",
    in_force: Adopted = IN_FORCE,
    checked: tuple[str, ...] = (),
) -> FaceResult:
    return judge_face(
        "F",
        readings,
        adopted=in_force,
        decision_rule=rule,
        s_reproducibility=Decimal(s_r) if s_r else None,
        checked_methods=checked,
    )


@given(SHARES, SPREADS)
def test_conformance_is_that_of_scipy(share: Decimal, u: Decimal) -> None:
    expected = norm.cdf(0.2, loc=float(share), scale=float(u))
    assert conformance_probability(share, u, Decimal("0.2")) == pytest.approx(expected, abs=1e-12)


def test_conformance_without_spread_is_certain() -> None:
    assert conformance_probability(Decimal("0.2"), Decimal(0), Decimal("0.2")) == 1.0
    assert conformance_probability(Decimal("0.2001"), Decimal(0), Decimal("0.2")) == 0.0


@pytest.mark.parametrize(
    ("percent", "outcome"), [("20.0", Outcome.MET), ("20.0001", Outcome.NOT_MET)]
)
def test_simple_acceptance_ends_exactly_at_the_limit(percent: str, outcome: Outcome) -> None:
    assert _judge(_reading(percent), rule="simple").finding.outcome is outcome


def test_guarded_acceptance_ends_where_the_interval_touches_the_limit() -> None:
    assert _judge(_reading("18.8"), rule="guarded").finding.outcome is Outcome.MET
    assert _judge(_reading("18.9"), rule="guarded").due == "second"
    assert _judge(_reading("21.3"), rule="guarded").finding.outcome is Outcome.NOT_MET


def test_guarded_with_two_readings_does_not_ask_for_ever() -> None:
    result = _judge(_reading("19.5"), _reading("19.4", reader="two"), rule="guarded")
    assert result.finding.outcome is Outcome.NOT_MET


def test_two_readings_need_the_readers_reproducibility() -> None:
    result = _judge(_reading("19.5"), _reading("19.4", reader="two"), s_r=None)
    assert (result.finding.why, result.finding.message.id) == (Why.NEEDS_DATA, "face.no_s_r")


def test_a_difference_of_exactly_2_8_s_r_still_agrees() -> None:
    agreed = _judge(_reading("19.5", "0.5"), _reading("18.1", "0.5", "two"))
    assert agreed.finding.outcome is Outcome.MET
    assert _judge(_reading("19.5", "0.5"), _reading("18.09", "0.5", "two")).due == "third"


def test_an_s_r_finer_than_the_readings_never_makes_the_median_answer() -> None:
    """Stated as 0.01 points, s_R would call 19.7 and 21.0 % apart and take 19.7 % of three."""
    filed = (_reading("19.7"), _reading("21.0", reader="two"), _reading("19.7", reader="three"))
    result = _judge(*filed, s_r="0.0001")
    assert (result.finding.outcome, result.finding.message.id) == (
        Outcome.NOT_MET,
        "face.not_met_own_u",
    )
    assert dict(result.finding.message.params)["own"] == "0.60"
    assert any("1.96" in c.where for c in result.finding.cites)
    assert _judge(*filed, s_r="0.007").finding.message.id == "face.not_met"


@given(SHARES, SHARES, SPREADS, SPREADS)
def test_the_own_spread_is_that_of_error_propagation(
    one: Decimal, two: Decimal, u_one: Decimal, u_two: Decimal
) -> None:
    """2.8 times it is 1.98 standard uncertainties of the difference, by `uncertainties`."""
    from uncertainties import ufloat

    filed = (
        _reading("20", "0.01"),  # straddles, so that the second counts
        _reading(str(two * 100), str(u_two * 100), "two"),
    )
    filed = (replace(filed[0], u=u_one, share=one, low=Decimal(0), high=Decimal(1)), filed[1])
    apart = ufloat(float(one), float(u_one)) - ufloat(float(two), float(u_two))
    limit = 2.8 / 2**0.5 * apart.s
    assume(abs(abs(apart.n) - limit) > 1e-9)
    assert (_judge(*filed, s_r="0.0000001").due == "third") == (abs(apart.n) > limit)


def test_one_reader_counts_once_with_the_larger_reading() -> None:
    result = _judge(_reading("15.0"), _reading("25.0"))
    assert result.finding.outcome is Outcome.NOT_MET
    assert result.readers == ("one",)


def test_a_refused_picture_is_held_until_someone_reads_the_face() -> None:
    refused = replace(BLANK, way="photo", refused="MEAS-012")
    assert _judge(refused).finding.message.id == "face.refused"
    assert _judge(refused, _reading("5", reader="two")).finding.outcome is Outcome.MET


def test_a_program_reading_counts_once_accepted_or_its_method_checked() -> None:
    proposal = replace(_reading("5"), way="photo", method="m/1")
    assert _judge(proposal).finding.message.id == "face.not_accepted"
    assert _judge(replace(proposal, accepted_by="teal")).readers == ("teal",)
    assert _judge(proposal, checked=("m/1",)).finding.outcome is Outcome.MET
    unsure = replace(proposal, needs_reader="coarse")
    assert _judge(unsure, checked=("m/1",)).finding.why is Why.HOLD


def test_an_unread_face_asks_for_data() -> None:
    assert _judge().finding.why is Why.NEEDS_DATA


def test_no_adopted_limit_is_unread_never_a_pass() -> None:
    empty = Adopted((), date(2026, 1, 5))
    assert _judge(_reading("1"), in_force=empty).finding.why is Why.UNREAD


def test_a_rule_that_does_not_exist_is_refused() -> None:
    with pytest.raises(ReadingUnknown, match="RULE-004"):
        _judge(_reading("1"), rule="mean")


def test_close_to_the_limit_two_decimals_are_shown() -> None:
    shown = dict(_judge(_reading("20.04", "0.001")).finding.message.params)
    assert shown["share"] == "20.04"


def test_without_a_house_rule_the_factor_is_2_8() -> None:
    bare = adopted(["asme-bpvc-ix 2023"])
    pair = (_reading("19.5", "0.5"), _reading("18.0", "0.5", "two"))
    assert _judge(*pair, in_force=bare).due == "third"
