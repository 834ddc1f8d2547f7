"""The fold of a case in a ledger: its stream and the programme's, whatever their order."""

from __future__ import annotations

from contextlib import suppress
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapwright.core.acts import ACT_TYPES, Act
from lapwright.core.errors import EvidenceRefused, LapwrightError, NamedActUnknown
from lapwright.core.fold import check_case_filing, fold, fold_case

from .acting import AS_OF, act, coupon, face, fix, person, read, trained, void

P = "programme"


def _basis(rule: str, *, stream: str) -> Act:
    return act(
        "BasisAdopted", {"editions": ["x"], "decision_rule": rule}, "2026-01-05", stream=stream
    )


def _loupe(until: str, *, stream: str) -> Act:
    body = {"instrument": "L1", "kind": "loupe", "calibrated_until": until}
    return act("InstrumentFiled", body, "2026-01-05", stream=stream)


def _tick(*, stream: str) -> Act:
    body = {"rule": "a/1/b", "figure": "20 %", "copy": "c", "by": "lead"}
    return act("RuleConfirmed", body, "2026-01-06", stream=stream)


def _check(*, stream: str) -> Act:
    body = {"method": "m", "faces": "40", "limits": {}, "figures": {}, "by": "lead"}
    return act("MethodChecked", body | {"readings_sha256": ""}, "2026-01-09", stream=stream)


def _procedure(id_: str, *, stream: str) -> Act:
    return act(
        "ProcedureFiled",
        {"procedure": id_, "revision": "1", "pqr": []},
        "2026-02-01",
        stream=stream,
    )


OWN = "case/TLH-01"
PROGRAMME = [
    _basis("simple", stream=P),
    _tick(stream=P),
    person("ines", stream=P),
    person("teal", "b", "examiner", stream=P),
    _loupe("2026-06-01", stream=P),
    _procedure("BPS-1", stream=P),
    _procedure("BPS-2", stream=P),
    _check(stream=P),
]
CASE = [coupon("H", "H1"), face("F", "H1"), read("F", "0.1"), person("ines"), _tick(stream=OWN)]


def test_a_case_knows_what_the_programme_filed() -> None:
    evidence = fold_case([*PROGRAMME, *CASE], "TLH-01", as_of=AS_OF)
    assert evidence.basis is not None
    assert (evidence.basis.decision_rule, len(evidence.basis.ticks)) == ("simple", 1)
    assert sorted(evidence.people) == ["ines", "teal"]
    assert evidence.instruments["L1"].calibrated_until == date(2026, 6, 1)
    assert [r.share for f in evidence.faces for r in f.readings] == [Decimal("0.1")]


def test_acts_of_other_cases_are_passed_over() -> None:
    other = coupon("V", "V1", stream="case/TLH-02")
    evidence = fold_case([*PROGRAMME, other, *CASE], "TLH-01", as_of=AS_OF)
    assert [c.id for c in evidence.coupons] == ["H"]
    with pytest.raises(EvidenceRefused, match="several cases"):
        fold([other, *CASE], as_of=AS_OF)


def test_what_the_case_filed_counts_over_what_the_programme_filed() -> None:
    own = [_basis("guarded", stream=OWN), _loupe("2026-03-20", stream=OWN)]
    own += [_procedure("BPS-0", stream=OWN)]
    evidence = fold_case([*CASE, *own, *PROGRAMME], "TLH-01", as_of=AS_OF)
    assert evidence.basis is not None
    assert evidence.procedure is not None
    assert (evidence.basis.decision_rule, evidence.procedure.id) == ("guarded", "BPS-0")
    assert evidence.instruments["L1"].calibrated_until == date(2026, 3, 20)


def test_the_session_may_name_one_of_the_programmes_procedures() -> None:
    body = {"case": "TLH-01", "place": "x", "brazer": "ines", "mark": "QP7K"}
    named = act("SessionOpened", body | {"procedure": "BPS-1"}, "2026-03-02")
    last = fold_case([*PROGRAMME, act("SessionOpened", body, "2026-03-02")], "TLH-01", as_of=AS_OF)
    one = fold_case([*PROGRAMME, named], "TLH-01", as_of=AS_OF)
    assert last.procedure is not None
    assert one.procedure is not None
    assert (last.procedure.id, one.procedure.id) == ("BPS-2", "BPS-1")


def test_the_same_filed_twice_is_one() -> None:
    twice = [_check(stream=OWN), _tick(stream=OWN), _loupe("2026-06-01", stream=OWN)]
    table = {"table": "T1", "coupon_kind": "coupling", "sizes": ["3/4"]}
    twice += [act("RangeTableAdopted", table, "2026-01-06", stream=s) for s in (P, OWN)]
    evidence = fold_case([*PROGRAMME, *twice, *CASE], "TLH-01", as_of=AS_OF)
    assert evidence.basis is not None
    assert (len(evidence.methods), len(evidence.instruments)) == (1, 1)
    assert (len(evidence.basis.ticks), len(evidence.basis.range_tables)) == (1, 1)


def test_another_name_behind_one_id_is_refused() -> None:
    with pytest.raises(EvidenceRefused, match=r"another name behind a person.*CORE-005"):
        fold([person("ines", "a", stream=P), person("ines", "b")], as_of=AS_OF)


def test_a_person_filed_again_has_the_role_filed_last() -> None:
    acts = [person("ines"), person("ines", role="examiner")]
    assert fold(acts, as_of=AS_OF).people["ines"].role == "examiner"


@given(st.lists(st.sampled_from("pc"), min_size=20, max_size=20))
def test_how_the_two_streams_lie_among_each_other_plays_no_part(order: list[str]) -> None:
    waiting = {"p": list(PROGRAMME), "c": [*CASE, _basis("guarded", stream=OWN)]}
    acts = [waiting[o].pop(0) for o in order if waiting[o]]
    mixed = fold_case([*acts, *waiting["c"], *waiting["p"]], "TLH-01", as_of=AS_OF)
    plain = [*PROGRAMME, *CASE, _basis("guarded", stream=OWN)]
    assert mixed == fold_case(plain, "TLH-01", as_of=AS_OF)


@given(st.permutations(range(6)))
def test_what_is_said_of_a_thing_may_stand_before_it(order: list[int]) -> None:
    acts = [coupon("H", "H1"), face("F", "H1"), read("F", "0.1"), _basis("simple", stream=OWN)]
    acts += [_tick(stream=OWN), act("CouponMarked", {"coupon": "H", "mark": "H"}, "2026-03-04")]
    assert fold([acts[n] for n in order], as_of=AS_OF) == fold(acts, as_of=AS_OF)


def test_a_coupon_voided_and_filed_again_keeps_its_looks() -> None:
    first = coupon("H", "H1")
    again = coupon("H", "H1", on="2026-03-05")
    acts = [first, face("F", "H1"), read("F", "0.1"), void(first), again]
    evidence = fold(acts, as_of=AS_OF)
    assert (evidence.coupons[0].brazed_on, len(evidence.faces)) == (date(2026, 3, 5), 1)


def test_a_reading_keeps_the_name_of_the_act_that_first_filed_it() -> None:
    first = read("F", "0.1")
    acts = [coupon("H", "H1"), face("F", "H1"), first, fix(first, {**first.body, "share": "0.2"})]
    (reading,) = fold(acts, as_of=AS_OF).faces[0].readings
    assert (reading.share, reading.act) == (Decimal("0.2"), first.sha256)


def test_doubts_stand_until_they_are_cleared_by_name() -> None:
    raised = act(
        "DoubtRaised", {"about": "person:ines", "by": "teal", "reason": "x"}, "2026-03-14", stream=P
    )
    body = {"about": "person:ines", "by": "omar", "reason": "y", "doubt": raised.sha256}
    cleared = act("DoubtCleared", body, "2026-03-20", stream=P)
    (before,) = fold([raised, cleared], as_of=date(2026, 3, 19)).doubts
    (after,) = fold([raised, cleared], as_of=date(2026, 3, 20)).doubts
    assert (before.id, before.cleared_on) == (raised.sha256, None)
    assert (after.cleared_on, after.cleared_by) == (date(2026, 3, 20), "omar")
    assert fold([raised, cleared, void(raised)], as_of=AS_OF).doubts == ()


def test_what_would_leave_a_case_that_cannot_be_folded_is_not_filed() -> None:
    held = [coupon("H", "H1"), face("F", "H1"), read("F", "0.1")]
    with pytest.raises(EvidenceRefused, match="unknown joint"):
        check_case_filing(held, [void(held[0])])
    check_case_filing(held, [void(held[2]), void(held[1]), void(held[0])])
    with pytest.raises(NamedActUnknown):
        check_case_filing(held, [void(trained("elsewhere"))])


TEXTS = st.text(st.characters(exclude_categories=["Cs"]), max_size=4)
PLAIN = st.recursive(
    TEXTS | st.sampled_from(["H", "H1", "F", "1 in", "0.1", "2026-03-04"]),
    lambda inner: st.lists(inner, max_size=2) | st.dictionaries(TEXTS, inner, max_size=2),
    max_leaves=4,
)


@st.composite
def odd_acts(draw: st.DrawFn) -> Act:
    """Draw an act whose body has the keys that its type asks for, and anything behind them."""
    type_ = draw(st.sampled_from(sorted(ACT_TYPES)))
    optional = ("roles", "options", "joints", "signed", "items", "figures", "happened_on")
    keys = (*ACT_TYPES[type_][1], *draw(st.lists(st.sampled_from(optional), max_size=2)))
    return act(type_, {key: draw(PLAIN) for key in keys}, "2026-03-04")


@given(st.lists(odd_acts(), max_size=4), st.sampled_from([None, AS_OF]))
def test_a_body_of_another_shape_gives_a_coded_line(acts: list[Act], known_by: date | None) -> None:
    with suppress(LapwrightError):  # whatever else is raised fails the test
        fold([*CASE, *acts], as_of=AS_OF, known_by=known_by)
