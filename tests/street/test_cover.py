"""Cover from a ledger and from case folders: certified, in force, known by, papers to print."""

from __future__ import annotations

import csv
import io
import json
import subprocess
from copy import deepcopy
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lapwright.core.acts import Act
from lapwright.services.cover import (
    ASSIGN,
    CALL,
    NO,
    JobCover,
    Question,
    cover_of_cases,
    cover_of_log,
)
from lapwright.services.coverreport import cover_document, cover_lines, matrix_csv
from lapwright.services.coversheet import cover_files, daily_sheet
from lapwright.services.errors import (
    CaseIdTwice,
    CoverDaysRefused,
    CoverEmployers,
    CoverNobody,
)
from lapwright.services.jointlist import JointList, open_joints
from lapwright.services.jointmapping import mapping_beside

from .conftest import Shell
from .coverwork import SIGNED, Job, attest, job
from .forcework import at

ON = date(2026, 4, 1)
MET, OPEN, FAILED = 0, 1, 3


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Job:
    """Three records of one job, two of them certified."""
    return job(tmp_path_factory.mktemp("cover"))


@pytest.fixture
def fresh(made: Job) -> Job:
    """The same job with a ledger of its own, to write to."""
    return replace(made, programme=replace(made.programme, log=deepcopy(made.programme.log)))


@pytest.fixture(scope="module")
def joints(made: Job) -> JointList:
    """The joints of the east wing."""
    return open_joints(made.joints)


def _asked(made: Job, joints: JointList, on: date = ON, **more: object) -> JobCover:
    question = Question(on, **more)  # type: ignore[arg-type]
    return cover_of_log(joints, made.programme.log, made.programme.files, question=question)


def _states(found: JobCover) -> dict[str, dict[str, int]]:
    """Return person -> row of the list -> state."""
    return {
        b.id: {r.id: found.now.state(b.id, i) for i, c in enumerate(found.classes) for r in c.rows}
        for b in found.brazers
    }


def test_who_passed_in_d_covers_it_and_who_is_not_certified_is_open(
    made: Job, joints: JointList
) -> None:
    found = _asked(made, joints)
    assert [b.mark for b in found.brazers] == ["QP3T", "QP7K", "QP9M"]  # each of its own case
    told = _states(found)
    assert told["ines"]["E-003"] == MET  # 1 in, D, overlap 0.36 in
    assert told["bram"]["E-003"] == FAILED  # passed in C alone
    assert told["odile"]["E-003"] == OPEN  # issued, not certified by the employer
    assert [told[p]["E-005"] for p in ("ines", "bram", "odile")] == [MET, MET, OPEN]
    assert told["ines"]["E-007"] == FAILED  # silver filler: another F-number
    assert told["ines"]["E-013"] == MET  # names the procedure that the ledger knows


def test_before_the_signature_nobody_is_covered(made: Job, joints: JointList) -> None:
    before = _states(_asked(made, joints, SIGNED - timedelta(days=1)))
    assert not any(s == MET for rows in before.values() for s in rows.values())


def test_the_deep_cup_of_an_exception_is_beyond_by_so_much(made: Job, joints: JointList) -> None:
    found = _asked(made, joints)
    line = next(i for i, c in enumerate(found.classes) if any(r.id == "E-003a" for r in c.rows))
    ines = next(b for b in found.brazers if b.id == "ines")
    (lack,) = found.answer(ines, line).lacks
    assert lack.finding.rule == "overlap.max_increase"
    assert f"{float(lack.by):.3f}" == "0.162"  # 0.52 in over 1.25 x 0.358 in
    assert found.nearest(line).person == "ines"


def test_what_is_lost_if_nobody_brazes_and_what_a_use_keeps(fresh: Job, joints: JointList) -> None:
    own, listed = fresh, joints
    later = date(2026, 9, 30)
    lost = {b.id: len(f.lost(b)) for f in [_asked(own, listed, later=later)] for b in f.brazers}
    assert lost["ines"] > 0
    assert lost["bram"] > 0
    attest(own.programme, "ines", date(2026, 4, 1))
    kept = _asked(own, listed, later=later)
    assert {b.id: len(kept.lost(b)) for b in kept.brazers} == lost | {"ines": 0}


@settings(max_examples=6, deadline=None)
@given(st.lists(st.tuples(st.sampled_from(["ines", "bram"]), st.integers(2, 90)), max_size=5))
def test_an_answer_known_by_a_day_never_changes_by_later_entries(
    made: Job, joints: JointList, later: list[tuple[str, int]]
) -> None:
    """Uses, and a withdrawal, written after the day of knowledge move nothing known by it."""
    own = replace(made, programme=replace(made.programme, log=deepcopy(made.programme.log)))
    before = _letters(_asked(own, joints, date(2026, 9, 1), known_by=ON))
    for person, days in later:
        attest(own.programme, person, ON + timedelta(days=days))
    assert _letters(_asked(own, joints, date(2026, 9, 1), known_by=ON)) == before


def _letters(found: JobCover) -> object:
    return cover_document(found)["matrix"]


def test_a_withdrawal_counts_from_its_writing_only(fresh: Job, joints: JointList) -> None:
    own, listed = fresh, joints
    was = _letters(_asked(own, listed, date(2026, 4, 10), known_by=ON))
    body = {"record": "TLH-01-QP7K", "revision": "1", "by": "hollis", "reason": "an invented one"}
    gone = Act(
        "RecordWithdrawn",
        body,
        date(2026, 4, 2),
        "hollis",
        at(date(2026, 4, 2)),
        stream="record/TLH-01-QP7K",
    )
    own.programme.log.append([gone])
    assert _letters(_asked(own, listed, date(2026, 4, 10), known_by=ON)) == was
    assert "M" not in _letters(_asked(own, listed, date(2026, 4, 10)))["ines"]  # type: ignore[index]


def test_case_folders_hold_no_certification_and_cover_nothing(made: Job, joints: JointList) -> None:
    found = cover_of_cases(joints, made.cases, question=Question(ON))
    told = _states(found)
    assert told["ines"]["E-003"] == OPEN
    assert not any(s == MET for rows in told.values() for s in rows.values())
    ines = next(b for b in found.brazers if b.id == "ines")
    line = next(i for i, c in enumerate(found.classes) if any(r.id == "E-003" for r in c.rows))
    alone = found.answer(ines, line).alone
    assert alone is not None
    assert alone.outcome.value == "met"


def test_the_foreman_is_told_to_call_where_anything_is_open(fresh: Job, joints: JointList) -> None:
    found = _asked(fresh, joints)
    words = {found.assign(b, i) for b in found.brazers for i in range(len(found.classes))}
    assert words == {CALL, NO}  # no installer credential is noted: nobody is simply assigned
    for person in ("ines", "bram"):
        noted = {"person": person, "kind": "ASSE 6010", "issuer": "a body", "until": "2027-01-01"}
        act = Act("CredentialNoted", noted, ON, "hollis", at(ON), stream="programme")
        fresh.programme.log.append([act])
    found = _asked(fresh, joints)
    ines = next(b for b in found.brazers if b.id == "ines")
    told = {r.id: found.assign(ines, i) for i, c in enumerate(found.classes) for r in c.rows}
    assert told["E-003"] == ASSIGN
    assert told["E-007"] == NO
    sheet = daily_sheet(found)
    assert sheet.day == "2026-04-01"
    assert {c.outcome for b in sheet.blocks for r in b.rows for c in r.cells} == {ASSIGN, CALL, NO}


def test_files_say_the_same_and_are_the_same_again(made: Job, joints: JointList) -> None:
    found = _asked(made, joints, later=date(2026, 9, 30))
    files = cover_files(found)
    assert files == cover_files(_asked(made, joints, later=date(2026, 9, 30)))
    rows = list(csv.DictReader(io.StringIO(matrix_csv(found).decode())))
    letters = {"M": "Met", "O": "Open", "S": "Open", "N": "Not met"}
    for b in found.brazers:
        matrix = cover_document(found)["matrix"][b.id]
        assert [r[b.shown] for r in rows] == [letters[c] for c in matrix]
    cells = cover_document(found)["cells"]
    assert all(c["cites"] for c in cells)


def test_the_pdfs_hold_every_class_and_person(made: Job, joints: JointList, tmp_path: Path) -> None:
    found = _asked(made, joints)
    files = cover_files(found)
    for name in ("cover.pdf", "daily-sheet.pdf"):
        path = tmp_path / name
        path.write_bytes(files[name])
        done = subprocess.run(
            ["pdftotext", "-layout", str(path), "-"], capture_output=True, check=True, text=True
        )
        text = " ".join(done.stdout.split())
        assert "Marlowe" in text
        assert "certifies no one" in text
        if name == "cover.pdf":
            assert all(c.about.id in text for c in found.classes)
        else:
            assert "Do not assign" in text


def test_nobody_several_employers_days_and_twice_are_refused(made: Job, joints: JointList) -> None:
    with pytest.raises(CoverNobody):
        _asked(made, joints, date(2020, 1, 1))
    with pytest.raises(CoverDaysRefused):
        _asked(made, joints, later=ON)
    with pytest.raises(CaseIdTwice):
        cover_of_cases(joints, (made.cases[0], made.cases[0]), question=Question(ON))


def test_several_employers_want_one_named(fresh: Job, joints: JointList) -> None:
    own, listed = fresh, joints
    accepted = {
        "record": "TLH-01-QP7K",
        "revision": "1",
        "file_sha256": "0" * 64,
        "employer": "Harrow Fold",
        "by": "petra",
        "comparison_sha256": "1" * 64,
        "way": "scan",
    }
    day = date(2026, 3, 30)
    act = Act("RecordAccepted", accepted, day, "petra", at(day), stream="record/TLH-01-QP7K")
    own.programme.log.append([act])
    with pytest.raises(CoverEmployers, match="Harrow Fold, Quillon Pipeworks"):
        _asked(own, listed)
    mine = _asked(own, listed, employer="Quillon Pipeworks")
    assert _states(mine)["ines"]["E-003"] == MET


def test_lines_name_who_covers_and_what_lists_forget(made: Job, joints: JointList) -> None:
    told = "\n".join(cover_lines(_asked(made, joints)))
    assert "QP7K" in told
    assert "alarm connections" in told


def test_the_command_writes_a_folder_and_prints_one_document(
    made: Job, tmp_path: Path, shell: Shell
) -> None:
    out = tmp_path / "cover"
    args = ["cover", made.joints, *made.cases, "--as-of", "2026-04-01", "--out", out, "--json"]
    done = shell.run(*args)
    doc = json.loads(done.stdout)
    assert doc["list"] == "east-wing.xlsx"
    assert len(doc["cells"]) == 10 * 3
    assert {p.name for p in out.iterdir()} >= {"cover.pdf", "daily-sheet.pdf", "matrix.csv"}
    assert shell.run("cover", made.joints, "--as-of", "2026-04-01").exit_code == 2
    assert mapping_beside(made.joints).exists()
