"""Instruments and credentials: registers, a doubt and all that it reaches, in log and judgement."""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest

from lapwright.core.acts import Act
from lapwright.core.outcomes import Finding, Outcome, Why
from lapwright.ledger.files import FileStore
from lapwright.ledger.log import MemoryLog
from lapwright.services.bearing import bearing_acts
from lapwright.services.casefolder import open_case
from lapwright.services.credentials import (
    Credential,
    CredentialScan,
    credentials,
    note_credential,
)
from lapwright.services.doubts import clear_doubt, doubt_on, raise_doubt, touched
from lapwright.services.errors import (
    CaseDatesRefused,
    DoubtUnknown,
    InstrumentUnknown,
    PaperDatesRefused,
    PaperNumberRefused,
    TextEmpty,
)
from lapwright.services.instruments import Filing, InstrumentRow, file_instrument, register
from lapwright.services.judging import judge_acts
from lapwright.services.paperreport import (
    credential_lines,
    instrument_lines,
    touched_document,
    touched_lines,
)
from lapwright.services.programmeacts import Writing
from lapwright.services.scans import Region

from .building import case_folder, edit
from .paperwork import NUMBER, scan

AT = datetime(2026, 6, 1, 12, tzinfo=UTC)
WRITING = Writing("lead", AT)
ISSUED = {
    "record": "TST-01-QP7K",
    "revision": "1",
    "register": "1",
    "payload_sha256": "ab" * 32,
    "person": "ines",
    "case": "TST-01",
}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A case folder read by loupe."""
    return case_folder(tmp_path_factory.mktemp("case"))


@pytest.fixture
def log(folder: Path) -> MemoryLog:
    """The ledger of one case with its record issued."""
    log = open_case(folder).log
    issued = Act(
        "RecordIssued",
        ISSUED,
        date(2026, 3, 21),
        "lead",
        AT,
        version=2,
        stream="record/TST-01-QP7K",
    )
    log.append([issued])
    return log


def _doubt(log: MemoryLog, instrument: str, since: str = "2026-01-05") -> str:
    raised = raise_doubt(
        instrument,
        log,
        since=date.fromisoformat(since),
        found_on=date(2026, 5, 4),
        reason="off against the gauge block",
        writing=WRITING,
    )
    return raised.id


def _held(log: MemoryLog, as_of: date = date(2026, 6, 1)) -> list[Finding]:
    acts = [e.act for e in log.entries() if e.stream in ("case/TST-01", "programme")]
    found = judge_acts(acts, as_of=as_of).judgement.findings
    return [f for f in found if f.rule == "instrument.doubted"]


def _row(log: MemoryLog, name: str, as_of: str, warn_days: int = 30) -> InstrumentRow:
    rows = register(log, as_of=date.fromisoformat(as_of), warn_days=warn_days)
    return next(r for r in rows if r.id == name)


def test_the_register_tells_what_ends_soon_and_what_has_ended(log: MemoryLog) -> None:
    until = date(2026, 11, 30)
    assert _row(log, "CAL-2", "2026-10-30").state == "in-date"
    soon = _row(log, "CAL-2", "2026-10-31")
    assert (soon.state, soon.days, soon.calibrated_until) == ("ends-soon", 30, until)
    assert _row(log, "CAL-2", "2026-11-30").days == 0
    assert _row(log, "CAL-2", "2026-12-01").state == "ended"
    assert _row(log, "CAL-2", "2026-06-01", warn_days=400).state == "ends-soon"
    lines = list(instrument_lines(register(log, as_of=date(2026, 12, 3))))
    assert any("Ended 3 days ago" in line for line in lines)


def test_a_new_calibration_takes_the_place_of_the_old_one(log: MemoryLog, tmp_path: Path) -> None:
    certificate = tmp_path / "certificate.pdf"
    certificate.write_bytes(b"%PDF-1.7 certificate")
    files = FileStore(tmp_path / "files")
    filing = Filing(
        "CAL-2", "calliper", "0.0005 in", date(2026, 5, 20), date(2027, 5, 20), certificate
    )
    act = file_instrument(filing, log, files, writing=WRITING, on=date(2026, 5, 21))
    assert files.get(act.files[0]) == b"%PDF-1.7 certificate"
    assert _row(log, "CAL-2", "2026-05-20").calibrated_until == date(2026, 11, 30)
    assert _row(log, "CAL-2", "2026-06-01").calibrated_until == date(2027, 5, 20)


def test_a_calliper_out_of_tolerance_lists_walls_overlaps_and_the_record(log: MemoryLog) -> None:
    doubt = doubt_on(log, _doubt(log, "CAL-2"), as_of=date(2026, 6, 1))
    rows = touched(log, doubt, as_of=date(2026, 6, 1))
    brazed = [a for a in (e.act for e in log.entries()) if a.type == "CouponBrazed"]
    coupons = sorted(a.body["coupon"] for a in brazed)
    joints = sorted(j["id"] for a in brazed for j in a.body["joints"])
    assert sorted({r.id for r in rows if r.kind == "coupon"}) == coupons
    assert sorted(r.id for r in rows if r.kind == "joint") == joints
    assert [r.id for r in rows if r.kind == "record"] == ["TST-01-QP7K-r1"]
    assert [r.kind for r in rows].count("face") == 0
    assert next(iter(touched_lines(rows))).startswith("Touched by it")
    assert {r["case"] for r in touched_document(rows)} == {"TST-01"}


def test_a_loupe_out_of_tolerance_lists_every_face_read_with_it(log: MemoryLog) -> None:
    doubt = doubt_on(log, _doubt(log, "LOU-3"), as_of=date(2026, 6, 1))
    rows = touched(log, doubt, as_of=date(2026, 6, 1))
    read = [e.act.body["face"] for e in log.entries() if e.act.type == "FaceRead"]
    assert sorted(r.id for r in rows if r.kind == "face") == sorted(read)


def test_an_analyser_out_of_tolerance_lists_the_purge_logs(log: MemoryLog) -> None:
    doubt = doubt_on(log, _doubt(log, "OXA-1"), as_of=date(2026, 6, 1))
    rows = touched(log, doubt, as_of=date(2026, 6, 1))
    assert {r.kind for r in rows} == {"purge log", "record"}


def test_what_was_measured_before_the_last_good_day_is_not_touched(log: MemoryLog) -> None:
    doubt = doubt_on(log, _doubt(log, "CAL-2", since="2026-05-01"), as_of=date(2026, 6, 1))
    assert touched(log, doubt, as_of=date(2026, 6, 1)) == ()
    assert _held(log) == []


def test_a_doubt_holds_the_case_until_it_is_cleared_with_a_reason(log: MemoryLog) -> None:
    assert _held(log) == []
    id_ = _doubt(log, "LOU-3")
    held = _held(log)
    assert held
    assert {(f.outcome, f.why) for f in held} == {(Outcome.UNDETERMINED, Why.HOLD)}
    assert _held(log, as_of=date(2026, 5, 3)) == []  # nobody knew it yet
    clear_doubt(id_, log, on=date(2026, 5, 20), reason="0.02 mm, too small", writing=WRITING)
    cleared = _held(log)
    assert {f.outcome for f in cleared} == {Outcome.MET}
    assert {f.why for f in _held(log, as_of=date(2026, 5, 19))} == {Why.HOLD}
    doubt = doubt_on(log, id_, as_of=date(2026, 6, 1))
    assert touched(log, doubt, as_of=date(2026, 6, 1))  # what it reached stays listed


READ_ON, GOOD = date(2026, 3, 12), date(2026, 1, 5)


def _stating(folder: Path, number: str, stated: str) -> MemoryLog:
    """Return the log of a case whose loupe readings and walls state ``after_calibration``."""
    case = case_folder(folder, number=number)

    def state(document: dict[str, Any]) -> None:
        for coupon in document["coupons"]:
            for joint in coupon["joints"]:
                for face in joint["faces"]:
                    for reading in face["readings"]:
                        reading["after_calibration"] = stated

    if stated:
        edit(case, state)
    return open_case(case).log


@pytest.mark.parametrize(
    ("stated", "told"),
    [
        ("", {"instrument.doubted_same_day"}),
        (READ_ON.isoformat(), set()),
        ("2026-03-11", {"instrument.doubted_same_day"}),
    ],
)
def test_a_reading_of_the_day_of_recalibration_is_held_until_its_order_is_stated(
    tmp_path: Path, stated: str, told: set[str]
) -> None:
    log = _stating(tmp_path, "TST-01", stated)
    filing = Filing("LOU-3", "loupe", "0.1 mm", READ_ON, date(2027, 3, 12))
    file_instrument(filing, log, FileStore(tmp_path / "f"), writing=WRITING, on=READ_ON)
    doubt = raise_doubt(
        "LOU-3", log, since=GOOD, found_on=READ_ON, reason="graticule moved", writing=WRITING
    )
    assert {f.message.id for f in _held(log)} == told
    assert bool([r for r in touched(log, doubt, as_of=date(2026, 6, 1)) if r.kind == "face"]) == (
        bool(told)
    )


def test_readings_after_the_day_of_recalibration_are_free(log: MemoryLog, tmp_path: Path) -> None:
    """Found bad, and calibrated, on the day before the faces were read."""
    before = date(2026, 3, 11)
    filing = Filing("LOU-3", "loupe", "0.1 mm", before, date(2027, 3, 11))
    file_instrument(filing, log, FileStore(tmp_path / "f"), writing=WRITING, on=before)
    raise_doubt("LOU-3", log, since=GOOD, found_on=before, reason="moved", writing=WRITING)
    assert _held(log) == []


def test_walls_overlaps_and_purge_state_their_order_too(tmp_path: Path) -> None:
    brazed = "2026-03-04"
    case = case_folder(tmp_path)

    def state(document: dict[str, Any]) -> None:
        for coupon in document["coupons"]:
            parts = [coupon["tube"], coupon["fitting"], coupon["purge"], *coupon["joints"]]
            for part in parts:
                part["after_calibration"] = brazed

    day = date.fromisoformat(brazed)
    for stated, kinds in (("", {"coupon", "joint", "purge log"}), (brazed, set[str]())):
        if stated:
            edit(case, state)
        log = open_case(case).log
        for name in ("CAL-2", "OXA-1"):
            filing = Filing(name, "any", "", day, date(2027, 3, 4))
            file_instrument(filing, log, FileStore(tmp_path / "f"), writing=WRITING, on=day)
        found = [
            raise_doubt(n, log, since=GOOD, found_on=day, reason="off", writing=WRITING)
            for n in ("CAL-2", "OXA-1")
        ]
        rows = [r for d in found for r in touched(log, d, as_of=date(2026, 6, 1))]
        assert {r.kind for r in rows} == kinds
        assert bool(_held(log)) == bool(kinds)


def test_an_order_dated_after_the_file_is_refused(tmp_path: Path) -> None:
    with pytest.raises(CaseDatesRefused, match="after_calibration"):
        _stating(tmp_path, "TST-01", "2026-12-01")


def test_the_whole_case_is_open_while_a_doubt_stands(log: MemoryLog) -> None:
    acts = [e.act for e in log.entries() if e.stream == "case/TST-01"]
    assert judge_acts(acts, as_of=date(2026, 6, 1)).judgement.verdict.outcome is Outcome.MET
    _doubt(log, "CAL-2")
    acts += [e.act for e in log.entries() if e.stream == "programme"]
    verdict = judge_acts(acts, as_of=date(2026, 6, 1)).judgement.verdict
    assert (verdict.outcome, verdict.why) == (Outcome.UNDETERMINED, Why.HOLD)


def test_the_programme_s_acts_on_a_case_s_instruments_are_found_by_name(log: MemoryLog) -> None:
    acts = [e.act for e in log.entries() if e.stream == "case/TST-01"]
    assert bearing_acts(log, acts) == ()
    id_ = _doubt(log, "CAL-2")
    clear_doubt(id_, log, on=date(2026, 5, 20), reason="too small", writing=WRITING)
    found = bearing_acts(log, acts)
    assert [a.type for a in found] == ["DoubtRaised", "DoubtCleared"]
    other = [a for a in acts if a.type == "PersonEnrolled"]
    assert bearing_acts(log, other) == ()


def test_a_doubted_instrument_is_told_in_the_register(log: MemoryLog) -> None:
    id_ = _doubt(log, "CAL-2")
    row = _row(log, "CAL-2", "2026-06-01")
    assert (row.state, [d.id for d in row.doubts]) == ("doubted", [id_])
    assert id_ == "CAL-2-D1"
    assert _doubt(log, "CAL-2") == "CAL-2-D2"


def test_an_instrument_nobody_filed_cannot_be_doubted(log: MemoryLog) -> None:
    with pytest.raises(InstrumentUnknown, match="PAPER-014"):
        _doubt(log, "CAL-9")


def test_a_doubt_that_is_not_there_cannot_be_cleared_nor_one_twice(log: MemoryLog) -> None:
    with pytest.raises(DoubtUnknown, match="PAPER-015"):
        clear_doubt("CAL-2-D1", log, on=date(2026, 5, 20), reason="x", writing=WRITING)
    id_ = _doubt(log, "CAL-2")
    clear_doubt(id_, log, on=date(2026, 5, 20), reason="too small", writing=WRITING)
    with pytest.raises(DoubtUnknown, match="cleared on 2026-05-20"):
        clear_doubt(id_, log, on=date(2026, 5, 21), reason="too small", writing=WRITING)


def test_an_empty_reason_is_refused(log: MemoryLog) -> None:
    with pytest.raises(TextEmpty, match="PAPER-016"):
        raise_doubt(
            "CAL-2",
            log,
            since=date(2026, 1, 5),
            found_on=date(2026, 5, 4),
            reason=" ",
            writing=WRITING,
        )


def test_days_in_the_wrong_order_are_refused(log: MemoryLog, tmp_path: Path) -> None:
    with pytest.raises(PaperDatesRefused, match="PAPER-010"):
        _doubt(log, "CAL-2", since="2026-05-05")
    id_ = _doubt(log, "CAL-2")
    for on in (date(2026, 5, 3), date(2026, 6, 3)):
        with pytest.raises(PaperDatesRefused, match="PAPER-010"):
            clear_doubt(id_, log, on=on, reason="too small", writing=WRITING)
    files = FileStore(tmp_path / "files")
    for made, until in ((date(2026, 5, 2), date(2026, 5, 1)), (date(2026, 7, 1), date(2027, 7, 1))):
        filing = Filing("CAL-4", "calliper", "0.0005 in", made, until)
        with pytest.raises(PaperDatesRefused, match="PAPER-010"):
            file_instrument(filing, log, files, writing=WRITING, on=date(2026, 6, 1))


def test_credentials_are_listed_by_their_end_and_told_before(tmp_path: Path) -> None:
    log, files = MemoryLog(), FileStore(tmp_path / "files")
    for kind, until in (("installer", "2026-06-20"), ("first aid", "2026-05-01")):
        noted = Credential("wren", kind, "Fennel Bay Training Hall", date.fromisoformat(until))
        note_credential(noted, log, files, on=date(2026, 3, 1), writing=WRITING)
    rows = credentials(log, as_of=date(2026, 6, 1))
    assert [(r.kind, r.state, r.days) for r in rows] == [
        ("first aid", "ended", -31),
        ("installer", "ends-soon", 19),
    ]
    again = Credential("wren", "first aid", "Fennel Bay Training Hall", date(2028, 5, 1))
    note_credential(again, log, files, on=date(2026, 5, 30), writing=WRITING)
    assert [r.state for r in credentials(log, as_of=date(2026, 6, 1))] == ["ends-soon", "in-date"]
    assert len(list(credential_lines(rows))) == 2
    assert credentials(log, as_of=date(2026, 2, 1)) == ()


def test_a_credential_keeps_its_scan_masked_and_its_number_out(tmp_path: Path) -> None:
    log, files = MemoryLog(), FileStore(tmp_path / "files")
    noted = Credential("wren", "installer", "Hall", date(2027, 1, 1), f"no {NUMBER}")
    page = CredentialScan(scan(tmp_path), (Region(1, 10, 10, 50, 20),))
    act = note_credential(noted, log, files, on=date(2026, 3, 1), writing=WRITING, scan=page)
    assert NUMBER.encode() not in act.to_bytes()
    assert files.get(act.files[0]) != (tmp_path / "scan.png").read_bytes()
    other = Credential("000123456", "installer", "Hall", date(2027, 1, 1))
    with pytest.raises(PaperNumberRefused, match="PAPER-001"):
        note_credential(other, log, files, on=date(2026, 3, 1), writing=WRITING)
    with pytest.raises(PaperDatesRefused, match="PAPER-010"):
        note_credential(noted, log, files, on=date(2026, 6, 3), writing=WRITING)
