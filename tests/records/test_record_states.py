"""What the register says of a record on a day, as known by a day; and names that are forgotten."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from lapwright.core.acts import Act
from lapwright.core.outcomes import Outcome
from lapwright.ledger.log import first_broken
from lapwright.services.certifying import Signing, certify_record
from lapwright.services.errors import PersonOther, PersonUnknown, ReasonMissing, RecordUnknown
from lapwright.services.issuing import Issued, issue_case
from lapwright.services.people import NewPerson, enrol, forget
from lapwright.services.programme import Programme, name_in
from lapwright.services.recordlist import (
    Asked,
    list_document,
    list_lines,
    show_document,
    show_lines,
)
from lapwright.services.register import record_state, states
from lapwright.services.salts import salt_of
from lapwright.services.verifying import verify_file
from lapwright.services.withdrawing import withdraw_record
from records.conftest import AS_OF, AT, SIGNED_AT
from street.building import FIRST_RUN, case_folder, edit
from unit.documents.witness import text_of

SCAN = b"%PDF-1.7 a page"
LATE = datetime(2026, 4, 20, 8, 0, tzinfo=UTC)


@pytest.fixture
def lived(programme: Programme, issued: Issued) -> Programme:
    """Issued 21 March, certified in ink 25 March but written 20 April, withdrawn 1 May."""
    signing = Signing("hollis", date(2026, 3, 25), LATE, scan=SCAN)
    certify_record(issued.number, programme, signing, out=None)
    withdraw_record(
        issued.number,
        programme,
        by="lead",
        reason="the coupon was another's",
        at=datetime(2026, 5, 1, tzinfo=UTC),
    )
    return programme


@pytest.mark.parametrize(
    ("as_of", "known_by", "state"),
    [
        (date(2026, 3, 22), None, "issued"),
        (date(2026, 3, 25), None, "certified"),
        (date(2026, 3, 25), date(2026, 4, 19), "issued"),
        (date(2026, 3, 25), date(2026, 4, 20), "certified"),
        (date(2026, 5, 1), None, "withdrawn"),
        (date(2026, 5, 1), date(2026, 4, 30), "certified"),
    ],
)
def test_the_state_of_a_record_has_two_times(
    as_of: date, known_by: date | None, state: str, lived: Programme, issued: Issued
) -> None:
    shown = show_document(lived.log, issued.number, Asked(as_of, known_by))
    assert shown["state"] == state
    (row,) = list_document(lived.log, Asked(as_of, known_by))["records"]
    assert (row["state"], row["name"], row["register"]) == (state, "Ines Marlowe", "1")
    said = " ".join(show_lines(shown))
    assert ("It supports no joint" in said) is (state != "certified")
    assert (f"as known by the end of {known_by}" in said) is (known_by is not None)


@pytest.mark.parametrize(("zone", "state"), [("America/Chicago", "certified"), ("", "issued")])
def test_a_day_of_knowledge_ends_in_the_zone_of_the_programme(
    zone: str, state: str, programme: Programme, issued: Issued
) -> None:
    """03:00 UTC on 20 April is 22:00 on 19 April in Chicago (daylight time, UTC-5)."""
    body = {"editions": [], "decision_rule": "simple", "options": {"zone": zone}}
    programme.log.append([Act("BasisAdopted", body, AS_OF, "lead", FIRST_RUN, stream="programme")])
    late = datetime(2026, 4, 20, 3, 0, tzinfo=UTC)
    signing = Signing("hollis", date(2026, 3, 25), late, scan=SCAN)
    certify_record(issued.number, programme, signing, out=None)
    asked = Asked(date(2026, 4, 1), date(2026, 4, 19))
    assert show_document(programme.log, issued.number, asked)["state"] == state


def test_before_its_issue_a_record_is_not_listed_and_not_shown(
    lived: Programme, issued: Issued
) -> None:
    before = Asked(date(2026, 3, 20))
    assert list_document(lived.log, before)["records"] == []
    with pytest.raises(RecordUnknown, match="had not been issued"):
        show_document(lived.log, issued.number, before)


def test_an_uncertified_record_says_that_it_supports_no_joint(
    programme: Programme, issued: Issued
) -> None:
    lines = list(show_lines(show_document(programme.log, issued.number, Asked(AS_OF + _week()))))
    assert lines[1] == (
        "△ It supports no joint: the employer's responsible person has not certified it."
    )
    (listed,) = list(list_lines(list_document(programme.log, Asked(AS_OF + _week()))))[1:]
    assert listed.split("  ")[-1] == "issued, awaiting the employer's certification"


def _week() -> timedelta:
    return timedelta(days=7)


def test_the_earlier_revision_is_superseded(programme: Programme, tmp_path: Path) -> None:
    folder = case_folder(tmp_path, number="TST-05")
    issue_case(folder, programme, as_of=AS_OF, out=tmp_path / "out", at=AT)
    edit(folder, lambda d: d["coupons"][0]["joints"][0].update(clearance="0.005 in"))
    issue_case(folder, programme, as_of=AS_OF, out=tmp_path / "out", at=AT + _week())
    shown = show_document(programme.log, "TST-05-QP7K", Asked(AS_OF + 2 * _week()))
    assert [(r["revision"], r["state"]) for r in shown["revisions"]] == [
        ("2", "issued"),
        ("1", "superseded"),
    ]
    assert any("superseded by a later revision" in line for line in show_lines(shown))


def test_a_certification_filed_wrongly_can_be_voided(lived: Programme, issued: Issued) -> None:
    act = record_state(lived.log, issued.number).revisions[-1].certified
    assert act is not None
    body = {"voids": act.sha256, "reason": "of another record", "by": "lead"}
    lived.log.append([Act("ActVoided", body, LATE.date(), "lead", LATE, stream=act.stream)])
    assert record_state(lived.log, issued.number).revisions[-1].certified is None
    void = [e.act for e in lived.log.entries(stream=act.stream)][-1]
    body = {"voids": void.sha256, "reason": "it was this record", "by": "lead"}
    lived.log.append([Act("ActVoided", body, LATE.date(), "lead", LATE, stream=act.stream)])
    assert record_state(lived.log, issued.number).revisions[-1].certified == act


def test_a_forgotten_name_is_gone_and_every_entry_stays(
    programme: Programme, issued: Issued, data: Path
) -> None:
    before = list(programme.log.entries())
    done = forget(programme, "ines", reason="asked for it", by="lead", at=LATE)
    assert done.shown == ("TST-01-QP7K-r1",)
    assert list(programme.log.entries())[: len(before)] == before
    assert first_broken(programme.log.entries()) is None
    assert "Ines Marlowe" not in [s.value for s in programme.log.side_records().values()]
    told = "ines (name removed on 2026-04-20)"
    assert name_in(programme.log, "ines") == told
    (row,) = list_document(programme.log, Asked(LATE.date()))["records"]
    assert row["name"] == told
    assert told in " ".join(
        show_lines(show_document(programme.log, issued.number, Asked(LATE.date())))
    )
    report = verify_file(issued.path, [data / "keys" / "trust.pem"], log=programme.log)
    assert report.outcome is Outcome.MET


def test_forgetting_twice_adds_no_second_entry(programme: Programme) -> None:
    """As after a stop between the entry and the removal."""
    forget(programme, "ines", reason="asked for it", by="lead", at=LATE)
    size = programme.log.size()
    act = next(e.act for e in programme.log.entries() if e.act.type == "NameRemoved")
    salt = salt_of(programme.keys.salt, "ines")
    programme.log.put_side(act.body["name_commitment"], "Ines Marlowe", salt)
    done = forget(programme, "ines", reason="asked again", by="lead", at=LATE + _week())
    assert (programme.log.size(), done.on) == (size, "2026-04-20")
    assert programme.log.side(act.body["name_commitment"]) is None


def test_the_next_revision_prints_that_a_name_was_removed(
    programme: Programme, tmp_path: Path, data: Path
) -> None:
    folder, out = case_folder(tmp_path, number="TST-06"), tmp_path / "out"
    first = issue_case(folder, programme, as_of=AS_OF, out=out, at=AT)
    forget(programme, "ines", reason="asked for it", by="lead", at=LATE)
    same = issue_case(folder, programme, as_of=AS_OF, out=out, at=LATE)
    assert same.path.read_bytes() == programme.files.get(first.file_sha256)
    edit(folder, lambda d: d["coupons"][0]["joints"][0].update(clearance="0.005 in"))
    second = issue_case(folder, programme, as_of=AS_OF, out=out, at=LATE)
    told = " ".join(text_of(second.path.read_bytes()).split())
    assert "ines (name removed on 2026-04-20)" in told
    assert "Marlowe" not in told
    report = verify_file(second.path, [data / "keys" / "trust.pem"], log=programme.log)
    assert report.outcome is Outcome.MET, [f.message for f in report.findings]
    assert any(
        "removed from this record: ines (name removed on 2026-04-20)." in n for n in report.notes
    )


def test_person_unknown_nobody_is_forgotten(programme: Programme) -> None:
    with pytest.raises(PersonUnknown, match=r"\[ISSUE-022\]"):
        forget(programme, "nobody", reason="asked", by="lead", at=LATE)


def test_reason_missing_is_refused(programme: Programme, issued: Issued) -> None:
    size = programme.log.size()
    with pytest.raises(ReasonMissing, match=r"\[ISSUE-021\]"):
        forget(programme, "ines", reason=" ", by="lead", at=LATE)
    with pytest.raises(ReasonMissing):
        withdraw_record(issued.number, programme, by="lead", reason="", at=SIGNED_AT)
    assert programme.log.size() == size


def test_person_other_of_a_later_employer_is_refused(programme: Programme) -> None:
    new = NewPerson("petra", "Petra Lindqvar", "responsible person", "Harrow Fold Mechanical")
    secret = programme.keys.salt
    enrol(programme.log, new, secret=secret, by="petra", at=AT)
    size = programme.log.size()
    enrol(programme.log, new, secret=secret, by="petra", at=AT)
    assert programme.log.size() == size
    with pytest.raises(PersonOther, match=r"\[ISSUE-010\]"):
        enrol(programme.log, replace(new, name="Petra Other"), secret=secret, by="petra", at=AT)
    assert name_in(programme.log, "petra") == "Petra Lindqvar"


def test_no_name_stands_in_any_entry_of_a_record(lived: Programme) -> None:
    names = [s.value for s in lived.log.side_records().values()]
    assert len(names) == 6
    raws = b"".join(e.raw for e in lived.log.entries())
    assert [n for n in names if n.encode() in raws] == []
    assert len(states(lived.log)) == 1
