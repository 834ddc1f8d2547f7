"""What was known by a day stays known; what happened by a day stays happened."""

from __future__ import annotations

from contextlib import suppress
from datetime import UTC, date, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from lapwright.core.acts import Act
from lapwright.core.errors import CorrectionMoved, VoidedAct
from lapwright.core.fold import fold
from lapwright.core.records import names_removed, record_states
from lapwright.core.standing import check_filing, programme_zone, standing
from lapwright.core.times import end_of_day

START = date(2026, 3, 1)
ZONES = ["", "UTC", "America/Chicago", "Asia/Tokyo", "Pacific/Kiritimati"]
CASE = "case/TLH-01"


def _act(type_: str, body: dict[str, object], happened: int, at: datetime, stream: str) -> Act:
    return Act(type_, body, START + timedelta(days=happened), "lead", at, stream=stream)


@st.composite
def logs(draw: st.DrawFn) -> list[Act]:
    """Draw a log of trainings, doubts, bases, corrections and voids that may be filed."""
    acts: list[Act] = []
    at = datetime(2026, 3, 1, tzinfo=UTC)
    for step in range(draw(st.integers(1, 12))):
        at += timedelta(hours=draw(st.integers(0, 40)))
        happened = draw(st.integers(0, 12))
        kind = draw(st.sampled_from(["training", "doubt", "basis", "fix", "void"]))
        named = [a for a in acts if a.stream == CASE]
        body: dict[str, object] = {"person": "ines", "what": f"step {step}", "later_key": ["x"]}
        new = _act("TrainingGiven", body, happened, at, CASE)
        if kind == "doubt":
            doubt = {"about": "person:ines", "by": "teal", "reason": f"step {step}"}
            new = _act("DoubtRaised", doubt, happened, at, CASE)
        elif kind == "basis":
            options = {"zone": draw(st.sampled_from(ZONES))}
            adopted = {"editions": [f"e{step}"], "decision_rule": "simple", "options": options}
            new = _act("BasisAdopted", adopted, happened, at, "programme")
        elif kind != "training" and named:
            new = _change(draw, kind, draw(st.sampled_from(named)), at=at, step=step)
        with suppress(VoidedAct, CorrectionMoved):  # the gate keeps such out of a log
            check_filing(acts, [new])
            acts.append(new)
    return acts


def _change(draw: st.DrawFn, kind: str, named: Act, *, at: datetime, step: int) -> Act:
    if kind == "void":
        return _act("ActVoided", {"voids": named.sha256, "reason": f"{step}"}, 0, at, CASE)
    body = {**named.body, "reason": f"{step}", "what": f"fixed at {step}"}
    said: dict[str, object] = {"corrects": named.sha256, "body": body, "reason": f"{step}"}
    moved = draw(st.sampled_from(["", "2026-03-02", "2026-03-09"]))
    if moved:
        said["happened_on"] = moved
    return _act("ActCorrected", said, 0, at, CASE)


DAYS = st.integers(0, 14).map(lambda n: START + timedelta(days=n))


@given(logs(), DAYS, DAYS, st.sampled_from(ZONES))
def test_what_is_written_after_a_day_never_changes_what_was_known_by_it(
    acts: list[Act], as_of: date, known_by: date, zone: str
) -> None:
    whole = fold(acts, as_of=as_of, known_by=known_by, zone=zone)
    # Every zone is over a day's end 12 hours after UTC; the log is in order of writing.
    over = datetime.combine(known_by, datetime.min.time(), tzinfo=UTC) + timedelta(hours=36)
    known = [a for a in acts if a.recorded_at < over]
    assert fold(known, as_of=as_of, known_by=known_by, zone=zone) == whole


@given(logs(), DAYS, DAYS)
def test_an_answer_about_a_day_that_is_over_stays(
    acts: list[Act], as_of: date, known_by: date
) -> None:
    """Asked after any entry, when the day is over in the zone that holds then."""
    whole = [s.act for s in standing(acts, as_of=as_of, known_by=known_by)]
    for n in range(1, len(acts)):
        end = end_of_day(known_by, programme_zone(acts[:n], known_by))
        if end <= acts[n].recorded_at:
            asked = [s.act for s in standing(acts[:n], as_of=as_of, known_by=known_by)]
            assert asked == whole


@given(logs(), DAYS)
def test_without_a_day_of_knowledge_all_is_known(acts: list[Act], as_of: date) -> None:
    last = date(2027, 1, 1)
    known = {s.sha256: s.act for s in standing(acts, as_of=as_of, known_by=last)}
    assert known == {s.sha256: s.act for s in standing(acts, as_of=as_of)}


@given(logs())
def test_a_correction_and_then_its_void_leave_what_was_before(acts: list[Act]) -> None:
    far = date(2026, 12, 31)
    before = standing(acts, as_of=far)
    case = [s for s in before if s.first.stream == CASE]
    at = datetime(2026, 6, 1, tzinfo=UTC)
    for found in case:
        body = {"corrects": found.sha256, "body": {**found.act.body, "extra": "x"}, "reason": "r"}
        fix = _act("ActCorrected", body, 0, at, CASE)
        void = _act("ActVoided", {"voids": fix.sha256, "reason": "r"}, 0, at, CASE)
        check_filing(acts, [fix, void])
        assert standing([*acts, fix, void], as_of=far) == before
        assert standing([*acts, fix], as_of=far) != before


@given(logs())
def test_a_void_and_then_its_void_leave_what_was_before(acts: list[Act]) -> None:
    far = date(2026, 12, 31)
    before = standing(acts, as_of=far)
    at = datetime(2026, 6, 1, tzinfo=UTC)
    for found in (s for s in before if s.first.stream == CASE):
        void = _act("ActVoided", {"voids": found.sha256, "reason": "r"}, 0, at, CASE)
        again = _act("ActVoided", {"voids": void.sha256, "reason": "r"}, 0, at, CASE)
        assert len(standing([*acts, void], as_of=far)) < len(before)
        assert standing([*acts, void, again], as_of=far) == before


@given(logs(), DAYS)
def test_unknown_keys_come_through_bytes_and_corrections(acts: list[Act], as_of: date) -> None:
    again = [Act.from_bytes(a.to_bytes()) for a in acts]
    assert [a.to_bytes() for a in again] == [a.to_bytes() for a in acts]
    assert fold(again, as_of=as_of) == fold(acts, as_of=as_of)
    for found in standing(again, as_of=date(2026, 12, 31)):
        if found.act.type == "TrainingGiven":
            assert found.act.body["later_key"] == ["x"]


@given(logs(), DAYS)
def test_read_models_of_a_log_without_records_are_empty(acts: list[Act], as_of: date) -> None:
    assert record_states(acts, as_of=as_of) == ()
    assert names_removed(acts) == {}
