"""Signatures against pdfsig, qpdf and pikepdf, and what is refused."""

from __future__ import annotations

import logging
from datetime import UTC, datetime, timedelta

import pytest
from cryptography.exceptions import UnsupportedAlgorithm
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.asymmetric.utils import decode_dss_signature

from lapwright.documents.errors import SigningRefused, TimeRefused
from lapwright.documents.pades import P256_ORDER, RecordSigner
from lapwright.documents.sign import SignatureWords, countersign_record, sign_record
from unit.documents import samples
from unit.documents.witness import page_image, standard_faults, told_by


def sign(pdf: bytes, **changes: object) -> bytes:
    pair = samples.keys()
    given = {
        "key": pair.signing_key,
        "certificate": pair.certificate,
        "reason": "Issued",
        "signed_at": samples.ISSUED,
        "name": "Maren Tollaksen",
    } | changes
    return sign_record(pdf, **given)  # type: ignore[arg-type]


def test_pdfsig_calls_the_signature_valid_over_the_whole_document() -> None:
    """Outside witness: poppler."""
    told = told_by("pdfsig", "-nocert", "FILE", pdf=samples.signed_record())
    for words in (
        "Signature is Valid",
        "Total document signed",
        "ETSI.CAdES.detached",
        "SHA-256",
        "CN=Fennel Bay Training Hall",
    ):
        assert words in told


def test_pdfsig_calls_both_signatures_valid_after_the_employers() -> None:
    told = told_by("pdfsig", "-nocert", "FILE", pdf=samples.certified_record())
    assert told.count("Signature is Valid") == 2
    assert "CN=Quillon Pipeworks" in told


@pytest.mark.parametrize("pdf", [samples.signed_record, samples.certified_record])
def test_signing_keeps_the_standards_and_the_look(pdf) -> None:
    """Outside witnesses: pikepdf, qpdf, pdfium."""
    assert standard_faults(pdf()) == []
    assert "No syntax or stream encoding errors" in told_by("qpdf", "--check", "FILE", pdf=pdf())
    for page in range(3):
        assert (
            page_image(pdf(), page=page, dpi=60).tobytes()
            == page_image(samples.unsigned_record(), page=page, dpi=60).tobytes()
        )


def test_a_signature_is_appended_and_the_typeset_bytes_stay() -> None:
    assert samples.signed_record().startswith(samples.unsigned_record())
    assert samples.certified_record().startswith(samples.signed_record())


def test_signing_again_gives_the_same_file() -> None:
    assert sign(samples.unsigned_record()) == samples.signed_record()


def test_the_time_written_is_the_time_given() -> None:
    moment = datetime(2026, 7, 1, 23, 59, 58, 999999, tzinfo=UTC) - timedelta(0)
    told = told_by(
        "pdfsig", "-nocert", "FILE", pdf=sign(samples.unsigned_record(), signed_at=moment)
    )
    assert "Jul 01 2026 23:59:58" in told


def test_signing_is_silent(caplog: pytest.LogCaptureFixture) -> None:
    with caplog.at_level(logging.DEBUG):
        sign(samples.unsigned_record())
    assert not [r for r in caplog.records if r.name.startswith("pyhanko")]


def test_a_signed_record_is_not_signed_as_if_it_were_new() -> None:
    with pytest.raises(SigningRefused, match="number of signatures"):
        sign(samples.signed_record())


def test_an_unsigned_record_has_nothing_to_countersign() -> None:
    pair = samples.keys()
    with pytest.raises(SigningRefused, match="at least one"):
        countersign_record(
            samples.unsigned_record(),
            key=pair.signing_key,
            certificate=pair.certificate,
            signed_at=samples.ISSUED,
            words=SignatureWords("R", "N"),
        )


@pytest.mark.parametrize("pdf", [b"", b"%PDF-1.7", b"hello", b"%PDF-1.7\n" + b"0" * 3000])
def test_what_is_no_record_is_not_signed(pdf: bytes) -> None:
    with pytest.raises(SigningRefused, match="DOC-009"):
        sign(pdf)


def test_a_certificate_of_another_key_is_refused() -> None:
    with pytest.raises(SigningRefused, match="another key"):
        sign(samples.unsigned_record(), certificate=samples.keys("Quillon Pipeworks").certificate)


@pytest.mark.parametrize(
    "moment", [datetime(2025, 12, 31, tzinfo=UTC), datetime(2046, 1, 6, tzinfo=UTC)]
)
def test_a_time_outside_the_certificates_life_is_refused(moment: datetime) -> None:
    with pytest.raises(SigningRefused, match="certificate's life"):
        sign(samples.unsigned_record(), signed_at=moment)


def test_a_time_without_offset_is_refused() -> None:
    with pytest.raises(TimeRefused, match="DOC-011"):
        sign(samples.unsigned_record(), signed_at=datetime(2026, 3, 9))


@pytest.mark.parametrize(
    "words", [{"reason": ""}, {"name": " "}, {"reason": "a\nb"}, {"name": "n" * 401}]
)
def test_a_signature_without_name_or_meaning_is_refused(words: dict[str, str]) -> None:
    """21 CFR 11.50 asks for the printed name and the meaning of a signature."""
    with pytest.raises(SigningRefused, match="DOC-009"):
        sign(samples.unsigned_record(), **words)


class OldLibraryKey:
    """A P-256 key of a library that knows random signatures only."""

    def __init__(self, key: ec.EllipticCurvePrivateKey) -> None:
        self.key = key

    def private_bytes(self, *form: object) -> bytes:
        return self.key.private_bytes(*form)  # type: ignore[arg-type]

    def sign(self, data: bytes, scheme: ec.ECDSA) -> bytes:
        if scheme.deterministic_signing:
            raise UnsupportedAlgorithm("deterministic signing")
        return self.key.sign(data, scheme)


def test_an_old_crypto_library_signs_with_the_lower_value_too() -> None:
    pair = samples.keys()
    signer = RecordSigner(OldLibraryKey(pair.signing_key), pair.certificate)  # type: ignore[arg-type]
    for _ in range(8):
        raw = signer.sign_raw(b"data", "sha256")
        pair.signing_key.public_key().verify(raw, b"data", ec.ECDSA(hashes.SHA256()))
        assert decode_dss_signature(raw)[1] <= P256_ORDER // 2
