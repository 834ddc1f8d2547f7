"""A record is issued once, says what it rests on, and is checked on another machine.

Every command answers ``--json`` with one document, also where it refuses.
"""

from __future__ import annotations

import hashlib
import json
import subprocess
import sys
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pikepdf
import pytest

from lapwright.core.errors import LapwrightError
from lapwright.core.outcomes import Outcome
from lapwright.documents.container import inspect_record
from lapwright.ledger.keys import open_keys
from lapwright.services.casefolder import open_case
from lapwright.services.errors import CaseHasLater, EntriesGone, RecordNotWhole
from lapwright.services.issuing import Issued, issue_case
from lapwright.services.programme import Programme
from lapwright.services.recordfile import judged_of_record, parts_of
from lapwright.services.verifying import verify_file
from unit.documents.witness import text_of

from .building import case_folder, edit, programme_in
from .conftest import Shell

AS_OF = date(2026, 3, 20)


@pytest.fixture
def trust(home: Path, issued: Issued) -> Path:
    return home / "keys" / "trust.pem"


def test_issuing_again_gives_the_same_record(
    passed: Path, programme: Programme, issued: Issued, tmp_path: Path
) -> None:
    at = datetime(2027, 1, 1, tzinfo=UTC)
    again = issue_case(passed, programme, as_of=AS_OF, out=tmp_path, at=at)
    assert again.again == "yes"
    assert again.path.read_bytes() == issued.path.read_bytes()
    assert again.file_sha256 == hashlib.sha256(issued.path.read_bytes()).hexdigest()


def test_a_later_day_alone_gives_the_same_record(
    passed: Path, programme: Programme, issued: Issued, tmp_path: Path
) -> None:
    again = issue_case(
        passed,
        programme,
        as_of=date(2026, 6, 1),
        out=tmp_path,
        at=datetime(2026, 6, 2, tzinfo=UTC),
    )
    assert (again.again, again.revision) == ("yes", issued.revision)
    assert (again.as_of, again.as_dict()["as_of"]) == ("2026-03-20", "2026-03-20")
    told = " ".join(again.lines())
    assert "decided as of 2026-03-20" in told
    assert "as of 2026-06-01, so that day gives no further revision" in told
    assert "decided as of" not in " ".join(issued.lines())
    assert again.path.read_bytes() == issued.path.read_bytes()


def test_a_day_before_the_last_entry_is_refused_with_that_day(tmp_path: Path) -> None:
    folder = case_folder(tmp_path)
    last = max(a.happened_on for a in open_case(folder).acts)
    at = datetime(2026, 3, 21, tzinfo=UTC)
    early, home = last - timedelta(days=1), programme_in(tmp_path / "home")
    with pytest.raises(CaseHasLater) as refused:
        issue_case(folder, home, as_of=early, out=tmp_path / "out", at=at)
    assert f"Issue as of the last entry, {last.isoformat()}, or later." in str(refused.value)
    assert refused.value.got == early.isoformat()
    assert not (tmp_path / "out").exists()
    assert home.log.size() == 0
    issue_case(folder, home, as_of=last, out=tmp_path / "out", at=at)


def test_a_day_in_the_future_is_refused(tmp_path: Path) -> None:
    folder = case_folder(tmp_path)
    at, home = datetime(2026, 3, 21, 9, 30, tzinfo=UTC), programme_in(tmp_path / "home")
    with pytest.raises(CaseHasLater, match="lies in the future"):
        issue_case(folder, home, as_of=date(2026, 3, 22), out=tmp_path / "out", at=at)
    assert home.log.size() == 0


def test_the_day_may_be_ahead_where_the_clock_is_ahead_of_utc(tmp_path: Path) -> None:
    late = datetime(2026, 3, 21, 20, 0, tzinfo=UTC)  # 22 March, 06:00, at UTC+10
    issued = issue_case(
        case_folder(tmp_path),
        programme_in(tmp_path / "home"),
        as_of=date(2026, 3, 22),
        out=tmp_path / "out",
        at=late,
    )
    assert issued.again == "no"


def test_a_changed_case_gets_the_next_revision_and_the_old_one_stays(
    tmp_path: Path,
) -> None:
    folder, home = case_folder(tmp_path), programme_in(tmp_path / "home")
    out = tmp_path / "out"
    first = issue_case(folder, home, as_of=AS_OF, out=out, at=datetime(2026, 3, 21, tzinfo=UTC))
    kept = first.path.read_bytes()
    edit(folder, lambda d: d["coupons"][0]["joints"][0].update(clearance="0.005 in"))
    second = issue_case(folder, home, as_of=AS_OF, out=out, at=datetime(2026, 3, 22, tzinfo=UTC))
    assert (second.revision, second.register, second.again) == ("2", "2", "no")
    assert home.files.get(first.file_sha256) == kept == first.path.read_bytes()
    told = " ".join(text_of(second.path.read_bytes()).split())
    assert "changed or taken out since: Coupon brazed H ines, 2026-03-04" in told
    assert "revision 1, data SHA-256" in told


def _typed_again(document: dict[str, Any]) -> None:
    face = document["coupons"][0]["joints"][0]["faces"][0]
    face["readings"][0]["loupe"]["unbrazed"] = ["0.1 mm"]


def test_a_reading_that_left_the_case_gives_no_silent_revision(tmp_path: Path) -> None:
    """A failed face is read anew in place of the first reading: refused, then told with why."""
    folder = case_folder(tmp_path, voids={0: ((0.1, 0.6, "open"),)})
    out, home = tmp_path / "out", programme_in(tmp_path / "home")
    at = datetime(2026, 3, 21, tzinfo=UTC)
    issue_case(folder, home, as_of=AS_OF, out=out, at=at)
    edit(folder, _typed_again)
    with pytest.raises(EntriesGone, match=r"Face read H1-1 teal, 2026-03-12 \(50\.5 % unbrazed\)"):
        issue_case(folder, home, as_of=AS_OF, out=out, at=at)
    assert not list(out.glob("*-r2.pdf"))
    edit(folder, lambda d: d["written"].update(reason="the loupe was read off by a line"))
    second = issue_case(folder, home, as_of=AS_OF, out=out, at=at)
    told = " ".join(text_of(second.path.read_bytes()).split())
    assert "revision 1, data SHA-256" in told
    assert "(50.5 % unbrazed)" in told
    assert "the loupe was read off by a line" in told
    trust = tmp_path / "home" / "keys" / "trust.pem"
    assert verify_file(second.path, [trust]).outcome is Outcome.MET
    again = issue_case(folder, home, as_of=AS_OF, out=out, at=at)
    assert (again.again, again.revision) == ("yes", "2")


def test_every_check_of_an_untouched_record_holds(issued: Issued, trust: Path) -> None:
    report = verify_file(issued.path, [trust])
    assert report.outcome is Outcome.MET, [
        f for f in report.findings if f.outcome is not Outcome.MET
    ]
    assert {f.rule for f in report.findings} >= {
        "record.digest",
        "record.print",
        "record.decision",
        "record.rules",
        "record.overlays",
        "record.names",
        "record.tree",
        "record.token",
    }
    assert report.exit_status == 0


def test_a_record_holds_whatever_the_order_of_coupons_in_the_case(tmp_path: Path) -> None:
    folder = case_folder(tmp_path, photos=(0, 4))
    edit(folder, lambda d: d["coupons"].reverse())
    home = tmp_path / "home"
    at = datetime(2026, 3, 21, tzinfo=UTC)
    programme = programme_in(home)
    record = issue_case(folder, programme, as_of=AS_OF, out=tmp_path / "out", at=at)
    report = verify_file(record.path, [home / "keys" / "trust.pem"])
    assert [f for f in report.findings if f.outcome is not Outcome.MET] == []


def test_names_stand_in_no_act_of_the_record(issued: Issued) -> None:
    report = inspect_record(issued.path.read_bytes(), trusted=[], moment=None)
    data = parts_of(report, "record").data
    acts = json.dumps(data["acts"])
    for row in data["names"].values():
        assert row["name"] not in acts


def test_a_record_of_strangers_is_told_apart(issued: Issued, tmp_path: Path) -> None:
    open_keys(tmp_path / "keys", made_at=datetime(2026, 1, 1, tzinfo=UTC))
    report = verify_file(issued.path, [tmp_path / "keys" / "trust.pem"])
    assert report.outcome is Outcome.NOT_MET
    failed = {f.rule for f in report.findings if f.outcome is Outcome.NOT_MET}
    assert any("certificate" in rule for rule in failed), failed
    assert "record.decision" not in failed


def test_a_byte_changed_anywhere_on_a_grid_is_caught(
    issued: Issued, trust: Path, tmp_path: Path
) -> None:
    whole = issued.path.read_bytes()
    target = tmp_path / "tampered.pdf"
    for place in range(200, len(whole), max(1, len(whole) // 12)):
        changed = bytearray(whole)
        changed[place] ^= 1
        target.write_bytes(changed)
        try:
            report = verify_file(target, [trust])
        except LapwrightError:
            continue
        assert report.outcome is not Outcome.MET, place


def test_a_record_answers_its_own_range(issued: Issued) -> None:
    judged = judged_of_record(issued.path, as_of=None)
    assert judged.judgement.qualified == ("C", "D")
    covered = {s.size for s in judged.sizes if s.verdict.outcome is Outcome.MET}
    assert {"5/8", "2"} <= covered
    assert "1/2" not in covered


@pytest.mark.parametrize("change", ["appended", "flipped"])
def test_the_range_of_a_changed_record_is_refused(
    issued: Issued, tmp_path: Path, change: str
) -> None:
    whole = issued.path.read_bytes()
    with pikepdf.open(issued.path) as document:
        content = document.pages[0].Contents.read_raw_bytes()
    place = whole.index(content) + len(content) // 2
    flipped = whole[:place] + bytes([whole[place] ^ 1]) + whole[place + 1 :]
    target = tmp_path / "changed.pdf"
    target.write_bytes(whole + b"more" if change == "appended" else flipped)
    with pytest.raises(RecordNotWhole, match="the file is not as it was signed"):
        judged_of_record(target, as_of=None)


def test_the_range_of_a_record_says_that_it_was_not_verified(issued: Issued, shell: Shell) -> None:
    assert "not verified here" in shell.run("range", issued.path).stdout.splitlines()[0]
    assert "not verified here" in str(shell.json("range", issued.path)["notice"])


def test_the_printed_range_is_that_of_the_data(issued: Issued) -> None:
    report = inspect_record(issued.path.read_bytes(), trusted=[], moment=None)
    data = parts_of(report, "record").data
    met = {r["size"] for r in data["range"]["sizes"] if r["outcome"] == "met"}
    assert met == {"5/8", "3/4", "1", "1-1/4", "1-1/2", "2"}


def test_the_data_bind_the_attached_pictures(issued: Issued) -> None:
    report = inspect_record(issued.path.read_bytes(), trusted=[], moment=None)
    data = parts_of(report, "record").data
    attached = {a.name: a.sha256 for a in report.attachments if a.name.startswith("overlay-")}
    assert attached == {f"overlay-{face}.png": sha for face, sha in data["overlays"].items()}
    assert len(attached) == 1


@pytest.mark.parametrize(
    ("args", "code"),
    [
        (["judge", "EMPTY", "--as-of", "2026-03-20"], "CASE-001"),
        (["issue", "EMPTY", "--as-of", "2026-03-20", "--out", "OUT", "--data", "HOME"], "CASE-001"),
        (["issue", "EMPTY", "--as-of", "9999-01-01", "--out", "OUT", "--data", "H"], "ISSUE-004"),
        (["range", "EMPTY", "--as-of", "2026-03-20"], "CASE-001"),
        (["range", "EMPTY/none.pdf"], "VERIFY-001"),
        (["verify", "EMPTY/none.pdf", "--trust", "EMPTY/trust.pem"], "VERIFY-002"),
        (["rules", "list", "--edition", "nfpa-99 1812"], "RULE-002"),
        (["rules", "show", "nfpa-99/2018/no.such"], "RULE-003"),
    ],
)
def test_a_refusal_is_one_json_document_where_json_is_asked_for(
    args: list[str], code: str, tmp_path: Path
) -> None:
    places = [a.replace("EMPTY", str(tmp_path)) for a in args]
    done = subprocess.run(
        [sys.executable, "-m", "lapwright", *places, "--json"],
        capture_output=True,
        text=True,
        check=False,
        cwd=tmp_path,
    )
    document = json.loads(done.stdout)
    assert (done.returncode, done.stderr) == (1, document["message"] + "\n")
    assert (document["outcome"], document["code"]) == ("refused", code)
    assert document["message"].endswith(f"[{code}]")
    assert document.keys() >= {"what", "got", "expected", "do", "where", "cite"}


def test_wrong_usage_stays_wrong_usage_with_json(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "lapwright", "judge", str(tmp_path), "--json"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, done.stdout) == (2, "")
