"""How far a method check's limits of agreement reach into the judgement of a face."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapwright.core.evidence import MethodCheck, Reading
from lapwright.core.outcomes import Outcome, Why
from lapwright.rules.checkreach import upper_under
from lapwright.rules.faces import FaceResult, judge_face
from published.adopting import adopted

IN_FORCE = adopted(["asme-bpvc-ix 2023", "programme 1"])
RULES = ("simple", "guarded", "second-reading")
SHARES = st.decimals(Decimal("0"), Decimal("0.5"), places=4)
SPREADS = st.decimals(Decimal("0.0005"), Decimal("0.05"), places=4)
WIDE = MethodCheck(
    act="a",
    method="m/1",
    on=date(2026, 1, 2),
    by="lead",
    faces=31,
    bias=Decimal("-0.036"),
    half_width=Decimal("0.08"),
    max_bias=Decimal("0.05"),
    max_half_width=Decimal("0.10"),
    readings_sha256="0" * 64,
    given=33,
    refused=2,
    near_limit=12,
    falsely_met=0,
    loupe_readers=("two",),
)
SLOPE = {"slope_low": Decimal("0.02"), "slope_high": Decimal("0.09")}
FALL = {"slope_low": Decimal("-0.2"), "slope_high": Decimal("-0.02")}
LEVEL = {"slope_low": Decimal("0"), "slope_high": Decimal("0.09")}


def _read(percent: str, *, u: str = "0.0015", method: str = "m/1") -> Reading:
    """A program's reading under the check, which nobody accepted."""
    share, spread = Decimal(percent) / 100, Decimal(u)
    return Reading(
        act="",
        reader="one",
        on=date(2026, 1, 5),
        way="photo",
        share=share,
        u=spread,
        low=share - 2 * spread,
        high=share + 2 * spread,
        unsure=None,
        overlap=None,
        needs_reader="",
        accepted_by="",
        refused="",
        method=method,
        instrument="",
        blind="yes",
        segments=(),
        photo_sha256="",
    )


def _judge(*readings: Reading, rule: str, checks: tuple[MethodCheck, ...]) -> FaceResult:
    return judge_face(
        "F",
        readings,
        adopted=IN_FORCE,
        decision_rule=rule,
        s_reproducibility=Decimal("0.005"),
        method_checks=checks,
    )


def test_limits_of_agreement_reach_the_judgement_under_every_rule() -> None:
    """16.5 % by a program that reads 3.6 points low, with limits 8 points to either side."""
    read = _read("16.5")
    for rule, told in (
        ("simple", "face.check_reaches"),
        ("guarded", "face.due_second"),
        ("second-reading", "face.due_second"),
    ):
        result = _judge(read, rule=rule, checks=(WIDE,))
        assert (result.finding.why, result.finding.message.id) == (Why.HOLD, told)
        assert dict(result.finding.message.params)["high"] == "28.1"
        taken = _judge(replace(read, accepted_by="teal"), rule=rule, checks=(WIDE,))
        assert taken.finding.outcome is Outcome.MET
        # one reader among others: 16.5 % and 1.96 s_R of half a point
        assert taken.high == Decimal("0.165") + Decimal("1.96") * Decimal("0.005")


@pytest.mark.parametrize(
    ("percent", "outcome"), [("8.4", Outcome.MET), ("8.5", Outcome.UNDETERMINED)]
)
def test_an_unaided_pass_ends_where_the_limits_of_agreement_touch_the_limit(
    percent: str, outcome: Outcome
) -> None:
    read = _read(percent)
    for rule in RULES:
        assert _judge(read, rule=rule, checks=(WIDE,)).finding.outcome is outcome


def test_a_reading_over_the_limit_stays_over_it_under_a_wide_check() -> None:
    read = _read("20.5")
    for rule in RULES:
        assert _judge(read, rule=rule, checks=(WIDE,)).finding.outcome is Outcome.NOT_MET


def test_a_wide_check_is_no_matter_once_a_person_has_read_the_face() -> None:
    read = _read("16.5")
    loupe = replace(_read("16.0", u="0.003", method=""), way="loupe", reader="two")
    for rule in RULES:
        both = read, replace(loupe, on=read.on + timedelta(days=1))
        assert _judge(*both, rule=rule, checks=(WIDE,)).finding.outcome is Outcome.MET


@given(SHARES, st.decimals(Decimal("-0.05"), Decimal("0.05"), places=4), SPREADS)
def test_the_upper_end_under_a_check_is_never_below_the_limit_of_agreement(
    share: Decimal, bias: Decimal, half: Decimal
) -> None:
    flat = replace(WIDE, bias=bias, half_width=half)
    level = share - bias / 2  # the mean of both readings, where the line passes
    line = replace(flat, **SLOPE, slope=Decimal("0.05"), mean_level=level)
    assert upper_under(share, flat) == share - bias + half
    assert upper_under(share, line) - upper_under(share, flat) == pytest.approx(0, abs=1e-12)
    steep = replace(line, half_width_at_limit=half + Decimal("0.01"))
    assert upper_under(share, steep) == pytest.approx(upper_under(share, flat) + Decimal("0.01"))


def test_a_bias_that_changes_with_the_share_reaches_at_the_level_of_the_reading() -> None:
    """A program that reads 0.9 of the loupe: on 18 % the loupe has read 20 %, by arithmetic."""
    fall = replace(
        WIDE,
        bias=Decimal("-0.01"),  # of a loupe of 10 % and a program of 9 %
        half_width=Decimal("0.005"),
        slope=Decimal("-0.2") / Decimal("1.9"),
        mean_level=Decimal("0.095"),
        **FALL,
    )
    assert upper_under(Decimal("0.18"), fall) == pytest.approx(Decimal("0.205"))
    level = replace(fall, **LEVEL)
    assert upper_under(Decimal("0.18"), level) == Decimal("0.195")


def test_two_methods_that_nobody_accepted_do_not_pass_one_another() -> None:
    other = replace(WIDE, method="m/2")
    two = _read("16.4", method="m/2")
    for rule in RULES:
        read = _judge(_read("16.5"), two, rule=rule, checks=(WIDE, other))
        assert read.finding.why is Why.HOLD
