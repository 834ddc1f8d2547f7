"""The employer certifies, later employers accept: by key in the PDF, or in ink by a scan's hash."""

from __future__ import annotations

import hashlib
import subprocess
from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.asymmetric import ec, rsa

from lapwright.core.outcomes import Outcome, Why
from lapwright.ledger.errors import StreamMoved
from lapwright.services.certifying import Signed, Signing, accept_record, certify_record
from lapwright.services.comparing import Question, run_comparison
from lapwright.services.errors import (
    CertifiedAlready,
    DayRefused,
    HandRefused,
    KeyOfProgramme,
    NotCertified,
    PersonUnknown,
    RecordIsWithdrawn,
    RecordNotLatest,
    RecordUnknown,
    ScanRefused,
    SignerRefused,
)
from lapwright.services.hands import Hand, read_hand, read_kept, read_passphrase, read_scan
from lapwright.services.issuing import Issued, issue_case
from lapwright.services.people import NewPerson, enrol
from lapwright.services.programme import Programme
from lapwright.services.register import must_be_known, record_state
from lapwright.services.text import say
from lapwright.services.verifying import VerifyReport, verify_file
from lapwright.services.withdrawing import withdraw_record
from records.acceptances import comparison
from records.conftest import AS_OF, AT, SIGNED_AT
from records.hands import SIGNS, certificate, write_p12, write_pem
from street.paperwork import note_document, procedure_document, ticks, written
from unit.documents.witness import standard_faults, told_by

SCAN = b"\x89PNG\r\n\x1a\n the page signed in ink"
SIGNED_ON = SIGNED_AT.date()
Pairs = Callable[[str], Path]


def in_ink(by: str = "hollis", on: date = SIGNED_ON) -> Signing:
    return Signing(by, on, SIGNED_AT, scan=SCAN)


def certify(programme: Programme, asked: str, signing: Signing | None = None) -> Signed:
    return certify_record(asked, programme, signing or in_ink(), out=None)


def accept(
    programme: Programme, asked: str, signing: Signing, out: Path | None = None, **changes: str
) -> Signed:
    new = NewPerson("petra", "Petra Lindqvar", "responsible person", "Harrow Fold Mechanical")
    enrol(programme.log, new, secret=programme.keys.salt, by="petra", at=SIGNED_AT)
    return accept_record(
        asked,
        programme,
        signing,
        employer=changes.get("employer", "Harrow Fold Mechanical"),
        comparison=comparison(),
        out=out,
    )


def verify(path: Path, data: Path, *more: Path, log: object = None) -> VerifyReport:
    return verify_file(path, [data / "keys" / "trust.pem", *more], log=log)  # type: ignore[arg-type]


def test_a_certified_file_is_valid_for_pdfsig_and_keeps_the_standards(
    certified: Path, issued: Issued
) -> None:
    """Outside witnesses: poppler, qpdf, pikepdf."""
    pdf = certified.read_bytes()
    told = told_by("pdfsig", "-nocert", "FILE", pdf=pdf)
    assert told.count("Signature is Valid") == 2
    assert "Certification2" in told
    assert "CN=Hollis Wren" in told
    assert standard_faults(pdf) == []
    assert "No syntax or stream encoding errors" in told_by("qpdf", "--check", "FILE", pdf=pdf)
    assert pdf.startswith(issued.path.read_bytes())


def test_the_ledger_holds_who_certified_which_file_with_which_key(
    certified: Path, programme: Programme, issued: Issued, hollis: Hand
) -> None:
    act = record_state(programme.log, issued.number).revisions[-1].certified
    assert act is not None
    digest = hashlib.sha256(certified.read_bytes()).hexdigest()
    assert (act.body["by"], act.body["way"], act.body["file_sha256"]) == ("hollis", "key", digest)
    assert act.body["before_sha256"] == issued.file_sha256
    from cryptography.hazmat.primitives.serialization import Encoding

    der = hollis.certificate.public_bytes(Encoding.DER)
    assert act.body["certificate_sha256"] == hashlib.sha256(der).hexdigest()
    assert programme.files.get(digest) == certified.read_bytes()
    assert programme.files.get(issued.file_sha256) == issued.path.read_bytes()


def test_with_both_certificates_every_check_holds_and_each_signature_is_told(
    certified: Path, data: Path, pairs: Pairs, tmp_path: Path
) -> None:
    only = tmp_path / "hollis-certificate.pem"
    pem = pairs("Hollis Wren").read_bytes()
    only.write_bytes(pem[pem.index(b"-----BEGIN CERTIFICATE") :])
    report = verify(certified, data, only)
    assert report.outcome is Outcome.MET, [f.message for f in report.findings]
    assert [(s["role"], s["trusted"]) for s in report.signatures] == [
        ("programme", "yes"),
        ("certification", "yes"),
    ]
    told = " ".join(report.lines())
    assert "Signature 2, the employer certifies: Hollis Wren for Quillon Pipeworks" in told
    assert "Awaiting employer's certification" not in told


def test_without_the_employers_certificate_the_answer_stays_open(
    certified: Path, data: Path
) -> None:
    report = verify(certified, data)
    assert report.outcome is Outcome.UNDETERMINED
    assert [s["trusted"] for s in report.signatures] == ["yes", "no"]


def test_a_certificate_of_an_authority_serves_as_well(
    programme: Programme, issued: Issued, data: Path, tmp_path: Path
) -> None:
    key, authority = (ec.generate_private_key(ec.SECP256R1()) for _ in range(2))
    own = certificate(key, "Hollis Wren", issuer=authority)
    path = write_pem(tmp_path / "h.pem", key, own)
    signing = Signing("hollis", SIGNED_AT.date(), SIGNED_AT, hand=read_hand(path, programme.keys))
    done = certify_record(issued.number, programme, signing, out=tmp_path)
    assert done.path is not None
    pem = path.read_bytes()
    only = tmp_path / "c.pem"
    only.write_bytes(pem[pem.index(b"-----BEGIN CERTIFICATE") :])
    assert verify(done.path, data, only).outcome is Outcome.MET


def test_a_page_signed_in_ink_is_kept_by_its_hash(programme: Programme, issued: Issued) -> None:
    done = certify(programme, issued.number)
    act = done.act
    assert (act.body["way"], act.body["file_sha256"]) == ("scan", issued.file_sha256)
    assert act.body["scan_sha256"] == hashlib.sha256(SCAN).hexdigest() == act.files[0]
    assert programme.files.get(act.files[0]) == SCAN
    assert done.path is None
    assert "in ink" in " ".join(done.lines())


def test_a_later_employer_signs_behind_the_first(
    certified: Path, programme: Programme, issued: Issued, pairs: Pairs, data: Path, tmp_path: Path
) -> None:
    hand = read_hand(pairs("Petra Lindqvar"), programme.keys)
    signing = Signing("petra", SIGNED_AT.date(), SIGNED_AT, hand=hand)
    done = accept(programme, issued.number, signing, out=tmp_path)
    assert done.path is not None
    assert done.path.name == "TST-01-QP7K-r1-accepted-1.pdf"
    assert done.path.read_bytes().startswith(certified.read_bytes())
    assert told_by("pdfsig", "-nocert", "FILE", pdf=done.path.read_bytes()).count("is Valid") == 3
    assert done.act.body["comparison_sha256"] == hashlib.sha256(comparison()).hexdigest()
    report = verify(done.path, data, log=programme.log)
    assert [s["role"] for s in report.signatures] == ["programme", "certification", "acceptance"]
    assert "Petra Lindqvar for Harrow Fold Mechanical" in " ".join(report.lines())


def test_the_same_key_again_gives_the_same_file(
    programme: Programme, issued: Issued, hollis: Hand, certified: Path
) -> None:
    from lapwright.services import certifying

    signing = Signing("hollis", SIGNED_AT.date(), SIGNED_AT, hand=hollis)
    again = certifying.countersigned(
        programme, issued.file_sha256, signing, certifying._Use("Quillon Pipeworks")
    )
    assert again == certified.read_bytes()


def test_issuing_again_gives_the_certified_file(
    certified: Path, programme: Programme, folder: Path, tmp_path: Path
) -> None:
    """The file of the issue would be one that was cut back."""
    again = issue_case(folder, programme, as_of=AS_OF, out=tmp_path / "out", at=SIGNED_AT)
    assert (again.again, again.certified) == ("yes", "2026-03-25")
    assert again.path.read_bytes() == certified.read_bytes()
    assert "Certified by the employer's responsible person on 2026-03-25." in again.lines()


def test_the_file_itself_may_be_named(
    certified: Path, programme: Programme, issued: Issued
) -> None:
    done = accept(programme, str(certified), in_ink("petra"))
    assert done.revision.name == "TST-01-QP7K-r1"


def test_record_unknown_is_refused(programme: Programme) -> None:
    with pytest.raises(RecordUnknown, match=r"TST-01-QP7K\..*\[ISSUE-011\]"):
        certify(programme, "TST-09-QP7K")
    with pytest.raises(RecordUnknown):
        must_be_known(programme.log, "TST-01-QP7K-r2")


def test_record_not_latest_an_early_file_is_refused(
    certified: Path, programme: Programme, issued: Issued
) -> None:
    with pytest.raises(RecordNotLatest, match=r"\[ISSUE-013\]"):
        accept(programme, str(issued.path), in_ink("petra"))


def test_record_is_withdrawn_and_not_signed(programme: Programme, issued: Issued) -> None:
    withdraw_record(issued.number, programme, by="lead", reason="mixed up", at=SIGNED_AT)
    with pytest.raises(RecordIsWithdrawn, match=r"\[ISSUE-012\]"):
        certify(programme, issued.number)
    with pytest.raises(RecordIsWithdrawn, match=r"already"):
        withdraw_record(issued.number, programme, by="lead", reason="again", at=SIGNED_AT)


def test_certified_already_is_refused(
    certified: Path, programme: Programme, issued: Issued
) -> None:
    size = programme.log.size()
    with pytest.raises(CertifiedAlready, match=r"Hollis Wren, 2026-03-25.*\[ISSUE-018\]"):
        certify(programme, issued.number)
    accept(programme, issued.number, in_ink("petra"))
    another = replace(in_ink("petra"), scan=SCAN + b", once more")
    with pytest.raises(CertifiedAlready, match="Petra Lindqvar"):
        accept(programme, issued.number, another)
    with pytest.raises(CertifiedAlready, match="Petra Lindqvar"):
        accept(programme, issued.number, another, employer="harrow  fold MECHANICAL")
    with pytest.raises(CertifiedAlready, match="Hollis Wren"):
        accept(programme, issued.number, in_ink("petra"), employer="Quillon Pipeworks")
    assert programme.log.size() == size + 2  # Petra enrolled, and her acceptance


def test_not_certified_nothing_is_accepted(programme: Programme, issued: Issued) -> None:
    with pytest.raises(NotCertified, match=r"\[ISSUE-019\]"):
        accept(programme, issued.number, in_ink("petra"))


def test_person_unknown_nobody_of_that_id_signs(certified: Path, programme: Programme) -> None:
    with pytest.raises(PersonUnknown, match=r"\[ISSUE-022\]"):
        accept_record(
            "TST-01-QP7K",
            programme,
            in_ink("nobody"),
            employer="Harrow Fold Mechanical",
            comparison=comparison(),
            out=None,
        )


@pytest.mark.parametrize("person", ["lead", "ines", "nobody"])
def test_signer_refused_only_the_named_person_certifies(
    person: str, programme: Programme, issued: Issued
) -> None:
    with pytest.raises(SignerRefused, match=r"\[ISSUE-017\]"):
        certify(programme, issued.number, in_ink(person))


def test_signer_refused_the_brazer_accepts_no_own_record(
    certified: Path, programme: Programme, issued: Issued
) -> None:
    with pytest.raises(SignerRefused, match="the brazer whose record it is"):
        accept(programme, issued.number, in_ink("ines"))


@pytest.mark.parametrize("days", [-6, 2])
def test_day_refused_before_the_issue_or_in_the_future(
    days: int, programme: Programme, issued: Issued
) -> None:
    on = SIGNED_AT.date() + timedelta(days=days)
    with pytest.raises(DayRefused, match=r"\[ISSUE-020\]"):
        certify(programme, issued.number, in_ink(on=on))


def test_key_of_programme_certifies_nothing(programme: Programme, tmp_path: Path) -> None:
    keys = programme.keys
    path = write_pem(tmp_path / "own.pem", keys.signing_key, keys.certificate)
    with pytest.raises(KeyOfProgramme, match=r"\[ISSUE-015\]"):
        read_hand(path, keys)


def test_a_locked_pkcs12_file_opens_with_its_passphrase(
    programme: Programme, tmp_path: Path
) -> None:
    path = write_p12(tmp_path / "hollis.p12", "Hollis Wren", b"quiet")
    phrase = tmp_path / "phrase"
    phrase.write_bytes(b"quiet\r\nsecond line")
    hand = read_hand(path, programme.keys, passphrase=read_passphrase(phrase))
    assert hand.certificate.public_key() == hand.key.public_key()
    for wrong in (None, b"loud"):
        with pytest.raises(HandRefused, match="a locked file, another passphrase"):
            read_hand(path, programme.keys, passphrase=wrong)
    phrase.write_bytes(b"\n")
    with pytest.raises(HandRefused, match="empty passphrase"):
        read_passphrase(phrase)


def test_an_openssl_key_serves(programme: Programme, tmp_path: Path) -> None:
    """Outside witness: the command line of the how-to."""
    done = [
        "openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1",
        "-noenc", "-days", "1825", "-subj", "/CN=Hollis Wren",
        "-addext", "keyUsage=critical,digitalSignature,nonRepudiation",
        "-keyout", str(tmp_path / "k.pem"), "-out", str(tmp_path / "c.pem"),
    ]  # fmt: skip
    subprocess.run(done, check=True, capture_output=True)
    both = tmp_path / "hollis.pem"
    both.write_bytes((tmp_path / "k.pem").read_bytes() + (tmp_path / "c.pem").read_bytes())
    assert read_hand(both, programme.keys).certificate.subject.rfc4514_string() == "CN=Hollis Wren"


def test_hand_refused_whatever_is_no_pair_that_may_sign(
    programme: Programme, tmp_path: Path
) -> None:
    curve, other = (ec.generate_private_key(ec.SECP256R1()) for _ in range(2))
    wide = ec.generate_private_key(ec.SECP384R1())
    old = rsa.generate_private_key(65537, 2048)
    silent = (True, False, *SIGNS[2:])
    files = {
        "wide": write_pem(tmp_path / "wide.pem", wide, certificate(wide, "H")),
        "rsa": write_pem(tmp_path / "rsa.pem", old, certificate(old, "H")),
        "mixed": write_pem(tmp_path / "mixed.pem", curve, certificate(other, "H")),
        "usage": write_pem(tmp_path / "usage.pem", curve, certificate(curve, "H", usage=silent)),
        "locked": write_pem(tmp_path / "l.pem", curve, certificate(curve, "H"), phrase=b"x"),
        "text": tmp_path / "text.pem",
        "large": tmp_path / "large.pem",
        "none": tmp_path / "none.pem",
    }
    files["text"].write_bytes(b"hello")
    files["large"].write_bytes(b"-" * 200_000)
    for name, path in files.items():
        with pytest.raises(HandRefused, match=r"\[ISSUE-014\]") as refused:
            read_hand(path, programme.keys)
        assert refused.value.where == str(path), name


def test_scan_refused_whatever_is_no_page(tmp_path: Path) -> None:
    path = tmp_path / "scan.png"
    for content in (b"", b"hello"):
        path.write_bytes(content)
        with pytest.raises(ScanRefused, match=r"\[ISSUE-016\]"):
            read_scan(path)
    with pytest.raises(ScanRefused):
        read_kept(tmp_path / "none")
    path.write_bytes(SCAN)
    assert read_scan(path) == SCAN


def test_of_two_who_certify_at_once_one_is_refused(
    programme: Programme, issued: Issued, monkeypatch: pytest.MonkeyPatch
) -> None:
    from lapwright.services import certifying

    state, revision = must_be_known(programme.log, issued.number)
    monkeypatch.setattr(certifying, "must_be_known", lambda *_: (state, revision))
    certify(programme, issued.number)
    with pytest.raises(StreamMoved):
        certify(programme, issued.number)
    (act,) = [e.act for e in programme.log.entries() if e.act.type == "RecordCertified"]
    assert act.body["by"] == "hollis"


def test_a_full_disk_leaves_no_entry(
    programme: Programme, issued: Issued, monkeypatch: pytest.MonkeyPatch
) -> None:
    import os

    from lapwright.ledger.errors import FilesRefused

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    size = programme.log.size()
    monkeypatch.setattr(os, "replace", full)
    fresh = replace(in_ink(), scan=SCAN + b" of another page")
    with pytest.raises(FilesRefused, match="No space left"):
        certify(programme, issued.number, fresh)
    assert programme.log.size() == size
    assert AT < SIGNED_AT


def test_a_comparison_holds_a_certification_by_key_until_its_holder_is_confirmed(
    certified: Path, tmp_path: Path
) -> None:
    ticks(tmp_path)
    new = written(tmp_path / "new.yaml", procedure_document())
    asked = Question(str(certified), new, AS_OF, AS_OF)
    found = next(f for f in run_comparison(asked).findings if f.rule == "responsibility.own_tests")
    assert (found.why, found.observed) == (Why.HOLD, "Hollis Wren")
    note = {**note_document(), "confirmed": {"on": "2025-04-29", "how": "call, our file 9"}}
    told = run_comparison(replace(asked, note=written(tmp_path / "note.yaml", note)))
    settled = next(f for f in told.findings if f.rule == "responsibility.own_tests")
    assert settled.outcome is Outcome.MET
    assert "signed by Hollis Wren" in say(settled.message)
