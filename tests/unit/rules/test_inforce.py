"""In force, against a second plain reckoning that walks through the calendar day by day."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lapwright.core.evidence import Doubt
from lapwright.core.outcomes import Outcome, Verdict, Why
from lapwright.rules.continuity import reckon, standing_on
from lapwright.rules.inforce import clock_for, in_force
from lapwright.rules.qualified import Acceptance, Attested, History, Withdrawal, apart
from published.adopting import adopted
from unit.rules.daybyday import Day, good_days
from unit.rules.forcing import BOTH, JANUARY, OTHER, PROCESS, history, passed, record, use

START = date(2024, 2, 1)
SPAN = 1200
UNTIL = START + timedelta(days=SPAN)
HIDDEN = adopted(["asme-bpvc-ix 2023", "nfpa-99 2018", "programme 1"], "none")
whens = st.integers(0, SPAN - 1).map(lambda n: START + timedelta(days=n))
procedures = st.sampled_from(["P1", "P2"])
used = st.lists(st.tuples(whens, st.sampled_from([PROCESS, OTHER]), procedures), max_size=9)
again = st.lists(st.tuples(whens, procedures), max_size=2)


def _history(
    first: date, uses: list[tuple[date, str, str]], more: list[tuple[date, str]]
) -> History:
    later = [(on, p) for on, p in more if on > first]
    records = [record(passed(first), certified=first)]
    records += [
        record(passed(on, procedure=p), id_=f"R{n}", certified=on)
        for n, (on, p) in enumerate(later, start=2)
    ]
    return history(*records, uses=tuple(use(on, process=q, procedure=p) for on, q, p in uses))


def _days(
    first: date, uses: list[tuple[date, str, str]], more: list[tuple[date, str]]
) -> list[Day]:
    days = [Day(first, "own", PROCESS, "P1")]
    days += [Day(on, "again", PROCESS, p) for on, p in more if on > first]
    return days + [Day(on, "use", q, p) for on, q, p in uses]


@settings(max_examples=60, deadline=None)
@given(whens, used, again)
def test_every_day_of_random_histories_agrees_with_the_plain_reckoning(
    first: date, uses: list[tuple[date, str, str]], more: list[tuple[date, str]]
) -> None:
    known = _history(first, uses, more)
    held = in_force(known, known.qualifications[0], adopted=BOTH)
    for clock in held.clocks:
        expected = set(
            good_days(
                _days(first, uses, more),
                process=PROCESS,
                procedure="P1",
                scope=clock.scope,
                operator=clock.rule.operator,
                until=UNTIL,
            )
        )
        every = (START + timedelta(days=n) for n in range(SPAN + 1))
        assert {d for d in every if standing_on(clock.proved, d)} == expected


@settings(max_examples=80, deadline=None)
@given(whens, used, again, whens, whens)
def test_one_more_use_never_shortens(
    first: date,
    uses: list[tuple[date, str, str]],
    more: list[tuple[date, str]],
    extra: date,
    day: date,
) -> None:
    before = _history(first, uses, more)
    after = replace(before, uses=(*before.uses, use(extra)))
    one, two = (in_force(h, h.qualifications[0], adopted=BOTH) for h in (before, after))
    for a, b in zip(one.interval(day), two.interval(day), strict=True):
        assert a is None or (b is not None and b.ends >= a.ends)
    assert one.on(day).outcome is not Outcome.MET or two.on(day).outcome is Outcome.MET


@settings(max_examples=60, deadline=None)
@given(whens, used, again, whens)
def test_what_happens_later_never_changes_whether_a_day_was_good(
    first: date, uses: list[tuple[date, str, str]], more: list[tuple[date, str]], day: date
) -> None:
    whole = _history(first, uses, more)
    then = _history(first, [u for u in uses if u[0] <= day], [m for m in more if m[0] <= day])
    now, before = (in_force(h, h.qualifications[0], adopted=BOTH).on(day) for h in (whole, then))
    assert (now.outcome, now.why, now.act_on) == (before.outcome, before.why, before.act_on)


def _on(known: History, day: date, *, employer: str = "", position: str = "") -> Verdict:
    held = in_force(known, known.qualifications[0], adopted=BOTH, employer=employer)
    return held.on(day, position=position)


def test_the_day_on_which_the_codes_part_is_a_conflict_that_acts_on_the_stricter() -> None:
    known = history(record(passed(JANUARY)))
    assert _on(known, date(2025, 7, 14)).outcome is Outcome.MET
    between = _on(known, date(2025, 7, 15))
    assert (between.why, between.act_on) == (Why.CONFLICT, Outcome.NOT_MET)
    assert _on(known, date(2025, 7, 16)).outcome is Outcome.NOT_MET


def test_before_the_braze_and_before_the_signature_nothing_is_supported() -> None:
    known = history(record(passed(JANUARY), certified=date(2025, 1, 20)))
    assert _on(known, date(2025, 1, 14)).outcome is Outcome.NOT_MET
    assert _on(known, date(2025, 1, 17)).why is Why.HOLD
    assert _on(known, date(2025, 1, 20)).outcome is Outcome.MET
    assert _on(history(record(passed(JANUARY), certified=None)), date(2025, 2, 1)).why is Why.HOLD


def test_a_renewal_with_another_position_of_the_record_restores_every_position() -> None:
    old = record(passed(JANUARY), passed(JANUARY, position="D"))
    new = record(passed(date(2025, 9, 1), position="D"), id_="R2", certified=date(2025, 9, 5))
    known = history(old, new)
    assert _on(known, date(2025, 8, 31)).outcome is Outcome.NOT_MET
    assert _on(known, date(2025, 9, 3)).why is Why.HOLD
    for letter in "CD":
        assert _on(known, date(2025, 9, 5), position=letter).outcome is Outcome.MET
    held = in_force(known, old, adopted=BOTH)
    assert [link.kind for link in held.chain(date(2025, 9, 5), held.clocks[0])] == ["renewal"]


@pytest.mark.parametrize(
    "other", [{"f_number": "101"}, {"position": "D"}, {"manner": "machine"}, {"form": "paste"}]
)
def test_another_set_of_variables_is_a_new_qualification_and_renews_nothing(
    other: dict[str, str],
) -> None:
    new = record(passed(date(2025, 9, 1), **other), id_="R2", certified=date(2025, 9, 1))
    known = history(record(passed(JANUARY)), new)
    assert _on(known, date(2025, 9, 10)).outcome is Outcome.NOT_MET
    assert in_force(known, new, adopted=BOTH).on(date(2025, 9, 10)).outcome is Outcome.MET


def test_a_renewal_on_another_size_is_held_for_thickness_and_overlap() -> None:
    new = record(passed(date(2025, 9, 1), kind="1/2 L"), id_="R2", certified=date(2025, 9, 1))
    assert _on(history(record(passed(JANUARY)), new), date(2025, 9, 10)).why is Why.HOLD


def test_a_renewal_nobody_stands_behind_is_held() -> None:
    new = record(passed(date(2025, 9, 1)), id_="R2", certified=date(2025, 9, 1))
    gone = Withdrawal(date(2025, 9, 20), "lead", "fraud")
    for odd in (replace(new, certified_on=None), replace(new, withdrawn=gone)):
        assert _on(history(record(passed(JANUARY)), odd), date(2025, 9, 10)).why is Why.HOLD


def test_an_unconfirmed_renewal_gives_nobody_an_unqualified_answer() -> None:
    new = record(passed(date(2025, 9, 1)), id_="R2", certified=date(2025, 9, 1))
    old = record(passed(JANUARY))
    found = in_force(history(old, new), old, adopted=HIDDEN).on(date(2025, 9, 10))
    assert (found.why, found.before_confirmation) == (Why.UNCONFIRMED, Outcome.MET)


def test_late_paper_counts_and_is_told_unless_the_basis_refuses_it() -> None:
    late = replace(use(date(2025, 6, 1)), written_on=date(2025, 8, 1))
    known = history(record(passed(JANUARY)), uses=(late,))
    found = _on(known, date(2025, 8, 5))
    assert found.outcome is Outcome.MET
    assert "continuity.late" in [f.message.id for f in found.findings]
    held = in_force(known, known.qualifications[0], adopted=BOTH)
    assert [k.late for k in held.chain(date(2025, 8, 5), held.clocks[0])] == ["", "late"]
    refused = replace(known, late_paper="refused")
    assert _on(refused, date(2025, 8, 5)).outcome is Outcome.NOT_MET


def test_supplementary_coupons_have_their_own_clock_unless_the_basis_says_otherwise() -> None:
    base = record(passed(JANUARY))
    more = record(passed(date(2025, 5, 1), f_number="101"), id_="R2", certified=date(2025, 5, 1))
    known = history(base, replace(more, supplements="R1"))
    day = date(2025, 10, 1)
    own = in_force(known, known.qualifications[1], adopted=BOTH)
    assert own.on(day).outcome is Outcome.MET
    tied = replace(known, supplementary="on")
    follows = in_force(tied, tied.qualifications[1], adopted=BOTH)
    base_ends = in_force(tied, tied.qualifications[0], adopted=BOTH).ends(day)
    assert follows.ends(day) == base_ends
    assert follows.on(date(2025, 4, 30)).outcome is Outcome.NOT_MET


def test_a_withdrawal_holds_the_work_since_its_event_and_ends_the_rest() -> None:
    gone = Withdrawal(date(2025, 6, 1), "lead", "fraud", since=date(2025, 5, 20))
    known = history(replace(record(passed(JANUARY)), withdrawn=gone))
    assert _on(known, date(2025, 5, 15)).outcome is Outcome.MET
    assert _on(known, date(2025, 5, 25)).why is Why.HOLD
    assert _on(known, date(2025, 6, 1)).outcome is Outcome.NOT_MET


def _doubt(**other: object) -> Doubt:
    made = Doubt("D1", "person:wren", "lead", "two cut-outs over", None, date(2025, 6, 1))
    return replace(made, **other)  # type: ignore[arg-type]


def test_a_doubt_suspends_its_variables_and_nothing_else() -> None:
    old = record(passed(JANUARY), passed(JANUARY, position="D"))
    known = replace(history(old), doubts=(_doubt(scope={"position": "D"}),))
    assert _on(known, date(2025, 6, 5), position="D").why is Why.HOLD
    assert _on(known, date(2025, 6, 5), position="C").outcome is Outcome.MET
    assert _on(known, date(2025, 5, 31), position="D").outcome is Outcome.MET
    held = in_force(known, old, adopted=BOTH)
    assert (held.suspended(date(2025, 6, 5)), held.suspended(date(2025, 5, 5))) == (("D",), ())
    whole = replace(history(old), doubts=(_doubt(),))
    assert _on(whole, date(2025, 6, 5)).why is Why.HOLD
    process = replace(history(old), doubts=(_doubt(about="process:IB"),))
    assert _on(process, date(2025, 6, 5)).outcome is Outcome.MET
    bps = replace(history(old), doubts=(_doubt(about="procedure:P1"),))
    assert _on(bps, date(2025, 6, 5)).why is Why.HOLD


def test_a_new_test_restores_from_its_own_day_and_what_lies_between_stays_held() -> None:
    new = record(passed(date(2025, 6, 9)), id_="R2", certified=date(2025, 6, 9))
    known = replace(
        history(record(passed(JANUARY)), new), doubts=(_doubt(scope={"position": "C"}),)
    )
    assert _on(known, date(2025, 6, 8)).why is Why.HOLD
    assert _on(known, date(2025, 6, 9)).outcome is Outcome.MET
    cleared = _doubt(cleared_on=date(2025, 6, 3), cleared_by="lead", cleared_reason="other brazer")
    known = replace(history(record(passed(JANUARY))), doubts=(cleared,))
    assert _on(known, date(2025, 6, 2)).outcome is Outcome.MET


def test_an_acceptance_serves_from_its_day_and_is_void_where_the_clock_was_broken() -> None:
    taken = Acceptance("Fennel Works", "petra", date(2025, 5, 2))
    known = history(replace(record(passed(JANUARY)), accepted=(taken,)))
    assert _on(known, date(2025, 5, 1), employer="Fennel Works").outcome is Outcome.NOT_MET
    assert _on(known, date(2025, 5, 2), employer="Fennel Works").outcome is Outcome.MET
    assert _on(known, date(2025, 5, 2), employer="Another").outcome is Outcome.NOT_MET
    late = replace(taken, on=date(2025, 9, 2))
    renewed = record(passed(date(2025, 9, 20)), id_="R2", certified=date(2025, 9, 20))
    void = history(replace(record(passed(JANUARY)), accepted=(late,)), renewed)
    assert _on(void, date(2025, 9, 25), employer="Fennel Works").outcome is Outcome.NOT_MET


def test_each_employer_of_a_session_needs_its_own_representative_and_attestations() -> None:
    duties = BOTH.first("responsibility.simultaneous_attests").value
    parts = (
        Attested("Quillon", "petra", "yes", "yes", tuple(duties)),
        Attested("Fennel", "osgood", "no", "yes"),
        Attested("Tamarack", "ines", "yes", "yes", tuple(duties[:-1])),
    )
    known = history(replace(record(passed(JANUARY)), together=parts))
    day = date(2025, 2, 1)
    assert _on(known, day, employer="Quillon").outcome is Outcome.MET
    assert _on(known, day, employer="Fennel").outcome is Outcome.NOT_MET
    assert _on(known, day, employer="Tamarack").why is Why.NEEDS_DATA


def test_positions_brazed_on_other_days_stand_apart() -> None:
    whole = record(passed(JANUARY), passed(JANUARY, position="D"), passed(date(2025, 3, 1)))
    first, second = apart(whole)
    assert (first.positions, first.brazed_on) == (("D",), JANUARY)
    assert (second.positions, second.brazed_on) == (("C",), date(2025, 3, 1))
    assert apart(first) == (first,)


def test_the_clocks_are_those_of_the_continuity_module() -> None:
    known = history(record(passed(JANUARY)), uses=(use(date(2025, 3, 1)),))
    held = in_force(known, known.qualifications[0], adopted=BOTH)
    assert held.clocks == reckon(clock_for(known, known.qualifications[0]), adopted=BOTH)
    assert held.ends(date(2025, 3, 1)) == date(2025, 9, 1)
    assert held.ends(date(2026, 3, 1)) is None
