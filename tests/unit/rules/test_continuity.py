"""Clocks as intervals, against a day-by-day reckoning with dateutil as the outside witness."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from lapwright.core.outcomes import Finding, Outcome, Why
from lapwright.rules.continuity import (
    Clock,
    Use,
    first_late_day,
    intervals,
    judge_late_paper,
    judge_unbroken,
    late_uses,
    standing_on,
)
from lapwright.rules.rulebook import Rule
from published.adopting import adopted

START = date(2024, 1, 1)
BOTH = adopted(["asme-bpvc-ix 2023", "nfpa-99 2018", "programme 1"])
ASME, NFPA = BOTH.all("continuity.max_gap")
days = st.integers(0, 900).map(lambda n: START + timedelta(days=n))


def _ended(last: date, day: date, rule: Rule) -> bool:
    complete = last + relativedelta(months=6)
    return day >= complete if rule.operator == ">=" else day > complete


def _in_force(brazed: set[date], used: set[date], day: date, rule: Rule) -> bool:
    """Walk through the days one by one, as a person with a calendar would."""
    last: date | None = None
    at = min(brazed)
    while at <= day:
        if last is not None and _ended(last, at, rule):
            last = None
        if at in brazed or (at in used and last is not None):
            last = at
        at += timedelta(days=1)
    return last is not None


@pytest.mark.parametrize("rule", [ASME, NFPA], ids=["asme", "nfpa"])
@given(st.sets(days, min_size=1, max_size=3), st.sets(days, max_size=8), days)
def test_intervals_agree_with_a_walk_through_the_calendar(
    rule: Rule, brazed: set[date], used: set[date], day: date
) -> None:
    found = standing_on(intervals(brazed, used, rule=rule), day)
    expected = day >= min(brazed) and _in_force(brazed, used, day, rule)
    assert (found is not None) == expected


@pytest.mark.parametrize("rule", [ASME, NFPA], ids=["asme", "nfpa"])
@given(st.sets(days, min_size=1, max_size=2), st.sets(days, max_size=6), days, days)
def test_another_use_never_shortens_what_is_in_force(
    rule: Rule, brazed: set[date], used: set[date], more: date, day: date
) -> None:
    before = standing_on(intervals(brazed, used, rule=rule), day)
    after = standing_on(intervals(brazed, {*used, more}, rule=rule), day)
    assert before is None or (after is not None and after.ends >= before.ends)


def test_the_two_codes_part_on_the_day_that_completes_six_months() -> None:
    last = date(2025, 1, 15)
    assert first_late_day(last, ASME) == date(2025, 7, 15)
    assert first_late_day(last, NFPA) == date(2025, 7, 16)
    assert first_late_day(date(2024, 8, 31), ASME) == date(2025, 2, 28)
    with pytest.raises(ValueError, match="months"):
        first_late_day(last, replace(ASME, operator="<="))


def _clock(*uses: Use, late_paper: str = "") -> Clock:
    return Clock("wren", (date(2025, 1, 15),), "TB", ("P1",), uses, late_paper)


def _use(on: date, *, procedure: str = "P1", by: str = "osgood") -> Use:
    return Use(on, "TB", procedure, by, on)


def _judged(clock: Clock, on: date) -> Finding:
    return judge_unbroken(clock, on, adopted=BOTH)


def test_on_the_day_of_difference_the_answer_is_a_conflict_that_acts_on_the_stricter() -> None:
    assert _judged(_clock(), date(2025, 7, 14)).outcome is Outcome.MET
    between = _judged(_clock(), date(2025, 7, 15))
    assert (between.why, between.act_on) == (Why.CONFLICT, Outcome.NOT_MET)
    assert _judged(_clock(), date(2025, 7, 16)).outcome is Outcome.NOT_MET


def test_a_use_after_the_gap_heals_nothing() -> None:
    late = _clock(_use(date(2025, 7, 17)))
    found = _judged(late, date(2025, 8, 1))
    assert found.outcome is Outcome.NOT_MET
    assert dict(found.message.params)["last"] == "2025-01-15"


@pytest.mark.parametrize(("rule", "late"), [(ASME, 0), (NFPA, 1)], ids=["asme", "nfpa"])
def test_a_use_on_the_very_day_that_ended_it_is_too_late(rule: Rule, late: int) -> None:
    ended = date(2025, 7, 15) + timedelta(days=late)
    (lone,) = intervals([date(2025, 1, 15)], [ended], rule=rule)
    assert (lone.last, lone.ends) == (date(2025, 1, 15), ended)
    (kept,) = intervals([date(2025, 1, 15)], [ended - timedelta(days=1)], rule=rule)
    assert kept.last == ended - timedelta(days=1)


def test_where_no_edition_names_the_unit_of_use_the_narrower_one_stands() -> None:
    nfpa = adopted(["nfpa-99 2018"])
    rules = {k: v for k, v in nfpa.editions[0].rules.items() if k != "continuity.scope"}
    silent = replace(nfpa, editions=(replace(nfpa.editions[0], rules=rules),))
    other = _clock(_use(date(2025, 5, 1), procedure="refrigeration"))
    assert judge_unbroken(other, date(2025, 9, 1), adopted=silent).outcome is Outcome.NOT_MET


def test_before_the_braze_nothing_is_in_force() -> None:
    found = _judged(_clock(), date(2025, 1, 14))
    assert (found.outcome, found.message.id) == (Outcome.NOT_MET, "continuity.not_begun")


def test_a_use_without_a_witness_is_held_where_it_decides() -> None:
    found = _judged(_clock(_use(date(2025, 5, 1), by="")), date(2025, 9, 1))
    assert (found.why, found.message.id) == (Why.HOLD, "continuity.unproved")
    own = _judged(_clock(_use(date(2025, 5, 1), by="wren")), date(2025, 9, 1))
    assert own.why is Why.HOLD
    early = _judged(_clock(_use(date(2025, 5, 1), by="")), date(2025, 6, 1))
    assert early.outcome is Outcome.MET


def test_a_use_without_its_procedure_asks_for_it_where_the_procedure_counts() -> None:
    nfpa = adopted(["nfpa-99 2018"])
    nameless = _clock(_use(date(2025, 5, 1), procedure=""))
    assert judge_unbroken(nameless, date(2025, 9, 1), adopted=nfpa).why is Why.NEEDS_DATA
    other = _clock(_use(date(2025, 5, 1), procedure="refrigeration"))
    assert judge_unbroken(other, date(2025, 9, 1), adopted=nfpa).outcome is Outcome.NOT_MET
    asme = adopted(["asme-bpvc-ix 2023"])
    assert judge_unbroken(other, date(2025, 9, 1), adopted=asme).outcome is Outcome.MET


def test_another_process_keeps_nothing_alive() -> None:
    induction = _clock(Use(date(2025, 5, 1), "IB", "P1", "osgood", date(2025, 5, 1)))
    assert _judged(induction, date(2025, 9, 1)).outcome is Outcome.NOT_MET


def test_late_paper_counts_and_is_told_unless_the_programme_refuses_it() -> None:
    use = Use(date(2025, 5, 1), "TB", "P1", "osgood", date(2025, 8, 20))
    clock = _clock(use)
    assert _judged(clock, date(2025, 9, 1)).outcome is Outcome.MET
    assert late_uses(clock, adopted=BOTH) == (use,)
    told = judge_late_paper(clock, adopted=BOTH)
    assert told is not None
    assert (told.outcome, told.message.id) == (Outcome.MET, "continuity.late")
    refused = replace(clock, late_paper="refused")
    assert _judged(refused, date(2025, 9, 1)).outcome is Outcome.NOT_MET
    refusal = judge_late_paper(refused, adopted=BOTH)
    assert refusal is not None
    assert refusal.message.id == "continuity.late_refused"


@pytest.mark.parametrize(
    "between",
    [
        pytest.param({"procedure": "OTHER"}, id="another procedure"),
        pytest.param({"by": ""}, id="no witness"),
        pytest.param({"by": "wren"}, id="the brazer's own word"),
    ],
)
def test_a_use_that_proves_nothing_makes_no_later_paper_timely(between: dict[str, str]) -> None:
    """Brazed 2025-01-15; the use of July was written down in October: late, whatever lies between.

    For the base standard's clock another procedure does prove use of the process.
    """
    nfpa = adopted(["nfpa-99 2018", "programme 1"])
    use = Use(date(2025, 7, 1), "TB", "P1", "osgood", date(2025, 10, 20))
    clock = _clock(_use(date(2025, 5, 1), **between), use)
    told = judge_late_paper(clock, adopted=nfpa)
    assert told is not None
    assert dict(told.message.params)["days"] == "2025-07-01"
    assert late_uses(clock, adopted=nfpa) == (use,)
    refused = replace(clock, late_paper="refused")
    found = judge_unbroken(refused, date(2025, 12, 1), adopted=nfpa)
    assert found.outcome is Outcome.NOT_MET


def test_each_clock_asks_lateness_of_its_own_uses() -> None:
    use = Use(date(2025, 7, 1), "TB", "P1", "osgood", date(2025, 10, 20))
    clock = _clock(_use(date(2025, 5, 1), procedure="OTHER"), use, late_paper="refused")
    asme = adopted(["asme-bpvc-ix 2023", "programme 1"])
    assert late_uses(clock, adopted=asme) == ()  # 1 May used the process: known until 1 November
    assert judge_unbroken(clock, date(2025, 12, 1), adopted=asme).outcome is Outcome.MET


def test_refused_paper_makes_no_later_paper_timely() -> None:
    nfpa = adopted(["nfpa-99 2018", "programme 1"])
    first = Use(date(2025, 5, 1), "TB", "P1", "osgood", date(2025, 9, 1))
    second = Use(date(2025, 7, 1), "TB", "P1", "osgood", date(2025, 10, 1))
    counted = _clock(first, second)
    assert late_uses(counted, adopted=nfpa) == (first,)
    refused = replace(counted, late_paper="refused")
    assert late_uses(refused, adopted=nfpa) == (first, second)
    assert judge_unbroken(refused, date(2025, 10, 1), adopted=nfpa).outcome is Outcome.NOT_MET


used = st.builds(
    lambda n, w, p, b: Use(
        START + timedelta(days=n), "TB", p, b, START + timedelta(days=n + w) if w else None
    ),
    st.integers(0, 700),
    st.integers(0, 400),
    st.sampled_from(["P1", "OTHER", ""]),
    st.sampled_from(["osgood", "", "wren"]),
)


@given(st.lists(used, max_size=6), st.lists(used, max_size=4), days)
def test_uses_that_prove_nothing_change_no_lateness(
    kept: list[Use], more: list[Use], day: date
) -> None:
    nfpa = adopted(["nfpa-99 2018", "programme 1"])
    noise = [u for u in more if u.procedure == "OTHER" or u.by != "osgood"]
    for late_paper in ("", "refused"):
        clock = Clock("wren", (START,), "TB", ("P1",), tuple(kept), late_paper)
        loud = replace(clock, uses=(*kept, *noise))
        assert late_uses(loud, adopted=nfpa) == late_uses(clock, adopted=nfpa)
        quiet = judge_unbroken(clock, day, adopted=nfpa).outcome is Outcome.MET
        assert (judge_unbroken(loud, day, adopted=nfpa).outcome is Outcome.MET) == quiet


def test_paper_in_time_is_not_told() -> None:
    assert judge_late_paper(_clock(_use(date(2025, 5, 1))), adopted=BOTH) is None
    before = _clock(_use(date(2025, 1, 2)))  # before the coupon there was no clock to run out
    assert judge_late_paper(before, adopted=BOTH) is None


@pytest.mark.parametrize(("day", "late"), [(14, 0), (15, 1)])
def test_paper_is_late_from_the_day_that_would_have_ended_it(day: int, late: int) -> None:
    asme = adopted(["asme-bpvc-ix 2023", "programme 1"])
    use = Use(date(2025, 5, 1), "TB", "P1", "osgood", date(2025, 7, day))
    assert len(late_uses(_clock(use), adopted=asme)) == late


def test_without_a_braze_date_the_clock_cannot_start() -> None:
    found = judge_unbroken(replace(_clock(), brazed=()), date(2025, 2, 1), adopted=BOTH)
    assert (found.why, found.message.id) == (Why.NEEDS_DATA, "rules.missing")
