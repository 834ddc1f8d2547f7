"""Signing a typeset record (PAdES, P-256), without changing what it shows.

The signature field is invisible and outside every page, so that PDF/A-3a and
PDF/UA-1 stay whole; the printed panel says who signed and what it means. A
signature is an appended revision: the typeset bytes stay at the start of the
file. The first signature certifies the record and allows only further
signatures.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from io import BytesIO
from typing import TYPE_CHECKING

from .errors import SigningRefused, TimeRefused

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ec import EllipticCurvePrivateKey
    from cryptography.x509 import Certificate

FIELD = "Signature"
CERTIFICATION = "Certification"
ACCEPTANCE = "Acceptance"


@dataclass(frozen=True)
class SignatureWords:
    """What a signature says: its meaning, who signs, and as what (the field's name)."""

    reason: str
    name: str
    field: str = FIELD


def sign_record(
    pdf: bytes,
    *,
    key: EllipticCurvePrivateKey,
    certificate: Certificate,
    signed_at: datetime,
    reason: str,
    name: str,
) -> bytes:
    """Sign a record that nobody has signed yet.

    Parameters
    ----------
    pdf : bytes
        A record as `lapwright.documents.record.typeset_record` gives it.
    key : EllipticCurvePrivateKey
        P-256 key.
    certificate : Certificate
        Its certificate; the time of signing must lie within its life.
    signed_at : datetime
        Written as time of signing, whole seconds, with its offset.
    reason : str
        Meaning of the signature.
    name : str
        Who signs.

    Returns
    -------
    bytes
        The record with the signature appended; equal input gives equal bytes.

    Raises
    ------
    SigningRefused, TimeRefused
    """
    return _sign(pdf, (key, certificate), signed_at, SignatureWords(reason, name))


def countersign_record(
    pdf: bytes,
    *,
    key: EllipticCurvePrivateKey,
    certificate: Certificate,
    signed_at: datetime,
    words: SignatureWords,
) -> bytes:
    """Add one more signature to a signed record, for example the employer's certification.

    Parameters
    ----------
    pdf : bytes
        A record with at least one signature.
    key, certificate, signed_at
        As for `sign_record`.
    words : SignatureWords
        Who signs, what it means, and as what.

    Returns
    -------
    bytes
        The record with one more revision; earlier bytes are unchanged.

    Raises
    ------
    SigningRefused, TimeRefused
    """
    return _sign(pdf, (key, certificate), signed_at, words, first="")


def _sign(
    pdf: bytes,
    pair: tuple[EllipticCurvePrivateKey, Certificate],
    signed_at: datetime,
    words: SignatureWords,
    *,
    first: str = "yes",
) -> bytes:
    from pyhanko.pdf_utils.misc import PdfError
    from pyhanko.sign.general import SigningError

    from .pades import quiet

    _check_words(words)
    moment = _check_time(signed_at, pair[1])
    if pair[1].public_key() != pair[0].public_key():
        raise _refusal(
            "the certificate belongs to another key",
            "two keys",
            "one pair",
            "Open the keys of one programme.",
        )
    try:
        with quiet():
            return _signed(pdf, pair, moment, words, first=first)
    except (PdfError, SigningError, ValueError, KeyError, TypeError) as error:
        raise _refusal(
            "the file cannot be signed",
            str(error) or "a damaged file",
            "a typeset record",
            "Typeset the record again and sign that file.",
        ) from error


def _signed(
    pdf: bytes,
    pair: tuple[EllipticCurvePrivateKey, Certificate],
    moment: datetime,
    words: SignatureWords,
    *,
    first: str = "yes",
) -> bytes:
    from pyhanko.sign.fields import (
        InvisSigSettings,
        MDPPerm,
        SigFieldSpec,
        SigSeedSubFilter,
    )
    from pyhanko.sign.signers import PdfSignatureMetadata

    from .pades import FixedTimeSigner, RecordSigner, RecordWriter

    writer = RecordWriter(BytesIO(pdf))
    field = _next_field(len(writer.prev.embedded_signatures), words.field, first=first)
    outside = InvisSigSettings(set_print_flag=True, box_out_of_bounds=True)
    meta = PdfSignatureMetadata(
        field_name=field,
        subfilter=SigSeedSubFilter.PADES,
        md_algorithm="sha256",
        certify=bool(first),
        docmdp_permissions=MDPPerm.FILL_FORMS,
        reason=words.reason,
        name=words.name,
    )
    signer = FixedTimeSigner(
        meta,
        RecordSigner(*pair),
        signed_at=moment,
        new_field_spec=SigFieldSpec(
            field, invis_sig_settings=outside, readable_field_name=words.reason
        ),
    )
    out: BytesIO = signer.sign_pdf(writer)
    return out.getvalue()


def _next_field(before: int, name: str, *, first: str) -> str:
    if (before == 0) is not bool(first):
        raise _refusal(
            "the file has the wrong number of signatures",
            str(before),
            "none" if first else "at least one",
            "Sign a record once; later signatures are added to it.",
        )
    return f"{name}{before + 1}"


def _check_words(words: SignatureWords) -> None:
    for name, text in (("reason", words.reason), ("name", words.name)):
        if not text.strip() or len(text) > 400 or not text.isprintable():
            raise _refusal(
                f"no {name} for the signature",
                text[:40],
                "1 to 400 printed characters",
                "A signature says who signed and what it means.",
            )


def _check_time(signed_at: datetime, certificate: Certificate) -> datetime:
    if signed_at.tzinfo is None:
        raise TimeRefused(
            "the time of signing has no offset",
            got=signed_at.isoformat(),
            expected="a time with its offset",
            do="Give the instant of signing.",
        )
    moment = signed_at.astimezone(UTC).replace(microsecond=0)
    start, end = certificate.not_valid_before_utc, certificate.not_valid_after_utc
    if not start <= moment <= end:
        raise _refusal(
            "the time of signing lies outside the certificate's life",
            moment.isoformat(),
            f"{start.isoformat()} to {end.isoformat()}",
            "Sign with the keys that are current, or correct the time.",
        )
    return moment


def _refusal(what: str, got: str, expected: str, do: str) -> SigningRefused:
    return SigningRefused(what, got=got, expected=expected, do=do)
