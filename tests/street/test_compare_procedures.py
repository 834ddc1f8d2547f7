"""Two employers' procedures side by side, from files to the page to sign.

Longer than the house's size: every case shares the same two procedures and their papers.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pikepdf
import pytest

from lapwright.core.acts import Act
from lapwright.core.outcomes import Outcome, Why
from lapwright.ledger.files import FileStore
from lapwright.ledger.log import MemoryLog
from lapwright.services.comparereport import (
    comparison_document,
    comparison_lines,
    variable_word,
)
from lapwright.services.comparesheet import comparison_sheet, page, write_comparison
from lapwright.services.comparing import Comparison, Question, needs_a_test, outside, run_comparison
from lapwright.services.errors import (
    CompareFileRefused,
    CompareNoteRefused,
    CompareRowsRefused,
    OutputRefused,
    PaperDatesRefused,
)
from lapwright.services.issuing import Issued
from lapwright.services.paperrecords import PaperLook, PaperToEnter, check_paper, enter_paper
from lapwright.services.programmeacts import Writing
from lapwright.services.rangelist import variable_rows
from lapwright.services.recordfile import judged_of_record
from lapwright.services.rulesview import booklet_rows

from .building import case_folder
from .paperwork import (
    EDITIONS,
    note_document,
    paper_document,
    procedure_document,
    scan,
    ticks,
    written,
)

USES = "on,process,procedure,by,written_on\n2025-03-31,TB,QP-BPS-4,osgood,2025-04-02\n"
JOINTS = (
    "joint,brazed_on,person\nO2-1,2025-04-28,wren\nO2-2,2025-05-02,wren\nO2-3,2025-05-06,ines\n"
)
Doc = dict[str, Any]
Change = Callable[[Doc], None]


class Files:
    """The files of one comparison, written whole and changed where a test asks."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        ticks(folder)
        self.paper, self.procedure, self.note = (
            paper_document(),
            procedure_document(),
            note_document(),
        )
        self.uses, self.joints = USES, JOINTS
        self.with_note = "yes"

    def run(self, signed: str = "2025-05-02", as_of: str = "2025-05-10") -> Comparison:
        """Write the files and compare."""
        return run_comparison(self.question(signed, as_of))

    def question(self, signed: str = "2025-05-02", as_of: str = "2025-05-10") -> Question:
        """Write the files and return what is asked."""
        for name, text in (("uses.csv", self.uses), ("joints.csv", self.joints)):
            (self.folder / name).write_text(text, "utf-8")
        note = written(self.folder / "note.yaml", self.note) if self.with_note else None
        return Question(
            str(written(self.folder / "paper.yaml", self.paper)),
            written(self.folder / "new.yaml", self.procedure),
            date.fromisoformat(signed),
            date.fromisoformat(as_of),
            self.folder / "uses.csv",
            self.folder / "joints.csv",
            note,
        )


@pytest.fixture
def files(tmp_path: Path) -> Files:
    return Files(tmp_path)


def _ids(comparison: Comparison) -> set[str]:
    return {f.message.id for f in comparison.findings}


def _relation(comparison: Comparison, variable: str) -> str:
    return next(r.relation.value for r in comparison.rows if r.variable == variable)


def test_a_paper_in_a_file_is_held_because_nobody_has_compared_it(files: Files) -> None:
    found = files.run()
    assert (found.acceptance.outcome, found.acceptance.why) == (Outcome.UNDETERMINED, Why.HOLD)
    waiting = [f.message.id for f in found.acceptance.findings if f.outcome is not Outcome.MET]
    assert waiting == ["paper.unchecked"]


def test_joints_made_before_the_acceptance_are_listed_as_outside(files: Files) -> None:
    found = files.run()
    assert [r.made.joint for r in outside(found)] == ["O2-1"]
    assert [r.made.joint for r in found.joints] == ["O2-1", "O2-2"]
    assert found.joints[0].finding.outcome is Outcome.NOT_MET
    assert found.joints[1].finding.message.id == "accept.joint_open"  # made on the very day


def test_the_acceptance_is_labelled_for_nfpa_99_only(files: Files) -> None:
    assert comparison_document(files.run())["scope"] == "Valid for NFPA 99 work only."


def test_under_the_base_standard_alone_there_is_no_acceptance(files: Files) -> None:
    files.procedure["basis"] |= {"editions": ["asme-bpvc-ix 2023"]}
    found = files.run()
    assert "accept.no_transfer" in _ids(found)
    assert found.acceptance.outcome is Outcome.NOT_MET
    assert found.joints == ()


def test_sister_companies_with_a_control_document_need_no_acceptance(files: Files) -> None:
    files.note["control_document"] = "QM-7 of the group"
    found = files.run()
    assert "control.described" in _ids(found)
    assert "QM-7 of the group" in comparison_document(found)["scope"]


def test_a_card_is_not_accepted(files: Files) -> None:
    files.paper["document"] = "card"
    found = files.run()
    assert found.acceptance.outcome is Outcome.NOT_MET
    assert "paper.card" in {f.message.id for f in needs_a_test(found)}


def test_a_gap_before_the_signature_makes_it_void(files: Files) -> None:
    files.uses = "on,process,procedure,by\n2024-12-01,TB,QP-BPS-4,osgood\n"
    found = files.run(signed="2025-06-10", as_of="2025-06-10")
    assert found.acceptance.outcome is Outcome.NOT_MET
    assert [f.message.id for f in needs_a_test(found)] == ["continuity.ended"]


def test_use_under_the_new_procedure_counts_too(files: Files) -> None:
    files.uses += "2025-08-01,TB,TLH-BPS-1,osgood,2025-08-02\n"
    found = files.run(signed="2025-12-01", as_of="2025-12-01")
    assert "continuity.unbroken" in _ids(found)
    files.uses = files.uses.replace("TLH-BPS-1", "other")
    gone = files.run(signed="2025-12-01", as_of="2025-12-01")
    clash = next(f for f in gone.findings if f.rule == "continuity.max_gap")
    assert (clash.why, clash.act_on) == (Why.CONFLICT, Outcome.NOT_MET)


def test_uses_filed_in_the_ledger_count_beside_the_table(files: Files, tmp_path: Path) -> None:
    log, store = MemoryLog(), FileStore(tmp_path / "files")
    at = datetime(2025, 4, 20, tzinfo=UTC)
    files.question()
    given = PaperToEnter(tmp_path / "paper.yaml", (scan(tmp_path),))
    enter_paper(given, log, store, writing=Writing("hollis", at))
    bare = replace(files.question("2025-07-01", "2025-07-01"), old="W-17", log=log, uses=None)
    assert "continuity.ended" in _ids(run_comparison(bare))
    use = {"person": "wren", "process": "TB", "procedure": "QP-BPS-4", "by": "osgood"}
    for body in (use, {**use, "person": "ines"}):
        act = Act("UseAttested", body, date(2025, 3, 31), "osgood", at, stream="programme")
        log.append([act])
    found = run_comparison(bare)
    assert found.clocks[0].last is not None
    assert found.clocks[0].last.last == date(2025, 3, 31)
    assert found.former.source == "paper W-17 of the ledger"


def test_late_paper_is_flagged(files: Files) -> None:
    files.uses = files.uses.replace("2025-04-02", "2025-09-01")
    assert "continuity.late" in _ids(files.run())


def test_the_programme_may_refuse_late_paper(files: Files) -> None:
    files.uses = files.uses.replace("2025-04-02", "2025-09-01")
    files.procedure["basis"]["options"] = {"late_paper": "refused"}
    found = files.run(signed="2025-06-01", as_of="2025-06-01")
    assert {"continuity.late_refused", "continuity.ended"} <= _ids(found)


def test_before_the_signature_nothing_stands_today(files: Files) -> None:
    assert files.run(as_of="2025-05-01").today.outcome is Outcome.NOT_MET


@pytest.mark.parametrize(
    ("change", "variable"),
    [
        (lambda v: v.update(form="ring"), "form"),
        (lambda v: v.update(flux="FB3-A"), "flux"),
        (lambda v: v.update(manner="machine"), "manner"),
        (lambda v: v.update(f_number="102", filler="BAg-7"), "f_number"),
        (lambda v: v.update(p_numbers=["107", "108"]), "p_numbers"),
        (lambda v: v.update(overlap="0.20 in"), "overlap"),
        (lambda v: v.update(tube_wall="0.500 in"), "tube_wall"),
    ],
)
def test_another_variable_is_not_equivalent(files: Files, change: Change, variable: str) -> None:
    change(files.paper["variables"])
    found = files.run()
    assert _relation(found, variable) == "differs"
    assert "accept.not_equivalent" in _ids(found)
    assert found.acceptance.outcome is Outcome.NOT_MET


def test_what_the_paper_prints_stands_in_for_a_missing_figure(files: Files) -> None:
    del files.paper["variables"]["overlap"], files.paper["variables"]["tube_wall"]
    files.paper["ranges"] = {
        "overlap_up_to": "0.45 in",
        "tube_wall": {"low": "0.030 in", "high": "0.120 in"},
    }
    found = files.run()
    shown = {r.variable: r.old for r in found.rows}
    assert shown["overlap"] == "≤ 0.45 in (as printed)"
    assert _relation(found, "tube_wall") == "equal"


def test_other_words_are_held_until_the_note_states_them(files: Files) -> None:
    files.procedure["procedure"]["topics"]["purge-flow"] = "10 to 15 ft3/h"
    assert "accept.equivalence_open" in _ids(files.run())
    files.note["equivalent"] = {"purge-flow": "12 lies within 10 to 15"}
    settled = files.run()
    assert _relation(settled, "purge-flow") == "differs"
    assert "accept.equivalent" in _ids(settled)


def test_nothing_confirmed_stays_open_but_says_what_it_would_be(files: Files) -> None:
    del files.procedure["basis"]["booklet"]
    found = files.run()
    assert {r.finding.why for r in found.rows} == {Why.UNCONFIRMED}
    assert "then: Not met" in "\n".join(comparison_lines(found))


def test_ticking_the_booklet_of_the_editions_leaves_no_rule_open(files: Files) -> None:
    rows = [
        {"rule": r["rule"], "figure": r["figure"], "copy": "own copy of the hospital"}
        for r in booklet_rows(EDITIONS)
        if r["basis"] == "memory"
    ]
    book = {"schema": "lapwright-booklet/1", "confirmed_by": "marlow"}
    ticked = {**book, "confirmed_on": "2025-01-12", "ticks": rows}
    written(files.folder / "ticks.yaml", ticked)
    found = files.run()
    assert found.open_rules == ()
    assert not [f for f in found.acceptance.findings if f.why is Why.UNCONFIRMED]


def test_an_open_rule_is_named_with_how_to_confirm_it(files: Files) -> None:
    del files.procedure["basis"]["booklet"]
    told = "\n".join(comparison_lines(files.run()))
    assert "△ nfpa-99/2018/record.former_employer: Conditions for accepting" in told
    assert "lapwright rules booklet --edition 'nfpa-99 2018'" in told


@pytest.mark.parametrize(("readings", "fitting"), [(["S3"], "0.03 "), (["S5"], "0.024 ")])
def test_the_fitting_range_follows_the_readings_as_on_the_record(
    files: Files, readings: list[str], fitting: str
) -> None:
    files.procedure["basis"]["thickness_readings"] = readings
    shown = {r.variable: r.old for r in files.run().rows}
    assert shown["fitting_wall"].startswith(fitting)


def test_where_no_reading_asks_for_the_fitting_there_is_no_row(files: Files) -> None:
    files.procedure["basis"]["thickness_readings"] = ["S1"]
    assert "fitting_wall" not in {r.variable for r in files.run().rows}


def test_a_record_compared_under_its_own_readings_shows_its_own_ranges(
    files: Files, issued: Issued
) -> None:
    printed = {
        r["variable"]: r["qualified"]
        for r in variable_rows(judged_of_record(issued.path, as_of=None))
    }
    new = files.question().new
    day = date(2026, 3, 20)
    found = run_comparison(Question(str(issued.path), new, day, day))
    walls = {variable_word(r.variable): r.old for r in found.rows if r.variable.endswith("wall")}
    for name, told in walls.items():
        assert told.split(" (")[0].replace(" to ", " – ") == printed[name]


def test_names_and_the_number_stand_where_ids_did(files: Files, issued: Issued) -> None:
    day = date(2026, 3, 20)
    question = replace(files.question("2026-03-20", "2026-03-20"), old=str(issued.path), uses=None)
    told = "\n".join(comparison_lines(run_comparison(replace(question, signed_on=day))))
    assert f"{issued.number}-r1" in told
    assert "Ines Marlowe" in told
    assert not re.search(r"\bines\b|\bmarlow\b|\brecord TST-01:", told)


def test_a_case_and_a_procedure_can_be_sides(files: Files, tmp_path: Path) -> None:
    case = case_folder(tmp_path)
    as_new = run_comparison(
        Question(
            files.question().old,
            case,
            date(2026, 3, 20),
            date(2026, 3, 20),
        )
    )
    assert as_new.asked.present == "Quillon Pipeworks"
    assert _relation(as_new, "joint_type") == "equal"
    procedure = written(tmp_path / "theirs.yaml", files.procedure)
    alone = run_comparison(
        Question(str(procedure), files.question().new, date(2025, 5, 2), date(2025, 5, 2))
    )
    assert {r.relation.value for r in alone.rows} == {"equal"}
    told = {f.message.id for f in alone.acceptance.findings if f.why is Why.NEEDS_DATA}
    assert "rules.missing" in told  # there is no test record


def test_a_judged_case_is_a_former_side(files: Files, tmp_path: Path) -> None:
    case = case_folder(tmp_path)
    new = files.question().new
    found = run_comparison(Question(str(case), new, date(2026, 3, 20), date(2026, 3, 20)))
    assert (found.former.person, found.former.side.procedure) == ("ines", "QP-BPS-4")
    assert _relation(found, "positions") in ("equal", "within")
    assert found.former.document == "test-record"
    assert {"accept.passed", "responsibility.nobody"} <= _ids(found)


@pytest.mark.parametrize(
    ("oxide", "told", "outcome"),
    [
        ("oxide", "accept.failed", Outcome.NOT_MET),
        ("who knows", "accept.undecided", Outcome.UNDETERMINED),
    ],
)
def test_a_case_without_a_passed_position_is_no_test(
    files: Files, tmp_path: Path, oxide: str, told: str, outcome: Outcome
) -> None:
    case = case_folder(tmp_path, oxide=oxide)
    new = files.question().new
    found = run_comparison(Question(str(case), new, date(2026, 3, 20), date(2026, 3, 20)))
    assert told in _ids(found)
    assert found.acceptance.outcome is outcome


OVER = ((0.10, 0.50, "open"),)
LATER_H = {
    "2026-03-04": "2026-09-20",
    "2026-03-09": "2026-09-25",
    "2026-03-10": "2026-09-26",
    "2026-03-11": "2026-09-27",
    "2026-03-12": "2026-09-28",
}


def _with_later_h(parent: Path, failing: tuple[int, ...]) -> Path:
    """Write a case whose coupon H was brazed half a year after VA and VB; faces over the limit."""
    case = case_folder(parent, voids=dict.fromkeys(failing, OVER))
    text = (case / "case.yaml").read_text("utf-8")
    head, rest = text.split("  - id: H\n")
    own, upright = rest.split("  - id: VA")
    for before, after in LATER_H.items():
        own = own.replace(before, after)
    head = head.replace("written: {on: 2026-03-13", "written: {on: 2026-10-05")
    whole = f"{head}  - id: H\n{own}  - id: VA{upright}"
    (case / "case.yaml").write_text(whole, "utf-8")
    return case


def _on_day(files: Files, case: Path, day: str, uses: Path | None = None) -> Comparison:
    on = date.fromisoformat(day)
    return run_comparison(Question(str(case), files.question().new, on, on, uses))


def _clocks(comparison: Comparison) -> set[str]:
    return {f.message.id for f in comparison.findings if f.rule == "continuity.max_gap"}


def test_a_coupon_that_failed_restarts_no_clock(files: Files, tmp_path: Path) -> None:
    found = _on_day(files, _with_later_h(tmp_path, (0, 1, 2, 3)), "2026-10-10")
    assert found.former.brazed == (date(2026, 3, 4),)
    assert found.former.left_out == (("H", date(2026, 9, 20)),)
    assert _clocks(found) == {"continuity.ended", "accept.coupon_left_out"}
    assert {c.last.last for c in found.clocks if c.last} == {date(2026, 3, 4)}
    assert found.acceptance.outcome is Outcome.NOT_MET


def test_a_coupon_that_passed_later_starts_a_new_clock(files: Files, tmp_path: Path) -> None:
    found = _on_day(files, _with_later_h(tmp_path, ()), "2026-10-10")
    assert found.former.brazed == (date(2026, 3, 4), date(2026, 9, 20))
    assert _clocks(found) == {"continuity.unbroken"}


def test_a_failed_coupon_carries_no_running_clock_but_a_witnessed_use_does(
    files: Files, tmp_path: Path
) -> None:
    """H failed within six months of VA: its brazing extends nothing, a use with a witness does."""
    case = _with_later_h(tmp_path, (0, 1, 2, 3))
    text = (case / "case.yaml").read_text("utf-8")
    for month, earlier in (("2026-09-2", "2026-08-2"),):
        text = text.replace(month, earlier)
    (case / "case.yaml").write_text(text, "utf-8")
    assert "continuity.ended" in _clocks(_on_day(files, case, "2026-10-10"))
    uses = tmp_path / "witnessed.csv"
    uses.write_text(
        "on,process,procedure,by,written_on\n2026-08-20,TB,QP-BPS-4,osgood,2026-08-20\n"
    )
    assert "continuity.unbroken" in _clocks(_on_day(files, case, "2026-10-10", uses))


def test_where_no_coupon_passed_no_clock_has_started(files: Files, tmp_path: Path) -> None:
    failed = _on_day(files, case_folder(tmp_path, oxide="oxide"), "2026-03-20")
    assert (failed.former.brazed, len(failed.former.left_out)) == ((), 3)
    assert _clocks(failed) == {"accept.no_clock"}
    other = case_folder(tmp_path, oxide="who knows", number="TST-02")
    undecided = _on_day(files, other, "2026-03-20")
    assert _clocks(undecided) == {"accept.clock_open"}
    assert undecided.acceptance.outcome is Outcome.UNDETERMINED


def test_lines_to_sign_are_printed_only_where_the_answer_is_met(
    files: Files, tmp_path: Path
) -> None:
    log, store = MemoryLog(), FileStore(tmp_path / "files")
    files.question()
    writing = Writing("hollis", datetime(2025, 4, 20, tzinfo=UTC))
    given = PaperToEnter(tmp_path / "paper.yaml", (scan(tmp_path),))
    enter_paper(given, log, store, writing=writing)
    asked = replace(files.question(), old="W-17", log=log)
    held = run_comparison(asked)
    assert comparison_sheet(held).declaration.startswith("Nothing to sign yet")
    look = PaperLook("W-17", "teal", date(2025, 4, 16), "agrees")
    check_paper(look, log, store, writing=writing)
    met = run_comparison(asked)
    assert met.acceptance.outcome is Outcome.MET
    assert comparison_sheet(met).declaration.startswith("For Tamarack Ledge Hospital")
    assert len(page(met)) != len(page(held))


def test_the_page_is_one_page_holds_its_data_and_is_always_the_same(
    files: Files, tmp_path: Path
) -> None:
    found = files.run()
    sha = write_comparison(found, tmp_path / "page.pdf")
    data = (tmp_path / "page.pdf").read_bytes()
    assert hashlib.sha256(data).hexdigest() == sha
    assert page(found) == data
    with pikepdf.open(tmp_path / "page.pdf") as pdf:
        assert len(pdf.pages) == 1
        held = json.loads(pdf.attachments["comparison.json"].get_file().read_bytes())
    assert held == comparison_document(found)


def test_the_json_is_what_is_written(files: Files, tmp_path: Path) -> None:
    found = files.run()
    write_comparison(found, tmp_path / "page.json")
    assert json.loads((tmp_path / "page.json").read_text("utf-8")) == comparison_document(found)


def test_another_ending_is_refused(files: Files, tmp_path: Path) -> None:
    with pytest.raises(OutputRefused, match="ISSUE-001"):
        write_comparison(files.run(), tmp_path / "page.txt")
    assert not (tmp_path / "page.txt").exists()


def test_a_file_of_no_known_form_is_refused(files: Files) -> None:
    files.paper["schema"] = "other/1"
    with pytest.raises(CompareFileRefused, match="PAPER-011"):
        files.run()


def test_a_procedure_without_a_basis_cannot_be_the_new_side(files: Files) -> None:
    del files.procedure["basis"]
    with pytest.raises(CompareFileRefused, match="a basis"):
        files.run()


def test_a_procedure_signed_later_is_refused(files: Files) -> None:
    files.procedure["procedure"]["signed"]["on"] = "2025-06-01"
    with pytest.raises(CompareFileRefused, match="signed by 2025-05-10"):
        files.run()


@pytest.mark.parametrize(
    ("uses", "told"),
    [
        ("on,process\n2025-13-01,TB\n", "row 2"),
        ("on,process\n2025-03-01,TB\n\n2025-03-02,\n", "row 4: no process"),
        ("on,process\n2025-03-01\n", "1 cells under 2 columns"),
        ("on,process,written_on\n2025-03-01,TB,2025-02-01\n", "before the use"),
    ],
)
def test_rows_that_do_not_fit_are_refused(files: Files, uses: str, told: str) -> None:
    files.uses = uses
    with pytest.raises(CompareRowsRefused, match=told) as refusal:
        files.run()
    assert refusal.value.code == "PAPER-012"


@pytest.mark.parametrize("header", ["day,process", "on", "on,on,process", ""])
def test_a_table_with_other_columns_is_refused(files: Files, header: str) -> None:
    files.uses = header + "\n"
    with pytest.raises(CompareFileRefused, match="PAPER-011"):
        files.run()


@pytest.mark.parametrize(
    "change",
    [
        lambda n: n.update(on="2025-05-03"),
        lambda n: n.update(by="wren"),
        lambda n: n["confirmed"].update(on="2025-05-02"),
    ],
)
def test_a_note_that_states_nothing_is_refused(files: Files, change: Change) -> None:
    change(files.note)
    with pytest.raises(CompareNoteRefused, match="PAPER-013"):
        files.run()


def test_an_acceptance_before_the_test_is_refused(files: Files) -> None:
    files.with_note = ""
    with pytest.raises(PaperDatesRefused, match="PAPER-010"):
        files.run(signed="2024-11-17", as_of="2025-05-10")


def test_an_issued_record_is_a_former_side_that_nobody_has_confirmed_yet(
    files: Files, issued: Issued
) -> None:
    asked = replace(
        files.question("2026-03-25", "2026-03-25"), old=str(issued.path), uses=None, note=None
    )
    found = run_comparison(asked)
    assert (found.former.person, found.former.source) == ("ines", f"record {issued.path.name}")
    provenance = next(f for f in found.findings if f.rule == "former.record")
    assert provenance.why is Why.NEEDS_DATA
    assert all(r.old for r in found.rows)
