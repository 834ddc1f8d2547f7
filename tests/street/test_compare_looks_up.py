"""A comparison looks a record of this program up in the ledger, or says that it could not."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest

from lapwright.core.acts import Act
from lapwright.core.outcomes import Finding, Outcome, Why
from lapwright.ledger.log import MemoryLog
from lapwright.services.comparesheet import comparison_sheet
from lapwright.services.comparing import Comparison, Question, needs_a_test, run_comparison
from lapwright.services.doubts import raise_doubt
from lapwright.services.issuing import issue_case
from lapwright.services.programme import Programme
from lapwright.services.programmeacts import Writing
from lapwright.services.register import must_be_known, record_act
from lapwright.services.withdrawing import withdraw_record

from .building import case_folder, edit, programme_in
from .paperwork import note_document, procedure_document, ticks, written

ISSUED, SIGNED, ASKED = date(2026, 3, 20), date(2026, 4, 2), date(2026, 4, 10)
RECORD = "TST-01-QP7K"


def _at(day: date) -> datetime:
    return datetime(day.year, day.month, day.day, 12, tzinfo=UTC)


@dataclass
class Desk:
    """An issuing programme, its record's PDF, and the new employer's files."""

    folder: Path
    case: Path
    programme: Programme
    record: Path

    def compare(self, old: Path | None = None, as_of: date = ASKED, **changed: Any) -> Comparison:
        """Compare with the ledger and a note of confirmation, unless changed."""
        note = note_document() | {"on": "2026-04-01"}
        note["confirmed"] = {"on": "2026-03-30", "how": "letter QP-7"}
        ticks(self.folder)
        asked = Question(
            str(old or self.record),
            written(self.folder / "new.yaml", procedure_document()),
            SIGNED,
            as_of,
            note=written(self.folder / "note.yaml", note),
            log=self.programme.log,
        )
        return run_comparison(replace(asked, **changed))

    def act(self, type_: str, on: date, **body: str) -> None:
        """File an act on the record's latest revision."""
        _, revision = must_be_known(self.programme.log, RECORD)
        made = record_act(type_, revision, {"by": "hollis", **body}, by="hollis", at=_at(on))
        self.programme.log.append([made])

    def certify(self, on: date = date(2026, 3, 24)) -> None:
        """File the employer's certification in ink."""
        self.act("RecordCertified", on, way="scan", file_sha256="ab" * 32)

    def withdraw(self, on: date) -> None:
        """Withdraw the record."""
        done = {"by": "lead", "reason": "a face was mixed up", "at": _at(on)}
        withdraw_record(RECORD, self.programme, **done)  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def case(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return case_folder(tmp_path_factory.mktemp("case"))


@pytest.fixture
def desk(tmp_path: Path, case: Path) -> Desk:
    programme = programme_in(tmp_path / "home")
    made = issue_case(case, programme, as_of=ISSUED, out=tmp_path / "out", at=_at(ISSUED))
    return Desk(tmp_path, case, programme, made.path)


def _said(comparison: Comparison) -> dict[str, Finding]:
    found = [f for f in comparison.findings if f.rule == "ledger.record"]
    assert all(f in comparison.acceptance.findings for f in found)
    return {f.message.id: f for f in found}


def test_a_certified_record_that_stands_is_told_so(desk: Desk) -> None:
    desk.certify()
    found = desk.compare()
    assert _said(found).keys() == {"recordstate.certified"}
    assert _said(found)["recordstate.certified"].outcome is Outcome.MET


@pytest.mark.parametrize("form", ["record", "case"])
def test_a_withdrawn_record_is_not_met_whatever_a_note_confirms(desk: Desk, form: str) -> None:
    desk.certify()
    desk.withdraw(date(2026, 4, 5))
    found = desk.compare(desk.case if form == "case" else None)
    assert _said(found)["recordstate.withdrawn"].outcome is Outcome.NOT_MET
    assert found.acceptance.outcome is Outcome.NOT_MET
    assert found.acceptance.before_confirmation is Outcome.NOT_MET
    assert "recordstate.withdrawn" in {f.message.id for f in needs_a_test(found)}
    sheet = comparison_sheet(found)
    assert any(
        "withdrawn by Marit Underhill on 2026-04-05" in row.finding for row in sheet.findings
    )
    assert sheet.declaration.startswith("Nothing to sign")


def test_the_day_asked_about_decides(desk: Desk) -> None:
    desk.certify()
    desk.withdraw(date(2026, 4, 5))
    early = date(2026, 4, 4)
    for old in (None, desk.case):
        before = desk.compare(old, as_of=early)
        assert _said(before).keys() == {"recordstate.certified", "recordstate.withdrawn_since"}
        assert _said(before)["recordstate.withdrawn_since"].why is Why.HOLD
        assert before.acceptance.outcome is Outcome.UNDETERMINED


def test_a_record_issued_after_the_day_asked_about_is_held(desk: Desk) -> None:
    desk.certify()
    early = {"as_of": date(2026, 3, 19), "note": None}
    for old in (None, desk.case):
        found = _said(desk.compare(old, **early))
        assert found.keys() == {"recordstate.not_issued"}
        assert found["recordstate.not_issued"].why is Why.HOLD
    desk.withdraw(date(2026, 4, 5))
    both = {"recordstate.not_issued", "recordstate.withdrawn_since"}
    assert _said(desk.compare(**early)).keys() == both


def test_a_record_that_nobody_certified_is_held(desk: Desk) -> None:
    found = desk.compare()
    held = _said(found)["recordstate.uncertified"]
    assert (held.outcome, held.why) == (Outcome.UNDETERMINED, Why.HOLD)
    assert found.acceptance.outcome is Outcome.UNDETERMINED


def test_a_certification_in_the_ledger_answers_for_the_employer(desk: Desk) -> None:
    bare = {"note": None}
    assert "responsibility.nobody" in {f.message.id for f in desk.compare(**bare).findings}
    desk.certify()
    assert "responsibility.nobody" not in {f.message.id for f in desk.compare(**bare).findings}


def test_a_record_that_a_later_revision_replaced_is_held(desk: Desk, tmp_path: Path) -> None:
    desk.certify()
    changed = case_folder(tmp_path)
    edit(changed, lambda d: d.update(job="another job"))
    day = date(2026, 4, 3)
    later = issue_case(changed, desk.programme, as_of=day, out=tmp_path / "out", at=_at(day))
    assert later.revision == "2"
    held = _said(desk.compare())["recordstate.replaced"]
    assert held.why is Why.HOLD
    assert dict(held.message.params)["later"] == "2"
    assert _said(desk.compare(later.path)).keys() == {"recordstate.uncertified"}


def test_an_open_doubt_of_an_instrument_holds_its_record(desk: Desk) -> None:
    desk.certify()
    raise_doubt(
        "CAL-2",
        desk.programme.log,
        since=date(2026, 1, 5),
        found_on=date(2026, 4, 6),
        reason="long on the block",
        writing=Writing("lead", _at(ASKED)),
    )
    found = _said(desk.compare())
    assert found.keys() == {"recordstate.certified", "recordstate.doubted"}
    assert found["recordstate.doubted"].why is Why.HOLD
    assert _said(desk.compare(as_of=date(2026, 4, 5))).keys() == {"recordstate.certified"}


def test_an_instrument_s_doubt_that_reaches_no_figure_holds_nothing(desk: Desk) -> None:
    desk.certify()
    since = date(2026, 4, 1)
    writing = Writing("lead", _at(ASKED))
    raise_doubt(
        "CAL-2", desk.programme.log, since=since, found_on=since, reason="off", writing=writing
    )
    assert _said(desk.compare()).keys() == {"recordstate.certified"}


@pytest.mark.parametrize("about", ["person:ines", f"record:{RECORD}"])
def test_a_doubt_of_the_brazer_or_of_the_record_holds_it(desk: Desk, about: str) -> None:
    desk.certify()
    body = {"about": about, "doubt": "D1", "by": "lead", "reason": "two cut-outs over 20 %"}
    day = date(2026, 4, 6)
    raised = Act("DoubtRaised", body, day, "lead", _at(day), stream="programme")
    desk.programme.log.append([raised])
    assert "recordstate.doubted" in _said(desk.compare())
    ended = {"about": about, "doubt": "D1", "by": "lead", "reason": "tested anew"}
    done = Act("DoubtCleared", ended, ASKED, "lead", _at(ASKED), stream="programme")
    desk.programme.log.append([done])
    assert _said(desk.compare()).keys() == {"recordstate.certified"}


def test_a_file_that_the_ledger_does_not_know_is_held(desk: Desk, tmp_path: Path) -> None:
    """The same case issued by another ledger: a record of that name, another file."""
    desk.certify()
    other = programme_in(tmp_path / "other")
    made = issue_case(desk.case, other, as_of=ISSUED, out=tmp_path / "theirs", at=_at(ASKED))
    found = _said(desk.compare(made.path))
    assert found["recordstate.other_file"].why is Why.HOLD


@pytest.mark.parametrize("form", ["record", "case"])
@pytest.mark.parametrize("ledger", ["", "another"])
def test_without_its_ledger_it_says_that_it_could_not_look(
    desk: Desk, form: str, ledger: str
) -> None:
    old = desk.case if form == "case" else None
    log = MemoryLog() if ledger else None
    name = "recordstate.elsewhere" if ledger else "recordstate.nowhere"
    alone = _said(desk.compare(old, log=log, note=None))
    assert alone.keys() == {name}
    assert alone[name].why is Why.HOLD
    told = _said(desk.compare(old, log=log))
    assert told.keys() == {f"{name}_confirmed"}
    assert "letter QP-7" in str(dict(told[f"{name}_confirmed"].message.params))
