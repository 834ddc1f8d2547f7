"""Paper records from entering to their worth, with each refusal; log in memory, files on disk."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from lapwright.core.acts import Act
from lapwright.core.errors import LapwrightError, MarkRefused
from lapwright.core.outcomes import Outcome, Why
from lapwright.core.paperfold import PaperRecord
from lapwright.ledger.files import FileStore
from lapwright.ledger.log import MemoryLog, first_broken
from lapwright.services.errors import (
    CaseContradiction,
    CaseKeyRefused,
    PaperConfirmationOwn,
    PaperConfirmationRefused,
    PaperConfirmationScan,
    PaperDatesRefused,
    PaperNumberRefused,
    PaperNumberUnsaid,
    PaperOwnCheck,
    PaperPdfRefused,
    PaperTwice,
    PaperUnknown,
    PersonUnknown,
    TextEmpty,
)
from lapwright.services.paperrecords import (
    PaperLook,
    PaperToEnter,
    check_paper,
    enter_paper,
    house_rules,
    paper_on,
    papers_on,
    worth,
)
from lapwright.services.paperreport import paper_document, paper_lines
from lapwright.services.people import NewPerson, enrol
from lapwright.services.programmeacts import Writing
from lapwright.services.scans import regions_of

from .paperwork import NUMBER, scan, written
from .paperwork import paper_document as typed_paper

AT = datetime(2025, 4, 20, 12, tzinfo=UTC)
WRITING = Writing("hollis", AT)
Doc = dict[str, Any]


@dataclass
class Desk:
    """A log, a file store and a folder of files to enter."""

    folder: Path
    log: MemoryLog
    files: FileStore

    def enter(self, change: Callable[[Doc], None] | None = None, shade: int = 200) -> PaperRecord:
        """Enter the paper, changed first where asked."""
        document = typed_paper()
        if change is not None:
            change(document)
        path = written(self.folder / "paper.yaml", document)
        given = PaperToEnter(path, (scan(self.folder, shade),))
        return enter_paper(given, self.log, self.files, writing=WRITING)

    def check(self, **look: Any) -> PaperRecord:
        """Check the paper."""
        asked = {"paper": "W-17", "by": "teal", "on": date(2025, 4, 16), "outcome": "agrees"}
        made = PaperLook(**{**asked, **look})
        return check_paper(made, self.log, self.files, writing=WRITING)

    def enrol(
        self, person: str = "teal", name: str = "Teal Farrow", role: str = "examiner"
    ) -> None:
        """Enrol a person, as a case does."""
        enrol(self.log, NewPerson(person, name, role, "Harrow Fold"), secret=b"s", by="lead", at=AT)

    def confirm(self, **look: Any) -> PaperRecord:
        """File the confirmation of the employer that tested, by teal unless changed."""
        sent = {"employer": "Quillon Pipeworks", "evidence": self.letter(), "no_number": "yes"}
        return self.check(**{**sent, **look})

    def letter(self) -> Path:
        """Write what the employer that tested has sent."""
        path = self.folder / "letter.pdf"
        path.write_bytes(b"%PDF-1.7 We confirm QP-BPQ-17.")
        return path


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return Desk(tmp_path, MemoryLog(), FileStore(tmp_path / "files"))


def _worth(paper: PaperRecord) -> Outcome:
    return worth(paper, adopted=house_rules(date(2025, 5, 1))).outcome


def _line(refusal: pytest.ExceptionInfo[LapwrightError]) -> str:
    line = str(refusal.value)
    assert "\n" not in line
    assert line.endswith(f"[{refusal.value.code}]")
    return line


def test_a_paper_counts_only_when_checked_and_confirmed(desk: Desk) -> None:
    entered = desk.enter()
    assert _worth(entered) is Outcome.UNDETERMINED
    desk.enrol()
    checked = desk.check()
    assert _worth(checked) is Outcome.UNDETERMINED
    sent = {"employer": "Quillon Pipeworks", "evidence": desk.letter()}
    with pytest.raises(PaperPdfRefused, match="PAPER-005"):
        desk.check(**sent)
    confirmed = desk.check(**sent, no_number="yes")
    assert _worth(confirmed) is Outcome.MET
    assert first_broken(desk.log.entries()) is None


def test_what_is_known_on_a_day_is_what_had_happened_by_then(desk: Desk) -> None:
    desk.enter()
    desk.check(on=date(2025, 4, 18))
    before = paper_on(desk.log, "W-17", as_of=date(2025, 4, 17))
    assert before.checks == ()
    assert len(paper_on(desk.log, "W-17", as_of=date(2025, 4, 18)).checks) == 1
    assert papers_on(desk.log, as_of=date(2025, 4, 14)) == ()


def test_the_number_enters_neither_log_nor_files(desk: Desk) -> None:
    entered = desk.enter()
    original = (desk.folder / "scan.png").read_bytes()
    stored = [desk.files.get(name) for name in desk.files.names()]
    assert original not in stored
    assert [len(stored), len(entered.files)] == [1, 1]
    said = b"".join(e.raw for e in desk.log.entries())
    assert NUMBER.encode() not in said
    assert entered.body["remark"] == "card no •••-••-•••• seen"
    path = desk.files.folder / entered.files[0][:2] / entered.files[0]
    pixels = np.asarray(Image.open(path))
    assert not pixels[30:50, 20:120].any()
    assert pixels[:30].all()


def test_clocks_start_on_the_braze_date(desk: Desk) -> None:
    assert desk.enter().brazed == (date(2024, 11, 18),)


def test_a_number_in_an_id_or_as_the_record_s_number_is_refused(desk: Desk) -> None:
    for key in ("paper", "number", "person"):
        with pytest.raises(PaperNumberRefused) as refusal:
            desk.enter(lambda d, key=key: d.update({key: "000123456"}))  # type: ignore[misc]
        assert "000123456" not in _line(refusal)
    assert (desk.log.size(), list(desk.files.names())) == (0, [])


def test_a_mark_with_four_digits_is_refused(desk: Desk) -> None:
    with pytest.raises(MarkRefused, match="CORE-004"):
        desk.enter(lambda d: d.update(mark="W3456"))


def test_an_unknown_key_is_refused(desk: Desk) -> None:
    with pytest.raises(CaseKeyRefused, match="CASE-002"):
        desk.enter(lambda d: d.update(social="x"))


def test_a_range_that_runs_backwards_is_refused(desk: Desk) -> None:
    backwards = {"tube_wall": {"low": "0.2 in", "high": "0.1 in"}}
    with pytest.raises(CaseContradiction, match="CASE-007"):
        desk.enter(lambda d: d.update(ranges=backwards))
    assert desk.log.size() == 0


def test_a_scan_of_which_nobody_says_anything_is_refused(desk: Desk) -> None:
    with pytest.raises(PaperNumberUnsaid) as refusal:
        desk.enter(lambda d: d.pop("scan"))
    assert "PAPER-004" in _line(refusal)
    assert (desk.log.size(), list(desk.files.names())) == (0, [])


@pytest.mark.parametrize(
    "change",
    [
        lambda d: d.update(tested="2024-11-17"),
        lambda d: d.update(signed="2024-11-19"),
        lambda d: d["provenance"].update(received="2024-11-21"),
        lambda d: d["typed"].update(on="2025-04-13"),
        lambda d: d["typed"].update(on="2025-05-13"),
        lambda d: d.update(brazed=["2024-11-18", "2024-11-21"]),
    ],
)
def test_dates_in_the_wrong_order_are_refused(desk: Desk, change: Callable[[Doc], None]) -> None:
    with pytest.raises(PaperDatesRefused) as refusal:
        desk.enter(change)
    assert "PAPER-010" in _line(refusal)
    assert desk.log.size() == 0


def test_a_paper_enters_once(desk: Desk) -> None:
    desk.enter()
    with pytest.raises(PaperTwice, match="paper W-17"):
        desk.enter(shade=100)
    with pytest.raises(PaperTwice, match="the scan of W-17"):
        desk.enter(lambda d: d.update(paper="W-18"))
    assert desk.enter(lambda d: d.update(paper="W-18"), shade=100).id == "W-18"
    assert desk.log.size() == 2


@pytest.mark.parametrize("own", ["hollis", "wren"])
def test_who_typed_it_or_brazed_it_cannot_check_it(desk: Desk, own: str) -> None:
    desk.enter()
    with pytest.raises(PaperOwnCheck) as refusal:
        desk.check(by=own)
    assert "PAPER-008" in _line(refusal)
    assert desk.log.size() == 1


@pytest.mark.parametrize("employer", ["", "Quillon North"])
def test_a_confirmation_comes_from_the_employer_that_tested(desk: Desk, employer: str) -> None:
    desk.enter()
    with pytest.raises(PaperConfirmationRefused, match="PAPER-009"):
        desk.check(employer=employer, evidence=desk.letter())
    with pytest.raises(PaperConfirmationRefused, match="PAPER-009"):
        desk.check(employer="Quillon Pipeworks")


@pytest.mark.parametrize("scanned", ["as it is", "masked as entered", "masked otherwise"])
def test_the_brazer_s_own_scan_confirms_nothing(desk: Desk, scanned: str) -> None:
    """The very bytes, the original behind the stored copy, or the stored copy itself."""
    desk.enrol()
    entered = desk.enter()
    look: dict[str, Any] = {"evidence": scan(desk.folder)}
    if scanned == "masked as entered":
        look |= {"masks": regions_of([{"page": "1", "x": "20", "y": "30", "w": "100", "h": "20"}])}
    elif scanned == "masked otherwise":
        look |= {"masks": regions_of([{"page": "1", "x": "0", "y": "0", "w": "1", "h": "1"}])}
    else:
        held = desk.folder / "held.png"
        held.write_bytes(desk.files.get(entered.files[0]))
        look |= {"evidence": held}
    before = (desk.log.size(), list(desk.files.names()))
    with pytest.raises(PaperConfirmationScan) as refusal:
        desk.confirm(**look)
    assert "PAPER-020" in _line(refusal)
    assert (desk.log.size(), list(desk.files.names())) == before
    assert desk.confirm(evidence=scan(desk.folder, 91, "letter.png")).checks[0].role == "examiner"


@pytest.mark.parametrize(
    ("person", "name", "role"),
    [
        pytest.param("corvin", "Corvin Ashdale", "brazer", id="a brazer only"),
        pytest.param("w-office", "Tolliver  WREN", "office", id="the brazer under another id"),
    ],
)
def test_neither_a_brazer_nor_the_brazer_s_name_files_a_confirmation(
    desk: Desk, person: str, name: str, role: str
) -> None:
    desk.enter()
    desk.enrol("wren", "Wren Tolliver", "brazer")
    desk.enrol(person, name, role)
    with pytest.raises(PaperConfirmationOwn) as refusal:
        desk.confirm(by=person)
    assert "PAPER-021" in _line(refusal)
    with pytest.raises(PaperConfirmationOwn, match="PAPER-021"):
        desk.confirm(by="other", name="Wren Tolliver", role="office")
    assert paper_on(desk.log, "W-17", as_of=date(2025, 5, 1)).checks == ()


def test_the_brazer_s_id_in_other_letters_is_the_brazer(desk: Desk) -> None:
    desk.enter()
    desk.enrol("Wren", "Somebody Else", "office")
    with pytest.raises(PaperOwnCheck, match="PAPER-008"):
        desk.confirm(by="Wren")


def test_somebody_whom_nobody_enrolled_files_no_confirmation(desk: Desk) -> None:
    desk.enter()
    with pytest.raises(PersonUnknown, match="ISSUE-022"):
        desk.confirm(by="marrow")
    with pytest.raises(TextEmpty, match="PAPER-016"):
        desk.confirm(by="marrow", name="Marrow Finch")
    filed = desk.confirm(by="marrow", name="Marrow Finch", role="records office")
    assert filed.checks[0].role == "records office"
    assert filed.confirmations == filed.checks


def test_a_person_known_as_brazer_and_as_examiner_may_file(desk: Desk) -> None:
    desk.enter()
    desk.enrol("corvin", "Corvin Ashdale", "brazer")
    desk.enrol("corvin", "Corvin Ashdale", "brazer")
    body = {"person": "corvin", "role": "examiner", "name_commitment": "cd" * 32}
    desk.log.append([Act("PersonEnrolled", body, date(2025, 4, 1), "lead", AT, stream="case/X")])
    assert desk.confirm(by="corvin").checks[0].role == "examiner"


def test_a_confirmation_filed_before_this_was_asked_is_judged_by_it(desk: Desk) -> None:
    """Entries of an older version: the brazer's own scan, by somebody enrolled nowhere."""
    entered = desk.enter()
    desk.check()
    body = {"paper": "W-17", "by": "Marrow", "outcome": "agrees", "employer": entered.employer}
    filed = Act(
        "PaperRecordChecked",
        body,
        date(2025, 4, 17),
        "Marrow",
        AT,
        files=entered.files,
        stream="programme",
    )
    desk.log.append([filed])
    held = paper_on(desk.log, "W-17", as_of=date(2025, 5, 1))
    assert _worth(held) is Outcome.UNDETERMINED
    adopted = house_rules(date(2025, 5, 1))
    assert "enrolled nowhere" in "\n".join(paper_lines(held, adopted=adopted))
    desk.enrol("Marrow", "Marrow Finch", "office")
    known = paper_on(desk.log, "W-17", as_of=date(2025, 5, 1))
    assert "scan of the paper itself" in "\n".join(paper_lines(known, adopted=adopted))


def test_an_answer_that_the_record_is_wrong_is_filed_by_anybody(desk: Desk) -> None:
    desk.enter()
    denied = desk.confirm(by="marrow", outcome="differs", remark="no such test of ours")
    adopted = house_rules(date(2025, 5, 1))
    assert "does not confirm" in "\n".join(paper_lines(denied, adopted=adopted))


def test_a_difference_says_what_differs(desk: Desk) -> None:
    desk.enter()
    with pytest.raises(TextEmpty, match="PAPER-016"):
        desk.check(outcome="differs")
    found = desk.check(outcome="differs", remark=f"overlap 0.30 in, no {NUMBER}")
    assert NUMBER not in found.checks[0].remark
    verdict = worth(found, adopted=house_rules(date(2025, 5, 1)))
    assert verdict.why is Why.HOLD


def test_a_check_in_the_future_is_refused(desk: Desk) -> None:
    desk.enter()
    with pytest.raises(PaperDatesRefused, match="PAPER-010"):
        desk.check(on=date(2025, 4, 22))


def test_an_unknown_paper_is_refused(desk: Desk) -> None:
    with pytest.raises(PaperUnknown) as refusal:
        desk.check(paper="W-99")
    assert "PAPER-007" in _line(refusal)


def test_a_correction_counts_and_the_checks_stay(desk: Desk) -> None:
    entered = desk.enter()
    desk.check()
    body = {**entered.body, "number": "QP-BPQ-71"}
    fix = {"corrects": entered.act, "body": body, "reason": "typed wrongly", "by": "hollis"}
    desk.log.append([Act("ActCorrected", fix, date(2025, 4, 19), "hollis", AT, stream="programme")])
    found = paper_on(desk.log, "W-17", as_of=date(2025, 5, 1))
    assert (found.body["number"], len(found.checks), found.act) == ("QP-BPQ-71", 1, entered.act)
    assert found.comparison is None  # it compared what stood there before


def test_the_printed_worth_names_who_and_why(desk: Desk) -> None:
    desk.enter()
    paper, adopted = desk.check(), house_rules(date(2025, 5, 1))
    lines = "\n".join(paper_lines(paper, adopted=adopted))
    assert "held until Quillon Pipeworks confirms it" in lines
    assert "teal compared W-17 with its scan on 2025-04-16" in lines
    document = paper_document(paper, adopted=adopted)
    assert (document["outcome"], document["why"]) == ("undetermined", "hold")
    assert document["masked"] == ["1:20,30,100,20"]


def test_a_paper_not_yet_written_is_not_known(desk: Desk) -> None:
    desk.enter()
    known = papers_on(desk.log, as_of=date(2025, 5, 1), known_by=date(2025, 4, 19))
    assert known == ()
    later = papers_on(desk.log, as_of=date(2025, 5, 1), known_by=date(2025, 4, 20))
    assert [p.id for p in later] == ["W-17"]
    assert replace(later[0], checks=()) == later[0]
