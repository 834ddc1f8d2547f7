"""In force from a ledger: two times, two codes, records and papers, and the commands."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lapwright.cli.common import open_ledger
from lapwright.core.acts import Act
from lapwright.ledger.files import FileStore
from lapwright.ledger.log import Log
from lapwright.services.attesting import UseSeen, attest_use
from lapwright.services.certifying import Signing, certify_record
from lapwright.services.doubts import clear_doubt, raise_doubt
from lapwright.services.errors import BasisUnclear, BrazerUnknown, SpanRefused, UseRefused
from lapwright.services.inforce import Asked, in_force_of_log
from lapwright.services.inforcefold import Days
from lapwright.services.inforcereport import people_document, people_lines
from lapwright.services.issuing import issue_case
from lapwright.services.programmeacts import Writing
from lapwright.services.spans import days_of
from lapwright.services.withdrawing import withdraw_record

from .building import case_folder, confirm_all, programme_in
from .conftest import Shell
from .forcework import BRAZED, act, at, basis, ledger, paper, used

START = date(2025, 1, 15)


def _document(log: Log, folder: Path, on: date, **asked: object) -> dict[str, object]:
    known_by = asked.pop("known_by", None)
    question = replace(Asked(Days(on, known_by)), **asked)  # type: ignore[arg-type]
    return people_document(in_force_of_log(log, FileStore(folder), question))


def _only(document: dict[str, object]) -> dict[str, object]:
    (row,) = document["rows"]  # type: ignore[misc]
    return row  # type: ignore[return-value]


def test_the_two_codes_part_on_the_day_that_completes_six_months(tmp_path: Path) -> None:
    log = ledger(*basis(), *paper("wren"))
    said = [
        (row["outcome"], row["why"], row["act_on"])
        for day in (14, 15, 16)
        for row in [_only(_document(log, tmp_path, date(2025, 7, day)))]
    ]
    assert said == [("met", "", ""), ("undetermined", "conflict", "not-met"), ("not-met", "", "")]


def test_one_person_and_the_whole_ledger_give_the_same_answer(tmp_path: Path) -> None:
    doubt = {"about": "procedure:QP-BPS-4", "by": "lead", "reason": "two cut-outs over the limit"}
    wrong = used("wren", date(2025, 5, 3))
    body = {"corrects": wrong.sha256, "body": dict(wrong.body), "reason": "day misread"}
    fixed = act(
        "ActCorrected", {**body, "happened_on": "2025-04-03"}, date(2025, 5, 9), stream=wrong.stream
    )
    acts = [*basis(), *paper("wren"), *paper("teal"), used("wren", date(2025, 3, 1)), wrong, fixed]
    log = ledger(*acts, act("DoubtRaised", doubt, date(2025, 6, 1)))
    day = date(2025, 6, 20)
    whole = _document(log, tmp_path, day)["rows"]
    for person in ("wren", "teal"):
        alone = _only(_document(log, tmp_path, day, person=person))
        assert alone == next(r for r in whole if r["person"] == person)  # type: ignore[attr-defined]
        assert (alone["outcome"], alone["why"]) == ("undetermined", "hold")
    wren = _only(_document(log, tmp_path, day, person="wren"))
    assert [k["on"] for k in wren["carried_by"]][-1] == "2025-04-03"  # type: ignore[index, attr-defined]


days = st.integers(0, 500).map(lambda n: START + timedelta(days=n))
kinds = st.sampled_from(["use", "other", "doubt", "paper", "void"])


def _later(log: Log, kind: str, on: date, written: date) -> Act:
    held = [e.act for e in log.entries() if e.act.type == "UseAttested"]
    if kind == "doubt":
        body = {"about": "person:wren", "by": "lead", "reason": "cut-out", "since": on.isoformat()}
        return act("DoubtRaised", body, on, written)
    if kind == "void" and held:
        target = held[0]
        body = {"voids": target.sha256, "reason": "another brazer"}
        return act("ActVoided", body, written, stream=target.stream)
    procedure = "QP-BPS-4" if kind == "use" else "OTHER"
    return used("wren", on, procedure=procedure, written=written)


@settings(max_examples=25, deadline=None)
@given(st.lists(st.tuples(kinds, days, days), max_size=6), days, days)
def test_what_is_written_later_never_changes_an_answer_known_by_a_day(
    tmp_path_factory: pytest.TempPathFactory,
    later: list[tuple[str, date, date]],
    known_by: date,
    day: date,
) -> None:
    folder = tmp_path_factory.getbasetemp()
    log = ledger(*_BASIS, *paper("wren"), used("wren", date(2025, 2, 1)))
    cut = max(known_by, date(2025, 2, 2))
    before = _document(log, folder, day, known_by=cut)
    for kind, on, extra in sorted(later, key=lambda e: e[2]):
        log.append([_later(log, kind, on, cut + timedelta(days=1 + (extra - START).days))])
    assert _document(log, folder, day, known_by=cut) == before


_BASIS = tuple(basis())


def test_a_use_timely_and_written_late_counts_from_the_day_it_is_known(tmp_path: Path) -> None:
    late = used("wren", date(2025, 6, 1), written=date(2025, 9, 1))
    log = ledger(*basis(), *paper("wren"), late)
    on = date(2025, 8, 1)
    assert _only(_document(log, tmp_path, on, known_by=date(2025, 8, 31)))["outcome"] == "not-met"
    now = _only(_document(log, tmp_path, on))
    assert now["outcome"] == "met"
    assert now["carried_by"][-1]["late_paper"] == "yes"  # type: ignore[index]
    told = "\n".join(people_lines(in_force_of_log(log, FileStore(tmp_path), Asked(Days(on)))))
    assert "(late paper)" in told
    assert "written down late" in told
    refused = ledger(*basis(late_paper="refused"), *paper("wren"), late)
    assert _only(_document(refused, tmp_path, on))["outcome"] == "not-met"


def test_what_is_due_stands_with_its_lead_time_and_the_first_in_front(tmp_path: Path) -> None:
    log = ledger(
        *basis(), *paper("wren"), *paper("teal"), *paper("ines"), used("teal", date(2025, 3, 1))
    )
    found = _document(log, tmp_path, date(2025, 7, 5), due=60)
    due = [(d["person"], d["use_by"], d["lead"]) for d in found["due"]]  # type: ignore[attr-defined]
    expected = [("ines", "2025-07-14", "5.5"), ("wren", "2025-07-14", "5.5")]
    assert due == [*expected, ("teal", "2025-08-31", "4")]
    assert _document(log, tmp_path, date(2025, 7, 5), due=5)["due"] == []
    lines = list(
        people_lines(in_force_of_log(log, FileStore(tmp_path), Asked(Days(date(2025, 7, 5)), 60)))
    )
    assert lines[-3].strip().startswith("by 2025-07-14 (9 days)")


def test_a_credential_is_told_beside_the_qualification_and_replaces_none(tmp_path: Path) -> None:
    noted = {"person": "wren", "kind": "installer ASSE 6010", "issuer": "x", "until": "2026-01-01"}
    log = ledger(*basis(), *paper("wren"), act("CredentialNoted", noted, BRAZED), *paper("teal"))
    found = _document(log, tmp_path, date(2025, 12, 1))["installers"]
    said = {(f["subject"], f["rule"]): f["outcome"] for f in found}  # type: ignore[attr-defined]
    assert said == {
        ("person wren", "installer.credential"): "met",
        ("person wren", "installer.brazing"): "not-met",
        ("person teal", "installer.credential"): "not-met",
        ("person teal", "installer.brazing"): "not-met",
    }


def test_a_record_of_the_ledger_from_issue_to_withdrawal(tmp_path: Path) -> None:
    folder = case_folder(tmp_path)
    confirm_all(folder)
    programme = programme_in(tmp_path / "home")
    issued_at = datetime(2026, 3, 21, 9, tzinfo=UTC)
    issue_case(folder, programme, as_of=date(2026, 3, 20), out=tmp_path / "out", at=issued_at)

    def row(on: date, known_by: date | None = None) -> dict[str, object]:
        asked = Asked(Days(on, known_by))
        return _only(people_document(in_force_of_log(programme.log, programme.files, asked)))

    assert (row(date(2026, 4, 1))["outcome"], row(date(2026, 4, 1))["why"]) == (
        "undetermined", "hold",
    )  # fmt: skip
    signing = Signing("hollis", date(2026, 3, 22), datetime(2026, 3, 22, 9, tzinfo=UTC), scan=b"p")
    certify_record("TST-01-QP7K", programme, signing, out=None)
    assert row(date(2026, 3, 10))["why"] == "hold"  # brazed 03-04, signed 03-22
    sure = row(date(2026, 4, 1))
    assert (sure["outcome"], sure["ends"], sure["positions"]) == ("met", "2026-09-04", ["C", "D"])
    assert row(date(2026, 4, 1), known_by=date(2026, 3, 21))["why"] == "hold"
    gone = datetime(2026, 6, 1, 9, tzinfo=UTC)
    withdraw_record("TST-01-QP7K", programme, by="lead", reason="mixed up", at=gone)
    assert row(date(2026, 6, 1))["outcome"] == "not-met"
    assert row(date(2026, 5, 31))["outcome"] == "met"


def test_a_record_issued_without_its_tests_is_read_from_its_data(tmp_path: Path) -> None:
    folder = case_folder(tmp_path)
    confirm_all(folder)
    programme = programme_in(tmp_path / "home")
    now = datetime(2026, 3, 21, 9, tzinfo=UTC)
    issue_case(folder, programme, as_of=date(2026, 3, 20), out=tmp_path / "out", at=now)
    old = ledger(*(_bare(e.act) for e in programme.log.entries()))
    asked = Asked(Days(date(2026, 4, 1)))
    one, two = (
        people_document(in_force_of_log(log, programme.files, asked))["rows"]
        for log in (programme.log, old)
    )
    assert [{**r, "name": ""} for r in one] == [{**r, "name": ""} for r in two]


def test_a_record_measured_with_a_doubted_instrument_is_held(tmp_path: Path) -> None:
    folder = case_folder(tmp_path)
    confirm_all(folder)
    programme = programme_in(tmp_path / "home")
    now = datetime(2026, 3, 21, 9, tzinfo=UTC)
    issue_case(folder, programme, as_of=date(2026, 3, 20), out=tmp_path / "out", at=now)
    signing = Signing("hollis", date(2026, 3, 21), now, scan=b"p")
    certify_record("TST-01-QP7K", programme, signing, out=None)
    tools = [e.act.body["instrument"] for e in programme.log.entries() if e.act.type == "FaceRead"]
    days = {"since": date(2026, 1, 1), "found_on": date(2026, 4, 1)}
    writing = Writing("lead", datetime(2026, 4, 1, 9, tzinfo=UTC))
    before = _only(_document(programme.log, tmp_path, date(2026, 4, 2)))
    doubt = raise_doubt(tools[0], programme.log, **days, reason="long", writing=writing)
    for known_by, outcome in ((date(2026, 3, 31), "met"), (None, "undetermined")):
        row = _only(_document(programme.log, tmp_path, date(2026, 4, 2), known_by=known_by))
        assert row["outcome"] == outcome
    assert before["outcome"] == "met"
    on = date(2026, 4, 3)
    clear_doubt(doubt.id, programme.log, on=on, reason="read again", writing=_at(writing, 3))
    assert _only(_document(programme.log, tmp_path, date(2026, 4, 2)))["outcome"] == "met"


def _at(writing: Writing, day: int) -> Writing:
    return replace(writing, at=writing.at.replace(day=day))


def _bare(filed: Act) -> Act:
    kept = {k: v for k, v in filed.body.items() if k not in ("tests", "employer")}
    return replace(filed, body=kept) if filed.type == "RecordIssued" else filed


def test_case_folders_are_judged_and_say_that_the_signature_is_in_the_ledger(
    tmp_path: Path, shell: Shell
) -> None:
    folder = case_folder(tmp_path)
    confirm_all(folder)
    found = _only(shell.json("in-force", folder, "--as-of", "2026-04-01"))
    assert (found["outcome"], found["why"], found["source"]) == (
        "undetermined", "needs-data", "case",
    )  # fmt: skip
    assert found["ends"] == "2026-09-04"
    twice = shell.run("in-force", folder, folder, "--as-of", "2026-04-01")
    assert getattr(twice.exception, "code", "") == "CASE-006"
    past = shell.run("in-force", folder, "--as-of", "2026-04-01", "--known-by", "2026-04-01")
    assert past.exit_code == 2


def test_the_commands_attest_a_use_and_show_who_is_in_force(tmp_path: Path, shell: Shell) -> None:
    data = tmp_path / "data"
    with open_ledger(data) as store:
        store.log.append([*basis(), *paper("wren")])
    seen = ("--process", "TB", "--procedure", "QP-BPS-4", "--on", "2025-06-30", "--by", "osgood")
    done = shell.run(
        "use", "attest", "--person", "wren", *seen, "--joints", "J1, J2", "--data", data
    )
    assert done.exit_code == 0, done.exception
    assert "wren brazed with TB under QP-BPS-4 on 2025-06-30" in done.stdout
    shown = shell.run("in-force", data, "--as-of", "2025-08-01", "--due", "60d")
    assert "● wren" in shown.stdout, shown.exception
    assert "until 2025-12-29, runs out on 2025-12-30" in shown.stdout
    found = _only(shell.json("in-force", data, "--as-of", "2025-08-01", "--person", "wren"))
    assert found["carried_by"][-1]["by"] == "osgood"  # type: ignore[index]


def test_a_use_that_proves_nothing_is_refused() -> None:
    log = ledger(*paper("wren"))
    seen = UseSeen("wren", "TB", "QP-BPS-4", date(2025, 6, 1))
    noon = at(date(2025, 6, 1))
    for wrong, by in ((seen, "wren"), (replace(seen, on=date(2025, 6, 9)), "osgood")):
        with pytest.raises(UseRefused):
            attest_use(wrong, log, writing=Writing(by, noon))
    assert log.size() == 2


def test_a_brazer_whom_nobody_knows_is_refused(tmp_path: Path) -> None:
    log = ledger(*basis(), *paper("wren"))
    with pytest.raises(BrazerUnknown):
        _document(log, tmp_path, START, person="nobody")
    with pytest.raises(BrazerUnknown):
        attest_use(UseSeen("nobody", "TB", "P", START), log, writing=Writing("osgood", at(START)))


def test_a_paper_without_a_basis_is_refused(tmp_path: Path) -> None:
    with pytest.raises(BasisUnclear):
        _document(ledger(*paper("wren")), tmp_path, START)
    two = [
        replace(next(basis(date(2024, 1, day))), stream=f"case/{case}")
        for day, case in ((2, "A"), (3, "B"))
    ]
    with pytest.raises(BasisUnclear):
        _document(ledger(*two, *paper("wren")), tmp_path, START)
    assert (
        _only(_document(ledger(*two, *paper("wren")), tmp_path, START, basis="A"))["basis"] == "A"
    )


def test_a_span_that_is_none_is_refused() -> None:
    for text in ("soon", "-3d", "60 h", ""):
        with pytest.raises(SpanRefused):
            days_of(text)


def test_a_case_that_failed_shows_its_brazer_without_a_qualification(
    tmp_path: Path, shell: Shell
) -> None:
    folder = case_folder(tmp_path, voids=dict.fromkeys(range(8), ((0.1, 0.6, "open"),)))
    confirm_all(folder)
    found = shell.json("in-force", folder, "--as-of", "2026-04-01")
    assert (found["rows"], found["without"]) == ([], ["ines"])
    told = shell.run("in-force", folder, "--as-of", "2026-04-01").stdout
    assert "Ines Marlowe: nothing passed that could be in force" in told


def test_a_second_record_renews_the_first(tmp_path: Path) -> None:
    log = ledger(*basis(), *paper("wren"), *paper("wren", id_="P-2", brazed=date(2025, 9, 1)))
    asked = Asked(Days(date(2025, 10, 1)), person="wren")
    rows = people_document(in_force_of_log(log, FileStore(tmp_path), asked))["rows"]
    assert [r["outcome"] for r in rows] == ["met", "met"]
    assert rows[0]["clocks"][0]["opened_by"] == "renewal"
