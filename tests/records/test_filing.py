"""A case folder in a ledger: each entry once, what left it voided, nothing lost."""

from __future__ import annotations

import copy
from collections import Counter
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from lapwright.ledger.errors import StreamMoved
from lapwright.ledger.files import FileStore
from lapwright.ledger.log import MemoryLog, first_broken
from lapwright.services.casefolder import open_case
from lapwright.services.casereport import decision_document
from lapwright.services.casestream import read_case
from lapwright.services.errors import EntriesGone, PersonOther
from lapwright.services.filing import Filed, _identity, file_case
from lapwright.services.judging import judge_acts
from lapwright.services.people import forget
from lapwright.services.programme import Programme, name_in
from street.building import case_folder, edit, programme_in

AS_OF = date(2026, 3, 20)
AT = datetime(2026, 3, 21, 9, 30, tzinfo=UTC)
Doc = dict[str, Any]


def filed(folder: Path, programme: Programme, *, at: datetime = AT) -> Filed:
    return file_case(
        folder, log=programme.log, files=programme.files, secret=programme.keys.salt, at=at
    )


@pytest.fixture
def empty(tmp_path: Path) -> Programme:
    return programme_in(tmp_path / "data")


def test_every_act_of_the_folder_is_filed_once_with_the_moment_of_filing(
    tmp_path: Path, empty: Programme
) -> None:
    folder = case_folder(tmp_path)
    acts = open_case(folder, secret=empty.keys.salt).acts
    done = filed(folder, empty)
    assert (done.added, done.known, done.voided) == (len(acts), 0, 0)
    kept = [e.act for e in empty.log.entries()]
    assert {a.recorded_at for a in kept} == {AT}
    assert {a.stream for a in kept} == {"case/TST-01"}
    assert [_identity(a) for a in kept] == [_identity(a) for a in acts]


def test_the_same_folder_a_second_time_changes_nothing(tmp_path: Path, empty: Programme) -> None:
    folder = case_folder(tmp_path, photos=(0,))
    filed(folder, empty)
    before, names = list(empty.log.entries()), list(empty.files.names())
    again = filed(folder, empty, at=AT + timedelta(days=3))
    assert (again.added, again.voided) == (0, 0)
    assert again.known == len(before)
    assert list(empty.log.entries()) == before
    assert list(empty.files.names()) == names


def test_a_new_entry_is_added_behind_the_others(tmp_path: Path, empty: Programme) -> None:
    folder = case_folder(tmp_path)
    filed(folder, empty)
    size = empty.log.size()
    edit(
        folder,
        lambda d: d.update(training=[{"on": "2026-02-01", "what": "practice", "by": "osgood"}]),
    )
    done = filed(folder, empty, at=AT + timedelta(days=1))
    assert (done.added, done.voided) == (1, 0)
    new = [e.act for e in empty.log.entries(since=size)]
    assert [(a.type, a.recorded_at) for a in new] == [("TrainingGiven", AT + timedelta(days=1))]


def test_what_left_the_folder_is_voided_and_stays(tmp_path: Path, empty: Programme) -> None:
    folder = case_folder(tmp_path)
    filed(folder, empty)
    edit(folder, lambda d: d["coupons"][0]["brazed"].update(fuel="propane"))
    done = filed(folder, empty)
    assert (done.added, done.voided) == (1, 1)
    acts = [e.act for e in empty.log.entries()]
    void = next(a for a in acts if a.type == "ActVoided")
    gone = next(a for a in acts if a.sha256 == void.body["voids"])
    assert (gone.type, gone.body["fuel"]) == ("CouponBrazed", "acetylene")
    assert void.body["by"] == "lead"
    assert first_broken(empty.log.entries()) is None


def _read_otherwise(document: Doc) -> None:
    face = document["coupons"][0]["joints"][0]["faces"][0]
    face["readings"][0]["loupe"]["unbrazed"] = ["0.1 mm"]


def test_entries_gone_without_a_reason_are_refused_and_nothing_is_filed(
    tmp_path: Path, empty: Programme
) -> None:
    folder = case_folder(tmp_path)
    filed(folder, empty)
    size = empty.log.size()
    edit(folder, _read_otherwise)
    with pytest.raises(EntriesGone, match=r"Face read H1-1 teal.*\[ISSUE-006\]"):
        filed(folder, empty)
    assert empty.log.size() == size
    edit(folder, lambda d: d["written"].update(reason="read off by a line"))
    assert filed(folder, empty).voided == 1
    void = [e.act for e in empty.log.entries()][size]
    assert void.body["reason"] == "read off by a line"


def test_a_figure_computed_anew_needs_no_reason(
    tmp_path: Path, empty: Programme, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A later version of the method gives another share from the same photograph and ends."""
    folder = case_folder(tmp_path, photos=(0,))
    filed(folder, empty)
    from lapwright.services import emit

    real = emit.read_filed_face

    def later(*args: Any, **kept: Any) -> Any:
        body, digests = real(*args, **kept)
        return ({**body, "u": "0.0101"} if body["way"] == "photo" else body), digests

    monkeypatch.setattr(emit, "read_filed_face", later)
    done = filed(folder, empty)
    assert (done.added, done.voided) == (1, 1)


def test_an_entry_that_comes_back_stands_again(tmp_path: Path, empty: Programme) -> None:
    """Also within one second, where the new act has the bytes of the voided one."""
    folder = case_folder(tmp_path)
    filed(folder, empty)
    before = [_identity(a) for a in read_case(empty.log, "TST-01").standing]
    text = (folder / "case.yaml").read_text("utf-8")
    edit(folder, lambda d: d["coupons"][0]["brazed"].update(fuel="propane"))
    filed(folder, empty)
    (folder / "case.yaml").write_text(text, "utf-8")
    filed(folder, empty)
    assert [_identity(a) for a in read_case(empty.log, "TST-01").standing] == before


def test_entries_filed_elsewhere_are_left_alone(tmp_path: Path, empty: Programme) -> None:
    from lapwright.core.acts import Act

    folder = case_folder(tmp_path)
    filed(folder, empty)
    moved = Act(
        "CustodyMoved", {"coupon": "H", "to": "shelf"}, AS_OF, "lead", AT, stream="case/TST-01"
    )
    empty.log.append([moved])
    assert filed(folder, empty).voided == 0
    assert moved in read_case(empty.log, "TST-01").standing


def test_photographs_are_kept_before_the_entries_that_name_them(
    tmp_path: Path, empty: Programme, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Cut off before the entries: files without entries, never entries without files."""
    folder = case_folder(tmp_path, photos=(0, 4))

    def cut_off(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(empty.log, "append", cut_off)
    with pytest.raises(KeyboardInterrupt):
        filed(folder, empty)
    monkeypatch.undo()
    held = set(empty.files.names())
    assert len(held) == 2
    assert empty.log.size() == 0
    filed(folder, empty)
    named = {d for e in empty.log.entries() for d in e.act.files}
    assert named == held


def test_of_two_importers_the_slower_one_is_refused(tmp_path: Path, empty: Programme) -> None:
    folder = case_folder(tmp_path)

    class Raced(MemoryLog):
        """Somebody else files the case just before the first append."""

        def append(self, acts: Any, **kept: Any) -> Any:
            if not self.size():
                other = list(acts)
                super().append(other[:5])
            return super().append(acts, **kept)

    log = Raced()
    with pytest.raises(StreamMoved, match="LEDG-005"):
        file_case(folder, log=log, files=empty.files, secret=empty.keys.salt, at=AT)
    assert log.size() == 5
    done = file_case(folder, log=log, files=empty.files, secret=empty.keys.salt, at=AT)
    assert done.known == 5


def test_one_person_has_one_id_in_every_case(tmp_path: Path, empty: Programme) -> None:
    filed(case_folder(tmp_path, number="TST-01"), empty)
    filed(case_folder(tmp_path, number="TST-02"), empty)
    assert name_in(empty.log, "ines") == "Ines Marlowe"
    assert len({e.act.body["name_commitment"] for e in empty.log.about("person:ines")
                if e.act.type == "PersonEnrolled"}) == 1  # fmt: skip


def test_person_other_an_id_that_stands_for_another_name_is_refused(
    tmp_path: Path, empty: Programme
) -> None:
    filed(case_folder(tmp_path, number="TST-01"), empty)
    other = case_folder(tmp_path, number="TST-02")
    edit(other, lambda d: d["people"]["ines"].update(name="Ines Harrowby"))
    size = empty.log.size()
    with pytest.raises(PersonOther, match=r"people\.ines\.name.*case/TST-01.*\[ISSUE-010\]"):
        filed(other, empty)
    edit(other, lambda d: d["written"].update(reason="she married"))
    with pytest.raises(PersonOther):
        filed(other, empty)
    assert empty.log.size() == size


def test_a_misspelt_name_is_mended_with_a_reason_in_its_own_case(
    tmp_path: Path, empty: Programme
) -> None:
    folder = case_folder(tmp_path)
    filed(folder, empty)
    edit(folder, lambda d: d["people"]["ines"].update(name="Ines Marlow"))
    with pytest.raises(PersonOther):
        filed(folder, empty)
    edit(folder, lambda d: d["written"].update(reason="the name was misspelt"))
    filed(folder, empty)
    assert name_in(empty.log, "ines") == "Ines Marlow"


def test_a_removed_name_does_not_come_back_with_the_folder(
    tmp_path: Path, empty: Programme
) -> None:
    folder = case_folder(tmp_path)
    filed(folder, empty)
    forget(empty, "ines", reason="asked for it", by="lead", at=AT)
    filed(folder, empty)
    assert name_in(empty.log, "ines") == "ines (name removed on 2026-03-21)"
    assert "Ines Marlowe" not in [s.value for s in empty.log.side_records().values()]


def _words(document: Doc, at: int) -> Callable[[Doc], None]:
    """One of many edits of a case, each of another kind of entry."""
    changes: list[Callable[[Doc], Any]] = [
        lambda d: d["coupons"][0]["brazed"].update(fuel="propane"),
        lambda d: d["coupons"][1]["joints"][0].update(clearance="0.006 in"),
        lambda d: d["coupons"].reverse(),
        lambda d: d["coupons"][0]["joints"].reverse(),
        lambda d: d["place"].update(name="Another Hall"),
        lambda d: d["coupons"][0]["joints"][0]["cut"].update(by="teal"),
        lambda d: d["coupons"][0]["joints"][0]["faces"][0].update(grit="800"),
        lambda d: d["coupons"][2]["joints"][0]["visual"].update(remark="clean"),
        lambda d: d.update(training=[{"on": "2026-02-01", "what": "practice", "by": "osgood"}]),
        lambda d: d["coupons"][0]["joints"][0]["faces"].pop(),
        lambda d: d["coupons"][0].update(mark="H9"),
        _read_otherwise,
    ]
    return changes[at % len(changes)]


@settings(max_examples=8, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(steps=st.lists(st.lists(st.integers(0, 11), max_size=3), min_size=1, max_size=4))
def test_whatever_was_edited_the_ledger_judges_as_the_folder(
    steps: list[list[int]], tmp_path_factory: pytest.TempPathFactory
) -> None:
    """Witness: the folder judged by itself, whose acts stand in the order of the street."""
    place = tmp_path_factory.mktemp("edits")
    folder, programme = case_folder(place), programme_in(place / "data")
    untouched = (folder / "case.yaml").read_text("utf-8")
    for number, step in enumerate([[], *steps]):
        (folder / "case.yaml").write_text(untouched, "utf-8")
        edit(folder, lambda d: d["written"].update(reason="tried"))
        for at in step:
            edit(folder, _words({}, at))
        filed(folder, programme, at=AT + timedelta(minutes=number))
        loaded = open_case(folder, secret=programme.keys.salt)
        held = read_case(programme.log, "TST-01").standing
        assert Counter(map(_identity, held)) == Counter(map(_identity, loaded.acts))
    ours, theirs = (
        _told(decision_document(judge_acts(acts, as_of=AS_OF).judgement))
        for acts in (held, loaded.acts)
    )
    assert ours == theirs
    assert first_broken(programme.log.entries()) is None


def _told(document: Doc) -> Doc:
    """The decision without the order of its lists: coupons keep that of their first filing."""
    kept = copy.deepcopy(document)
    for rows in (v for v in kept.values() if isinstance(v, list)):
        for row in rows:
            if isinstance(row, dict):
                for key, value in row.items():
                    row[key] = sorted(value) if _texts(value) else value
        rows.sort(key=repr)
    return kept


def _texts(value: object) -> bool:
    return isinstance(value, list) and all(isinstance(v, str) for v in value)


def test_the_files_of_a_log_are_those_of_its_folder(tmp_path: Path, empty: Programme) -> None:
    folder = case_folder(tmp_path, photos=(0,))
    filed(folder, empty)
    (digest,) = {d for e in empty.log.entries() for d in e.act.files}
    assert empty.files.get(digest) == (folder / "photos" / "h1-1.jpg").read_bytes()
    assert isinstance(empty.files, FileStore)
