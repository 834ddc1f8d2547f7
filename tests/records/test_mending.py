"""One entry corrected or voided from the command line, and entries listed with their versions."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest

from lapwright.core.errors import ActFinal, EvidenceRefused, VoidedAct
from lapwright.core.fold import fold
from lapwright.desk.boot import open_store
from lapwright.ledger.errors import BodyKeyUnknown, BodyRefused, EntryUnknown, NothingCorrected
from lapwright.ledger.log import Entry, first_broken
from lapwright.services.caseimport import import_case
from lapwright.services.casestream import read_case
from lapwright.services.entrylist import (
    Which,
    entries_document,
    entries_lines,
    entry_document,
    entry_lines,
)
from lapwright.services.errors import PaperNumberRefused, TextEmpty
from lapwright.services.issuing import Issued
from lapwright.services.mending import Change, Mended, correct_entry, read_body, void_entry
from lapwright.services.people import forget
from lapwright.services.programme import Programme
from lapwright.services.programmeacts import Writing
from lapwright.services.recordlist import Asked
from street.building import case_folder, programme_in
from street.conftest import Shell

AT = datetime(2026, 3, 21, 9, tzinfo=UTC)
LATER = datetime(2026, 4, 2, 9, tzinfo=UTC)
WRITING = Writing("lead", LATER)
TODAY = Asked(date(2026, 4, 2))


@pytest.fixture(scope="module")
def case(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return case_folder(tmp_path_factory.mktemp("case"))


@pytest.fixture
def made(tmp_path: Path, case: Path) -> Programme:
    """A ledger that holds one case."""
    programme = programme_in(tmp_path / "home")
    import_case(case, programme, at=AT)
    return programme


def _of(programme: Programme, type_: str) -> Entry:
    return next(e for e in programme.log.entries() if e.act.type == type_)


def _correct(programme: Programme, entry: Entry, *keys: str) -> Mended:
    change = Change(keys=keys)
    return correct_entry(
        programme.log, str(entry.seq), change, reason="read the tape again", writing=WRITING
    )


def _void(programme: Programme, asked: str) -> Mended:
    return void_entry(programme.log, asked, reason="filed twice", writing=WRITING)


def _lot(programme: Programme) -> str:
    acts = read_case(programme.log, "TST-01").standing
    (coupon, *_) = fold(acts, as_of=date(2026, 4, 2)).coupons
    return str(coupon.filler_lot)


def test_a_correction_counts_and_what_was_written_stays(made: Programme) -> None:
    brazed = _of(made, "CouponBrazed")
    before = brazed.act.body["filler"]["lot"]
    done = _correct(made, brazed, "filler.lot=L-99")
    assert _lot(made) == "L-99"
    assert done.entry.act.body["by"] == "lead"
    told = entry_document(made.log, brazed.act.sha256, TODAY)
    assert (told["now"], [v["counts"] for v in told["versions"]]) == (
        "corrected",
        ["replaced", "counts"],
    )
    assert [v["body"]["filler"]["lot"] for v in told["versions"]] == [before, "L-99"]
    assert told["versions"][1]["reason"] == "read the tape again"
    _correct(made, brazed, "filler.form=rod, 1/16 in")
    assert _lot(made) == "L-99"  # the second starts from what the first says
    _void(made, str(done.entry.seq + 1))
    _void(made, done.entry.act.sha256)
    assert _lot(made) == before
    assert first_broken(made.log.entries()) is None


def test_a_day_is_corrected_with_its_body_untouched(made: Programme) -> None:
    trained = _of(made, "FaceRead")
    change = Change(happened_on=date(2026, 3, 11))
    correct_entry(made.log, str(trained.seq), change, reason="day before", writing=WRITING)
    rows = entries_document(made.log, Which(stream="case/TST-01"), TODAY)["entries"]
    row = next(r for r in rows if r["entry"] == str(trained.seq))
    assert row["state"] == "corrected"
    early = entries_document(made.log, Which(), Asked(date(2026, 3, 11)))["entries"]
    assert str(trained.seq) in [r["entry"] for r in early]


def test_a_whole_body_comes_from_a_file(made: Programme, tmp_path: Path) -> None:
    read = _of(made, "CouponExamined")
    path = tmp_path / "body.json"
    path.write_text(json.dumps({**read.act.body, "remark": "seen again"}))
    change = Change(read_body(path))
    done = correct_entry(made.log, str(read.seq), change, reason="remark", writing=WRITING)
    assert done.entry.act.body["body"]["remark"] == "seen again"


def test_a_body_that_cannot_be_used_is_refused(made: Programme, tmp_path: Path) -> None:
    path = tmp_path / "body.json"
    for text in ("[]", "{", '"x"'):
        path.write_text(text)
        with pytest.raises(BodyRefused):
            read_body(path)
    with pytest.raises(BodyRefused):
        read_body(tmp_path / "nowhere.json")
    with pytest.raises(BodyRefused, match="another name behind a person"):
        _correct(made, _of(made, "PersonEnrolled"), f"name_commitment={'ab' * 32}")


@pytest.mark.parametrize("row", ["tub.wall=1", "coupon", "filler=BCuP-5", "filler.lot.x=1", "=1"])
def test_a_key_that_is_not_there_is_refused(made: Programme, row: str) -> None:
    with pytest.raises(BodyKeyUnknown) as refused:
        _correct(made, _of(made, "CouponBrazed"), row)
    assert "filler.lot" in str(refused.value)


def test_a_correction_that_changes_nothing_is_refused(made: Programme) -> None:
    brazed = _of(made, "CouponBrazed")
    with pytest.raises(NothingCorrected):
        _correct(made, brazed, f"coupon={brazed.act.body['coupon']}")
    change = Change(happened_on=brazed.act.happened_on)
    with pytest.raises(NothingCorrected):
        correct_entry(made.log, str(brazed.seq), change, reason="x", writing=WRITING)


def test_what_would_leave_no_case_to_judge_is_refused(made: Programme) -> None:
    size = made.log.size()
    with pytest.raises(EvidenceRefused):
        _void(made, str(_of(made, "CouponBrazed").seq))
    with pytest.raises(EvidenceRefused):
        _correct(made, _of(made, "FacePrepared"), "joint=nowhere")
    with pytest.raises(TextEmpty):
        void_entry(made.log, "0", reason="  ", writing=WRITING)
    with pytest.raises(PaperNumberRefused):
        _correct(made, _of(made, "CouponBrazed"), "filler.lot=000-12-3456")
    assert made.log.size() == size


def test_what_has_left_the_ledger_is_final(programme: Programme, issued: Issued) -> None:
    for type_ in ("NumberTaken", "RecordIssued", "RecordSigned"):
        entry = _of(programme, type_)
        with pytest.raises(ActFinal):
            _void(programme, str(entry.seq))
        with pytest.raises(ActFinal):
            _correct(programme, entry, "record=TST-09-QP7K")


def test_an_entry_that_is_not_there_or_void_is_refused(made: Programme) -> None:
    for asked in ("999999", "ab" * 32, "x", "9" * 40, "-1"):
        with pytest.raises(EntryUnknown):
            _void(made, asked)
    face = _of(made, "FaceRead")
    _void(made, str(face.seq))
    with pytest.raises(VoidedAct):
        _void(made, str(face.seq))


def test_what_was_written_later_is_not_known_earlier(made: Programme) -> None:
    brazed = _of(made, "CouponBrazed")
    done = _correct(made, brazed, "filler.lot=L-99")
    before = Asked(date(2026, 4, 2), date(2026, 4, 1))
    assert entry_document(made.log, str(brazed.seq), before)["now"] == "stands"
    assert len(entries_document(made.log, Which(), before)["entries"]) == done.entry.seq
    with pytest.raises(EntryUnknown):
        entry_document(made.log, str(done.entry.seq), before)
    with pytest.raises(EntryUnknown):
        entry_document(made.log, str(brazed.seq), Asked(date(2026, 1, 1)))


def test_entries_about_somebody_say_when_the_name_was_removed(made: Programme) -> None:
    def told() -> Iterator[dict[str, Any]]:
        yield from entries_document(made.log, Which(about="person:ines"), TODAY)["entries"]

    assert "Ines Marlowe" in {r["name"] for r in told()}
    forget(made, "ines", reason="asked for it", by="lead", at=LATER)
    rows = list(told())
    assert {r["name"] for r in rows if r["type"] == "PersonEnrolled"} == {
        "ines (name removed on 2026-04-02)"
    }
    assert "NameRemoved" in {r["type"] for r in rows}
    document = entry_document(made.log, str(_of(made, "PersonEnrolled").seq), TODAY)
    assert "Name: ines (name removed on 2026-04-02)" in entry_lines(document)
    every = "\n".join(entries_lines(entries_document(made.log, Which(), TODAY)))
    assert "removed on 2026-04-02" in every
    assert "Marlowe" not in every


def test_the_commands_in_order(tmp_path: Path, case: Path) -> None:
    shell = Shell()
    where = ("--data", tmp_path / "ledger")
    shell.json("ledger", "import", case, *where)
    with open_store(tmp_path / "ledger") as store:
        brazed = next(e for e in store.log.entries() if e.act.type == "CouponBrazed")
    why = ("--reason", "label read wrongly", "--by", "lead", *where)
    told = shell.json("ledger", "correct", brazed.seq, "--set", "filler.lot=L-99", *why)
    assert told["names"] == {"entry": str(brazed.seq), "act": brazed.act.sha256}
    shown = shell.run("ledger", "show", "--entry", brazed.seq, *where)
    assert "filler.lot: L-99" in shown.stdout
    assert "Why: label read wrongly" in shown.stdout
    assert shown.stdout.count("joints.0.id") == shown.stdout.count("tube.wall") == 1
    voided = shell.run("ledger", "void", told["entry"], *why)
    assert "Mend the case folder in the same way" in voided.stdout
    rows = shell.json("ledger", "show", "--stream", "case/TST-01", *where)["entries"]
    assert isinstance(rows, list)
    assert [r["state"] for r in rows[-2:]] == ["voided", "stands"]
    assert "entries as of" in shell.run("ledger", "show", "--about", "person:ines", *where).stdout
    both = shell.run("ledger", "show", "--entry", 0, "--stream", "x", *where)
    assert both.exit_code == 2
