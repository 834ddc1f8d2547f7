"""Conformance probability against scipy; the three decision rules at their edges."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.stats import norm

from lapwright.core.evidence import MethodCheck, Reading
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
CHECK = MethodCheck(
    act="a",
    method="m/1",
    on=date(2026, 1, 2),
    by="lead",
    faces=31,
    bias=Decimal("0.004"),
    half_width=Decimal("0.02"),
    max_bias=Decimal("0.01"),
    max_half_width=Decimal("0.03"),
    readings_sha256="0" * 64,
    given=33,
    refused=2,
    near_limit=12,
    falsely_met=0,
    loupe_readers=("two",),
)
SPREAD = {"over_limit": 5, "below_limit": 10, "levels": 8, "near_limit": 5}
SLOPE = {"slope_low": Decimal("0.02"), "slope_high": Decimal("0.09")}
FALL = {"slope_low": Decimal("-0.09"), "slope_high": Decimal("-0.02")}
LEVEL = {"slope_low": Decimal("0"), "slope_high": Decimal("0.09")}
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


def _on_days(*readings: Reading) -> tuple[Reading, ...]:
    """The readings, one a day: which came first is then beyond doubt."""
    return tuple(replace(r, on=r.on + timedelta(days=n)) for n, r in enumerate(readings))


def _judge(
    *readings: Reading,
    rule: str = "second-reading",
    s_r: str | None = "0.005",
    in_force: Adopted = IN_FORCE,
    checks: tuple[MethodCheck, ...] = (),
) -> FaceResult:
    return judge_face(
        "F",
        readings,
        adopted=in_force,
        decision_rule=rule,
        s_reproducibility=Decimal(s_r) if s_r else None,
        method_checks=checks,
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
    filed = _on_days(_reading("19.7"), _reading("21.0", reader="two"), _reading("19.7", reader="x"))
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
    assert (_judge(*_on_days(*filed), s_r="0.0000001").due == "third") == (abs(apart.n) > limit)


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
    assert _judge(proposal, checks=(CHECK,)).finding.outcome is Outcome.MET
    unsure = replace(proposal, needs_reader="coarse")
    assert _judge(unsure, checks=(CHECK,)).finding.why is Why.HOLD


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"faces": 29}, "face.check_few"),
        ({"method": "m/2"}, "face.check_other_method"),
        ({"on": date(2026, 1, 6)}, "face.check_later"),
        ({"bias": Decimal("0.0100001")}, "face.check_outside"),
        ({"bias": Decimal("-0.0100001")}, "face.check_outside"),
        ({"half_width": Decimal("0.0300001")}, "face.check_outside"),
        ({"half_width": None}, "face.check_outside"),
        ({"max_bias": None}, "face.check_outside"),
        ({"max_bias": Decimal("0.0500001")}, "face.check_loose"),
        ({"max_half_width": Decimal("0.1000001")}, "face.check_loose"),
        (SLOPE | {"bias_at_limit": Decimal("0.0100001")}, "face.check_sloped"),
        (FALL | {"bias_at_limit": Decimal("-0.0100001")}, "face.check_sloped"),
        ({"refused": 12}, "face.check_refusing"),
        ({"refused": None}, "face.check_refusing"),
        ({"near_limit": 0}, "face.check_far"),
        ({"near_limit": None}, "face.check_far"),
        ({"falsely_met": 1}, "face.check_false_met"),
        ({"falsely_met": None}, "face.check_false_met"),
        (SPREAD | {"over_limit": 4}, "face.check_spread"),
        (SPREAD | {"below_limit": 9}, "face.check_spread"),
        (SPREAD | {"levels": 7}, "face.check_spread"),
        (SPREAD | {"near_limit": 4}, "face.check_spread"),
        (SPREAD | {"over_limit": None}, "face.check_spread"),
        ({"covered_high": Decimal("0.9499999")}, "face.check_uncovered"),
        ({"own": "yes"}, "face.check_own"),
        ({"loupe_readers": ()}, "face.check_unsigned"),
        ({"by": ""}, "face.check_unsigned"),
        ({"readings_sha256": ""}, "face.check_unsigned"),
    ],
)
def test_a_check_that_falls_short_leaves_a_proposal(change: dict[str, Any], told: str) -> None:
    proposal = replace(_reading("5"), way="photo", method="m/1")
    finding = _judge(proposal, checks=(replace(CHECK, **change),)).finding
    assert (finding.why, finding.message.id) == (Why.HOLD, told)
    accepted = replace(proposal, accepted_by="teal")
    assert _judge(accepted, checks=(replace(CHECK, **change),)).finding.outcome is Outcome.MET


@pytest.mark.parametrize(
    "change",
    [
        {"faces": 30},
        {"on": date(2026, 1, 5)},
        {"bias": Decimal("-0.01"), "half_width": Decimal("0.03")},
        {"max_bias": Decimal("0.05"), "max_half_width": Decimal("0.10")},
        {"refused": 11, "near_limit": 1},  # an act of an older form: no sides are counted in it
        SPREAD | {"covered_high": Decimal("0.95")},
        SLOPE | {"bias_at_limit": Decimal("0.01")},
        LEVEL | {"bias_at_limit": Decimal("0.04")},  # no slope is seen: the mean bias stands
    ],
)
def test_a_check_counts_up_to_its_edges(change: dict[str, Any]) -> None:
    proposal = replace(_reading("5"), way="photo", method="m/1")
    checks = (replace(CHECK, **change),)
    assert _judge(proposal, checks=checks).finding.outcome is Outcome.MET


def test_ends_that_the_program_found_alone_need_a_person_under_every_check() -> None:
    found = replace(_reading("5"), way="photo", method="m/1", ends_by="found-alone")
    for change in ({}, {"accepted_by": "teal"}, {"ends_accepted_by": "teal"}):
        finding = _judge(replace(found, **change), checks=(CHECK,)).finding
        assert (finding.why, finding.message.id) == (Why.HOLD, "face.ends_alone")
    whole = replace(found, accepted_by="teal", ends_accepted_by="brindle")
    result = _judge(whole)
    assert (result.finding.outcome, result.readers) == (Outcome.MET, ("teal",))
    assert _judge(replace(found, ends_by="found"), checks=(CHECK,)).finding.outcome is Outcome.MET


def test_found_ends_over_the_limit_that_nobody_accepted_hold_a_pass() -> None:
    found = replace(_reading("25"), way="photo", method="m/1", ends_by="found-alone")
    half = replace(found, accepted_by="teal")
    for left in (found, half):
        finding = _judge(left, _reading("5", reader="two"), checks=(CHECK,)).finding
        assert (finding.why, finding.message.id) == (Why.HOLD, "face.unaccepted")


def test_who_accepted_the_ends_is_no_second_reader() -> None:
    found = replace(_reading("19.4"), way="photo", method="m/1", ends_by="found-alone")
    one = replace(found, accepted_by="one", ends_accepted_by="two")
    assert _judge(one, _reading("19.0", reader="two")).due == "second"
    assert _judge(one, _reading("19.0", reader="three")).due == ""


def test_no_joint_found_asks_for_the_ends() -> None:
    none = replace(BLANK, way="photo", refused="MEAS-021", ends_by="found-alone")
    slip = replace(BLANK, way="photo", refused="ends not given", reader="two")
    for readings, told in (
        ((none,), "face.ends_not_found"),
        ((none, slip), "face.ends_not_found"),
        ((slip,), "face.no_ends"),
    ):
        finding = _judge(*readings).finding
        assert (finding.why, finding.message.id) == (Why.NEEDS_DATA, told)
    dark = replace(BLANK, way="photo", refused="MEAS-012", reader="three")
    assert _judge(none, dark).finding.message.id == "face.refused"


def test_the_newest_check_decides_and_one_of_two_on_a_day_is_not_chosen() -> None:
    proposal = replace(_reading("5"), way="photo", method="m/1")
    newer = replace(CHECK, on=date(2026, 1, 4), bias=Decimal("0.02"))
    assert _judge(proposal, checks=(newer, CHECK)).finding.message.id == "face.check_outside"
    alike = replace(newer, on=CHECK.on)
    assert _judge(proposal, checks=(CHECK, alike)).finding.message.id == "face.check_outside"
    after = replace(newer, on=date(2026, 2, 1))
    assert _judge(proposal, checks=(CHECK, after)).finding.outcome is Outcome.MET


def test_one_method_that_nobody_accepted_is_one_reader() -> None:
    one = replace(_reading("19.4"), way="photo", method="m/1")
    two = replace(_reading("19.0", reader="teal"), way="photo", method="m/1")
    assert _judge(one, two, checks=(CHECK,)).due == "second"
    read = _judge(one, replace(two, accepted_by="teal"), checks=(CHECK,))
    assert (read.finding.outcome, len(read.readers)) == (Outcome.MET, 2)
    loupe = _reading("19.0", reader="teal")
    assert _judge(one, loupe, checks=(CHECK,)).finding.outcome is Outcome.MET


def test_joining_readings_never_lowers_the_upper_end() -> None:
    wide, narrow = _reading("18.5", "1.0"), _reading("18.6", "0.1")
    assert _judge(wide, rule="guarded").due == "second"
    assert _judge(wide, narrow, rule="guarded").due == "second"
    assert _judge(narrow, rule="guarded").finding.outcome is Outcome.MET


def test_a_reading_without_a_method_version_is_never_under_a_check() -> None:
    nameless = replace(_reading("5"), way="photo", method="")
    checks = (replace(CHECK, method=""),)
    assert _judge(nameless, checks=checks).finding.why is Why.HOLD


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
