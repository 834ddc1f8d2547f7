"""Every way of tampering with a signed record is found, and told apart in words."""

from __future__ import annotations

import random
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest
from cryptography import x509
from hypothesis import given
from hypothesis import strategies as st

from lapwright.core.outcomes import Outcome, Why
from lapwright.documents.container import CHECKS, inspect_record, same_print
from lapwright.documents.errors import ContainerUnreadable, TimeRefused
from lapwright.documents.rawpdf import Span, digits_fault
from lapwright.documents.report import ContainerReport
from lapwright.documents.sign import SignatureWords, countersign_record
from records import tampering as t
from unit.documents import samples

RECORDED = samples.ISSUED


def inspect(data: bytes, **given: object) -> ContainerReport:
    trusted = [samples.keys().certificate, samples.keys("Quillon Pipeworks").certificate]
    return inspect_record(data, **({"trusted": trusted} | given))  # type: ignore[arg-type]


def told(report: ContainerReport) -> set[str]:
    """Message ids of everything that is not met."""
    return {f.message.id for f in report.findings if f.outcome is not Outcome.MET}


@pytest.mark.parametrize("pdf", [samples.signed_record, samples.certified_record])
def test_an_untouched_record_meets_every_check(pdf: Callable[[], bytes]) -> None:
    report = inspect(pdf(), moment=RECORDED)
    assert [f.rule for f in report.findings] == list(CHECKS)
    assert told(report) == set()
    assert report.verdict.outcome is Outcome.MET
    assert report.number == "QR-2026-0007"
    assert report.payload_sha256 == samples.HASH


def test_the_report_holds_attachments_and_signatures() -> None:
    report = inspect(samples.certified_record())
    assert {a.name: a.data for a in report.attachments} == {
        a.name: a.data for a in samples.attachments()
    }
    found = report.attachment("record.json")
    assert found is not None
    assert (found.mime, found.relationship) == ("application/json", "Data")
    assert report.attachment("nothing") is None
    assert [(s.name, s.reason) for s in report.signatures] == [
        ("Maren Tollaksen", "Issued"),
        ("Hollis Quarrender", "Certified by the employer"),
    ]
    assert report.signatures[0].signed_at == samples.ISSUED


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        (t.page_edited, {"container.signature.edited"}),
        (t.attachment_edited, {"container.signature.edited", "container.data.other"}),
        (t.page_replaced, {"container.end.revision", "container.signature.revision"}),
        (t.catalogue_touched, {"container.end.revision", "container.signature.revision"}),
        (
            t.attachment_replaced,
            {"container.end.revision", "container.signature.revision", "container.data.other"},
        ),
        (t.padding_changed, {"container.canonical.padding"}),
        (t.digits_lowered, {"container.canonical.digits"}),
        (t.higher_value_taken, {"container.canonical.encoding"}),
        (
            lambda pdf: t.certificate_added(pdf, samples.keys("Quillon Pipeworks")),
            {"container.canonical.extra"},
        ),
        (lambda pdf: pdf + b"\n", {"container.end.trailing"}),
        (lambda pdf: pdf + b"PK\x03\x04" + b"\x00" * 500, {"container.end.trailing"}),
    ],
)
@pytest.mark.parametrize("pdf", [samples.signed_record, samples.certified_record])
def test_each_kind_of_tampering_has_its_own_words(
    pdf: Callable[[], bytes], change: Callable[[bytes], bytes], expected: set[str]
) -> None:
    report = inspect(change(pdf()), moment=RECORDED)
    assert told(report) == expected
    assert report.verdict.outcome is Outcome.NOT_MET


def test_an_appended_revision_is_found_even_when_it_changes_nothing_shown() -> None:
    report = inspect(t.unused_object_appended(samples.signed_record()))
    assert "container.end.revision" in told(report)


def test_a_rewritten_file_with_swapped_data_is_told_as_both() -> None:
    found = told(inspect(t.rewritten_with_other_data(samples.signed_record())))
    assert "container.data.other" in found
    assert found & {
        "container.signature.edited",
        "container.canonical.brackets",
        "container.signed.none",
    }


def test_a_record_cut_back_to_before_its_signature_is_unsigned() -> None:
    report = inspect(samples.unsigned_record())
    assert report.outcome_of("container.signed") is Outcome.NOT_MET
    assert told(report) == {
        f"container.{c}.unsigned" for c in ("end", "canonical", "signature", "certificate", "time")
    } | {"container.signed.none"}
    assert {f.why for f in report.findings} == {None, Why.NEEDS_DATA}


def test_a_record_cut_back_to_its_first_signature_can_only_be_told_by_its_hash() -> None:
    """Stated as a limit: the file is whole; the ledger knows the newer hash."""
    whole, back = inspect(samples.certified_record()), inspect(samples.signed_record())
    assert told(back) == set()
    assert back.file_sha256 != whole.file_sha256


def test_a_file_cut_anywhere_is_never_met() -> None:
    pdf = samples.signed_record()
    start = len(samples.unsigned_record())
    places = [*range(0, start, start // 25), *range(start + 1, len(pdf), 211), len(pdf) - 1]
    for place in places:
        _refused_or_not_met(pdf[:place])


def test_a_file_cut_inside_its_last_revision_is_said_to_be_cut() -> None:
    with pytest.raises(ContainerUnreadable, match="cut off"):
        inspect(samples.signed_record()[:-10])


def test_a_signature_by_another_programme_is_not_trusted() -> None:
    stranger = samples.keys("Someone Else")
    report = inspect(samples.signed_with(samples.unsigned_record(), stranger))
    assert told(report) == {"container.certificate.other"}


def test_a_certificate_with_the_same_name_and_another_key_is_not_trusted(tmp_path) -> None:
    from lapwright.ledger.keys import open_keys

    twin = open_keys(tmp_path / "k", made_at=samples.FIRST_RUN, holder="Fennel Bay Training Hall")
    report = inspect(samples.signed_with(samples.unsigned_record(), twin))
    assert told(report) == {"container.certificate.other"}


def test_a_countersignature_by_another_certificate_is_told_apart_and_left_open() -> None:
    report = inspect(samples.certified_record(), trusted=[samples.keys().certificate])
    finding = next(f for f in report.findings if f.rule == "container.certificate")
    assert told(report) == {"container.certificate.later_other"}
    assert (finding.outcome, finding.why) == (Outcome.UNDETERMINED, Why.HOLD)
    others = dict(finding.message.params)["others"]
    assert others.startswith("Hollis Quarrender (CN=Quillon Pipeworks")


def test_a_countersignature_with_the_issuers_own_key_is_no_certification() -> None:
    def signed_again(pdf: bytes) -> bytes:
        pair = samples.keys()
        return countersign_record(
            pdf,
            key=pair.signing_key,
            certificate=pair.certificate,
            signed_at=samples.ISSUED + timedelta(days=2),
            words=SignatureWords("Certified by the employer", "Hollis Quarrender"),
        )

    own = signed_again(samples.signed_record())
    finding = next(f for f in inspect(own).findings if f.rule == "container.certificate")
    assert (finding.outcome, finding.message.id) == (
        Outcome.UNDETERMINED,
        "container.certificate.later_own",
    )
    both = signed_again(samples.certified_record())
    assert told(inspect(both, trusted=[samples.keys().certificate])) == {
        "container.certificate.later_both"
    }


def test_two_issuers_of_one_name_are_told_apart_by_their_key() -> None:
    names = {samples.keys(n).certificate.subject.rfc4514_string() for n in ("A", "B")}
    assert all(",OU=key " in name for name in names)
    assert len({name.partition(",OU=key ")[2] for name in names}) == 2


def test_without_a_trusted_certificate_the_question_stays_open() -> None:
    report = inspect(samples.signed_record(), trusted=[])
    assert report.outcome_of("container.certificate") is Outcome.UNDETERMINED
    assert report.verdict.outcome is Outcome.UNDETERMINED


def test_a_signing_time_other_than_the_ledgers_is_told() -> None:
    report = inspect(samples.signed_record(), moment=RECORDED + timedelta(hours=1))
    assert told(report) == {"container.time.other"}


def test_a_signing_time_outside_the_certificates_life_is_told() -> None:
    late = t.signed_at_any_time(
        samples.unsigned_record(), samples.keys(), datetime(2060, 1, 1, tzinfo=UTC)
    )
    assert told(inspect(late)) == {"container.time.life"}


@pytest.mark.parametrize("usage", [t.AGREEMENT, None])
def test_a_certificate_that_may_not_sign_documents_is_told(usage: x509.KeyUsage | None) -> None:
    other = t.other_certificate(samples.keys(), usage=usage)
    forged = t.signed_at_any_time(samples.unsigned_record(), other, samples.ISSUED)
    report = inspect(forged, trusted=[other.certificate])
    assert told(report) == {"container.certificate.usage"}


def test_an_attachment_listed_twice_is_told() -> None:
    assert "container.data.twice" in told(inspect(t.named_twice(samples.signed_record())))


@pytest.mark.parametrize("kids", [0, 3000])
def test_a_tree_of_attachments_without_end_is_refused(kids: int) -> None:
    with pytest.raises(ContainerUnreadable, match="DOC-010"):
        inspect(t.names_in_a_tree(kids=kids))


@pytest.mark.parametrize(
    ("digits", "fault"),
    [
        (b"<3003AB000000>", ""),
        (b"<3003AB000000 ", "brackets"),
        (b"<3003AB00000>", "brackets"),
        (b"<3003ab000000>", "digits"),
        (b"<3003AB 00000>", "digits"),
        (b"<3003AB000100>", "padding"),
    ],
)
def test_the_digits_of_a_signature_have_one_form(digits: bytes, fault: str) -> None:
    assert digits_fault(digits, Span(1, len(digits) - 1, 0), 3) == fault


def test_a_recorded_time_without_offset_is_refused() -> None:
    with pytest.raises(TimeRefused, match="DOC-011"):
        inspect(samples.signed_record(), moment=datetime(2026, 3, 9))


def test_an_encrypted_record_is_refused_in_words() -> None:
    with pytest.raises(ContainerUnreadable, match="encrypted"):
        inspect(t.encrypted(samples.signed_record()))


def test_another_pdf_is_told_as_no_record() -> None:
    assert {"container.signed.none", "container.data.none", "container.standard.other"} <= told(
        inspect(t.other_pdf())
    )


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"hello",
        b"%PDF-",
        b"%PDF-1.7\n" + b"\xff" * 4000,
        b"PK\x03\x04",
        b"%PDF-1.7\nstartxref\n9\n%%EOF",
    ],
)
def test_what_is_no_pdf_is_refused(data: bytes) -> None:
    with pytest.raises(ContainerUnreadable, match="DOC-010"):
        inspect(data)


def test_too_large_a_file_is_refused_before_it_is_read() -> None:
    with pytest.raises(ContainerUnreadable, match="too large"):
        inspect(b"%PDF-1.7\n" + bytes(64 * 1024 * 1024))


def test_changed_bytes_anywhere_are_never_met() -> None:
    pdf, chance = samples.signed_record(), random.Random(20260309)
    for place in chance.sample(range(len(pdf)), 90):
        _refused_or_not_met(t.flipped(pdf, place, 1 << chance.randrange(8)))


def test_changed_digits_of_the_signature_are_never_met() -> None:
    pdf, chance = samples.signed_record(), random.Random(7)
    first, last = t.digits_of(pdf)
    for place in chance.sample(range(first, last), 90):
        digit = chance.choice([d for d in b"0123456789ABCDEF" if d != pdf[place]])
        _refused_or_not_met(pdf[:place] + bytes([digit]) + pdf[place + 1 :])


@given(st.binary(max_size=400), st.integers(0, 4000))
def test_bytes_put_anywhere_are_never_met_and_never_fail(junk: bytes, place: int) -> None:
    pdf = samples.signed_record()
    place = len(pdf) - min(place, len(pdf))
    if junk:
        _refused_or_not_met(pdf[:place] + junk + pdf[place:])


def _refused_or_not_met(data: bytes) -> None:
    try:
        report = inspect(data)
    except ContainerUnreadable:
        return
    assert report.verdict.outcome is not Outcome.MET


def test_the_pages_typeset_anew_are_the_beginning_of_the_signed_file() -> None:
    for signed in (samples.signed_record(), samples.certified_record()):
        assert same_print(signed, samples.unsigned_record()).outcome is Outcome.MET


def test_other_pages_are_told_with_the_first_differing_byte() -> None:
    edited = t.page_edited(samples.signed_record())
    result = same_print(edited, samples.unsigned_record())
    assert result.outcome is Outcome.NOT_MET
    assert result.first_difference is not None
    assert edited[result.first_difference] != samples.unsigned_record()[result.first_difference]


@pytest.mark.parametrize("typeset", [b"", b"%PDF-1.7 other"])
def test_an_empty_or_other_typesetting_is_never_the_same_print(typeset: bytes) -> None:
    assert same_print(samples.signed_record(), typeset).outcome is Outcome.NOT_MET


def test_a_longer_typesetting_than_the_file_is_not_the_same_print() -> None:
    pdf = samples.unsigned_record()
    assert same_print(pdf, pdf + b"more").outcome is Outcome.NOT_MET
