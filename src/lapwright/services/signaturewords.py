"""The signatures on a record in words: who, as what, when, under whose certificate."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from lapwright.documents.sign import ACCEPTANCE, CERTIFICATION

from .text import word

if TYPE_CHECKING:
    from cryptography.x509 import Certificate

    from lapwright.documents.report import SignatureSeen

ROLES = {CERTIFICATION: "certification", ACCEPTANCE: "acceptance"}


def fingerprint(certificate: Certificate) -> str:
    """Return the SHA-256 of a certificate (DER), 64 hexadecimal digits."""
    from cryptography.hazmat.primitives import hashes

    return certificate.fingerprint(hashes.SHA256()).hex()


def role_of(seen: SignatureSeen, place: int) -> str:
    """Return ``programme`` for the first signature, else what the field's name says.

    The name of a field is covered by the signature, and still only says what the
    signer meant: who signed is told by the certificate alone.
    """
    if place == 0:
        return "programme"
    return ROLES.get(seen.field.rstrip("0123456789"), "other")


def certifier(signatures: Sequence[SignatureSeen]) -> SignatureSeen | None:
    """Return the latest certification by another key than the programme's, or none."""
    found = [
        s
        for place, s in enumerate(signatures)
        if role_of(s, place) == "certification" and s.certificate != signatures[0].certificate
    ]
    return found[-1] if found else None


def certified_in_file(signatures: Sequence[SignatureSeen]) -> str:
    """Say ``yes`` where a certification by another key than the programme's stands on the file."""
    return "yes" if certifier(signatures) else ""


def holder(seen: SignatureSeen) -> str:
    """Return the common name in a signature's certificate, else its whole subject."""
    from cryptography.x509.oid import NameOID

    subject = seen.certificate.subject
    common = subject.get_attributes_for_oid(NameOID.COMMON_NAME)
    return str(common[0].value) if common else subject.rfc4514_string()


def signature_rows(
    signatures: Sequence[SignatureSeen], trusted: Sequence[Certificate]
) -> list[dict[str, str]]:
    """Return one row for each signature, in the order they were made.

    Parameters
    ----------
    signatures : sequence of SignatureSeen
        As read from the file.
    trusted : sequence of Certificate
        Certificates whose signature counts.
    """
    return [
        {
            "role": role_of(seen, place),
            "field": seen.field,
            "name": seen.name,
            "reason": seen.reason,
            "signed_at": seen.signed_at.isoformat() if seen.signed_at else "",
            "holder": seen.certificate.subject.rfc4514_string(),
            "certificate_sha256": fingerprint(seen.certificate),
            "trusted": _trusted(seen, place, signatures, trusted),
        }
        for place, seen in enumerate(signatures)
    ]


def _trusted(
    seen: SignatureSeen,
    place: int,
    signatures: Sequence[SignatureSeen],
    trusted: Sequence[Certificate],
) -> str:
    if place and seen.certificate == signatures[0].certificate:
        return "own"
    return "yes" if seen.certificate in trusted else "no"


def signature_lines(rows: Sequence[dict[str, str]]) -> Iterator[str]:
    """Yield a sentence for each signature."""
    for number, row in enumerate(rows, start=1):
        yield word(
            "verify.signature",
            number=str(number),
            role=word(f"verify.signature.{row['role']}"),
            name=row["name"] or "–",
            when=row["signed_at"][:10] or "–",
            holder=row["holder"],
            sha=row["certificate_sha256"][:16],
            trusted=word(f"verify.signature.trusted.{row['trusted']}"),
        )
