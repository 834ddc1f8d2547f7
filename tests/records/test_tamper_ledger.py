"""Every way of tampering with a certified record is told apart in words, with the ledger at hand.

The file, not the ledger, catches what was changed in it; the ledger catches what leaves a
file whole: a cut back to an earlier signature, a withdrawal, a later revision.
"""

from __future__ import annotations

import copy
import hashlib
from collections.abc import Callable
from io import BytesIO
from pathlib import Path

import pikepdf
import pytest

from lapwright.core.outcomes import Outcome
from lapwright.documents.rawpdf import spans_of
from lapwright.documents.sign import CERTIFICATION, SignatureWords, countersign_record
from lapwright.ledger.log import MemoryLog
from lapwright.services.errors import VerifyTrustMissing
from lapwright.services.issuing import Issued
from lapwright.services.programme import Programme
from lapwright.services.register import record_state
from lapwright.services.text import say
from lapwright.services.verifying import VerifyReport, verify_file
from lapwright.services.withdrawing import withdraw_record
from records import tampering as t
from records.conftest import SIGNED_AT

Trust = list[Path]


@pytest.fixture
def trust(data: Path, pairs: Callable[[str], Path], tmp_path: Path) -> Trust:
    pem = pairs("Hollis Wren").read_bytes()
    only = tmp_path / "hollis-only.pem"
    only.write_bytes(pem[pem.index(b"-----BEGIN CERTIFICATE") :])
    return [data / "keys" / "trust.pem", only]


def wrong(report: VerifyReport) -> set[str]:
    return {f.message.id for f in report.findings if f.outcome is not Outcome.MET}


def told(report: VerifyReport, rule: str) -> str:
    return say(next(f.message for f in report.findings if f.rule == rule))


def test_the_certified_file_is_the_latest(
    certified: Path, trust: Trust, programme: Programme
) -> None:
    report = verify_file(certified, trust, log=programme.log)
    assert wrong(report) == set()
    assert {f.rule for f in report.findings if f.rule.startswith("ledger.")} == {
        "ledger.file",
        "ledger.time",
        "ledger.revision",
        "ledger.withdrawn",
        "ledger.doubts",
        "ledger.keys",
        "ledger.history",
        "ledger.heads",
    }
    assert "Hollis Wren, 2026-03-25, with an own key" in report.notes[-1]


def overlay_replaced(data: bytes) -> bytes:
    """Append a revision that puts another picture in the place of the first one."""
    with pikepdf.open(BytesIO(data)) as document:
        name = next(n for n in document.attachments if n.startswith("overlay-"))

    def change(writer: object) -> None:
        from pyhanko.pdf_utils import generic

        names = list(writer.root["/Names"]["/EmbeddedFiles"]["/Names"])  # type: ignore[attr-defined]
        spec = names[names.index(name) + 1].get_object()
        other = generic.StreamObject(stream_data=b"\x89PNG another picture")
        spec["/EF"]["/F"] = writer.add_object(other)  # type: ignore[attr-defined]
        writer.update_container(spec)  # type: ignore[attr-defined]

    return t._appended(data, change)


REVISION = {"container.end.revision", "container.signature.revision"}


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        (t.page_edited, {"container.signature.edited", "container.print.other"}),
        (t.page_replaced, REVISION),
        (t.unused_object_appended, {"container.end.revision"}),
        (t.padding_changed, {"container.canonical.padding"}),
        (t.digits_lowered, {"container.canonical.digits"}),
        (t.higher_value_taken, {"container.canonical.encoding"}),
        (overlay_replaced, REVISION | {"verify.overlays.other"}),
        (t.attachment_replaced, REVISION | {"container.data.other", "verify.no_data"}),
        (lambda pdf: pdf + b"\n", {"container.end.trailing"}),
    ],
)
def test_a_changed_file_is_told_by_what_was_changed_and_is_unknown_to_the_ledger(
    change: Callable[[bytes], bytes],
    expected: set[str],
    certified: Path,
    trust: Trust,
    programme: Programme,
    tmp_path: Path,
) -> None:
    target = tmp_path / "changed.pdf"
    target.write_bytes(change(certified.read_bytes()))
    report = verify_file(target, trust, log=programme.log)
    found = wrong(report)
    assert found >= expected
    assert report.outcome is Outcome.NOT_MET
    if "verify.no_data" not in expected:  # without its data nothing is asked of the ledger
        assert found - expected <= {"verify.ledger.no_file", "verify.damaged"}
        assert "not this file: it was changed after it was filed" in told(report, "ledger.file")


def test_a_file_cut_back_to_the_first_signature_is_whole_and_told_by_the_ledger_alone(
    certified: Path, issued: Issued, trust: Trust, programme: Programme, tmp_path: Path
) -> None:
    whole = certified.read_bytes()
    target = tmp_path / "cut.pdf"
    target.write_bytes(whole[: spans_of(whole)[0].end])
    assert target.read_bytes() == issued.path.read_bytes()
    alone = verify_file(target, trust)
    assert wrong(alone) == set()
    assert any("Awaiting employer's certification" in note for note in alone.notes)
    report = verify_file(target, trust, log=programme.log)
    assert wrong(report) == {"verify.ledger.cut_back"}
    assert "cut back to an earlier signature" in told(report, "ledger.file")
    assert "with 1 more: Hollis Wren, 2026-03-25" in told(report, "ledger.file")
    act = record_state(programme.log, issued.number).revisions[-1].certified
    assert act is not None
    assert act.body["file_sha256"] == hashlib.sha256(whole).hexdigest() != report.file_sha256


def test_a_certification_by_a_strangers_key_is_unknown_to_the_ledger(
    issued: Issued,
    trust: Trust,
    programme: Programme,
    pairs: Callable[[str], Path],
    tmp_path: Path,
) -> None:
    from lapwright.services.hands import read_hand

    stranger = read_hand(pairs("Somebody Else"), programme.keys)
    target = tmp_path / "stranger.pdf"
    target.write_bytes(
        countersign_record(
            issued.path.read_bytes(),
            key=stranger.key,
            certificate=stranger.certificate,
            signed_at=SIGNED_AT,
            words=SignatureWords("I certify", "Hollis Wren", CERTIFICATION),
        )
    )
    report = verify_file(target, trust, log=programme.log)
    assert wrong(report) == {
        "container.certificate.later_other",
        "verify.ledger.no_file",
        "verify.signature.name.other",
    }
    line = next(x for x in report.lines() if "Signature 2" in x and "CN=" in x)
    assert "CN=Somebody Else" in line
    assert "which is not among those you trust" in line
    assert "Awaiting employer's certification" in report.notes[0]


def test_a_certification_with_the_programmes_own_key_is_none(
    issued: Issued, trust: Trust, programme: Programme, tmp_path: Path
) -> None:
    keys = programme.keys
    target = tmp_path / "own.pdf"
    target.write_bytes(
        countersign_record(
            issued.path.read_bytes(),
            key=keys.signing_key,
            certificate=keys.certificate,
            signed_at=SIGNED_AT,
            words=SignatureWords("I certify", "Hollis Wren", CERTIFICATION),
        )
    )
    report = verify_file(target, trust)
    assert wrong(report) == {"container.certificate.later_own", "verify.signature.name.other"}
    assert report.signatures[1]["trusted"] == "own"
    assert any("Awaiting employer's certification" in note for note in report.notes)


def test_a_withdrawn_record_is_told_by_the_ledger(
    certified: Path, issued: Issued, trust: Trust, programme: Programme
) -> None:
    withdraw_record(issued.number, programme, by="lead", reason="mixed up", at=SIGNED_AT)
    report = verify_file(certified, trust, log=programme.log)
    assert wrong(report) == {"verify.ledger.withdrawn"}
    assert "withdrawn by Marit Underhill on 2026-03-25: mixed up" in told(
        report, "ledger.withdrawn"
    )


def test_another_ledger_knows_nothing_of_the_record(certified: Path, trust: Trust) -> None:
    report = verify_file(certified, trust, log=MemoryLog())
    assert wrong(report) == {"verify.ledger.no_record"}


def test_a_ledger_whose_history_was_changed_is_told_by_the_record(
    certified: Path, trust: Trust, programme: Programme
) -> None:
    """The holder of a record is a witness: the root it prints no longer fits."""
    kept = [e.act for e in programme.log.entries()]
    other = MemoryLog()
    body = {**kept[4].body, "employer": "Another"} if "employer" in kept[4].body else kept[4].body
    changed = copy.copy(kept[4])
    object.__setattr__(changed, "recorded_by", "somebody")
    object.__setattr__(changed, "body", body)
    changed.__dict__.pop("_raw", None)
    other.append([*kept[:4], changed, *kept[5:]])
    report = verify_file(certified, trust, log=other)
    assert wrong(report) == {"verify.ledger.rewritten"}


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        (lambda i: i["proof"]["hashes"].pop(), "verify.tree.proof"),
        (lambda i: i["proof"].update(index="3"), "verify.tree.proof"),
        (lambda i: i["act"]["body"].update(person="corvin"), "verify.tree.proof"),
        (lambda i: i["act"]["body"].update(revision="2"), "verify.tree.other"),
        (lambda i: i["tree_head"].update(size="5"), "verify.tree.other"),
        (lambda i: i["signed_head"].update(size="5"), "verify.tree.key"),
        (lambda i: i["signed_head"].update(signature="00" * 64), "verify.tree.key"),
        (lambda i: i.pop("signed_head"), "verify.damaged"),
    ],
)
def test_a_place_in_the_ledger_that_does_not_hold_is_told(
    change: Callable[[dict[str, object]], object], expected: str, issued: Issued, data: Path
) -> None:
    from lapwright.documents.container import inspect_record
    from lapwright.ledger.trust import read_trust
    from lapwright.services.recordfile import RecordParts, parts_of
    from lapwright.services.verifying import _checks

    pdf = issued.path.read_bytes()
    parts = parts_of(inspect_record(pdf, trusted=[], moment=None), "record")
    note = copy.deepcopy(dict(parts.issue))
    change(note)
    changed = RecordParts(parts.data, parts.rules, note, parts.overlays)
    trusted = read_trust((data / "keys" / "trust.pem").read_bytes())
    found = {f.message.id for f in _checks(changed, pdf, trusted) if f.outcome is Outcome.NOT_MET}
    assert expected in found


def test_a_record_from_before_the_ledger_still_has_its_tree_checked(
    issued: Issued, data: Path
) -> None:
    """Its head covered its own entries and the issue, nothing else, and was not signed."""
    from lapwright.core.acts import canonical_json
    from lapwright.documents.container import inspect_record
    from lapwright.ledger.tree import tree_head
    from lapwright.ledger.trust import read_trust
    from lapwright.services.placecheck import check_place
    from lapwright.services.recorddata import acts_of
    from lapwright.services.recordfile import RecordParts, parts_of

    parts = parts_of(inspect_record(issued.path.read_bytes(), trusted=[], moment=None), "record")
    note = {k: v for k, v in parts.issue.items() if k not in ("proof", "signed_head")}
    head = tree_head([a.to_bytes() for a in acts_of(parts.data)] + [canonical_json(note["act"])])
    note["tree_head"] = {"size": str(head.size), "root": head.root_hex}
    old = RecordParts(parts.data, parts.rules, note, parts.overlays)
    trusted = read_trust((data / "keys" / "trust.pem").read_bytes())
    assert check_place(old, trusted)[0] is Outcome.MET
    note["tree_head"]["size"] = "7"
    assert check_place(old, trusted)[0] is Outcome.NOT_MET


def test_a_trust_file_of_a_programme_is_needed(issued: Issued, trust: Trust) -> None:
    with pytest.raises(VerifyTrustMissing, match="no trust file of a programme"):
        verify_file(issued.path, trust[1:])
