"""A signature is filed before its file is written: what then, and whose name the key bears."""

from __future__ import annotations

import errno
from collections.abc import Callable
from pathlib import Path

import pytest

from lapwright.core.outcomes import Outcome
from lapwright.services.certifying import Signing, certify_record
from lapwright.services.errors import CertifiedAlready, FiledNotWritten
from lapwright.services.hands import Hand, read_hand
from lapwright.services.issuing import Issued, issue_case
from lapwright.services.programme import Programme
from lapwright.services.register import record_state
from lapwright.services.verifying import verify_file
from records.conftest import AS_OF, AT, SIGNED_AT

SCAN = b"\x89PNG\r\n\x1a\n the page signed in ink"


def with_key(hand: Hand) -> Signing:
    return Signing("hollis", SIGNED_AT.date(), SIGNED_AT, hand=hand)


def test_filed_not_written(
    programme: Programme,
    issued: Issued,
    hollis: Hand,
    folder: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """ISSUE-041: on a full disk the certification stands, and its file is handed out again."""
    with monkeypatch.context() as full:

        def no_room(_: int) -> None:
            raise OSError(errno.ENOSPC, "No space left on device")

        full.setattr("lapwright.services.atomic.os.fsync", no_room)
        full.setattr("lapwright.services.certifying.make_folder", lambda _: None)
        full.setattr(programme.files, "_write", lambda path, data: _keep(path, data))
        with pytest.raises(FiledNotWritten, match=r"stands.*\[ISSUE-041\]"):
            certify_record(issued.number, programme, with_key(hollis), out=tmp_path / "one")
    act = record_state(programme.log, issued.number).revisions[-1].certified
    assert act is not None
    size = programme.log.size()
    again = certify_record(issued.number, programme, with_key(hollis), out=tmp_path / "two")
    assert programme.log.size() == size
    assert again.act == act
    assert again.path is not None
    assert again.path.name == f"{issued.number}-r1-certified.pdf"
    assert again.path.read_bytes() == programme.files.get(act.body["file_sha256"])
    given = issue_case(folder, programme, as_of=AS_OF, out=tmp_path / "three", at=AT)
    assert given.path.read_bytes() == again.path.read_bytes()


def _keep(path: Path, data: bytes) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(data)


def test_the_same_scan_again_changes_nothing_and_another_one_is_refused(
    programme: Programme, issued: Issued
) -> None:
    in_ink = Signing("hollis", SIGNED_AT.date(), SIGNED_AT, scan=SCAN)
    first = certify_record(issued.number, programme, in_ink, out=None)
    size = programme.log.size()
    assert certify_record(issued.number, programme, in_ink, out=None).act == first.act
    other = Signing("hollis", SIGNED_AT.date(), SIGNED_AT, scan=SCAN + b" again")
    with pytest.raises(CertifiedAlready, match="same key or scan"):
        certify_record(issued.number, programme, other, out=None)
    assert programme.log.size() == size


def test_another_name_in_the_certificate_is_told_kept_and_left_open(
    programme: Programme,
    issued: Issued,
    data: Path,
    pairs: Callable[[str], Path],
    tmp_path: Path,
) -> None:
    path = pairs("Ysolde Marr")
    hand = read_hand(path, programme.keys)
    done = certify_record(issued.number, programme, with_key(hand), out=tmp_path)
    said = " ".join(done.lines())
    assert "the certificate names Ysolde Marr, the signature stands for Hollis Wren" in said
    assert done.act.body["certificate_name"] == "other"
    assert b"Ysolde" not in done.act.to_bytes()
    only, pem = tmp_path / "c.pem", path.read_bytes()
    only.write_bytes(pem[pem.index(b"-----BEGIN CERTIFICATE") :])
    assert done.path is not None
    report = verify_file(done.path, [data / "keys" / "trust.pem", only])
    assert report.outcome is Outcome.UNDETERMINED
    told = " ".join(report.lines())
    assert "its certificate names Ysolde Marr. Ask whose key it is." in told
    stranger = " ".join(verify_file(done.path, [data / "keys" / "trust.pem"]).lines())
    assert "Certification2" not in stranger


def test_a_name_typed_otherwise_is_the_same_name(
    programme: Programme, issued: Issued, pairs: Callable[[str], Path], tmp_path: Path
) -> None:
    hand = read_hand(pairs("HOLLIS  wren"), programme.keys)
    done = certify_record(issued.number, programme, with_key(hand), out=tmp_path)
    assert "certificate_name" not in done.act.body
    assert done.holder == ""
